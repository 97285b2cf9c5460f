"""Climatology in season and state by its plain wording, as somebody else would work it out to judge the outlook by.

For a forecast issued on a day of a calendar year: the share of dry days at the lead among all days of *other calendar
years* within ±40 days of the season whose state is that of the day of issue, where at least 10 such days have a known
outcome; else the share among such days of the season whatever their state. Written out day by day, apart from the
project's own climatology.

This reference sees what no forecast can. A day late in December counts for the year before: its outcome lies in the
year judged. So does a day early in January for the year after, whose dry spell may be the one that is to be foreseen.
In a record of five years some tenth of the days that it rests on are of this kind.
"""

from __future__ import annotations

import numpy as np

from hydro.hindcast import Hindcast
from hydro.outlook_record import OutlookRecord

SEASON_DAYS = 40
LEAST_DAYS = 10


def literal_climatology(record: OutlookRecord, cast: Hindcast) -> np.ndarray:
    """Chances of being dry, one row a forecast of `cast` and one column a lead; NaN where nothing is known."""
    n = len(record)
    year, day, state = record.year, record.day_of_year, record.known_state
    out = np.full((len(cast.row), len(cast.leads)), np.nan)
    apart = np.abs(np.arange(1, 367)[:, None] - np.arange(1, 367))
    in_season = (np.minimum(apart, 366 - apart) <= SEASON_DAYS).astype(np.float64)
    for k, lead in enumerate(cast.leads.tolist()):
        if lead >= n:
            continue
        then = record.state[lead:]
        known = (state[: n - lead] > 0) & (then > 0)
        size = (record.n_years, 3, 366)
        days, dry = np.zeros(size), np.zeros(size)
        cell = year[: n - lead], state[: n - lead], day[: n - lead] - 1
        np.add.at(days, tuple(c[known] for c in cell), 1)
        np.add.at(dry, tuple(c[known & (then == 1)] for c in cell), 1)
        days, dry = ((table.sum(axis=0) - table) @ in_season for table in (days, dry))
        at = cast.year, state[cast.row], day[cast.row] - 1
        season = cast.year, slice(None), day[cast.row] - 1
        n_any, n_dry = days[season].sum(axis=1), dry[season].sum(axis=1)
        any_state = np.divide(n_dry, n_any, out=np.full(len(n_any), np.nan), where=n_any > 0)
        out[:, k] = np.divide(dry[at], days[at], out=any_state, where=days[at] >= LEAST_DAYS)
    return out


def skill_against(reference: np.ndarray, cast: Hindcast) -> np.ndarray:
    """1 - Brier of the forecasts / Brier of the reference, by lead; NaN where the reference is never wrong."""
    judged = ~np.isnan(cast.outcome + cast.forecast + reference)
    ours, theirs = (np.where(judged, (p - cast.outcome) ** 2, 0.0).sum(axis=0) for p in (cast.forecast, reference))
    return np.divide(theirs - ours, theirs, out=np.full(len(cast.leads), np.nan), where=theirs > 0)
