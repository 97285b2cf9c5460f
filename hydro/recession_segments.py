"""Recessions in a daily series: stretches in which the water goes down undisturbed, by stated rules.

Rules: declining 3-day means (Vogel & Kroll 1996, Water Resour. Manage. 10:303-320); 10 days at least, the first 30 %
dropped, no day below 70 % of the day before. The numbers are common in the trade and cited from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.state_runs import Floats, Ints

#: Days that an event keeps at least once its first part is dropped: fewer show no misfit.
_LEAST_KEPT = 3


@dataclass(frozen=True, kw_only=True)
class RecessionRules:
    """What counts as a recession; `None` switches a rule off.

    min_days       shortest recession, counted before its first part is dropped [days]
    smooth_days    the mean over so many days must decline from day to day; 1 = the daily values themselves
    drop_first     share of the days at the start that is left out, as fed by quick flow (from memory: 0.3)
    least_ratio    discharge never falls below this share of the day before (from memory: 0.7)
    at_most_m3s    days above this discharge are left out [m³/s]
    """

    min_days: int = 10
    smooth_days: int = 3
    drop_first: float = 0.3
    least_ratio: float | None = 0.7
    at_most_m3s: float | None = None

    def __post_init__(self) -> None:
        if self.min_days < 3 or self.smooth_days < 1 or not 0 <= self.drop_first < 1:
            raise ValueError("a recession has at least 3 days, a mean at least 1, and less than all is dropped")
        if self.min_days - math.floor(self.drop_first * self.min_days) < _LEAST_KEPT:
            raise ValueError("at least 3 days of the shortest recession are kept")
        if self.least_ratio is not None and not 0 < self.least_ratio <= 1:
            raise ValueError("least_ratio lies above 0 and is at most 1")
        if self.at_most_m3s is not None and not self.at_most_m3s > 0:
            raise ValueError("at_most_m3s lies above 0")


@dataclass(frozen=True, eq=False, kw_only=True)
class Recessions:
    """Recession events: `event[i]` numbers the event of the i-th day, `day` its date, `discharge_m3s` its value."""

    event: Ints
    day: pd.DatetimeIndex
    discharge_m3s: Floats

    @property
    def n(self) -> int:
        return 0 if len(self.event) == 0 else int(self.event[-1]) + 1


def find_recessions(
    discharge_m3s: pd.Series, *, unsure: pd.Series | None = None, rules: RecessionRules | None = None
) -> Recessions:
    """Recession events of a daily series [m³/s] (regular, NaN = not measured).

    `unsure` marks days whose value was estimated or bridged (bool, same index): they end an event. A day belongs to
    one where discharge is above 0, the smoothed discharge (of that day and those before it) is below that of the day
    before, and the rules hold.

    Raises ValueError where the index is not one row a day, `unsure` has another index or a discharge is infinite.
    """
    rules = RecessionRules() if rules is None else rules
    index = pd.DatetimeIndex(discharge_m3s.index)
    if len(index) > 1 and (np.diff(index.to_numpy()) != np.timedelta64(1, "D")).any():
        raise ValueError("recessions need a daily series with one row a day")
    q = discharge_m3s.to_numpy(np.float64).copy()
    if np.isinf(q).any():
        raise ValueError("an infinite discharge is none")
    if unsure is not None:
        if not unsure.index.equals(discharge_m3s.index):
            raise ValueError("unsure has the same days as the discharge")
        q[unsure.to_numpy(bool)] = np.nan
    falls = np.zeros(len(q), dtype=bool)
    # Two means over m days differ by what the later gains and loses, (Q[t] - Q[t-m]) / m: free of rounding.
    m = rules.smooth_days
    falls[m:] = (q[m:] < q[:-m]) & (q[m:] > 0)
    for back in range(1, m):
        falls[m:] &= ~np.isnan(q[m - back : len(q) - back])
    if rules.least_ratio is not None:
        falls[1:] &= q[1:] >= rules.least_ratio * q[:-1]
    if rules.at_most_m3s is not None:
        falls &= q <= rules.at_most_m3s
    edges = np.flatnonzero(np.diff(np.concatenate(([0], falls.astype(np.int8), [0]))))
    start, stop = edges[::2], edges[1::2]
    long = stop - start >= rules.min_days
    start, stop = start[long], stop[long]
    start = start + np.floor(rules.drop_first * (stop - start)).astype(np.int64)
    rows = np.concatenate([np.arange(a, b) for a, b in zip(start, stop, strict=True)] or [np.zeros(0, np.int64)])
    event = np.repeat(np.arange(len(start)), stop - start)
    return Recessions(event=event, day=index[rows], discharge_m3s=q[rows])
