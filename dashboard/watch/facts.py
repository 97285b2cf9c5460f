"""What is known of one outlet on one day, as plain values that can be kept between passes."""

from __future__ import annotations

import datetime
import json
import math
import zoneinfo
from dataclasses import asdict, dataclass

import numpy as np
import pandas as pd

from dashboard.answers.status import OutletStatus, status
from dashboard.watch.past import PastStates, Revision, past_states, revision_of
from dashboard.watch.rules import CHANCE, AlertRules
from dashboard.workspace import Workspace
from hydro.state_runs import DRY, RUNNING


@dataclass(frozen=True, kw_only=True)
class OutletFacts:
    """One outlet: civil days as ISO texts, discharge in [m³/s]; None = not known or not asked for.

    reading_day, reading_m3s, provisional, error_percent   the last known combined discharge
    silent_gauge, silent_since   the gauge whose last reading is oldest, and until when that reading speaks (UTC, ISO)
    state          "running", "dry" or "unknown": flow, sightings and outlook weighed, as `status` says it
    state_since    first day of that state, by flow
    probability_running   on the day of the pass
    low, low_since        whether discharge has been at or below the rule's level and not cleared since, from when
    probability_stopping  of having stopped at least once within the rule's days; `why_no_chance` where it is None
    weak_because   what makes the outlook weak, in short phrases
    restart, searched     first running day after the last dry spell; whether somebody has searched since
                   (None where the workspace names no visits)
    revision              past days whose state is another than at an earlier pass
    """

    outlet: str
    title: str
    as_of: str
    reading_day: str | None = None
    reading_m3s: float | None = None
    provisional: bool = False
    error_percent: float | None = None
    silent_gauge: str | None = None
    silent_since: str | None = None
    state: str = "unknown"
    state_since: str | None = None
    probability_running: float | None = None
    low: bool | None = None
    low_since: str | None = None
    probability_stopping: float | None = None
    why_no_chance: str | None = None
    weak_because: str | None = None
    restart: str | None = None
    searched: bool | None = None
    revision: Revision | None = None

    def as_json(self) -> str:
        return json.dumps(asdict(self))


def facts_from_json(text: str) -> OutletFacts:
    """Facts as they were kept."""
    kept = json.loads(text)
    if kept["revision"] is not None:
        kept["revision"] = Revision(**kept["revision"])
    return OutletFacts(**kept)


def gather(
    workspace: Workspace, id: str, rules: AlertRules, before: PastStates | None, settings: str
) -> tuple[OutletFacts, PastStates | None]:
    """The facts of one outlet, and its past states to be kept.

    `before` holds the past states of an earlier pass, `settings` names what they depend on; where that is another
    now, nothing is compared.
    """
    # The outlook is the costly part, and only as far as it is asked for.
    horizon = rules.chance_days if rules.asks(CHANCE) else 1
    o = status(workspace, outlets=(id,), horizon=horizon).outlets[0]
    flow = workspace.flow_of(id)
    past, revision = None, None
    outlet = workspace.outlets[id]
    if outlet.stop_m3s is not None and outlet.restart_m3s is not None and not flow.empty:
        levels = (outlet.stop_m3s, outlet.restart_m3s, outlet.stop_days, outlet.restart_days)
        past = past_states(flow.values, *levels, settings)
        if before is not None and before.settings == settings:
            revision = revision_of(before, flow.values, levels)
            if past is None or past.last < before.last:
                past = before  # a record that became shorter says nothing about the days it lost
    low, low_since = _low(flow.values, rules)
    chance, why = _chance(o, rules)
    gauge, since = _silent(workspace, id)
    restart, searched = _restart(workspace, id)
    agreed = o.word == o.state.state and o.word in ("running", "dry")
    reading = o.state.reading
    facts = OutletFacts(
        outlet=id,
        title=outlet.title,
        as_of=f"{workspace.as_of:%Y-%m-%d}",
        reading_day=None if reading is None else f"{reading.day:%Y-%m-%d}",
        reading_m3s=None if reading is None else reading.discharge_m3s,
        provisional=reading is not None and reading.provisional,
        error_percent=None if reading is None else reading.error_percent,
        silent_gauge=gauge,
        silent_since=since,
        state=o.word if agreed and not outlet.perennial else "unknown",
        state_since=f"{o.state.since:%Y-%m-%d}" if agreed and o.state.since is not None else None,
        probability_running=o.chance,
        low=low,
        low_since=low_since,
        probability_stopping=chance,
        why_no_chance=why,
        weak_because=", ".join(o.ahead.reasons) or None,
        restart=restart,
        searched=searched,
        revision=revision,
    )
    return facts, past


