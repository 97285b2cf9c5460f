"""Is each outlet running, how sure, and what the answer rests on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header, iso, quantity
from dashboard.workspace import Workspace
from hydro.flow_state import FlowState, flow_state

NO_OUTLOOK = "the outlook ahead is not computed by this version"


@dataclass(frozen=True, eq=False, kw_only=True)
class LastSeen:
    """What a person last wrote down about the surface."""

    day: pd.Timestamp
    surface: str
    row: int


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletStatus:
    """One outlet's state on the day asked. `disagrees` tells that a person saw something else since the reading."""

    outlet: str
    title: str
    flow: str
    state: FlowState
    last_seen: LastSeen | None
    disagrees: bool
    error_is_assumed: bool
    trip: pd.Timestamp | None


@dataclass(frozen=True, eq=False, kw_only=True)
class StatusAnswer:
    """The answer to `status`."""

    header: Header
    outlets: tuple[OutletStatus, ...]

    def table(self) -> Table:
        rows = [
            {
                "outlet": o.outlet,
                "state": o.state.state,
                "probability_running": o.state.probability_running,
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
        return {
            "outlet": o.outlet,
            "title": o.title,
            "state": o.state.state,
            "since": iso(o.state.since),
            "probability_running": o.state.probability_running,
            "why_no_probability": o.state.why_no_probability,
            "reading": read,
            "last_seen": seen,
            "trip": None if o.trip is None else {"date": iso(o.trip), "probability_running": None, "why": NO_OUTLOOK},
            "expected_stop": None,
            "expected_restart": None,
            "why_nothing_expected": NO_OUTLOOK,
        }


def status(workspace: Workspace, *, outlets: Sequence[str] = (), trip: pd.Timestamp | None = None) -> StatusAnswer:
    """State of each outlet on the workspace's day."""
    found = []
    for id in by_name(workspace.outlets, outlets):
        outlet = workspace.outlets[id]
        flow = workspace.flow_of(id)
        state = flow_state(outlet, flow, workspace.dry_spells[id], workspace.as_of)
        seen = _last_seen(workspace, id)
        fresh = seen is not None and (state.reading is None or seen.day >= state.reading.day)
        says = {"running": "running", "dry": "dry"}.get(seen.surface) if seen is not None else None
        members = workspace.flows[outlet.flow].members.columns
        found.append(
            OutletStatus(
                outlet=id,
                title=outlet.title,
                flow=workspace.flows[outlet.flow].title,
                state=state,
                last_seen=seen,
                disagrees=fresh and says is not None and state.state in ("running", "dry") and says != state.state,
                error_is_assumed=any(workspace.gauges[m].settings.error_is_assumed for m in members),
                trip=trip,
            )
        )
    return StatusAnswer(header=header(workspace), outlets=tuple(found))


def _last_seen(workspace: Workspace, outlet: str) -> LastSeen | None:
    if workspace.visits is None:
        return None
    rows = workspace.visits.at(outlet)
    rows = rows[rows["surface"] != ""]
    if rows.empty:
        return None
    last = rows.iloc[-1]
    return LastSeen(day=last["date"], surface=str(last["surface"]), row=int(last["row"]))
