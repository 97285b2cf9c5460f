"""Time of every point in formats whose layout is known: civil days, or instants by the rule of the format."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.problems import Problem
from hydro.sources.date_problems import date_problems, east_of_utc, row_label
from hydro.sources.dates import parse_date_column
from hydro.sources.gauge_file import ReadChoices, row_problems
from hydro.sources.stamps import Stamps
from hydro.sources.time_steps import is_once_a_day, parse_zone, to_instants

_FEW = 10
_HOUR = 3_600_000_000  # [µs]
_ASK_ZONE = "the time zone of the clock; the stamps carry none (time_zone = “UTC-06:00” or an IANA name)"


@dataclass(frozen=True, kw_only=True)
class ClockRule:
    """How the stamps of a format are meant.

    daily         True = civil days, False = instants, None = daily if every stamp has the same time of day
    zone          zone of stamps that carry none, where the format has one (a fixed offset or an IANA name)
    zone_from     in words, how that is known
    middle        hours from a daily stamp to the middle of the day it stands for: -12 where the stamp ends its day,
                  +12 where it begins it, 0 where the date is the day itself
    said          what to add to the description of the clock
    """

    daily: bool | None = None
    zone: str | None = None
    zone_from: str = ""
    middle: int = 0
    said: str = ""


def stamp_points(
    times: pa.Array,
    rows: np.ndarray,
    rule: ClockRule,
    choices: ReadChoices,
    file: str,
    *,
    column: str | None = None,
    row_name: str = "",
) -> Stamps:
    """Stamps by a rule. What cannot be settled comes back as problems; `row_name` is put before the row's number."""
    dates = parse_date_column(times, choices.day_first)
    known = ~np.isnat(dates.values)
    problems = date_problems(dates, times, rows, file, column, row_name=row_name)
    if dates.question is not None:
        return _nothing(len(times), [*problems, Problem(file=file, column=column, expected=dates.question)])
    wall = dates.values
    if not known.any():
        return _nothing(len(times), problems)
    daily = rule.daily
    if daily is None:
        some = wall if known.all() else wall[known]
        # One stamp twice is not yet “always the same time of day”.
        daily = is_once_a_day(some if len(some) > _FEW else np.unique(some), dates.has_clock)
    said = f"; {rule.said}" if rule.said else ""
    if daily:
        days = (wall + np.timedelta64(rule.middle * _HOUR, "us")).astype("datetime64[D]").astype("datetime64[us]")
        clock = f"civil days as written{said}"
        return Stamps(values=days, readable=known, daily=True, clock=clock, problems=tuple(problems))
    offsets = dates.offset_minutes
    naive = known if offsets is None else known & np.isnan(offsets)
    values = wall
    if offsets is not None and offsets.any():
        values = wall - east_of_utc(offsets)
    if not naive.any():
        clock = f"UTC offsets in the stamps{said}"
        return Stamps(values=values, readable=known, daily=False, clock=clock, problems=tuple(problems))
    text = rule.zone or choices.time_zone
    if text is None:
        return _nothing(len(times), [*problems, Problem(file=file, column=column, expected=_ASK_ZONE)])
    try:
        zone = parse_zone(text)
    except ValueError as error:
        return _nothing(len(times), [*problems, Problem(file=file, value=text, expected=str(error))])
    local = wall if naive.all() else np.where(naive, wall, np.datetime64("NaT"))
    instants = to_instants(local, zone, rule.zone_from if rule.zone else "as asked for")
    gone = instants.nonexistent
    at = np.flatnonzero(gone)
    expected = f"a clock time that exists in {text}: clocks were put forward over it"
    problems += row_problems(
        file,
        column,
        [row_label(rows[p], row_name) for p in at],
        [times[int(p)].as_py() for p in at],
        [expected] * len(at),
    )
    clock = instants.clock if naive.sum() == known.sum() else f"UTC offsets where stamps carry them; {instants.clock}"
    return Stamps(
        values=instants.values if naive.all() else np.where(naive, instants.values, values),
        readable=known & ~gone,
        daily=False,
        clock=f"{clock}{said}",
        problems=tuple(problems),
        notes=instants.notes,
    )


def blank(texts: pa.Array) -> np.ndarray:
    """Cells with nothing in them."""
    return np.asarray(pc.equal(pc.utf8_trim_whitespace(texts), ""))


def _nothing(n: int, problems: list[Problem]) -> Stamps:
    values = np.full(n, np.datetime64("NaT", "us"))
    return Stamps(values=values, readable=np.zeros(n, bool), daily=False, clock="", problems=tuple(problems))
