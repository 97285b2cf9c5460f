"""What status and outlook share: the level with its uncertainty, the ensemble ahead, all sources together."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.sightings import sightings_of
from dashboard.workspace import Workspace
from hydro.discharge_error import DEFAULT_ERROR_PERCENT, log_sigma
from hydro.flow_state import FlowState
from hydro.flow_variability import flow_variability
from hydro.level_spread import level_log_sd
from hydro.outlook import outlook
from hydro.outlook_result import Outlook, date_reached, no_outlook
from hydro.running_evidence import KnownLevel, Measured, RunningNow, Seen
from hydro.running_now import running_now

LEVEL_CONFIDENCE = 0.95
#: Share of courses between the earliest and the latest day of an expected stop or restart.
CROSSING_LEVEL = 0.8
PERENNIAL = "no stop level is set, so there is nothing to look out for"
LEVEL_ZERO = "the stop level is 0, below which no discharge lies"


@dataclass(frozen=True, kw_only=True)
class SetLevel:
    """How uncertain the level in use is.

    The centre is always the level that the workspace sets. `log_sd` is learnt from sightings and is 0 where none could
    be learnt (`is_exact`: the level is then taken as set).
    """

    log_sd: float
    is_exact: bool

    def around(self, stop_m3s: float | None) -> tuple[float, float] | None:
        """The 95 % interval of the set level [m³/s] as the sightings leave it; None where it is taken as exact."""
        if stop_m3s is None or self.is_exact:
            return None
        times = math.exp(_NINETY_FIVE * self.log_sd)
        return stop_m3s / times, stop_m3s * times


#: Half width of a 95 % interval in standard deviations.
_NINETY_FIVE = 1.96
NO_LEVEL = SetLevel(log_sd=0.0, is_exact=True)


def set_level(workspace: Workspace, id: str) -> SetLevel:
    """How well the stop level of an outlet is known."""
    spread = level_log_sd(sightings_of(workspace, id))
    return SetLevel(log_sd=spread or 0.0, is_exact=spread is None)


def look_ahead(workspace: Workspace, id: str, level: SetLevel, *, horizon: int, seed: int) -> Outlook:
    """The outlook of one outlet that can stop, issued on the workspace's day."""
    outlet, flow = workspace.outlets[id], workspace.flow_of(id)
    if not outlet.stop_m3s:
        return no_outlook(workspace.as_of, None, LEVEL_CONFIDENCE, PERENNIAL if outlet.perennial else LEVEL_ZERO)
    if flow.empty:
        return no_outlook(workspace.as_of, None, LEVEL_CONFIDENCE, "its discharge is never known")
    error = float(flow.frame["error_percent"].dropna().iloc[-1])
    return outlook(
        flow.values,
        workspace.as_of,
        stop_level_m3s=outlet.stop_m3s,
        restart_level_m3s=outlet.restart_m3s,
        stop_days=outlet.stop_days,
        restart_days=outlet.restart_days,
        horizon=horizon,
        level_log_sd=level.log_sd,
        reading_log_sd=log_sigma(error),
        seed=seed,
    )


@dataclass(frozen=True, kw_only=True)
class Crossing:
    """When the state first changes: days by which the stated shares have changed, None = not within the horizon."""

    median: pd.Timestamp | None
    earliest: pd.Timestamp | None
    latest: pd.Timestamp | None
    level: float


def crossing(passages: pd.DataFrame | None) -> Crossing | None:
    """First stop or restart from the chances of having stopped, or restarted, by each day; None where not asked."""
    if passages is None:
        return None
    tail = (1.0 - CROSSING_LEVEL) / 2
    low, middle, high = (date_reached(passages, share) for share in (tail, 0.5, 1.0 - tail))
    return Crossing(median=middle, earliest=low, latest=high, level=CROSSING_LEVEL)


def weigh(
    workspace: Workspace,
    id: str,
    state: FlowState,
    level: SetLevel,
    seen: tuple[pd.Timestamp, str] | None,
    ahead: Outlook,
) -> RunningNow | None:
    """Gauge, last sighting and, for an old reading, the outlook taken together; None where no level is set."""
    flow = workspace.flow_of(id)
    outlet = workspace.outlets[id]
    deciding = state.deciding_level_m3s or outlet.stop_m3s
    variability = flow_variability(flow.values)
    if not deciding or variability is None:
        return None
    reading = None
    if state.reading is not None:
        reading = Measured(day=state.reading.day, discharge_m3s=state.reading.discharge_m3s)
    sighting = None
    if seen is not None:
        day, surface = seen
        then = flow.values.get(day)
        known = then is not None and not math.isnan(then)
        sighting = Seen(day=day, surface=surface, discharge_m3s=float(then) if known else None)
    return running_now(
        today=workspace.as_of,
        level=KnownLevel(level_m3s=deciding, log_sd=level.log_sd),
        reading=reading,
        seen=sighting,
        variability=variability,
        error_percent=state.reading.error_percent if state.reading is not None else DEFAULT_ERROR_PERCENT,
        outlook_probability=ahead.probability_running(0),
    )
