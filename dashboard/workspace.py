"""A workspace folder read into checked objects: the one way in for every answer. No screen, no statistics."""

from __future__ import annotations

import datetime
import zoneinfo
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pandas as pd

from dashboard.workspace_file import day_asked, read_settings
from dashboard.workspace_gauges import Gauge, reaches_beyond, read_gauge, uncut
from dashboard.workspace_settings import WorkspaceFile
from ecology.captures import Captures, read_captures
from ecology.flow_history import FlowCycles, OutletWater, flow_cycles
from ecology.visits import Visits, read_visits
from hydro.combine import Flow, combine
from hydro.dry_spells import DrySpells, find_dry_spells
from hydro.outlet import Outlet
from hydro.problems import InputError, Problem, SourceError

#: Gauge files lag behind: visits up to so many days after the last discharge are taken without a question [days].
RECORD_LAG_DAYS = 31


@dataclass(frozen=True, eq=False, kw_only=True)
class Workspace:
    """Everything a workspace holds, nothing of it dated after `as_of` (a civil day of its time zone)."""

    folder: Path
    settings: WorkspaceFile
    as_of: pd.Timestamp
    as_of_from: str
    gauges: Mapping[str, Gauge]
    flows: Mapping[str, Flow]
    visits: Visits | None
    captures: Captures | None
    warnings: tuple[str, ...]

    @property
    def unit(self) -> str:
        """Display unit, by canonical name."""
        return self.settings.display_unit

    @property
    def outlets(self) -> Mapping[str, Outlet]:
        return self.settings.outlets

    def flow_of(self, outlet: str) -> Flow:
        return self.flows[self.outlets[outlet].flow]

    @cached_property
    def dry_spells(self) -> Mapping[str, DrySpells | None]:
        """Dry spells by outlet; None for a perennial outlet and where its flow is never known."""
        found: dict[str, DrySpells | None] = {}
        for id, outlet in self.outlets.items():
            flow = self.flow_of(id)
            if outlet.stop_m3s is None or flow.empty:
                found[id] = None
                continue
            found[id] = find_dry_spells(
                flow.values,
                outlet.stop_m3s,
                outlet.restart_m3s,
                stop_days=outlet.stop_days,
                restart_days=outlet.restart_days,
                join_days=outlet.join_days,
            )
        return found

    @cached_property
    def water(self) -> Mapping[str, OutletWater]:
        """What flow histories need, by outlet."""
        return {id: OutletWater(flow=self.flow_of(id), dry=self.dry_spells[id]) for id in self.outlets}

    def cycles_of(self, flow: str) -> FlowCycles:
        """The flow cycles of a flow, set by the outlet on it that stops first."""
        on_it = {id: o.title for id, o in self.outlets.items() if o.flow == flow}
        spells = [(on_it[id], d) for id, d in self.dry_spells.items() if d is not None and id in on_it]
        return flow_cycles(self.flows[flow], spells)


def load_workspace(folder: Path, *, as_of: datetime.date | None = None, only: Collection[str] = ()) -> Workspace:
    """Read a workspace folder; with `only`, nothing but these outlets and the gauges they depend on.

    `as_of` (default: the workspace's own as_of, else today in its zone) cuts everything dated later. Raises
    InputError with the problems of all files together, SourceError where a gauge names a service and no copy is kept.
    """
    settings, problems = read_settings(folder)
    outlets = settings.outlets.keys()
    if only and not problems:
        settings = settings.reduced_to(only)
    today = pd.Timestamp(datetime.datetime.now(zoneinfo.ZoneInfo(settings.time_zone)).date())
    asked, origin = day_asked(settings, as_of)
    day = pd.Timestamp(asked)
    warnings: list[str] = []
    gauges: dict[str, Gauge] = {}
    unreached: SourceError | None = None
    wrong_keys = [str(p.row) for p in problems]
    for gauge_settings in settings.gauges.values():
        if any(f"{key}.".startswith(f"gauges.{gauge_settings.id}.") for key in wrong_keys):
            continue  # what its file leaves open may only be what is wrong here
        try:
            gauges[gauge_settings.id] = read_gauge(folder, gauge_settings, settings.time_zone, day, warnings)
        except InputError as error:
            problems.extend(error.problems)
        except SourceError as error:
            unreached = unreached or error
    flows: dict[str, Flow] = {}
    spans: dict[str, tuple[pd.Timestamp, pd.Timestamp]] = {}
    if not problems and unreached is None:
        flows = _flows(settings, gauges)
        if not settings.surveys.keep_outside_record:
            spans = _record_spans(settings, gauges, flows, day)
    visits, captures = None, None
    if not any(key.startswith("surveys") for key in wrong_keys):
        visits, captures = _surveys(folder, settings, outlets, today, spans, problems)
    if problems:
        raise InputError(problems)
    if unreached is not None:
        raise unreached
    visits = None if visits is None else visits.until(day)
    if visits is not None:
        warnings.extend(f"{visits.file}: {note}" for note in visits.notes)
    return Workspace(
        folder=folder,
        settings=settings,
        as_of=day,
        as_of_from=origin,
        gauges=gauges,
        flows=flows,
        visits=visits,
        captures=None if captures is None else captures.until(day),
        warnings=tuple(dict.fromkeys(warnings)),
    )


def _record_spans(
    settings: WorkspaceFile, gauges: Mapping[str, Gauge], flows: dict[str, Flow], day: pd.Timestamp
) -> dict[str, tuple[pd.Timestamp, pd.Timestamp]]:
    """First and last day of the discharge behind each outlet, days after the one asked included."""
    if any(reaches_beyond(p, day) for g in gauges.values() for p in g.parts):
        flows = _flows(settings, {k: uncut(g, settings.time_zone) for k, g in gauges.items()})
    return {
        id: (flow.frame.index[0], flow.frame.index[-1])
        for id, outlet in settings.outlets.items()
        if not (flow := flows[outlet.flow]).empty
    }


def _flows(settings: WorkspaceFile, gauges: Mapping[str, Gauge]) -> dict[str, Flow]:
    """The combined flows, and every gauge as a flow of its own."""
    errors = {id: g.settings.error_percent for id, g in gauges.items()}
    flows = {
        f.id: combine(
            f.id, f.title, {g: gauges[g].daily for g in f.gauges}, bridge_days=f.bridge_gaps_days, errors_percent=errors
        )
        for f in settings.flows.values()
    }
    for id, gauge in gauges.items():
        flows[id] = combine(id, gauge.settings.title, {id: gauge.daily}, errors_percent=errors)
    return flows


def _surveys(
    folder: Path,
    settings: WorkspaceFile,
    outlets: Collection[str],
    today: pd.Timestamp,
    spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]],
    problems: list[Problem],
) -> tuple[Visits | None, Captures | None]:
    """Visits and captures where the workspace names them; their problems are added to `problems`."""
    s = settings.surveys
    visits, captures = None, None
    try:
        if s.visits is not None:
            visits = read_visits(
                folder / s.visits,
                outlets=outlets,
                today=today,
                columns=s.columns,
                day_first=s.day_first,
                shown_as=s.visits,
                spans=spans,
                lag_days=RECORD_LAG_DAYS,
            )
    except InputError as error:
        problems.extend(error.problems)
    try:
        if s.captures is not None:
            captures = read_captures(
                folder / s.captures,
                outlets=outlets,
                today=today,
                columns=s.columns_of_captures,
                day_first=s.day_first_in_captures,
                shown_as=s.captures,
            )
    except InputError as error:
        problems.extend(error.problems)
    return visits, captures
