"""What agencies and people write beside a value or instead of one: approvals, remarks, reasons for a missing number.

Tables of words first. The one-letter meanings are those of the US agency's daily and unit value files, which people
also use in tables of their own; words in other languages are those that mean the same.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from hydro.discharge import APPROVALS
from hydro.sources.column_words import fold, words_of

APPROVED, PROVISIONAL, UNKNOWN = (APPROVALS.index(word) for word in ("approved", "provisional", "unknown"))

#: Case matters in one-letter codes: “e” is estimated by a person, “E” computed from estimates.
APPROVAL_TOKENS: dict[str, int] = {"A": APPROVED, "P": PROVISIONAL}
APPROVAL_WORDS: dict[str, int] = {
    **dict.fromkeys(words_of("approved validated final released "
"geprueft gepruft valide validee aprobado approuve"), APPROVED),
    **dict.fromkeys(
        words_of("provisional provisoire preliminary unchecked unapproved working raw "
"vorlaeufig vorlaufig ungeprueft ungepruft "
        "provisorisch brute provisorio"),
        PROVISIONAL,
    ),
}  # fmt: skip
REMARK_TOKENS: dict[str, str] = {
    "e": "estimated", "E": "estimated", "R": "revised", "&": "affected", "<": "less-than", ">": "greater-than",
    "~": "interpolated", "F": "filtered", "K": "drift", "X": "erroneous", "***": "unavailable", "--": "not-determined",
}  # fmt: skip
#: One-letter symbols of open Canadian exports, where “A” is a partial day and not an approval.
SYMBOL_TOKENS: dict[str, str] = {
    "A": "partial-day",
    "B": "ice",
    "D": "dry",
    "E": "estimated",
    "S": "sample",
    "R": "revised",
}
WORDS: dict[str, str] = {
    "ice": "ice", "eis": "ice", "glace": "ice", "hielo": "ice", "icy": "ice",
    "eqp": "equipment", "equip": "equipment", "equipment": "equipment",
    "ssn": "seasonal", "seasonal": "seasonal", "pr": "partial-record", "rat": "rating", "nd": "not-determined",
    "fld": "flood-damage", "dry": "dry", "zfl": "dry", "trocken": "dry", "sec": "dry", "seco": "dry",
    "dis": "discontinued", "bkw": "backwater", "backwater": "backwater", "mnt": "maintenance",
    "maintenance": "maintenance", "tst": "test", "test": "test",
    "est": "estimated", "estimated": "estimated", "estimate": "estimated",
    "geschatzt": "estimated", "estime": "estimated",
    "estimada": "estimated", "estimado": "estimated", "revised": "revised", "lessthan": "less-than",
    "interpolated": "interpolated", "missing": "missing", "fehlend": "missing", "manquant": "missing",
    "suspect": "suspect", "regulated": "regulated", "flood": "flood",
}  # fmt: skip
#: Words in a number cell that say only that there is no number.
MISSING_WORDS = frozenset(
    words_of(
        "na n/a #n/a nan null none nil nodata no_data missing miss m - -- --- ---- . .. ? *.*** "
        "fehlt fehlend lucke luecke "
        "manquant lacune s/d sd nd n.d. k.a. k/a"
    )
) | {"no data", "not measured", "not recorded"}
#: Codes that replace a number; dry ones stand for no flow, all others for an unknown flow.
TEXT_CODES: dict[str, str] = {
    word: WORDS[word]
    for word in words_of("ssn ice pr rat nd eqp fld dry zfl dis bkw mnt tst eis glace hielo trocken seco "
"equip equipment seasonal "
    "backwater maintenance")
} | {"***": "unavailable", "--": "not-determined"}  # fmt: skip
DRY = "dry"
#: Exact numbers that stand for “no number”, whatever the unit.
SENTINELS = (-999999.0, -99999.0, -9999.0, -999.0)

_FUSED = re.compile(r"^([AP])([eER<>&~12FKX])$")
_US_SPLIT = re.compile(r"[:,\s\[\]'\"]+")
_USER_SPLIT = re.compile(r"\s*[:,;|/\[\]'\"]+\s*")


@dataclass(frozen=True)
class CodeMeaning:
    """A code cell understood: position in APPROVALS, and the flags it raises."""

    approval: int
    flags: frozenset[str]


def read_us_code(text: str) -> CodeMeaning:
    """A `_cd` cell: “A”, “P”, “A:e”, “Pe”, “P Ice”, “['A', 'e']”. Unknown tokens are kept as they are."""
    approval, flags = UNKNOWN, set()
    for token in _US_SPLIT.split(text.strip()):
        if not token:
            continue
        fused = _FUSED.match(token)
        for part in fused.groups() if fused else (token,):
            if part in APPROVAL_TOKENS:
                approval = APPROVAL_TOKENS[part]
            elif fold(part) in APPROVAL_WORDS:
                approval = APPROVAL_WORDS[fold(part)]
            else:
                flags.add(REMARK_TOKENS.get(part) or WORDS.get(fold(part)) or part)
    return CodeMeaning(approval, frozenset(flags))


def read_user_code(text: str, *, symbols: bool = False) -> CodeMeaning:
    """A cell of a flag, quality or approval column of a person's own table.

    Phrases stay together as one flag (blanks become hyphens). `symbols` = the column holds the one-letter symbols of
    Canadian exports.
    """
    approval, flags = UNKNOWN, set()
    for token in _USER_SPLIT.split(text.strip()):
        if not token:
            continue
        if symbols and token in SYMBOL_TOKENS:
            flags.add(SYMBOL_TOKENS[token])
            continue
        known = [
            p in APPROVAL_TOKENS or p in REMARK_TOKENS or fold(p) in APPROVAL_WORDS or fold(p) in WORDS
            for p in token.split()
        ]
        if len(known) > 1 and not all(known):
            flags.add("-".join(token.split()))
            continue
        meaning = read_us_code(token)
        approval = meaning.approval if meaning.approval != UNKNOWN else approval
        flags |= meaning.flags
    return CodeMeaning(approval, frozenset(flags))
