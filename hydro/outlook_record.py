"""A daily record made ready for outlooks: log discharge, states as they were known, years and what each leaves out.

Everything here looks backwards: the value at a row is made of that row and earlier ones only, except `state`, the
state by the rule, which with several stop or restart days settles some days later and serves as the outcome.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
import pandas as pd

from hydro.state_runs import DRY, RUNNING, UNKNOWN, Bools, Floats, Ints, StateRuns, state_runs

Codes = npt.NDArray[np.int8]
#: Added to discharge before its logarithm is taken, as a share of the stop level: a dry river bed has no logarithm.
OFFSET_SHARE = 0.05
#: No day's situation looks back farther than this [days].
MEMORY_DAYS = 60


@dataclass(frozen=True, kw_only=True)
class StateRule:
    """When an outlet is dry and running: levels [m³/s] and consecutive days, as in `state_runs`.

    The stop level is above 0. Raises ValueError where a level or a number of days is out of range.
    """

    stop_m3s: float
    restart_m3s: float
    stop_days: int = 1
    restart_days: int = 1

    def __post_init__(self) -> None:
        if not self.stop_m3s > 0:
            raise ValueError("an outlook needs a stop level above 0")
        if self.restart_m3s < self.stop_m3s:
            raise ValueError("the restart level lies below the stop level")
        if self.stop_days < 1 or self.restart_days < 1:
            raise ValueError("stop_days and restart_days are at least 1")

    @property
    def offset_m3s(self) -> float:
        return OFFSET_SHARE * self.stop_m3s

    @property
    def look_back(self) -> int:
        """How many days make a state [days]."""
        return max(self.stop_days, self.restart_days)

    @property
    def log_restart(self) -> float:
        """The restart level on the scale of `OutlookRecord.z`, where the stop level is 0."""
        return float(np.log((self.restart_m3s + self.offset_m3s) / (self.stop_m3s + self.offset_m3s)))

    def z(self, discharge_m3s: Floats) -> Floats:
        """Log discharge above the stop level; NaN stays NaN, negative values count as 0."""
        return np.log((np.maximum(discharge_m3s, 0.0) + self.offset_m3s) / (self.stop_m3s + self.offset_m3s))

    def discharge(self, z: Floats) -> Floats:
        """The inverse of `z` [m³/s]."""
        return np.maximum((self.stop_m3s + self.offset_m3s) * np.exp(z) - self.offset_m3s, 0.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class OutlookRecord:
    """One row a day.

    z               log discharge above the stop level, NaN = not measured
    state           by the rule (0 unknown, 1 dry, 2 running): the outcome
    known_state     the state as it stood on the day itself, from that day and earlier ones
    below, above    consecutive days up to the row below the stop level, or at or above the restart level [days]
    days_in_state   days since `known_state` last changed, 1 to `MEMORY_DAYS`
    day_of_year     1 to 366
    year            calendar year less the first one
    """

    index: pd.DatetimeIndex
    rule: StateRule
    z: Floats
    runs: StateRuns
    state: Codes
    known_state: Codes
    below: Ints
    above: Ints
    days_in_state: Ints
    day_of_year: Ints
    year: Ints

    def __len__(self) -> int:
        return len(self.z)

    @property
    def n_years(self) -> int:
        return int(self.year[-1]) + 1 if len(self) else 0

    @cached_property
    def usable(self) -> Bools:
        """Days from which a forecast can start."""
        return (self.known_state != UNKNOWN) & ~np.isnan(self.z)

    @cached_property
    def change_7(self) -> Floats:
        """Change of z over the last 7 days; 0 where it is not known."""
        return _change(self.z, 7)

    @cached_property
    def features(self) -> Floats:
        """What the regression of states on the day's situation sees, one row a day (0 where z is missing).

        1, z, its part above the level, a step near the level, change over 2 and 7 days, z above its 30-day mean,
        dry or not, log days dry, log days running, and two pairs of harmonics of the season.
        """
        z = np.nan_to_num(self.z)
        known = ~np.isnan(self.z)
        so_far, days = np.concatenate(([0.0], np.cumsum(z))), np.concatenate(([0], np.cumsum(known)))
        end = np.arange(1, len(z) + 1)
        start = np.maximum(end - 30, 0)
        mean_30 = (so_far[end] - so_far[start]) / np.maximum(days[end] - days[start], 1)
        dry = (self.known_state == DRY).astype(np.float64)
        lasted = np.log(self.days_in_state)
        angle = 2.0 * np.pi * self.day_of_year / 365.25
        columns = [np.ones(len(z)), z, np.maximum(z, 0.0), np.tanh(z / 0.3), _change(self.z, 2), self.change_7]
        columns += [z - mean_30, dry, lasted * dry, lasted * (1.0 - dry)]
        columns += [np.cos(angle), np.sin(angle), np.cos(2 * angle), np.sin(2 * angle)]
        return np.column_stack(columns)

    def left_out(self, leads: Ints | int, *, look_back: int = MEMORY_DAYS) -> tuple[Ints, Ints]:
        """First and last row (inclusive) left out when a year is judged, by year, or by year and lead for many leads.

        The year itself, the days after it that its last forecasts at that lead [days] are judged on (at least
        `look_back`, so that no later day looks back into the year), and whole any dry spell that reaches into either.
        """
        years = np.arange(self.n_years).reshape(-1, *[1] * np.ndim(leads))
        last = np.searchsorted(self.year, years, side="right") - 1 + np.maximum(leads, look_back)
        first = np.broadcast_to(np.searchsorted(self.year, years), last.shape)
        last = np.minimum(last, len(self) - 1)
        return self._spell_edge(first, self.runs.start), self._spell_edge(last, self.runs.stop - 1)

    def _spell_edge(self, row: Ints, edge: Ints) -> Ints:
        run = np.searchsorted(self.runs.start, row, side="right") - 1
        return np.where(self.runs.state[run] == DRY, edge[run], row)


def make_record(discharge_m3s: pd.Series, rule: StateRule) -> OutlookRecord:
    """A record of a daily series [m³/s] (regular, NaN = not measured).

    Raises ValueError where the index is not one row a day.
    """
    index = pd.DatetimeIndex(discharge_m3s.index)
    if len(index) > 1 and (np.diff(index.to_numpy()) != np.timedelta64(1, "D")).any():
        raise ValueError("an outlook needs a daily series with one row a day")
    values = discharge_m3s.to_numpy(np.float64)
    runs = state_runs(values, rule.stop_m3s, rule.restart_m3s, rule.stop_days, rule.restart_days)
    below, above = _run_length(values < rule.stop_m3s), _run_length(values >= rule.restart_m3s)
    rows = np.arange(len(values))
    # A row settles the state as soon as its own run is long enough; a missing day unsettles it.
    code = np.where(below >= rule.stop_days, DRY, np.where(above >= rule.restart_days, RUNNING, UNKNOWN))
    settles = (code != UNKNOWN) | np.isnan(values)
    last = np.maximum.accumulate(np.where(settles, rows, -1)) if len(rows) else rows
    known = np.where(last < 0, UNKNOWN, code[np.maximum(last, 0)]).astype(np.int8)
    changed = np.concatenate(([True], known[1:] != known[:-1])) if len(rows) else np.zeros(0, bool)
    since = np.maximum.accumulate(np.where(changed, rows, 0)) if len(rows) else rows
    year = np.asarray(index.year, dtype=np.int64)
    return OutlookRecord(
        index=index,
        rule=rule,
        z=rule.z(values),
        runs=runs,
        state=runs.by_row(),
        known_state=known,
        below=below,
        above=above,
        days_in_state=np.minimum(rows - since + 1, MEMORY_DAYS),
        day_of_year=np.asarray(index.day_of_year, dtype=np.int64),
        year=year - (year[0] if len(year) else 0),
    )


def _run_length(true: Bools) -> Ints:
    """How many rows in a row, up to each one, are true."""
    rows = np.arange(1, len(true) + 1)
    return rows - np.maximum.accumulate(np.where(true, 0, rows)) if len(true) else rows


def _change(z: Floats, days: int) -> Floats:
    out = np.zeros(len(z))
    out[days:] = z[days:] - z[:-days]
    return np.nan_to_num(out)
