"""How likely is each outlet to run, day by day ahead, and how good have such forecasts been."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.ahead import CROSSING_LEVEL, NO_LEVEL, look_ahead, set_level
from dashboard.answers.answer import Header, Table, by_name, header, iso, number, quantity
from dashboard.workspace import Workspace
from hydro.no_recharge import NoRechargeStop, no_recharge_stop
from hydro.outlet import Outlet
from hydro.outlook_result import Outlook
from hydro.skill import LEADS, Skill, outlook_skill

HORIZON_DAYS = 180


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletOutlook:
    """One outlet's outlook, its stop without recharge and its record; the last two are None where no level is set."""

    outlet: Outlet
    ahead: Outlook
    no_recharge: NoRechargeStop | None
    skill: Skill | None


@dataclass(frozen=True, eq=False, kw_only=True)
class OutlookAnswer:
    """The answer to `outlook`."""

    header: Header
    outlets: tuple[OutletOutlook, ...]

    def tables(self) -> list[Table]:
        found = []
        for o in self.outlets:
            id, title = o.outlet.id, o.outlet.title
            if o.ahead.why_none is None:
                found.append(Table(name=f"outlook-{id}", title=f"Outlook of {title}", frame=o.ahead.days))
            if o.skill is not None:
                record = f"Record of such outlooks at {title}"
                found.append(Table(name=f"record-{id}", title=record, frame=o.skill.table))
                came = f"Forecasts and what came at {title}"
                found.append(Table(name=f"reliability-{id}", title=came, frame=o.skill.reliability))
        return found

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {"outlets": [self._outlet(o) for o in self.outlets]}

    def _outlet(self, o: OutletOutlook) -> dict[str, object]:
        a = o.ahead
        out: dict[str, object] = {"outlet": o.outlet.id, "title": o.outlet.title, "issued": iso(a.issued)}
        if a.why_none is not None:
            return out | {
                "days": None,
                "no_recharge": None,
                "stops_by": None,
                "restarts_by": None,
                "skill": None if o.skill is None else _skill(o.skill),
                "why": a.why_none,
            }
        days = [
            {
                "date": iso(d["date"]),
                "lead": int(d["lead"]),
                "probability_running": number(d["probability_running"]),
                "discharge": {
                    name: quantity(d[f"discharge_{name}_m3s"], self.header.unit)["value"]
                    for name in ("low", "median", "high")
                }
                | {"unit": self.header.unit, "level": a.level},
            }
            for d in a.days.to_dict("records")
        ]
        return out | {
            "reading": iso(a.reading_day),
            "reading_age_days": a.age_days,
            "state_now": a.state_now,
            "days": days,
            "no_recharge": _no_recharge(o.no_recharge),
            "stops_by": _passages(a.stops_by),
            "why_no_stops_by": None if a.stops_by is not None else _NOT_RUNNING[a.state_now],
            "restarts_by": _passages(a.restarts_by),
            "members": a.n_members,
            "years_of_record": a.n_years,
            "years_with_dry_days": a.n_dry_years,
            "weak_because": list(a.reasons),
            "skill": None if o.skill is None else _skill(o.skill),
        }


_NOT_RUNNING = {"dry": "it is dry now: see restarts_by", "unknown": "its state now is not known", "running": None}


def _passages(table: pd.DataFrame | None) -> list[dict[str, object]] | None:
    if table is None:
        return None
    return [
        {"lead": int(lead), "probability": number(p)}
        for lead, p in table[["lead", "probability"]].itertuples(index=False)
    ]


def _no_recharge(n: NoRechargeStop | None) -> dict[str, object] | None:
    if n is None:
        return None
    return {
        "stop_date": iso(n.stop_date),
        "earliest": iso(n.earliest),
        "latest": iso(n.latest),
        "level": n.level,
        "events": None if n.model is None else len(n.model.events),
        "why": n.why_none,
    }


def _skill(s: Skill) -> list[dict[str, object]]:
    found = []
    for row in s.table.to_dict("records"):
        bins = s.reliability[s.reliability["lead"] == row["lead"]]
        entry: dict[str, object] = {
            k: int(v) if k in ("lead", "n", "n_years", "n_events") else v if k == "why_no_skill" else number(v)
            for k, v in row.items()
        }
        entry["level"] = s.level
        entry["reliability"] = [
            {
                "forecast": number(b["forecast"]),
                "observed": number(b["observed"]),
                "n": int(b["n"]),
                "bar_low": number(b["bar_low"]),
                "bar_high": number(b["bar_high"]),
            }
            for b in bins.to_dict("records")
        ]
        found.append(entry)
    return found


def outlook(
    workspace: Workspace, *, outlets: Sequence[str] = (), horizon: int = HORIZON_DAYS, seed: int = 1
) -> OutlookAnswer:
    """Outlook of each outlet on the workspace's day, with its record out of sample."""
    found = [_outlet(workspace, id, horizon, seed) for id in by_name(workspace.outlets, outlets)]
    return OutlookAnswer(header=header(workspace), outlets=tuple(found))


def _outlet(workspace: Workspace, id: str, horizon: int, seed: int) -> OutletOutlook:
    outlet, flow = workspace.outlets[id], workspace.flow_of(id)
    level = NO_LEVEL if outlet.perennial else set_level(workspace, id)
    ahead = look_ahead(workspace, id, level, horizon=horizon, seed=seed)
    if not outlet.stop_m3s or flow.empty:
        return OutletOutlook(outlet=outlet, ahead=ahead, no_recharge=None, skill=None)
    doubtful = flow.frame["estimated"] | flow.frame["bridged"]
    return OutletOutlook(
        outlet=outlet,
        ahead=ahead,
        no_recharge=no_recharge_stop(
            flow.values, workspace.as_of, stop_level_m3s=outlet.stop_m3s, unsure=doubtful, level=CROSSING_LEVEL
        ),
        skill=outlook_skill(
            flow.values,
            stop_level_m3s=outlet.stop_m3s,
            restart_level_m3s=outlet.restart_m3s,
            stop_days=outlet.stop_days,
            restart_days=outlet.restart_days,
            until=workspace.as_of,
            leads=LEADS,
            seed=seed,
        ),
    )
