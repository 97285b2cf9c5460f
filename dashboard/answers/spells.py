"""When was each outlet dry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header, iso, quantity
from dashboard.workspace import Workspace
from hydro.combine import Flow
from hydro.dry_spells import JOIN_RULE, DrySpells
from hydro.dry_summary import DrySummary, summarise
from hydro.outlet import Outlet


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletSpells:
    """One outlet's dry spells with what people saw in each; `dry` and `summary` are None where `why` says so."""

    outlet: Outlet
    flow: Flow
    dry: DrySpells | None
    summary: DrySummary | None
    spells: pd.DataFrame
    joined: pd.DataFrame
    seen: pd.DataFrame
    why: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class SpellsAnswer:
    """The answer to `spells`."""

    header: Header
    outlets: tuple[OutletSpells, ...]

    def tables(self) -> list[Table]:
        found = []
        for o in self.outlets:
            if o.dry is not None and o.summary is not None:
                title = o.outlet.title
                id = o.outlet.id
                found.append(Table(name=f"dry-spells-{id}", title=f"Dry spells of {title}", frame=o.spells))
                found.append(
                    Table(name=f"dry-spells-joined-{id}", title=f"Joined dry spells of {title}", frame=o.joined)
                )
                by_year = o.summary.by_year.reset_index()
                found.append(Table(name=f"dry-days-by-year-{id}", title=f"Dry days by year at {title}", frame=by_year))
                days = o.flow.frame.assign(state=o.dry.states).reset_index()
                found.append(Table(name=f"daily-{id}", title=f"Every day of {title}", frame=days))
        return found

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {
            "join_rule": JOIN_RULE,
            "outlets": [self._outlet(o) for o in self.outlets],
        }

    def _outlet(self, o: OutletSpells) -> dict[str, object]:
        out: dict[str, object] = {"outlet": o.outlet.id, "title": o.outlet.title}
        if o.dry is None or o.summary is None:
            return out | {"spells": None, "joined": None, "summary": None, "why": o.why}
        s = o.summary
        return out | {
            "stops_below": quantity(o.dry.stop_level_m3s, self.header.unit),
            "restarts_above": quantity(o.dry.restart_level_m3s, self.header.unit),
            "spells": [self._spell(row) for row in o.spells.to_dict("records")],
            "joined": [self._spell(row) for row in o.joined.to_dict("records")],
            "summary": {
                "dry_days": s.dry_days,
                "unknown_days": s.unknown_days,
                "record_days": s.record_days,
                "record_first": iso(o.flow.frame.index[0]),
                "record_last": iso(o.flow.frame.index[-1]),
                "dry_days_by_year": {str(y): int(n) for y, n in s.by_year["dry_days"].items()},
                "unknown_days_by_year": {str(y): int(n) for y, n in s.by_year["unknown_days"].items()},
                "spells": s.n_spells,
                "spells_seen_whole": s.n_whole,
                "longest": s.longest_days,
                "longest_is_at_least": s.longest_is_at_least,
                "median_days": s.median_days,
                "why_no_median": None if s.median_days is not None else "no spell was seen from start to end",
            },
        }

    def _spell(self, row: dict) -> dict[str, object]:
        return {
            "first": iso(row["first"]),
            "last": iso(row["last"]),
            "days": int(row["days"]),
            "dry_days": int(row["dry_days"]),
            "status": row["status"],
            "start_certain": bool(row["start_certain"]),
            "end_certain": bool(row["end_certain"]),
            "unknown_days": int(row["unknown_days"]),
            "minimum": quantity(row["minimum_m3s"], self.header.unit),
            "minimum_at": iso(row["minimum_at"]),
            "deficit": {"value": float(row["deficit_m3"]), "unit": "m3"},
            "parts": int(row["parts"]),
            "provisional_days": int(row["provisional_days"]),
            "bridged_days": int(row["bridged_days"]),
            "seen_dry": int(row["seen_dry"]),
            "seen_running": int(row["seen_running"]),
        }


def spells(workspace: Workspace, *, outlets: Sequence[str] = ()) -> SpellsAnswer:
    """Dry spells of each outlet with what people saw inside them."""
    found = [_outlet(workspace, id) for id in by_name(workspace.outlets, outlets)]
    return SpellsAnswer(header=header(workspace), outlets=tuple(found))


def _outlet(workspace: Workspace, id: str) -> OutletSpells:
    outlet, flow, dry = workspace.outlets[id], workspace.flow_of(id), workspace.dry_spells[id]
    seen = pd.DataFrame({"date": pd.DatetimeIndex([]), "surface": [], "row": [], "kind": [], "count": []})
    if workspace.visits is not None:
        seen = workspace.visits.at(id)[["date", "surface", "row", "kind", "count"]]
    if dry is None:
        why = "no stop level is set for this outlet" if outlet.perennial else "its discharge is never known"
        empty = pd.DataFrame()
        return OutletSpells(
            outlet=outlet, flow=flow, dry=None, summary=None, spells=empty, joined=empty, seen=seen, why=why
        )
    return OutletSpells(
        outlet=outlet,
        flow=flow,
        dry=dry,
        summary=summarise(dry),
        spells=_beside(dry.spells, flow, seen),
        joined=_beside(dry.joined, flow, seen),
        seen=seen,
    )


def _beside(table: pd.DataFrame, flow: Flow, seen: pd.DataFrame) -> pd.DataFrame:
    """How many days of each spell rest on provisional or bridged discharge, and how often people saw which state."""
    out = table.copy()
    for name in ("provisional", "bridged"):
        total = flow.frame[name].cumsum()
        before = total.shift(1, fill_value=0)
        out[f"{name}_days"] = total.reindex(out["last"]).to_numpy() - before.reindex(out["first"]).to_numpy()
    for surface in ("dry", "running"):
        days = seen.loc[seen["surface"] == surface, "date"].sort_values().to_numpy()
        after = days.searchsorted(out["last"].to_numpy(), side="right")
        out[f"seen_{surface}"] = after - days.searchsorted(out["first"].to_numpy(), side="left")
    return out
