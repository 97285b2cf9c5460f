"""One cell of a column of numbers: a number as typed, one with a unit or a remark, or a word for a missing value."""

from __future__ import annotations

import re
from dataclasses import dataclass

from hydro.sources.column_words import fold
from hydro.sources.us_codes import DRY, MISSING_WORDS, REMARK_TOKENS, TEXT_CODES, UNKNOWN, read_us_code
from hydro.units import UnitError, parse_unit

PLAIN = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$")
_GROUPED_BLANK = re.compile(r"^[+-]?\d{1,3}(?:[ '’\u00a0\u202f]\d{3})+(?:[.,]\d+)?$")
COMMA_ONLY = re.compile(r"^[+-]?\d*,\d+(?:[eE][+-]?\d+)?$")
THOUSANDS_COMMA = re.compile(r"^[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?$")
THOUSANDS_DOT = re.compile(r"^[+-]?\d{1,3}(?:\.\d{3})+(?:,\d+)?$")
_CENSORED = re.compile(r"^([<>])\s*[=]?\s*[\d.,]+$")
WITH_TEXT = re.compile(r"^([+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]\d+)?)\s*([^\d\s.,].*)$")


@dataclass
class NumberCell:
    """What one cell says; `expected` is what would have been accepted where it is no number and no known word."""

    value: float = float("nan")
    flags: frozenset[str] = frozenset()
    approval: int = UNKNOWN
    unit: str | None = None
    expected: str | None = None


def could_be_a_number(text: str) -> bool:
    """Whether a cell has a place in a column of numbers: a number, one with a unit or remark, or a missing word."""
    return any(read_number_cell(text, comma).expected is None for comma in (False, True))


def read_number_cell(text: str, comma: bool) -> NumberCell:
    """Read one trimmed cell; `comma` says that the column's decimal mark is the comma."""
    number = _number(text, comma)
    if number is not None:
        return NumberCell(number)
    folded = fold(text)
    if folded in TEXT_CODES:
        flag = TEXT_CODES[folded]
        return NumberCell(0.0 if flag == DRY else float("nan"), frozenset({flag}))
    if folded in MISSING_WORDS:
        return NumberCell(flags=frozenset({"missing"}))
    if censored := _CENSORED.match(text):
        # A bound is not a measurement: the text is kept, the value is unknown.
        return NumberCell(flags=frozenset({"less-than" if censored[1] == "<" else "greater-than"}))
    if match := WITH_TEXT.match(text):
        number = _number(match[1], comma)
        if number is not None:
            return _number_with_text(text, number, match[2].strip())
    wanted = (
        "a number with a decimal comma, as in the rest of the column" if comma and PLAIN.match(text) else "a number"
    )
    return NumberCell(expected=f"{wanted}, a blank, or a known word for a missing value")


def _number(text: str, comma: bool) -> float | None:
    if _GROUPED_BLANK.match(text):
        text = re.sub(r"[ '’\u00a0\u202f]", "", text)
    if comma:
        if COMMA_ONLY.match(text):
            text = text.replace(",", ".")
        elif THOUSANDS_DOT.match(text):
            text = text.replace(".", "").replace(",", ".")
        elif "." in text:
            return None
    elif THOUSANDS_COMMA.match(text):
        text = text.replace(",", "")
    return float(text) if PLAIN.match(text) else None


def _number_with_text(text: str, number: float, rest: str) -> NumberCell:
    try:
        return NumberCell(number, unit=parse_unit(rest))
    except UnitError as error:
        if not error.expected.startswith("one of ") and rest not in REMARK_TOKENS:
            return NumberCell(expected=f"a number alone; in “{text}”, “{rest}” needs {error.expected}")
    if rest == "*":
        return NumberCell(number, frozenset({"*"}))
    meaning = read_us_code(rest)
    known = set(REMARK_TOKENS.values()) | {"estimated", "ice", "revised", "affected", "backwater"}
    if meaning.flags <= known:
        return NumberCell(number, meaning.flags, meaning.approval)
    return NumberCell(expected="a number alone, or with a unit or a known remark after it")
