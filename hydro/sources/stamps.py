"""The dates and clock times of a person's table -> civil days or UTC instants."""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.problems import Problem
from hydro.sources.cells import Cells
from hydro.sources.column_roles import Roles
from hydro.sources.date_column import DateColumn
from hydro.sources.date_problems import date_problems, east_of_utc
from hydro.sources.dates import parse_date_column
from hydro.sources.gauge_file import ReadChoices, row_problems
from hydro.sources.machine_dates import plain_timestamps
from hydro.sources.time_steps import is_once_a_day, offset_name, parse_zone, to_civil_days, to_instants

_OFFSET_IN_NAME = re.compile(r"(?:GMT|UTC)\s*([+-−]\s*\d{1,2}(?::?\d{2})?)", re.IGNORECASE)
_UTC_IN_NAME = re.compile(r"(?:^|[^a-z])(?:utc|gmt)(?:$|[^a-z])", re.IGNORECASE)
_SAMPLE_DATES = 300


@dataclass(frozen=True, eq=False, kw_only=True)
class Stamps:
    """Time of every row: `values` datetime64[us], civil days or UTC instants, true where `readable`."""

    values: np.ndarray
    readable: np.ndarray
    daily: bool
    clock: str
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def unusable(self) -> bool:
        return not self.readable.any()


def read_stamps(cells: Cells, roles: Roles, choices: ReadChoices, file: str) -> Stamps:
    """Dates of a table by its roles. What cannot be settled comes back as problems, with no row readable."""
    names = _date_names(cells, roles)
    if len(names) != 1 and roles.year is None:
        listed = ", ".join(f"“{n}”" for n in (names or cells.columns))
        expected = "a choice of the column that dates the rows" if names else "a column of dates"
        return _nothing(cells, [Problem(file=file, expected=f"{expected} (date_column = “…”): {listed}")])
    times = cells.column(roles.time) if roles.time else None
    column = names[0] if names else str(roles.year)
    texts = cells.values(column) if names else _from_parts(cells, roles)
    problems: list[Problem] = []
    if plain_timestamps(texts) and times is None:
        dates = parse_date_column(texts)
    else:
        texts = cells.column(column) if names else texts
        dates = parse_date_column(texts, choices.day_first, times=times, serials=cells.encoding == "xlsx")
        blank = "a date; rows without one cannot be placed"
        problems = date_problems(dates, texts, cells.rows, file, column, blank=blank)
    if dates.question is not None:
        return _nothing(cells, [*problems, Problem(file=file, column=column, expected=dates.question)])
    readable = ~np.isnat(dates.values)
    if not readable.any():
        return _nothing(cells, problems)
    wall = dates.values
    if is_once_a_day(wall if readable.all() else wall[readable], dates.has_clock):
        clock = f"civil days as written ({dates.layout})"
        return Stamps(
            values=to_civil_days(wall, dates.day_ended),
            readable=readable,
            daily=True,
            clock=clock,
            problems=tuple(problems),
        )
    header = f"{column} {roles.time or ''}"
    return _instants(dates, readable, header, choices, cells, column, texts, file, problems)


