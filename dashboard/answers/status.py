"""Is each outlet running, how sure, and what the answer rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.ahead import NO_LEVEL, Crossing, SetLevel, crossing, look_ahead, set_level, weigh
from dashboard.answers.answer import Header, Table, by_name, header, iso, quantity
from dashboard.workspace import Workspace
from hydro.flow_state import FlowState, flow_state
from hydro.outlook_result import Outlook
from hydro.problems import InputError, Problem
from hydro.running_evidence import RunningNow
from hydro.services.kept import Copy

#: How far ahead a trip can be asked about [days].
HORIZON_DAYS = 180
#: An old reading leaves the state unknown unless the chance lies beyond these.
SURE_ENOUGH = 0.9


@dataclass(frozen=True, eq=False, kw_only=True)
class LastSeen:
    """What a person last wrote down about the surface."""

    day: pd.Timestamp
    surface: str
    row: int


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletStatus:
    """One outlet's state on the day asked.

    state      by flow alone, as of the last reading
    word       the state when everything is weighed: "running", "dry" or "unknown"
    chance     of running today from all sources together; None where none of them says anything
    sources    gauge, last sighting and outlook, each by itself; None where no level is set
    level      the set level and how well it is known; None where none is set
    ahead      the outlook, or why there is none
    disagrees  a person saw something else since the reading
    trip_chance  of running on the day of the trip; None without a trip, or beyond the outlook
    copies     of the flow's gauges that come from services: title, and how the kept copy came
    """

    outlet: str
    title: str
    flow: str
    state: FlowState
    word: str
    chance: float | None
    sources: RunningNow | None
    level: SetLevel | None
    ahead: Outlook
    last_seen: LastSeen | None
    disagrees: bool
    error_is_assumed: bool
    trip: pd.Timestamp | None
    trip_chance: float | None
    copies: tuple[tuple[str, Copy], ...] = ()
    time_zone: str = "UTC"


@dataclass(frozen=True, eq=False, kw_only=True)
class StatusAnswer:
    """The answer to `status`."""

    header: Header
    outlets: tuple[OutletStatus, ...]

    def table(self) -> Table:
        rows = [
            {
                "outlet": o.outlet,
                "state": o.word,
                "probability_running": o.chance,
                "by_gauge": o.sources.from_measurement if o.sources else None,
                "by_last_sighting": o.sources.from_sighting if o.sources else None,
                "by_outlook": o.sources.from_outlook if o.sources else None,
                "state_by_flow": o.state.state,
                "since": o.state.since,
                "reading_day": o.state.reading.day if o.state.reading else None,
                "reading_m3s": o.state.reading.discharge_m3s if o.state.reading else None,
                "reading_age_days": o.state.reading.age_days if o.state.reading else None,
                "provisional": o.state.reading.provisional if o.state.reading else None,
                "last_seen_day": o.last_seen.day if o.last_seen else None,
                "last_seen": o.last_seen.surface if o.last_seen else None,
            }
            for o in self.outlets
        ]
        return Table(name="status", title="State of each outlet", frame=pd.DataFrame(rows))

    def as_json(self) -> dict[str, object]:
        from dashboard.wording.status import reasons

        return self.header.as_json() | {
            "outlets": [self._outlet(o) | {"reasons": reasons(o, self.header)} for o in self.outlets]
        }

    def _outlet(self, o: OutletStatus) -> dict[str, object]:
        reading = o.state.reading
        read = None
        if reading is not None:
            read = {
                "date": iso(reading.day),
                **quantity(reading.discharge_m3s, self.header.unit),
                "age_days": reading.age_days,
                "provisional": reading.provisional,
                "bridged": reading.bridged,
                "estimated": reading.estimated,
                "error_percent": reading.error_percent,
            }
        seen = None if o.last_seen is None else {"date": iso(o.last_seen.day), "surface": o.last_seen.surface}
        trip = None
        if o.trip is not None:
            trip = {"date": iso(o.trip), "probability_running": o.trip_chance}
            if o.trip_chance is None:
                trip["why"] = o.ahead.why_none or "the day lies beyond the outlook"
        return {
            "outlet": o.outlet,
            "title": o.title,
            "state": o.word,
            "state_by_flow": o.state.state,
            "since": iso(o.state.since),
            "probability_running": o.chance,
            "why_no_probability": o.state.why_no_probability if o.chance is None else None,
            "sources": None
            if o.sources is None
            else {
                "gauge": o.sources.from_measurement,
                "last_sighting": o.sources.from_sighting,
                "outlook": o.sources.from_outlook,
                "sighting_weight": o.sources.sighting_weight,
                "level_log_sd": o.level.log_sd if o.level else None,
            },
            "reading": read,
            "last_seen": seen,
            "trip": trip,
            "expected_stop": _crossing(crossing(o.ahead.stops_by)),
            "expected_restart": _crossing(crossing(o.ahead.restarts_by)),
            "why_nothing_expected": o.ahead.why_none,
            "outlook_is_weak_because": list(o.ahead.reasons),
        }


def _crossing(c: Crossing | None) -> dict[str, object] | None:
    if c is None:
        return None
    return {"median": iso(c.median), "earliest": iso(c.earliest), "latest": iso(c.latest), "level": c.level}


def status(
    workspace: Workspace,
    *,
    outlets: Sequence[str] = (),
    trip: pd.Timestamp | None = None,
    horizon: int = HORIZON_DAYS,
    seed: int = 1,
) -> StatusAnswer:
    """State of each outlet on the workspace's day and, where asked, on the day of a trip."""
    if trip is not None and trip < workspace.as_of:
        known = f"{workspace.as_of:%Y-%m-%d}"
        raise InputError([Problem(row="--trip", value=iso(trip), expected=f"a day not before {known}, the day asked")])
    found = [_outlet(workspace, id, trip, horizon, seed) for id in by_name(workspace.outlets, outlets)]
    return StatusAnswer(header=header(workspace), outlets=tuple(found))


