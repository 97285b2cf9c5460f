"""Code lists of OGC WaterML 2.0 (10-126r4) and of the agencies that use it: what a point says beside its value."""

from __future__ import annotations

import re
from dataclasses import dataclass

from hydro.sources.column_words import fold
from hydro.sources.us_codes import APPROVED, PROVISIONAL, UNKNOWN, read_us_code

#: Interpolation types whose stamp ends the interval it stands for, and those whose stamp begins it. Numbers are those
#: that the Australian service uses in place of names.
ENDS_INTERVAL = frozenset(("averageprec", "maxprec", "minprec", "totalprec", "constprec", "604"))
BEGINS_INTERVAL = frozenset(("averagesucc", "maxsucc", "minsucc", "totalsucc", "constsucc", "603"))
TOTALS = frozenset(("totalprec", "totalsucc", "instanttotal"))
STATISTIC_OF: dict[str, str] = {
    "averageprec": "mean", "averagesucc": "mean", "maxprec": "maximum", "maxsucc": "maximum",
    "minprec": "minimum", "minsucc": "minimum", "totalprec": "sum", "totalsucc": "sum", "603": "mean", "604": "mean",
}  # fmt: skip
#: Quality words of the standard.
QUALITIES: dict[str, str] = {
    "good": "", "suspect": "suspect", "estimate": "estimated", "poor": "poor", "missing": "missing",
}  # fmt: skip
#: Quality numbers of the Australian bureau. 10 (best) and 90 stay as marks: a person may want to see them.
NUMBERED: dict[str, str] = {"110": "estimated", "210": "missing"}
BELOW, ABOVE = "less-than", "greater-than"
_DURATION = re.compile(
    r"^P(?:(?P<years>\d+)Y)?(?:(?P<months>\d+)M)?(?:(?P<weeks>\d+)W)?(?:(?P<days>\d+)D)?"
    r"(?:T(?:(?P<hours>\d+)H)?(?:(?P<minutes>\d+)M)?(?:(?P<seconds>\d+(?:\.\d+)?)S)?)?$"
)
_MOST_SECONDS = 10**9


@dataclass(frozen=True, kw_only=True)
class PointMark:
    """Approval (position in APPROVALS) and flags of one qualifier, quality or reason."""

    approval: int = UNKNOWN
    flags: frozenset[str] = frozenset()


def last_part(reference: str) -> str:
    """The last part of a reference, which names the thing: “…/interpolationType/AveragePrec” -> “AveragePrec”."""
    return re.split(r"[/#:=]", reference.strip().rstrip("/"))[-1]


def read_quality(text: str) -> PointMark:
    """A quality as a reference, a word or a number."""
    word = last_part(text).strip()
    if not word:
        return PointMark()
    lower = fold(word)
    if lower == "unchecked":
        return PointMark(approval=PROVISIONAL)
    if lower in QUALITIES:
        return PointMark(flags=frozenset({QUALITIES[lower]} - {""}))
    return read_qualifier(word)


def read_qualifier(text: str) -> PointMark:
    """A qualifier's value: an approval letter, a remark, or a quality number."""
    word = text.strip()
    if word.isdigit():
        return PointMark(flags=frozenset({NUMBERED.get(word, f"quality-{word}")}))
    if len(word.split()) > 2:
        return PointMark(flags=frozenset({"-".join(word.split())}))
    meaning = read_us_code(word)
    if fold(word) == "approved":
        return PointMark(approval=APPROVED)
    return PointMark(approval=meaning.approval, flags=meaning.flags)


def read_reason(text: str) -> PointMark:
    """A reason for a missing or a censored value: “…/nil/OGC/0/BelowDetectionRange” -> less-than."""
    word = fold(last_part(text))
    if word.startswith("below") or word in ("<", "less-than"):
        return PointMark(flags=frozenset({BELOW}))
    if word.startswith("above") or word in (">", "greater-than"):
        return PointMark(flags=frozenset({ABOVE}))
    return PointMark(flags=frozenset({"-".join(word.split())} - {""}))


def seconds_of(duration: str) -> float | None:
    """Length of an ISO 8601 duration [s]; None where it is none, or holds years or months, which have no length.

    “P15M” is fifteen months: files that mean minutes write “PT15M”.
    """
    match = _DURATION.match(duration.strip())
    if match is None or match["years"] or match["months"]:
        return None
    weeks, days, hours, minutes = (int(match[k] or 0) for k in ("weeks", "days", "hours", "minutes"))
    total = ((weeks * 7 + days) * 24 + hours) * 3600 + minutes * 60 + float(match["seconds"] or 0)
    return total if 0 < total < _MOST_SECONDS else None