def _instants(
    dates: DateColumn,
    readable: np.ndarray,
    header: str,
    choices: ReadChoices,
    cells: Cells,
    column: str,
    texts: pa.Array,
    file: str,
    problems: list[Problem],
) -> Stamps:
    values = dates.values
    offsets = dates.offset_minutes
    naive = readable if offsets is None else readable & np.isnan(offsets)
    notes: tuple[str, ...] = ()
    clock = "UTC offsets in the stamps"
    if offsets is not None and offsets.any():
        values = values - east_of_utc(offsets)
    if naive.any():
        stated = _zone_in(header)
        if stated is None and choices.time_zone is None:
            row = int(cells.rows[np.flatnonzero(naive)[0]])
            expected = (
                "the time zone of the clock (time_zone = “UTC-06:00” for a logger that keeps one time all year, or "
                "an IANA name for local time with summer time)"
            )
            value = str(texts[int(np.flatnonzero(naive)[0])])
            return _nothing(
                cells, [*problems, Problem(file=file, row=row, column=column, value=value, expected=expected)]
            )
        try:
            zone = parse_zone(stated or str(choices.time_zone))
        except ValueError as error:
            return _nothing(
                cells, [*problems, Problem(file=file, value=stated or choices.time_zone, expected=str(error))]
            )
        zone_text = "named in the header" if stated else "as asked for"
        instants = to_instants(
            dates.values if naive.all() else np.where(naive, dates.values, np.datetime64("NaT")), zone, zone_text
        )
        values = np.where(naive, instants.values, values) if not naive.all() else instants.values
        clock = instants.clock if naive.all() else f"UTC offsets where stamps carry them; others {instants.clock}"
        notes = instants.notes
        if stated and choices.time_zone and parse_zone(stated) != _zone_or_none(choices.time_zone):
            notes = (*notes, f"The header's {stated} was used for the clock, not {choices.time_zone}.")
        if instants.nonexistent.any():
            at = np.flatnonzero(instants.nonexistent)
            expected = (
                f"a clock time that exists in {choices.time_zone}: clocks were put forward over it. A logger that "
                "keeps one time all year needs a fixed offset, such as UTC-06:00"
            )
            taken = [str(t) for t in texts.take(pa.array(at))]
            problems = problems + row_problems(file, column, cells.rows[at].tolist(), taken, [expected] * len(at))
            readable = readable & ~instants.nonexistent
    return Stamps(
        values=values,
        readable=readable,
        daily=False,
        clock=f"{clock} ({dates.layout})",
        problems=tuple(problems),
        notes=notes,
    )


def _zone_or_none(text: str) -> object:
    try:
        return parse_zone(text)
    except ValueError:
        return None


def _zone_in(header: str) -> str | None:
    """“Date Time, GMT-05:00” -> UTC-05:00; “Timestamp (UTC)” -> UTC."""
    if match := _OFFSET_IN_NAME.search(header):
        minutes = parse_zone("UTC" + match[1].replace(" ", ""))
        return offset_name(minutes) if isinstance(minutes, int) else None
    return "UTC" if _UTC_IN_NAME.search(header.replace("_", " ")) else None


def _date_names(cells: Cells, roles: Roles) -> list[str]:
    """The date column; of several that hold the same dates, the one with clock times."""
    if len(roles.dates) < 2:
        return roles.dates
    read = {name: parse_date_column(cells.column(name).slice(0, _SAMPLE_DATES)) for name in roles.dates}
    if any(d.question or d.bad for d in read.values()):
        return roles.dates
    days = [d.values.astype("datetime64[D]") for d in read.values()]
    if not all((d == days[0]).all() for d in days):
        return roles.dates
    clocked = [name for name, d in read.items() if d.has_clock]
    return clocked if len(clocked) == 1 else roles.dates if clocked else roles.dates[:1]


def _from_parts(cells: Cells, roles: Roles) -> pa.Array:
    """Year and day of year, or year, month and day in columns of their own -> ISO texts; nonsense stays nonsense."""
    year = pc.utf8_trim_whitespace(cells.column(str(roles.year))).to_pylist()
    if roles.day_of_year is None:
        month = pc.utf8_trim_whitespace(cells.column(str(roles.month))).to_pylist()
        day = pc.utf8_trim_whitespace(cells.column(str(roles.day))).to_pylist()
        return pa.array([f"{y}-{m}-{d}" if y or m or d else "" for y, m, d in zip(year, month, day, strict=True)])
    day_of_year = pc.utf8_trim_whitespace(cells.column(roles.day_of_year)).to_pylist()
    return pa.array([_day_of_year(y, d) for y, d in zip(year, day_of_year, strict=True)], type=pa.string())


def _day_of_year(year: str, day: str) -> str:
    if not year and not day:
        return ""
    if re.fullmatch(r"[0-9]{4}", year) and re.fullmatch(r"[0-9]{1,3}", day) and int(day) >= 1:
        date = np.datetime64(f"{year}-01-01") + np.timedelta64(int(day) - 1, "D")
        if str(date).startswith(year):
            return str(date)
    return f"day {day} of {year}"


def _nothing(cells: Cells, problems: list[Problem]) -> Stamps:
    n = len(cells)
    return Stamps(
        values=np.full(n, np.datetime64("NaT", "us")),
        readable=np.zeros(n, bool),
        daily=False,
        clock="",
        problems=tuple(problems),
    )
