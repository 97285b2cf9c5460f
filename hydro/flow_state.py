"""Is the outlet running, on what reading, and how sure the reading makes us."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from hydro.combine import Flow
from hydro.discharge_error import probability_below
from hydro.dry_spells import DrySpells
from hydro.outlet import Outlet

#: A reading older than this says what was, not what is [days].
FRESH_DAYS = 7


@dataclass(frozen=True, kw_only=True)
class Reading:
    """The last combined discharge that is known: civil day, [m³/s], age in days on the day asked."""

    day: pd.Timestamp
    discharge_m3s: float
    age_days: int
    provisional: bool
    bridged: bool
    estimated: bool
    error_percent: float


@dataclass(frozen=True, kw_only=True)
class FlowState:
    """State of an outlet on the day asked.

    `state` is "running", "dry" or "unknown"; `why_unknown` says why in a code word: "no-reading", "stale-reading",
    "between-levels" (after a gap). `probability_running` rests on the reading's stated error alone and is None where
    it has no meaning, with the reason in `why_no_probability`. `deciding_level_m3s` is the level that the reading
    was held against: the restart level for an outlet that is dry, the stop level for one that is running.
    """

    state: str
    reading: Reading | None
    probability_running: float | None
    deciding_level_m3s: float | None
    since: pd.Timestamp | None
    why_unknown: str | None = None
    why_no_probability: str | None = None


def last_reading(flow: Flow, today: pd.Timestamp) -> Reading | None:
    """The newest known day of a flow, or None where it has none."""
    if flow.empty:
        return None
    row = flow.frame.iloc[-1]
    day = flow.frame.index[-1]
    return Reading(
        day=day,
        discharge_m3s=float(row["discharge_m3s"]),
        age_days=(today - day).days,
        provisional=bool(row["provisional"]),
        bridged=bool(row["bridged"]),
        estimated=bool(row["estimated"]),
        error_percent=float(row["error_percent"]),
    )


def flow_state(outlet: Outlet, flow: Flow, dry: DrySpells | None, today: pd.Timestamp) -> FlowState:
    """The outlet's state on `today` (a civil day) from its flow and, unless it is perennial, its dry spells.

    A perennial outlet has no level to be held against: it counts as running as far as flow goes. A reading older
    than `FRESH_DAYS` leaves the state unknown: what holds on the day of the reading need not hold today.
    """
    reading = last_reading(flow, today)
    if outlet.perennial:
        return FlowState(
            state="running",
            reading=reading,
            probability_running=None,
            deciding_level_m3s=None,
            since=None,
            why_no_probability="perennial",
        )
    if reading is None or dry is None:
        return FlowState(
            state="unknown",
            reading=None,
            probability_running=None,
            deciding_level_m3s=None,
            since=None,
            why_unknown="no-reading",
            why_no_probability="no-reading",
        )
    named = str(dry.states.iloc[-1])
    level = dry.restart_level_m3s if named == "dry" else dry.stop_level_m3s
    if named == "unknown":
        return FlowState(
            state="unknown",
            reading=reading,
            probability_running=None,
            deciding_level_m3s=None,
            since=None,
            why_unknown="between-levels",
            why_no_probability="between-levels",
        )
    since = dry.index[int(dry.runs.start[-1])]
    running = 1.0 - probability_below(level, reading.discharge_m3s, reading.error_percent)
    stale = reading.age_days > FRESH_DAYS
    return FlowState(
        state="unknown" if stale else named,
        reading=reading,
        probability_running=None if stale else running,
        deciding_level_m3s=level,
        since=since,
        why_unknown="stale-reading" if stale else None,
        why_no_probability="stale-reading" if stale else None,
    )
