"""How a text table is laid out: its separator, where its header stands, and what stands above it."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from hydro.sources.column_words import (
    DATE_WORDS,
    LAYOUT_WORDS,
    PROCESSING_WORDS,
    TIME_WORDS,
    squeezed,
    tokens,
)
from hydro.sources.dates import DATE_LIKE
from hydro.units import UnitError, parse_unit

#: In order of preference where several would do: commas and blanks also occur inside cells.
SEPARATORS = ("\t", ";", "|", ",", " ")
TAIL_LINES = 50
#: A row of data starts the data if at least this share of the next few rows are data too.
RUN_LENGTH, RUN_SHARE = 5, 0.6

_DATE = re.compile(DATE_LIKE)
_NUMBER = re.compile(r"^[+-]?(?:\d[\d.,'’ \u00a0\u202f]*|\.\d+)(?:[eE][+-]?\d+)?$")
_DEFINITION = re.compile(r"^\d+[sdnSDN]$")

Record = tuple[int, list[str]]  # (line or sheet row, cells)


@dataclass(frozen=True, eq=False, kw_only=True)
class TableLayout:
    """Where things stand in a table. `first` is the line or row of the first data row, 0 where there is none."""

    names: tuple[str, ...]
    header: int | None
    first: int
    second_row: tuple[str, ...] | None
    preamble_end: int  # lines before this one (1-based, exclusive) stand above the header
    width: int


def looks_like_a_number(cell: str) -> bool:
    return bool(_NUMBER.match(cell.strip()))


def looks_like_a_date(cell: str) -> bool:
    return bool(_DATE.match(cell.strip()))


def split_line(line: str, separator: str) -> list[str]:
    """One line into cells; quotes protect separators."""
    if separator == " ":
        return line.split()
    if '"' not in line:
        return line.split(separator)
    try:
        return next(csv.reader([line], delimiter=separator), [])
    except csv.Error:  # a carriage return inside the line
        return line.split(separator)


def sniff_separator(tail: str) -> str:
    """The separator that divides the last lines of a table most evenly, preferring one that sets dates apart."""
    lines = [line for line in tail.split("\n") if line.strip()]
    lines = ([line for line in lines if not line.startswith("#")] or lines)[-TAIL_LINES:]
    best, best_score = ",", (-1, -1, 0)
    for preference, separator in enumerate(SEPARATORS):
        split = [split_line(line, separator) for line in lines]
        modal, times = Counter(len(cells) for cells in split).most_common(1)[0] if split else (0, 0)
        if modal < 2:
            continue
        with_date = sum(any(looks_like_a_date(cell) for cell in cells) for cells in split)
        # Tenths, so that one odd footer line does not outweigh the order of preference.
        score = (int(2 * with_date > len(lines)), round(10 * times / len(lines)), -preference)
        if score > best_score:
            best, best_score = separator, score
    return best


def head_records(head: str, separator: str, *, whole: bool) -> list[Record]:
    """The first rows with the lines they start on; cells in quotes may hold line breaks.

    `whole` = the head is all there is, so that quotes left open are a mistake (csv.Error).
    """
    if separator == " ":
        return [(i, line.split()) for i, line in enumerate(head.split("\n"), start=1)]
    records: list[Record] = []
    # Only line feeds end lines: form feeds and the like are left inside their cells, as they are elsewhere.
    reader = csv.reader((f"{part}\n" for part in head.split("\n")), delimiter=separator, strict=whole)
    line = 1
    for cells in reader:
        records.append((line, cells))
        line = reader.line_num + 1
    return records


def find_layout(records: Sequence[Record], *, skip_first: bool = False) -> TableLayout:
    """Find the header: the last row of words before the data begin.

    `records` are the first rows of the table, `skip_first` leaves out a “sep=;” line.
    """
    records = [r for r in records if any(c.strip() for c in r[1])][1 if skip_first else 0 :]
    sample = records[-TAIL_LINES:]
    width = Counter(_filled(cells) for _, cells in sample).most_common(1)[0][0] if sample else 0
    position = _date_position(sample)
    first = next((i for i in range(len(records)) if _run_starts(records, i, position)), None)
    if first is None:
        return _header_only(records, width)
    at = first - 1
    # A row with numbers above the first good one is data with a mistake in it, unless it is too short to be data.
    while at >= 0 and not _is_words(records[at][1], position) and _filled(records[at][1]) >= max(2, width):
        first, at = at, at - 1
    names_at, second = at, None
    if at >= 1 and _is_processing(records[at][1]) and _is_units(records[at - 1][1], position):
        at, names_at = at - 1, at - 1
    if at >= 1 and _is_units(records[at][1], position) and _is_header(records[at - 1][1], width):
        names_at, second = at - 1, tuple(c.strip() for c in records[at][1])
    has_header = names_at >= 0 and _is_header(records[names_at][1], width)
    names = [c.strip() for c in records[names_at][1]] if has_header else []
    if names and names[0].startswith("#") and len(names[0]) > 1:
        names[0] = names[0].lstrip("# ")
    # A header fixes the width: more filled cells than names mean unquoted separators, never another column.
    body = Counter(len(cells) for _, cells in records[first : first + TAIL_LINES])
    width = len(names) or body.most_common(1)[0][0]
    return TableLayout(
        names=_unique(names, width),
        header=records[names_at][0] if has_header else None,
        first=records[first][0],
        second_row=second,
        preamble_end=records[names_at][0] if has_header else records[first][0],
        width=width,
    )


def _header_only(records: Sequence[Record], width: int) -> TableLayout:
    at = next((i for i, (_, cells) in enumerate(records) if _is_header(cells, width)), None)
    names = [c.strip() for c in records[at][1]] if at is not None else []
    rest = records[at + 1] if at is not None and at + 1 < len(records) else None
    return TableLayout(
        names=_unique(names, len(names)),
        header=records[at][0] if at is not None else None,
        first=rest[0] if rest else 0,
        second_row=None,
        preamble_end=records[at][0] if at is not None else 1,
        width=len(names),
    )


def _filled(cells: Sequence[str]) -> int:
    """Number of cells up to the last one that is not blank."""
    return max((i for i, c in enumerate(cells, start=1) if c.strip()), default=0)


def _date_position(sample: Sequence[Record]) -> int | None:
    # The later half: lines above a short table may hold more dates than the table does.
    sample = sample[-max(3, len(sample) // 2) :]
    counts = Counter(i for _, cells in sample for i, c in enumerate(cells) if looks_like_a_date(c))
    often = [i for i, n in counts.items() if 2 * n >= len(sample)]
    return min(often) if often else (counts.most_common(1)[0][0] if counts else None)


def _is_data(cells: Sequence[str], position: int | None) -> bool:
    if position is not None:
        return len(cells) > max(position, 1) and looks_like_a_date(cells[position])
    filled = [c for c in cells if c.strip()]
    numbers = sum(looks_like_a_number(c) for c in filled)
    return len(filled) >= 2 and 2 * numbers >= len(filled)


def _run_starts(records: Sequence[Record], i: int, position: int | None) -> bool:
    if not _is_data(records[i][1], position):
        return False
    run = records[i : i + RUN_LENGTH]
    return sum(_is_data(cells, position) for _, cells in run) >= RUN_SHARE * len(run)


def _is_words(cells: Sequence[str], position: int | None) -> bool:
    if position is not None and len(cells) > position and set(tokens(cells[position])) & (DATE_WORDS | TIME_WORDS):
        return True  # a header, whatever digits the other names are made of (“00060”)
    filled = [c for c in cells if c.strip()]
    return bool(filled) and not any(looks_like_a_number(c) or looks_like_a_date(c) for c in filled)


def _is_header(cells: Sequence[str], width: int) -> bool:
    filled = [c.strip() for c in cells if c.strip()]
    if len(filled) < min(2, width) or 2 * len(filled) < width:
        return False
    # Parameter codes (“00060”) are names made of digits; a header may hold some, never only such.
    return any(not (looks_like_a_number(c) or looks_like_a_date(c)) for c in filled) and not looks_like_a_date(
        filled[0]
    )


def _is_processing(cells: Sequence[str]) -> bool:
    filled = [squeezed(c) for c in cells if c.strip()]
    return bool(filled) and all(c in PROCESSING_WORDS for c in filled)


def _is_units(cells: Sequence[str], position: int | None) -> bool:
    """A row of units, or of the column definitions (“5s 15s 20d”) of tab-delimited agency files."""
    filled = [c.strip() for c in cells if c.strip()]
    if filled and all(_DEFINITION.match(c) for c in filled):
        return True
    if position is not None and len(cells) > position and set(tokens(cells[position])) & (DATE_WORDS | TIME_WORDS):
        return False
    units = sum(is_a_unit(c) for c in filled)
    known = units + sum(squeezed(c) in LAYOUT_WORDS for c in filled)
    return units >= 1 and 2 * known >= len(filled)


def is_a_unit(text: str) -> bool:
    """Whether a text is a unit of anything measured at gauges, also one that is not of discharge."""
    try:
        parse_unit(text)
    except UnitError as error:
        return not error.expected.startswith("one of ")
    return True


def _unique(names: Sequence[str], width: int) -> tuple[str, ...]:
    """Names for `width` columns: blank ones numbered, repeated ones told apart by their position."""
    unique: list[str] = []
    for i in range(width):
        name = names[i] if i < len(names) else ""
        name = name or f"column {i + 1}"
        unique.append(name if name not in unique else f"{name} (column {i + 1})")
    return tuple(unique)
