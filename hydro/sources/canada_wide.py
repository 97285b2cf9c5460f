"""Canada's open hydrometric data with many values a row: twelve months beside each other, or the days of a month.

Months are taken by their position: published headers spell some of them wrongly. Cells of days that do not exist
(30 February) are empty.
"""

from __future__ import annotations

import calendar
import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from hydro.discharge import Origin
from hydro.sources.canada import NAME, NOTHING, add_flow, bare, read_symbol
from hydro.sources.cells import Cells
from hydro.sources.date_column import EARLIEST_YEAR, LATEST_YEAR
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.points import Points, split_by
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes

FORMAT = f"{NAME} (a table of days and months)"
#: Columns before the twelve pairs of value and symbol: ID, PARAM, TYPE, YEAR, DD.
_LEAD = ("id", "param", "type", "year", "dd")
_FLOW_DAY = re.compile(r"^flow(\d{1,2})$")
_SYMBOL_DAY = re.compile(r"^flowsymbol(\d{1,2})$")
_MONTHS = 12


@dataclass(eq=False)
class _Found:
    """Values as they are collected, one list a column."""

    station: list[str]
    time: list[str]
    value: list[str]
    symbol: list[str]
    row: list[int]

    def add(self, station: str, time: str, value: str, symbol: str, row: int) -> None:
        for cells, cell in ((self.station, station), (self.time, time), (self.value, value), (self.symbol, symbol)):
            cells.append(cell)
        self.row.append(row)


def fits_columns(names: Sequence[str]) -> bool:
    """Whether a table has twelve pairs of month and symbol, or the days of a month."""
    have = [bare(n) for n in names]
    return _is_months(have) or _is_days(have)


def _is_months(have: Sequence[str]) -> bool:
    symbols = [n for n in have[len(_LEAD) + 1 :: 2] if n.startswith("sym")]
    return tuple(have[: len(_LEAD)]) == _LEAD and len(symbols) == _MONTHS


def _is_days(have: Sequence[str]) -> bool:
    return {"stationnumber", "year", "month", "flow1", "flow28"} <= set(have)


def read_canada_wide(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read either layout; the number of the row is that of the line that holds the value."""
    reading = Reading.of_table(cells, origin, choices)
    have = [bare(n) for n in cells.columns]
    columns = [[c.strip() for c in cells.column(n).to_pylist()] for n in cells.columns]
    found = _Found([], [], [], [], [])
    if _is_months(have):
        _months(reading, columns, cells.rows.tolist(), found)
    else:
        _days(reading, columns, have, cells.rows.tolist(), found)
    if found.row:
        texts = [pa.array(c, type=pa.string()) for c in (found.station, found.time, found.value, found.symbol)]
        stations, times, values, symbols = texts
        _, flags = read_codes(symbols, read_symbol)
        points = Points.plain(times, values, np.array(found.row, dtype=np.int64)).marked(None, flags)
        days = np.array(found.time, dtype="datetime64[D]")
        filled = np.array([bool(v or s) for v, s in zip(found.value, found.symbol, strict=True)])
        for (station,), at in split_by(stations):
            if filled[at].any():
                add_flow(reading, points.take(_within(at, days, filled)), station, "1", "mean", "value")
            else:
                reading.leave_out(f"Station {station} has no values of discharge.")
    return reading.done(NOTHING)


def _within(at: np.ndarray, days: np.ndarray, filled: np.ndarray) -> np.ndarray:
    """Positions between the first and the last filled cell: the layout pads a record to whole years."""
    known = days[at][filled[at]]
    return at[(days[at] >= known.min()) & (days[at] <= known.max())]


def _months(reading: Reading, columns: list[list[str]], rows: list[int], found: _Found) -> None:
    for i, row in enumerate(rows):
        station, parameter, _, year, day = (columns[k][i] for k in range(len(_LEAD)))
        if parameter != "1":
            reading.leave_out(f"PARAM {parameter} of station {station} is a water level, no discharge.")
            continue
        for month in range(1, _MONTHS + 1):
            at = len(_LEAD) + 2 * (month - 1)
            _add(reading, (station, year, str(month), day), columns[at][i], columns[at + 1][i], row, found)


def _days(reading: Reading, columns: list[list[str]], have: list[str], rows: list[int], found: _Found) -> None:
    values = {int(m[1]): i for i, n in enumerate(have) if (m := _FLOW_DAY.match(n))}
    symbols = {int(m[1]): i for i, n in enumerate(have) if (m := _SYMBOL_DAY.match(n))}
    at = {n: have.index(n) for n in ("stationnumber", "year", "month")}
    for i, row in enumerate(rows):
        station, year, month = (columns[at[n]][i] for n in ("stationnumber", "year", "month"))
        for day, place in sorted(values.items()):
            symbol = columns[symbols[day]][i] if day in symbols else ""
            _add(reading, (station, year, month, str(day)), columns[place][i], symbol, row, found)


def _add(reading: Reading, when: tuple[str, str, str, str], value: str, symbol: str, row: int, found: _Found) -> None:
    station, year, month, day = when
    readable = year.isdecimal() and month.isdecimal() and day.isdecimal() and 1 <= int(month) <= _MONTHS
    exists = (
        readable
        and EARLIEST_YEAR <= int(year) <= LATEST_YEAR
        and 1 <= int(day) <= calendar.monthrange(int(year), int(month))[1]
    )
    if exists:
        found.add(station, f"{int(year):04d}-{int(month):02d}-{int(day):02d}", value, symbol, row)
    elif value or symbol:
        reading.problem("no value on a day that does not exist", row=row, value=f"{year}-{month}-{day}: {value}")
