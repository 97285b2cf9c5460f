"""The settings of a workspace as checked objects."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from dashboard.watch.rules import AlertRules, WatchSettings
from hydro.outlet import Outlet
from hydro.sources.gauge_file import ReadChoices


@dataclass(frozen=True, kw_only=True)
class GaugeSettings:
    """One gauge as the workspace names it: a file (or a glob), or a service and a station."""

    id: str
    title: str
    file: str | None
    service: str | None
    station: str | None
    choices: ReadChoices
    error_percent: float
    error_is_assumed: bool


@dataclass(frozen=True, kw_only=True)
class FlowSettings:
    """A combined discharge."""

    id: str
    title: str
    gauges: tuple[str, ...]
    bridge_gaps_days: int


@dataclass(frozen=True, kw_only=True)
class SurveySettings:
    """Where visits and captures are and how they are written."""

    visits: str | None = None
    captures: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    effort_unit: str = "person-min"
    day_first: bool | None = None
    keep_outside_record: bool = False
    animal: str | None = None
    scientific_name: str | None = None
    capture_columns: Mapping[str, str] = field(default_factory=dict)
    capture_day_first: bool | None = None

    @property
    def columns_of_captures(self) -> Mapping[str, str]:
        """Names of columns in the table of captures: its own, else those of the visits."""
        return {**self.columns, **self.capture_columns}

    @property
    def day_first_in_captures(self) -> bool | None:
        return self.day_first if self.capture_day_first is None else self.capture_day_first


@dataclass(frozen=True, kw_only=True)
class Position:
    """Where an outlet is, in decimal degrees (WGS 84); used by exports alone, and only as far as they are told to."""

    latitude: float
    longitude: float


@dataclass(frozen=True, kw_only=True)
class PermitSettings:
    """The permit that visits are made under. `first` and `last` are its days, both inside; None = not said."""

    number: str | None = None
    holder: str | None = None
    first: date | None = None
    last: date | None = None
    holding_minutes: int | None = None

    def covers(self, day: date) -> bool:
        """Whether a day lies within the permit, as far as its days are said."""
        return (self.first is None or day >= self.first) and (self.last is None or day <= self.last)


@dataclass(frozen=True, kw_only=True)
class PeopleSettings:
    """Who may write visits down, and who may change levels too, by e-mail address in small letters."""

    recorders: frozenset[str] = frozenset()
    keepers: frozenset[str] = frozenset()


@dataclass(frozen=True, kw_only=True)
class ServiceSettings:
    """Hosts of gauge services by “us”, “england”, “france”, where they are not the usual ones."""

    hosts: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True)
class WorkspaceFile:
    """The whole of workspace.toml, checked."""

    title: str
    time_zone: str
    display_unit: str
    as_of: date | None
    gauges: Mapping[str, GaugeSettings]
    flows: Mapping[str, FlowSettings]
    outlets: Mapping[str, Outlet]
    surveys: SurveySettings
    alerts: Mapping[str, AlertRules] = field(default_factory=dict)
    watch: WatchSettings = field(default_factory=WatchSettings)
    permit: PermitSettings = field(default_factory=PermitSettings)
    people: PeopleSettings = field(default_factory=PeopleSettings)
    services: ServiceSettings = field(default_factory=ServiceSettings)
    positions: Mapping[str, Position] = field(default_factory=dict)

    def gauges_of(self, flow: str) -> tuple[str, ...]:
        """The gauges behind a flow; a gauge stands for itself."""
        return self.flows[flow].gauges if flow in self.flows else (flow,)

    def reduced_to(self, outlets: Collection[str]) -> WorkspaceFile:
        """The same settings with these outlets alone, and the flows and gauges that they depend on."""
        kept = {id: o for id, o in self.outlets.items() if id in outlets}
        used = {o.flow for o in kept.values()}
        gauges = {g for flow in used for g in self.gauges_of(flow)}
        return replace(
            self,
            outlets=kept,
            flows={id: f for id, f in self.flows.items() if id in used},
            gauges={id: g for id, g in self.gauges.items() if id in gauges},
        )
