"""A workspace folder read into checked objects: the one way in for every answer. No screen, no statistics."""

from __future__ import annotations

import datetime
import glob
import zoneinfo
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import pandas as pd

from dashboard.wording import fetch as fetch_words
from dashboard.workspace_file import FILE_NAME, day_asked, read_workspace_file
from dashboard.workspace_settings import GaugeSettings, WorkspaceFile
from ecology.captures import Captures, read_captures
from ecology.flow_history import FlowCycles, OutletWater, flow_cycles
from ecology.visits import Visits, outside_record, read_visits
from hydro.combine import Flow, combine
from hydro.discharge import Discharge
from hydro.dry_spells import DrySpells, find_dry_spells
from hydro.gauge_record import daily_record
from hydro.outlet import Outlet
from hydro.problems import InputError, Problem, SourceError
from hydro.services.kept import Copy, read_copy
from hydro.sources.recognise import read_gauge_file

#: Gauge files lag behind: visits up to so many days after the last discharge are taken without a question [days].
RECORD_LAG_DAYS = 31


@dataclass(frozen=True, eq=False, kw_only=True)
class Gauge:
    """One gauge: its settings, its parts as read and its daily record; of a service's gauge, how its copy came."""

    settings: GaugeSettings
    parts: tuple[Discharge, ...]
    daily: Discharge
    copy: Copy | None = None


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
        spells = [(id, d) for id, d in self.dry_spells.items() if d is not None and self.outlets[id].flow == flow]
        return flow_cycles(self.flows[flow], spells)


def load_workspace(folder: Path, *, as_of: datetime.date | None = None, only: Collection[str] = ()) -> Workspace:
    """Read a workspace folder; with `only`, nothing but these outlets and the gauges they depend on.

    `as_of` (default: the workspace's own as_of, else today in its zone) cuts everything dated later. Raises
    InputError with the problems of all files together, SourceError where a gauge names a service and no copy is kept.
    """
    settings = read_workspace_file(folder)
    outlets = settings.outlets.keys()
    if only:
        settings = settings.reduced_to(only)
    today = pd.Timestamp(datetime.datetime.now(zoneinfo.ZoneInfo(settings.time_zone)).date())
    asked, origin = day_asked(settings, as_of)
    day = pd.Timestamp(asked)
    problems: list[Problem] = []
    warnings: list[str] = []
    gauges: dict[str, Gauge] = {}
    for gauge_settings in settings.gauges.values():
        try:
            gauges[gauge_settings.id] = _gauge(folder, gauge_settings, settings.time_zone, day, warnings)
        except InputError as error:
            problems.extend(error.problems)
    visits, captures = _surveys(folder, settings, outlets, today, problems)
    if problems:
        raise InputError(problems)
    flows = _flows(settings, gauges)
    if visits is not None and not settings.surveys.keep_outside_record:
        whole = flows
        if any(_reaches_beyond(p, day) for g in gauges.values() for p in g.parts):
            whole = _flows(settings, {k: _uncut(g, settings.time_zone) for k, g in gauges.items()})
        spans = {
            id: (flow.frame.index[0], flow.frame.index[-1])
            for id, outlet in settings.outlets.items()
            if not (flow := whole[outlet.flow]).empty
        }
        problems = outside_record(visits, spans, RECORD_LAG_DAYS)
        if problems:
            raise InputError(problems)
    if visits is not None:
        warnings.extend(f"{visits.file}: {note}" for note in visits.notes)
    return Workspace(
        folder=folder,
        settings=settings,
        as_of=day,
        as_of_from=origin,
        gauges=gauges,
        flows=flows,
        visits=None if visits is None else visits.until(day),
        captures=None if captures is None else captures.until(day),
        warnings=tuple(dict.fromkeys(warnings)),
    )


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


def _gauge(folder: Path, settings: GaugeSettings, zone: str, day: pd.Timestamp, warnings: list[str]) -> Gauge:
    """Read a gauge's files; the record ends on the civil day asked."""
    copy = None
    if settings.file is None:
        copy = _kept_copy(folder, settings)
        warnings.extend(fetch_words.doubts(settings.title, copy, day, zone))
    files = [copy.file] if copy is not None else _files(folder, settings.file or "")
    if not files:
        key = f"gauges.{settings.id}.file"
        raise InputError(
            [Problem(file=FILE_NAME, row=key, value=settings.file, expected="a file; none of this name exists")]
        )
    problems: list[Problem] = []
    parts: list[Discharge] = []
    choices = settings.choices
    if choices.time_zone is None:
        choices = replace(choices, time_zone=zone)
    for path in files:
        shown = str(path.relative_to(folder)) if path.is_relative_to(folder) else str(path)
        read = read_gauge_file(path, choices, shown_as=shown)
        warnings.extend(f"{shown}: {note}" for note in read.notes)
        try:
            parts.append(_with_retrieval(read.only_series(choices), copy))
        except InputError as error:
            problems.extend(error.problems)
    if problems:
        raise InputError(problems)
    end = (day + pd.Timedelta(days=1)).tz_localize(zone).tz_convert("UTC") - pd.Timedelta(1, "ns")
    cut = [p.until(day if p.daily else end) for p in parts]
    return Gauge(settings=settings, parts=tuple(parts), daily=daily_record(cut, zone), copy=copy)


def _kept_copy(folder: Path, settings: GaugeSettings) -> Copy:
    """What was fetched of a gauge's station. Raises SourceError where nothing is kept."""
    service, station = str(settings.service), str(settings.station)
    copy = read_copy(folder, service, station)
    if not copy.has_values:
        raise SourceError(fetch_words.no_copy(settings.id, service, station, str(folder), copy.failure))
    return copy


def _with_retrieval(part: Discharge, copy: Copy | None) -> Discharge:
    """A series of a copy knows when the copy came."""
    if copy is None or copy.retrieved is None:
        return part
    stamp = copy.retrieved.isoformat(timespec="seconds")
    return replace(part, origins=tuple(replace(o, retrieved=stamp) for o in part.origins))


def _reaches_beyond(part: Discharge, day: pd.Timestamp) -> bool:
    """Whether a part holds anything that the day asked may have cut off (a day's grace for zones)."""
    if part.frame.empty:
        return False
    last = part.frame.index[-1]
    return bool((last if part.daily else last.tz_localize(None)) > day + pd.Timedelta(days=1))


def _uncut(gauge: Gauge, zone: str) -> Gauge:
    """The gauge with its whole record, to tell a visit outside the record from one after the day asked."""
    return Gauge(settings=gauge.settings, parts=gauge.parts, daily=daily_record(gauge.parts, zone))


def _files(folder: Path, pattern: str) -> list[Path]:
    path = folder / pattern
    if path.exists():
        return [path]
    # Patterns may be absolute or climb out of the folder, which Path.glob does not take.
    return sorted(Path(p) for p in glob.glob(str(path)) if Path(p).is_file())  # noqa: PTH207


def _surveys(
    folder: Path, settings: WorkspaceFile, outlets: Collection[str], today: pd.Timestamp, problems: list[Problem]
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
            )
    except InputError as error:
        problems.extend(error.problems)
    try:
        if s.captures is not None:
            captures = read_captures(
                folder / s.captures,
                outlets=outlets,
                today=today,
                columns=s.columns,
                day_first=s.day_first,
                shown_as=s.captures,
            )
    except InputError as error:
        problems.extend(error.problems)
    return visits, captures
