"""A column of number cells as typed -> numbers, with a reason for every cell that is not one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.decimal_mark import settle_decimal_mark
from hydro.sources.number_text import COMMA_ONLY, PLAIN, read_number_cell
from hydro.sources.row_flags import RowFlags
from hydro.sources.us_codes import SENTINELS, UNKNOWN


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
    plain = np.asarray(pc.match_substring_regex(cells, PLAIN.pattern))
    distinct = set(pc.unique(cells.filter(pa.array(~plain & ~blank))).to_pylist())
    comma, question = settle_decimal_mark(distinct, cells, plain, separator)
    if comma:
        # In a column of decimal commas a dot can only group thousands, and a comma is as plain as a dot elsewhere.
        plain &= ~np.asarray(pc.match_substring(cells, "."))
        plain |= np.asarray(pc.match_substring_regex(cells, COMMA_ONLY.pattern))
    values = np.full(n, np.nan)
    if plain.any():
        numbers = cells.filter(pa.array(plain))
        values[plain] = np.asarray(pc.cast(pc.replace_substring(numbers, ",", ".") if comma else numbers, pa.float64()))
    odd = np.flatnonzero(~plain & ~blank)
    odd_texts: list[str] = cells.take(pa.array(odd)).to_pylist()
    meanings = {text: read_number_cell(text, comma) for text in set(odd_texts)}
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
    for position in np.flatnonzero(np.isinf(values)).tolist():
        values[position] = np.nan
        bad.append((position, cells[position].as_py(), "a number that a computer can hold"))
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
    bounds = pc.min_max(values).as_py()
    if bounds["min"] is None or bounds["min"] <= max(sentinels) or not np.isfinite(pc.sum(values).as_py()):
        return None
    # Without blanks these are the reader's own cells, not to be written to: numpy refuses that.
    numbers = values.to_numpy(zero_copy_only=False)
    return NumberColumn(values=numbers, flags=RowFlags.none(len(numbers)), raw={}, cell_units={})


def _clean(values: np.ndarray, cells: pa.Array, sentinels: tuple[float, ...]) -> NumberColumn:
    n = len(values)
    hits: list[int] = []
    if n and np.nanmin(np.append(values, 0.0)) <= max(sentinels, default=-np.inf):
        hits = np.flatnonzero(np.isin(values, sentinels)).tolist()
    raw = {p: cells[p].as_py().strip() for p in hits}
    values[hits] = np.nan
    flags = RowFlags.at(n, dict.fromkeys(hits, frozenset({"sentinel"})))
    return NumberColumn(values=values, flags=flags, raw=raw, cell_units={})
