"""Four invented outlets: when each truly runs, and when its animals truly come back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from demo_data.water import FIRST_DAY

#: True levels of the combined discharge [ft³/s]: dry below the first, running again at or above the second.
TRUE_LEVELS_CFS = {"ledge": (37.2, 39.5), "trough": (25.4, 26.2)}
#: What the workspace says instead, as field crews round things [ft³/s].
SET_LEVELS_CFS = {"ledge": (38.0, 40.0), "trough": (25.0, 26.0)}
OUTLETS = ("ledge", "trough", "grotto", "headpool")
TITLES = {"ledge": "Ledge outlet", "trough": "Stone trough", "grotto": "Grotto", "headpool": "Head pool"}

LAG_SHAPE = 2.0  # Weibull shape of the days from restart to return [1]
LAG_MEDIAN_DAYS = 38.0
LAG_SCALE_DAYS = LAG_MEDIAN_DAYS / np.log(2) ** (1 / LAG_SHAPE)


@dataclass(frozen=True, eq=False, kw_only=True)
class Outlet:
    """The truth about one outlet, one value a day of the record.

    `running` says whether water leaves it; `present_since` is the number of days since the animals came back
    (NaN while they are away, large where they were never away); `spells` has one row a dry spell with `first`
    and `last` dry day, `lag_days` from the first running day to the true return, and `returned` (NaT where the
    outlet fell dry again before that, or the record ended).
    """

    name: str
    running: pd.Series
    present_since: pd.Series
    spells: pd.DataFrame


def runs(flow: pd.Series, stops_below: float, restarts_above: float) -> pd.Series:
    """Running or dry each day: dry below the first level, until the flow reaches the second again."""
    state = np.empty(len(flow), dtype=bool)
    running = True
    for i, value in enumerate(flow.to_numpy()):
        running = value >= (stops_below if running else restarts_above)
        state[i] = running
    return pd.Series(state, index=flow.index)


def dry_spells(running: pd.Series) -> pd.DataFrame:
    """First and last day of each run of dry days."""
    dry = ~running.to_numpy()
    edge = np.diff(np.concatenate([[False], dry, [False]]).astype(np.int8))
    first, after = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1)
    return pd.DataFrame({"first": running.index[first], "last": running.index[after - 1]})


def invent_outlet(name: str, system_cfs: pd.Series, seed: int) -> Outlet:
    """State, dry spells and returns of one outlet under the true combined discharge [ft³/s]."""
    if name not in TRUE_LEVELS_CFS:
        running = pd.Series(True, index=system_cfs[FIRST_DAY:].index)
    else:
        running = runs(system_cfs, *TRUE_LEVELS_CFS[name])[FIRST_DAY:]
    spells = dry_spells(running)
    rng = np.random.default_rng([seed, 2, OUTLETS.index(name)])
    lag = np.rint(LAG_SCALE_DAYS * rng.weibull(LAG_SHAPE, len(spells)))
    present = pd.Series(9999.0, index=running.index)
    returned = []
    next_first = [*spells["first"], running.index[-1] + pd.Timedelta(days=1)][1:]
    for first, last, days, until in zip(spells["first"], spells["last"], lag, next_first, strict=True):
        present[first:] = np.nan
        day = last + pd.Timedelta(days=1 + int(days))
        returned.append(day if day < until else pd.NaT)
        if day < until:
            present[day:] = np.arange(len(present[day:]), dtype=float)
    spells = spells.assign(lag_days=lag, returned=pd.to_datetime(returned))
    return Outlet(name=name, running=running, present_since=present.where(running), spells=spells)