def _low(values: pd.Series, rules: AlertRules) -> tuple[bool | None, str | None]:
    """Whether the level was reached since discharge last cleared it, and on which day: the record's own hysteresis."""
    if rules.level is None or rules.clears_m3s is None or values.empty:
        return None, None
    v = values.to_numpy(np.float64)
    cleared = np.flatnonzero(v >= rules.clears_m3s)
    # A clearing level equal to the level itself: a day exactly on it is low, as the rule says.
    cleared = cleared[v[cleared] > rules.level.m3s]
    start = int(cleared[-1]) + 1 if cleared.size else 0
    low = np.flatnonzero(v[start:] <= rules.level.m3s)
    if not low.size:
        return False, None
    return True, f"{values.index[start + int(low[0])]:%Y-%m-%d}"


def _chance(o: OutletStatus, rules: AlertRules) -> tuple[float | None, str | None]:
    """Chance of having stopped within the rule's days of the pass."""
    if not rules.asks(CHANCE):
        return None, None
    if o.ahead.stops_by is None:
        return None, o.ahead.why_none or "it is not known to be running"
    rows = o.ahead.stops_by
    found = rows.loc[rows["lead"] == rules.chance_days, "probability"]
    if found.empty or math.isnan(found.iloc[0]):
        return None, "the outlook does not reach so far"
    return float(found.iloc[0]), None


def _silent(workspace: Workspace, id: str) -> tuple[str | None, str | None]:
    """The gauge whose last reading is the oldest, and until when that reading speaks.

    A daily value speaks until the end of its civil day, an instantaneous one for its instant.
    """
    zone = zoneinfo.ZoneInfo(workspace.settings.time_zone)
    found: list[tuple[datetime.datetime, str]] = []
    for member in workspace.flow_of(id).members.columns:
        gauge = workspace.gauges[member]
        ends = []
        for part in gauge.parts:
            known = part.values.dropna().index
            if part.daily:
                known = known[known <= workspace.as_of]
                if len(known):
                    day = (known[-1] + pd.Timedelta(days=1)).date()
                    ends.append(datetime.datetime(day.year, day.month, day.day, tzinfo=zone))
            else:
                end = (workspace.as_of + pd.Timedelta(days=1)).tz_localize(zone)
                known = known[known < end]
                if len(known):
                    ends.append(known[-1].to_pydatetime())
        if ends:
            found.append((max(ends), gauge.settings.title))
    if not found:
        return None, None
    oldest, title = min(found)
    return title, oldest.astimezone(datetime.UTC).isoformat(timespec="seconds")


def _restart(workspace: Workspace, id: str) -> tuple[str | None, bool | None]:
    """First running day after the last dry spell, where the outlet still runs, and whether anybody searched since."""
    dry = workspace.dry_spells[id]
    if dry is None or len(dry.runs.state) < 2:
        return None, None
    if dry.runs.state[-1] != RUNNING or dry.runs.state[-2] != DRY:
        return None, None
    day = dry.index[int(dry.runs.start[-1])]
    searched: bool | None = None
    if workspace.visits is not None:
        rows = workspace.visits.at(id)
        searched = bool(((rows["date"] >= day) & rows["kind"].isin(["counted", "searched-uncounted"])).any())
    return f"{day:%Y-%m-%d}", searched
