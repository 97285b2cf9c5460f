"""Dry spells: when an outlet was dry, for how long, how far below its level, and what is not known about it.

First and last day of a spell are inclusive. A spell that touches unknown days or the edge of the record is
censored: reported as at least so long, never shortened or bridged. Joined spells (inter-event time pooling)
stand beside the unjoined ones; their days count the running days between, their deficit is the sum of the
parts' deficits (no excess subtracted), and they are never joined across unknown days.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from hydro.state_runs import DRY, STATE_NAMES, UNKNOWN, Bools, Floats, Ints, StateRuns, state_runs

JOIN_RULE = "days span first to last dry day, running days between included; deficit is the sum of the parts"
STATUSES = ("ended", "ongoing", "starts-in-gap", "ends-in-gap", "starts-before-record")
SECONDS_PER_DAY = 86400.0


@dataclass(frozen=True, eq=False, kw_only=True)
class DrySpells:
    """Dry spells of one outlet on one regular series.

    `spells` and `joined` have one row a spell: first, last (index labels, inclusive), days (first to last),
    dry_days, start_certain, end_certain, status, unknown_days (unknown days touching either end), minimum_m3s,
    minimum_at, deficit_m3, parts (how many unjoined spells). `status` describes the end first: a spell that
    neither starts nor ends in sight is "ongoing" or "ends-in-gap". `positions` are the columns of `spells` with
    times as row numbers.
    """

    spells: pd.DataFrame
    positions: dict[str, np.ndarray]
    runs: StateRuns
    index: pd.Index
    stop_level_m3s: float
    restart_level_m3s: float
    join_days: int

    @cached_property
    def joined(self) -> pd.DataFrame:
        """Spells with short interruptions joined."""
        return _labelled(_joined(self.positions, self.runs, self.join_days), self.index)

    @cached_property
    def states(self) -> pd.Series:
        """The state of every step by name: "dry", "running" or "unknown"."""
        names = pd.Categorical.from_codes(self.runs.by_row(), categories=list(STATE_NAMES))
        return pd.Series(names, index=self.index, name="state")


def find_dry_spells(
    discharge_m3s: pd.Series,
    stop_level_m3s: float,
    restart_level_m3s: float | None = None,
    *,
    stop_days: int = 1,
    restart_days: int = 1,
    join_days: int = 5,
    step_seconds: float = SECONDS_PER_DAY,
) -> DrySpells:
    """Dry spells of a regular series [m³/s] (one row a step, NaN = not measured), levels in [m³/s].

    `step_seconds` is the length of a step [s]; day counts are step counts where it is not a day.
    """
    values = discharge_m3s.to_numpy(np.float64)
    restart = stop_level_m3s if restart_level_m3s is None else restart_level_m3s
    runs = state_runs(values, stop_level_m3s, restart, stop_days, restart_days)
    columns = _spells(values, runs, stop_level_m3s, step_seconds)
    return DrySpells(
        spells=_labelled(columns, discharge_m3s.index),
        positions=columns,
        runs=runs,
        index=discharge_m3s.index,
        stop_level_m3s=stop_level_m3s,
        restart_level_m3s=restart,
        join_days=join_days,
    )


def _spells(values: Floats, runs: StateRuns, level: float, step_seconds: float) -> dict[str, np.ndarray]:
    """The columns of the unjoined spells, times as row positions."""
    at = np.flatnonzero(runs.state == DRY)
    start, stop, length = runs.start[at], runs.stop[at], runs.length
    at_start, at_end = at == 0, at == len(runs.state) - 1
    before, after = np.maximum(at - 1, 0), np.minimum(at + 1, max(len(runs.state) - 1, 0))
    gap_before = ~at_start & (runs.state[before] == UNKNOWN)
    gap_after = ~at_end & (runs.state[after] == UNKNOWN)
    minimum, minimum_at, shortfall = _depths(values, start, stop, level)
    return {
        "first": start,
        "last": stop - 1,
        "days": stop - start,
        "dry_days": stop - start,
        "start_certain": ~at_start & ~gap_before,
        "end_certain": ~at_end & ~gap_after,
        "status": _status(at_start, gap_before, at_end, gap_after),
        "unknown_days": np.where(gap_before, length[before], 0) + np.where(gap_after, length[after], 0),
        "minimum_m3s": minimum,
        "minimum_at": minimum_at,
        "deficit_m3": shortfall * step_seconds,
        "parts": np.ones(len(at), np.int64),
    }


def _status(at_start: Bools, gap_before: Bools, at_end: Bools, gap_after: Bools) -> np.ndarray:
    """The end first: what a person asks of a spell is whether it is over."""
    names = np.array(["ended", "starts-in-gap", "starts-before-record", "ends-in-gap", "ongoing"], dtype=object)
    start = np.where(at_start, 2, np.where(gap_before, 1, 0))
    return names[np.where(at_end, 4, np.where(gap_after, 3, start))]


def _depths(values: Floats, start: Ints, stop: Ints, level: float) -> tuple[Floats, Ints, Floats]:
    """Minimum, its position and the summed shortfall below `level` of each spell, reading only the dry rows."""
    if len(start) == 0:
        return np.zeros(0), np.zeros(0, np.int64), np.zeros(0)
    dry = np.concatenate([values[a:b] for a, b in zip(start.tolist(), stop.tolist(), strict=True)])
    offset = np.concatenate(([0], np.cumsum(stop - start)[:-1]))
    minimum = np.minimum.reduceat(dry, offset)
    # Between the levels an outlet can be dry while discharge exceeds the stop level: such days add no deficit.
    shortfall = np.add.reduceat(np.maximum(level - dry, 0.0), offset)
    is_minimum = np.flatnonzero(dry == np.repeat(minimum, stop - start))
    first_minimum = is_minimum[np.searchsorted(is_minimum, offset)]
    return minimum, first_minimum - offset + start, shortfall


def _joined(spells: dict[str, np.ndarray], runs: StateRuns, join_days: int) -> dict[str, np.ndarray]:
    """Neighbours at most `join_days` running days apart with nothing unknown between, drawn together."""
    if len(spells["first"]) == 0:
        return spells
    unknown_so_far = np.cumsum(np.where(runs.state == UNKNOWN, runs.length, 0))
    unknown_before = unknown_so_far[np.searchsorted(runs.start, spells["first"])]
    running_between = spells["first"][1:] - spells["last"][:-1] - 1
    apart = (running_between > join_days) | (np.diff(unknown_before) > 0)
    head = np.concatenate(([0], np.flatnonzero(apart) + 1))
    tail = np.concatenate((head[1:], [len(spells["first"])])) - 1
    out = {name: spells[name][head] for name in ("first", "start_certain")}
    out |= {name: spells[name][tail] for name in ("last", "end_certain")}
    out |= {name: np.add.reduceat(spells[name], head) for name in ("dry_days", "deficit_m3", "parts", "unknown_days")}
    out["days"] = out["last"] - out["first"] + 1
    out["minimum_m3s"] = np.minimum.reduceat(spells["minimum_m3s"], head)
    lowest = np.flatnonzero(spells["minimum_m3s"] == np.repeat(out["minimum_m3s"], tail - head + 1))
    out["minimum_at"] = spells["minimum_at"][lowest[np.searchsorted(lowest, head)]]
    over = out["end_certain"]
    out["status"] = np.where(over & ~out["start_certain"], spells["status"][head], spells["status"][tail])
    # The last part of a joined spell is never the first of the record, so "ended" is right where the start is known.
    out["status"] = np.where(over & out["start_certain"], STATUSES[0], out["status"])
    return {name: out[name] for name in spells}


def _labelled(columns: dict[str, np.ndarray], index: pd.Index) -> pd.DataFrame:
    """Row positions replaced by the labels of the series."""
    times = {name: index[columns[name]] for name in ("first", "last", "minimum_at")}
    return pd.DataFrame({**columns, **times})
