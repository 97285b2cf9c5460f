"""The flow each visit had behind it: the one bridge from water to animals.

All windows end on the day before the visit, so that a count is never related to water that came after it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.combine import Flow
from hydro.dry_spells import DrySpells

#: Windows for the mean of ln discharge [days before the visit].
WINDOWS = (1, 7, 30, 90)
#: A window has a mean when at least this share of its days has a positive discharge.
WINDOW_COMPLETENESS = 0.8
#: With fewer dry spells than this, years rather than flow cycles group the visits.
FEWEST_CYCLES = 5


@dataclass(frozen=True, kw_only=True)
class OutletWater:
    """What `visit_flow_history` needs of an outlet: its flow and, where it can stop, its dry spells."""

    flow: Flow
    dry: DrySpells | None


@dataclass(frozen=True, eq=False, kw_only=True)
class FlowCycles:
    """A grouping of days within which counts are not independent.

    `starts` are the first days of the cycles after the first one; `by` says in words what a cycle is.
    """

    starts: pd.DatetimeIndex
    by: str

    def of(self, days: pd.Series) -> np.ndarray:
        """Cycle number of each day, 0 before the first start."""
        return np.searchsorted(self.starts.to_numpy(), days.to_numpy(), side="right")


def log_mean_before(flow: Flow, days: pd.Series, window: int) -> pd.Series:
    """Mean of ln discharge [ln m³/s] over the `window` days before each of `days` (d-window … d-1).

    NaN where fewer than `WINDOW_COMPLETENESS` of the window's days carry a positive discharge: the logarithm of
    zero does not exist, and a missing day is not an average day.
    """
    if window < 1:
        raise ValueError("a window is at least one day long")
    if flow.empty or days.empty:
        return pd.Series(np.nan, index=days.index)
    values = flow.values.to_numpy()
    positive = values > 0
    logs = np.where(positive, np.log(np.where(positive, values, 1.0)), 0.0)
    total = np.concatenate(([0.0], np.cumsum(logs)))
    number = np.concatenate(([0], np.cumsum(positive)))
    at = (days.to_numpy().astype("M8[D]") - flow.frame.index[0].to_datetime64().astype("M8[D]")).astype(np.int64)
    stop, start = np.clip(at, 0, len(values)), np.clip(at - window, 0, len(values))
    n = number[stop] - number[start]
    enough = n >= math.ceil(WINDOW_COMPLETENESS * window - 1e-9)
    mean = np.where(enough, (total[stop] - total[start]) / np.maximum(n, 1), np.nan)
    return pd.Series(mean, index=days.index)


def flow_cycles(flow: Flow, spells: Sequence[tuple[str, DrySpells]]) -> FlowCycles:
    """Flow cycles of a flow: a dry spell (short interruptions joined) and the wet stretch after it.

    `spells` are the outlets on this flow that can stop, with their dry spells. The outlet with the highest stop
    level sets the cycles. With fewer than `FEWEST_CYCLES` spells, hydrological years are used: twelve months from
    the month with the highest mean discharge, so that low-flow seasons are not cut.
    """
    governing = max(spells, key=lambda s: s[1].stop_level_m3s, default=None)
    if governing is not None and len(governing[1].joined) >= FEWEST_CYCLES:
        name, dry = governing
        return FlowCycles(
            starts=pd.DatetimeIndex(dry.joined["first"]),
            by=f"flow cycle of {name} (a dry spell and the wet stretch after it)",
        )
    monthly = flow.values.groupby(flow.frame.index.month).mean()
    if monthly.dropna().empty:
        return FlowCycles(starts=pd.DatetimeIndex([]), by="one group: the flow has no values")
    month = int(monthly.idxmax())
    years = range(flow.frame.index[0].year - 1, flow.frame.index[-1].year + 2)
    starts = pd.DatetimeIndex([pd.Timestamp(year, month, 1) for year in years])
    return FlowCycles(starts=starts, by=f"hydrological year from month {month} (fewer than {FEWEST_CYCLES} dry spells)")


def visit_flow_history(
    visits: pd.DataFrame, water: Mapping[str, OutletWater], *, windows: Sequence[int] = WINDOWS
) -> pd.DataFrame:
    """The flow behind each visit, indexed as `visits` (columns date and outlet are read).

    Columns: discharge_m3s (that day, NaN = not measured), log_discharge_{w}d [ln m³/s] for each window, state (of the
    outlet that day by its flow: running | dry | unknown | perennial | no record), days_since_restart [days; 0 on the
    first running day; NaN where no restart was seen], dry_days_before (length of the last dry spell, short
    interruptions joined; NaN where none was seen), provisional (the day's discharge is).
    """
    columns = ["discharge_m3s", *(f"log_discharge_{w}d" for w in windows), "days_since_restart", "dry_days_before"]
    out = pd.DataFrame(np.nan, index=visits.index, columns=columns)
    out["state"] = pd.Series("no record", index=visits.index, dtype=object)
    out["provisional"] = False
    for outlet, rows in visits.groupby("outlet", sort=False):
        side = water.get(str(outlet))
        if side is None or side.flow.empty:
            continue
        days = rows["date"]
        at = days.to_numpy()
        out.loc[rows.index, "discharge_m3s"] = side.flow.values.reindex(at).to_numpy()
        out.loc[rows.index, "provisional"] = side.flow.frame["provisional"].reindex(at, fill_value=False).to_numpy()
        for window in windows:
            out.loc[rows.index, f"log_discharge_{window}d"] = log_mean_before(side.flow, days, window)
        if side.dry is None:
            out.loc[rows.index, "state"] = "perennial"
            continue
        state = side.dry.states.astype(object).reindex(at).fillna("no record")
        out.loc[rows.index, "state"] = state.to_numpy()
        since, before = _since_restart(side.dry, days)
        running = (state == "running").to_numpy()
        out.loc[rows.index, "days_since_restart"] = np.where(running, since, np.nan)
        out.loc[rows.index, "dry_days_before"] = np.where(running, before, np.nan)
    return out


def _since_restart(dry: DrySpells, days: pd.Series) -> tuple[np.ndarray, np.ndarray]:
    """Days since the restart after the last joined spell, and that spell's length; NaN where it was not seen.

    Inside a joined spell (a short interruption) water has not returned for good: NaN.
    """
    joined = dry.joined
    if joined.empty:
        nothing = np.full(len(days), np.nan)
        return nothing, nothing
    at = np.searchsorted(joined["first"].to_numpy(), days.to_numpy(), side="right") - 1
    spell = joined.iloc[np.maximum(at, 0)]
    since = (days.to_numpy() - spell["last"].to_numpy()) / np.timedelta64(1, "D") - 1
    seen = (at >= 0) & (since >= 0)
    ended = seen & spell["end_certain"].to_numpy()
    whole = seen & spell["start_certain"].to_numpy() & spell["end_certain"].to_numpy()
    return np.where(ended, since, np.nan), np.where(whole, spell["days"].to_numpy(np.float64), np.nan)
