"""A column of number cells as typed -> numbers, with a reason for every cell that is not one."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.column_words import fold
from hydro.sources.row_flags import RowFlags
from hydro.sources.us_codes import (
    DRY,
    MISSING_WORDS,
    REMARK_TOKENS,
    SENTINELS,
    TEXT_CODES,
    UNKNOWN,
    read_us_code,
)
from hydro.units import UnitError, parse_unit

_PLAIN = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$")
_GROUPED_BLANK = re.compile(r"^[+-]?\d{1,3}(?:[ '’\u00a0\u202f]\d{3})+(?:[.,]\d+)?$")
_COMMA_ONLY = re.compile(r"^[+-]?\d*,\d+(?:[eE][+-]?\d+)?$")
_COMMA_OPEN = re.compile(r"^[+-]?[1-9]\d{0,2},\d{3}$")  # 1,234: one thousand or one and a bit
_DOT_OPEN = re.compile(r"^[+-]?[1-9]\d{0,2}\.\d{3}$")
_THOUSANDS_COMMA = re.compile(r"^[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?$")
_THOUSANDS_DOT = re.compile(r"^[+-]?\d{1,3}(?:\.\d{3})+(?:,\d+)?$")
_CENSORED = re.compile(r"^([<>])\s*[=]?\s*[\d.,]+$")
_WITH_TEXT = re.compile(r"^([+-]?(?:\d[\d.,]*|[.,]\d+)(?:[eE][+-]\d+)?)\s*([^\d\s.,].*)$")


@dataclass(frozen=True, eq=False, kw_only=True)
class NumberColumn:
    """A column of numbers as read.

    values      float64, in the column's own unit; NaN where there is no number
    flags       “missing”, “sentinel”, “ice”, “dry” …, as the cells say
    approval    position in APPROVALS where a cell carries a letter for it, UNKNOWN elsewhere; None = no cell does
    raw         position -> text of every cell that was not a plain number and not blank
    bad         (position, text, what was expected)
    cell_units  canonical units written in cells -> how many cells
    question    what must be settled before the column can be read
    """

    values: np.ndarray
    flags: RowFlags
    raw: dict[int, str]
    bad: tuple[tuple[int, str, str], ...] = ()
    approval: dict[int, int] | None = None
    cell_units: dict[str, int]
    question: str | None = None


@dataclass
class _Cell:
    value: float = float("nan")
    flags: frozenset[str] = frozenset()
    approval: int = UNKNOWN
    unit: str | None = None
    expected: str | None = None


def parse_number_column(
    cells: pa.Array, *, separator: str = ",", sentinels: tuple[float, ...] = SENTINELS
) -> NumberColumn:
    """Read a column of discharge cells.

    The decimal mark is settled once for the whole column. `separator` is what divides the table's cells: a comma
    inside a cell of a comma-separated file can only group thousands.
    """
    n = len(cells)
    # Between semicolons a dot may group thousands, which only the texts can show.
    if separator != ";" and (values := _plain_numbers(cells)) is not None:
        return _clean(values, cells, sentinels)
    cells = pc.utf8_trim_whitespace(cells)
    blank = np.asarray(pc.equal(cells, ""))
    plain = np.asarray(pc.match_substring_regex(cells, _PLAIN.pattern))
    distinct = set(pc.unique(cells.filter(pa.array(~plain & ~blank))).to_pylist())
    comma, question = _decimal_mark(distinct, cells, plain, separator)
    if comma:
        # In a column of decimal commas a dot can only group thousands, and a comma is as plain as a dot elsewhere.
        plain &= ~np.asarray(pc.match_substring(cells, "."))
        plain |= np.asarray(pc.match_substring_regex(cells, _COMMA_ONLY.pattern))
    values = np.full(n, np.nan)
    if plain.any():
        numbers = cells.filter(pa.array(plain))
        values[plain] = np.asarray(pc.cast(pc.replace_substring(numbers, ",", ".") if comma else numbers, pa.float64()))
    odd = np.flatnonzero(~plain & ~blank)
    odd_texts: list[str] = cells.take(pa.array(odd)).to_pylist()
    meanings = {text: _read_cell(text, comma) for text in set(odd_texts)}
    flags: dict[int, frozenset[str]] = {}
    approval: dict[int, int] = {}
    raw: dict[int, str] = {}
    bad: list[tuple[int, str, str]] = []
    units: dict[str, int] = {}
    for position, text in zip(odd.tolist(), odd_texts, strict=True):
        cell = meanings[text]
        values[position] = cell.value
        raw[position] = text
        if cell.flags:
            flags[position] = cell.flags
        if cell.approval != UNKNOWN:
            approval[position] = cell.approval
        if cell.unit:
            units[cell.unit] = units.get(cell.unit, 0) + 1
        if cell.expected:
            bad.append((position, text, cell.expected))
    for position in np.flatnonzero(np.isin(values, sentinels)).tolist():
        values[position] = np.nan
        raw.setdefault(position, cells[position].as_py())
        flags[position] = flags.get(position, frozenset()) | {"sentinel"}
    if question is not None:
        values = np.full(n, np.nan)
    return NumberColumn(
        values=values,
        flags=RowFlags.at(n, flags),
        raw=raw,
        bad=tuple(sorted(bad)),
        approval=approval or None,
        cell_units=units,
        question=question,
    )


def _plain_numbers(cells: pa.Array) -> np.ndarray | None:
    """A column of nothing but plain numbers and blanks, at full speed; None for any other."""
    blank = pc.equal(cells, "")
    numbers = pc.if_else(blank, None, cells) if pc.any(blank).as_py() else cells
    try:
        pc.cast(numbers.slice(0, 50), pa.float64())  # a cast that fails goes through the whole column first, slowly
        values = pc.cast(numbers, pa.float64())
    except pa.ArrowInvalid:
        return None
    total = pc.sum(values).as_py()
    return np.array(values, dtype=np.float64) if total is None or np.isfinite(total) else None


def numbers_in(values: pa.Array, *, sentinels: tuple[float, ...] = SENTINELS) -> NumberColumn | None:
    """A column that the table reader has converted already; None where some cell needs its text looked at."""
    if not pa.types.is_floating(values.type):
        return None
    numbers = np.array(values) if values.null_count == 0 else values.to_numpy(zero_copy_only=False).copy()
    bounds = pc.min_max(values).as_py()
    if bounds["min"] is None or bounds["min"] <= max(sentinels) or not np.isfinite(pc.sum(values).as_py()):
        return None
    return NumberColumn(values=numbers, flags=RowFlags.none(len(numbers)), raw={}, cell_units={})


def could_be_a_number(text: str) -> bool:
    """Whether a cell has a place in a column of numbers: a number, one with a unit or remark, or a missing word."""
    return any(_read_cell(text, comma).expected is None for comma in (False, True))


def _clean(values: np.ndarray, cells: pa.Array, sentinels: tuple[float, ...]) -> NumberColumn:
    n = len(values)
    hits: list[int] = []
    if n and np.nanmin(np.append(values, 0.0)) <= max(sentinels, default=-np.inf):
        hits = np.flatnonzero(np.isin(values, sentinels)).tolist()
    raw = {p: cells[p].as_py().strip() for p in hits}
    values[hits] = np.nan
    flags = RowFlags.at(n, dict.fromkeys(hits, frozenset({"sentinel"})))
    return NumberColumn(values=values, flags=flags, raw=raw, cell_units={})


def _decimal_mark(distinct: set[str], cells: pa.Array, plain: np.ndarray, separator: str) -> tuple[bool, str | None]:
    """(whether the comma is the decimal mark, question or None), from the whole column."""
    numbers = {m[1] for t in distinct if (m := _WITH_TEXT.match(t))} | distinct
    commas = {
        t
        for t in numbers
        if "," in t and (_COMMA_ONLY.match(t) or _THOUSANDS_COMMA.match(t) or _THOUSANDS_DOT.match(t))
    }
    if not commas:
        return False, _dots_left_open(cells, plain, separator)
    comma_decimal = {
        t
        for t in commas
        if (_COMMA_ONLY.match(t) and not _COMMA_OPEN.match(t)) or ("." in t and t.rfind(",") > t.rfind("."))
    }
    dot_decimal = {t for t in commas if t.count(",") > 1 or ("." in t and t.rfind(".") > t.rfind(","))}
    if comma_decimal and dot_decimal:
        one, two = min(comma_decimal), min(dot_decimal)
        return False, f"one decimal mark in the whole column; “{one}” has a decimal comma and “{two}” a grouping comma"
    if comma_decimal:
        return True, None
    decimals = plain & np.asarray(pc.match_substring(cells, "."))
    if dot_decimal or separator == "," or decimals.any():
        return False, None
    example = min(commas)
    return False, (
        f"numbers whose comma can only be read one way: “{example}” could be {example.replace(',', '')} or "
        f"{example.replace(',', '.')} and nothing in the column proves which"
    )


def _dots_left_open(cells: pa.Array, plain: np.ndarray, separator: str) -> str | None:
    """1.234 beside 980 in a semicolon file may be German thousands: spreadsheets do not keep trailing zeros."""
    if separator != ";":
        return None
    dotted = plain & np.asarray(pc.match_substring(cells, "."))
    if not dotted.any() or not (plain & ~dotted).any():
        return None
    if not np.asarray(pc.match_substring_regex(cells.filter(pa.array(dotted)), _DOT_OPEN.pattern)).all():
        return None
    example = cells[int(np.flatnonzero(dotted)[0])].as_py()
    return (
        f"numbers whose dot can only be read one way: “{example}” could be {example.replace('.', '')} or "
        f"{example.replace('.', ',')}, as every dot in the column stands before three digits and other rows have none"
    )


def _number(text: str, comma: bool) -> float | None:
    if _GROUPED_BLANK.match(text):
        text = re.sub(r"[ '’\u00a0\u202f]", "", text)
    if comma:
        if _COMMA_ONLY.match(text):
            text = text.replace(",", ".")
        elif _THOUSANDS_DOT.match(text):
            text = text.replace(".", "").replace(",", ".")
        elif "." in text:
            return None
    elif _THOUSANDS_COMMA.match(text):
        text = text.replace(",", "")
    return float(text) if _PLAIN.match(text) else None


def _read_cell(text: str, comma: bool) -> _Cell:
    number = _number(text, comma)
    if number is not None:
        return _Cell(number)
    folded = fold(text)
    if folded in TEXT_CODES:
        flag = TEXT_CODES[folded]
        return _Cell(0.0 if flag == DRY else float("nan"), frozenset({flag}))
    if folded in MISSING_WORDS:
        return _Cell(flags=frozenset({"missing"}))
    if censored := _CENSORED.match(text):
        # A bound is not a measurement: the text is kept, the value is unknown.
        return _Cell(flags=frozenset({"less-than" if censored[1] == "<" else "greater-than"}))
    if match := _WITH_TEXT.match(text):
        number = _number(match[1], comma)
        if number is not None:
            return _number_with_text(text, number, match[2].strip())
    wanted = (
        "a number with a decimal comma, as in the rest of the column" if comma and _PLAIN.match(text) else "a number"
    )
    return _Cell(expected=f"{wanted}, a blank, or a known word for a missing value")


def _number_with_text(text: str, number: float, rest: str) -> _Cell:
    try:
        return _Cell(number, unit=parse_unit(rest))
    except UnitError as error:
        if not error.expected.startswith("one of ") and rest not in REMARK_TOKENS:
            return _Cell(expected=f"a number alone; in “{text}”, “{rest}” needs {error.expected}")
    if rest == "*":
        return _Cell(number, frozenset({"*"}))
    meaning = read_us_code(rest)
    known = set(REMARK_TOKENS.values()) | {"estimated", "ice", "revised", "affected", "backwater"}
    if meaning.flags <= known:
        return _Cell(number, meaning.flags, meaning.approval)
    return _Cell(expected="a number alone, or with a unit or a known remark after it")
