"""What was understood in a workspace, and everything doubtful in its files."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, header, iso
from dashboard.workspace import Workspace
from ecology.visits import KINDS
from hydro.discharge import Discharge
from hydro.services.kept import Copy


@dataclass(frozen=True, eq=False, kw_only=True)
class CheckAnswer:
    """The answer to `check`. `copies` are of the gauges that come from services: title, and how the copy came."""

    header: Header
    gauges: pd.DataFrame
    files: pd.DataFrame
    flows: pd.DataFrame
    outlets: pd.DataFrame
    visits: pd.DataFrame | None
    n_captures: int | None
    n_individuals: int | None
    copies: tuple[tuple[str, Copy], ...] = ()
    time_zone: str = "UTC"

    def tables(self) -> list[Table]:
        named = [
            ("files", "Files", self.files),
            ("gauges", "Gauges", self.gauges),
            ("flows", "Combined discharges", self.flows),
            ("outlets", "Outlets", self.outlets),
        ]
        if self.visits is not None:
            named.append(("visits-by-outlet", "Visits by outlet and kind", self.visits))
        return [Table(name=n, title=t, frame=f) for n, t, f in named]

    def as_json(self) -> dict[str, object]:
        def records(frame: pd.DataFrame | None) -> list[dict[str, object]] | None:
            if frame is None:
                return None
            return [
                {k: iso(v) if isinstance(v, pd.Timestamp) else (None if _blank(v) else v) for k, v in row.items()}
                for row in frame.astype(object).to_dict("records")
            ]

        return self.header.as_json() | {
            "files": records(self.files),
            "gauges": records(self.gauges),
            "flows": records(self.flows),
            "outlets": records(self.outlets),
            "visits": records(self.visits),
            "n_captures": self.n_captures,
            "n_individuals": self.n_individuals,
        }


def _blank(value: object) -> bool:
    return value is None or value is pd.NaT or (isinstance(value, float) and value != value)


def check(workspace: Workspace) -> CheckAnswer:
    """What the workspace's files hold, as understood."""
    gauges, files = [], []
    for id, gauge in workspace.gauges.items():
        row = _series_row(id, gauge.daily) | {"error_percent": gauge.settings.error_percent}
        gauges.append(row if gauge.copy is None else row | _copy_row(gauge.copy))
        for part in gauge.parts:
            for origin in part.origins:
                files.append(
                    {
                        "file": origin.file,
                        "used_for": f"gauge {id}",
                        "format": origin.format,
                        "station": origin.station,
                        "series": origin.series,
                        "step": part.step,
                        "unit": origin.unit,
                        "unit_from": origin.unit_from,
                        "clock": origin.clock,
                        "retrieved": origin.retrieved,
                        "sha256": origin.digest,
                    }
                )
    for table, use in ((workspace.visits, "visits"), (workspace.captures, "captures")):
        if table is not None:
            files.append({"file": table.file, "used_for": use, "sha256": table.digest})
    visits = None
    if workspace.visits is not None:
        frame = workspace.visits.frame
        visits = (
            pd.crosstab(frame["outlet"], frame["kind"]).reindex(columns=list(KINDS), fill_value=0)
            .assign(first=frame.groupby("outlet")["date"].min(), last=frame.groupby("outlet")["date"].max())
            .reindex(list(workspace.outlets))
            .rename_axis("outlet")
            .reset_index()
        )  # fmt: skip
        visits[list(KINDS)] = visits[list(KINDS)].fillna(0).astype(int)
        visits.columns.name = None
    captures = workspace.captures
    return CheckAnswer(
        header=header(workspace),
        gauges=pd.DataFrame(gauges),
        files=pd.DataFrame(files),
        flows=pd.DataFrame([_flow_row(workspace, f) for f in workspace.settings.flows]),
        outlets=pd.DataFrame([_outlet_row(workspace, o) for o in workspace.outlets]),
        visits=visits,
        n_captures=None if captures is None else len(captures.frame),
        n_individuals=None if captures is None else int(captures.frame["individual"].nunique()),
        copies=tuple((g.settings.title, g.copy) for g in workspace.gauges.values() if g.copy is not None),
        time_zone=workspace.settings.time_zone,
    )


def _series_row(id: str, daily: Discharge) -> dict[str, object]:
    frame, values = daily.frame, daily.values
    days = (frame.index[-1] - frame.index[0]).days + 1 if len(frame) else 0
    return {
        "gauge": id,
        "first": frame.index[0] if len(frame) else None,
        "last": frame.index[-1] if len(frame) else None,
        "days": days,
        "days_missing": days - int(values.notna().sum()),
        "gaps": len(daily.gaps()),
        "provisional_days": int((frame["approval"] == "provisional").sum()),
        "minimum_m3s": float(values.min()) if values.notna().any() else None,
        "maximum_m3s": float(values.max()) if values.notna().any() else None,
    }


def _copy_row(copy: Copy) -> dict[str, object]:
    """How the values of a service's gauge came."""
    return {
        "service": copy.service,
        "station": copy.station,
        "retrieved": None if copy.retrieved is None else copy.retrieved.isoformat(timespec="seconds"),
        "last_try": None if copy.tried is None else copy.tried.isoformat(timespec="seconds"),
        "out_of_date_because": copy.failure,
        "values_changed": None if copy.revised is None else copy.revised.count,
        "change_noticed": None if copy.revised is None else copy.revised.noticed.isoformat(timespec="seconds"),
    }


def _flow_row(workspace: Workspace, id: str) -> dict[str, object]:
    flow = workspace.flows[id]
    f = flow.frame
    return {
        "flow": id,
        "members": " + ".join(flow.members.columns),
        "first": None if flow.empty else f.index[0],
        "last": None if flow.empty else f.index[-1],
        "days_missing": int(f["discharge_m3s"].isna().sum()),
        "days_bridged": int(f["bridged"].sum()),
        "bridge_gaps_days": flow.bridge_days,
    }


def _outlet_row(workspace: Workspace, id: str) -> dict[str, object]:
    outlet, dry = workspace.outlets[id], workspace.dry_spells[id]
    return {
        "outlet": id,
        "title": outlet.title,
        "flow": outlet.flow,
        "stops_below": None if outlet.stops_below is None else str(outlet.stops_below),
        "restarts_above": None if outlet.restarts_above is None else str(outlet.restarts_above),
        "dry_spells": None if dry is None else len(dry.spells),
    }