def _outlet(workspace: Workspace, id: str, trip: pd.Timestamp | None, horizon: int, seed: int) -> OutletStatus:
    outlet, flow = workspace.outlets[id], workspace.flow_of(id)
    state = flow_state(outlet, flow, workspace.dry_spells[id], workspace.as_of)
    seen = _last_seen(workspace, id)
    sources, level, chance = None, None, None
    if not outlet.perennial:
        level = set_level(workspace, id)
    ahead = look_ahead(workspace, id, level or NO_LEVEL, horizon=horizon, seed=seed)
    if level is not None:
        sources = weigh(workspace, id, state, level, None if seen is None else (seen.day, seen.surface), ahead)
        chance = state.probability_running if sources is None else sources.combined
    fresh = seen is not None and (state.reading is None or seen.day >= state.reading.day)
    says = {"running": "running", "dry": "dry"}.get(seen.surface) if seen is not None else None
    disagrees = fresh and says is not None and state.state in ("running", "dry") and says != state.state
    trip_chance = chance if trip == workspace.as_of else None
    if trip is not None and trip_chance is None:
        trip_chance = ahead.probability_running((trip - workspace.as_of).days)
    return OutletStatus(
        outlet=id,
        title=outlet.title,
        flow=flow.title,
        state=state,
        word=_word(state, chance, disagrees),
        chance=chance,
        sources=sources,
        level=level,
        ahead=ahead,
        last_seen=seen,
        disagrees=disagrees,
        error_is_assumed=any(workspace.gauges[m].settings.error_is_assumed for m in flow.members.columns),
        trip=trip,
        trip_chance=trip_chance,
        copies=tuple((g.settings.title, g.copy) for m in flow.members if (g := workspace.gauges[m]).copy is not None),
        time_zone=workspace.settings.time_zone,
    )


def _word(state: FlowState, chance: float | None, disagrees: bool) -> str:
    """Flow decides; what a person saw since can make it unknown, and all together can speak for an old reading."""
    if chance is None:
        return state.state
    if state.state == "unknown":
        return "running" if chance >= SURE_ENOUGH else "dry" if chance <= 1 - SURE_ENOUGH else "unknown"
    holds = chance if state.state == "running" else 1 - chance
    return state.state if holds >= (SURE_ENOUGH if disagrees else 0.5) else "unknown"


def _last_seen(workspace: Workspace, outlet: str) -> LastSeen | None:
    if workspace.visits is None:
        return None
    rows = workspace.visits.at(outlet)
    rows = rows[rows["surface"] != ""]
    if rows.empty:
        return None
    last = rows.iloc[-1]
    return LastSeen(day=last["date"], surface=str(last["surface"]), row=int(last["row"]))
