"""Dates and clock times of agency tables: civil days, or clock times with the zone code that each row carries."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.problems import Problem
from hydro.sources.cells import Cells
from hydro.sources.date_problems import date_problems, east_of_utc
from hydro.sources.dates import parse_date_column
from hydro.sources.gauge_file import ReadChoices, row_problems
from hydro.sources.stamps import Stamps
from hydro.sources.time_steps import parse_zone, to_instants
from hydro.sources.us_columns import ZONE_MINUTES


def read_us_stamps(
    cells: Cells, date_name: str, zone_name: str | None, choices: ReadChoices, file: str, *, may_be_daily: bool
) -> Stamps:
    """Time of every row. What cannot be settled comes back as problems, with no row readable.

    `may_be_daily` = some wanted column is a daily statistic; a file with zone codes is instantaneous all the same.
    """
    texts = cells.column(date_name)
    dates = parse_date_column(texts, choices.day_first, serials=cells.encoding == "xlsx")
    problems = date_problems(dates, texts, cells.rows, file, date_name)
    if dates.question is not None:
        return _none(cells, [*problems, Problem(file=file, column=date_name, expected=dates.question)])
    wall, readable = dates.values, ~np.isnat(dates.values)
    if not dates.has_clock or (may_be_daily and zone_name is None):
        days = wall.astype("datetime64[D]").astype("datetime64[us]")
        clock = "civil days of the station, as written"
        return Stamps(values=days, readable=readable, daily=True, clock=clock, problems=tuple(problems))
    if dates.offset_minutes is not None and not np.isnan(dates.offset_minutes[readable]).any():
        values = wall - east_of_utc(dates.offset_minutes)
        clock = "UTC offsets in the stamps"
        return Stamps(values=values, readable=readable, daily=False, clock=clock, problems=tuple(problems))
    if zone_name is not None:
        return _by_zone_codes(cells, zone_name, date_name, wall, readable, problems, file)
    if choices.time_zone is None:
        expected = "the time zone of the clock; there is no tz_cd column (time_zone = “America/Chicago” or “UTC-06:00”)"
        return _none(cells, [*problems, Problem(file=file, column=date_name, expected=expected)])
    try:
        zone = parse_zone(choices.time_zone)
    except ValueError as error:
        return _none(cells, [*problems, Problem(file=file, value=choices.time_zone, expected=str(error))])
    return _localised(cells, date_name, zone, "as asked for", wall, readable, problems, file)


def _by_zone_codes(
    cells: Cells,
    zone_name: str,
    date_name: str,
    wall: np.ndarray,
    readable: np.ndarray,
    problems: list[Problem],
    file: str,
) -> Stamps:
    """Each row by its own code: in the hour that repeats, EDT and EST tell the two passes apart."""
    coded = pc.dictionary_encode(pc.utf8_trim_whitespace(cells.column(zone_name)))
    zones = coded.dictionary.to_pylist()
    if len(zones) == 1 and "/" in zones[0]:  # client libraries write the name of a zone
        try:
            zone = parse_zone(zones[0])
        except ValueError as error:
            return _none(cells, [*problems, Problem(file=file, column=zone_name, value=zones[0], expected=str(error))])
        return _localised(cells, date_name, zone, f"named in {zone_name}", wall, readable, problems, file)
    indices = np.asarray(coded.indices)
    minutes = np.array([ZONE_MINUTES.get(z.upper(), np.nan) for z in zones])
    known = ~np.isnan(minutes)[indices]
    unknown = np.flatnonzero(~known)
    expected = "a known zone code: " + ", ".join(ZONE_MINUTES)
    found = row_problems(
        file,
        zone_name,
        cells.rows[unknown].tolist(),
        [zones[indices[p]] for p in unknown],
        [expected] * len(unknown),
    )
    named = ", ".join(sorted({z.upper() for z in zones} & set(ZONE_MINUTES)))
    return Stamps(
        values=wall - east_of_utc(minutes)[indices],
        readable=readable & known,
        daily=False,
        clock=f"local clock time with the zone code of each row ({named})",
        problems=(*problems, *found),
    )


def _localised(
    cells: Cells,
    column: str,
    zone: ZoneInfo | int,
    said: str,
    wall: np.ndarray,
    readable: np.ndarray,
    problems: list[Problem],
    file: str,
) -> Stamps:
    instants = to_instants(wall, zone, said)
    at = np.flatnonzero(instants.nonexistent)
    taken = cells.column(column).take(pa.array(at)).to_pylist()
    expected = "a clock time that exists: clocks were put forward over it"
    found = row_problems(file, column, cells.rows[at].tolist(), taken, [expected] * len(at))
    return Stamps(
        values=instants.values,
        readable=readable & ~instants.nonexistent,
        daily=False,
        clock=instants.clock,
        problems=(*problems, *found),
        notes=instants.notes,
    )


def _none(cells: Cells, problems: list[Problem]) -> Stamps:
    n = len(cells)
    values = np.full(n, np.datetime64("NaT", "us"))
    return Stamps(values=values, readable=np.zeros(n, bool), daily=False, clock="", problems=tuple(problems))
