"""workspace.toml: what the sites are, read and checked in one go. No discharge is read here."""

from __future__ import annotations

import datetime
import tomllib
import zoneinfo
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from dashboard.settings_surveys import SurveyReader
from dashboard.settings_values import FILE_NAME
from dashboard.watch.read_rules import read_alerts, read_watch
from dashboard.watch.rules import AlertRules
from dashboard.workspace_settings import (
    FlowSettings,
    GaugeSettings,
    WorkspaceFile,
)
from hydro.discharge_error import DEFAULT_ERROR_PERCENT
from hydro.outlet import Outlet
from hydro.problems import InputError, Problem
from hydro.sources.gauge_file import ReadChoices
from hydro.units import UnitError, parse_unit

SERVICES = ("us-daily", "us-continuous", "england", "france", "france-real-time")
_TOP = ("title", "time_zone", "display_unit", "as_of", "gauges", "flows", "outlets", "surveys", "permit", "people",
        "watch", "services")  # fmt: skip
_GAUGE = ("title", "file", "unit", "column", "date_column", "day_first", "series", "time_zone", "error_percent",
          "service", "station")  # fmt: skip
_FLOW = ("title", "gauges", "bridge_gaps_days")
_OUTLET = ("title", "flow", "stops_below", "restarts_above", "stop_days", "restart_days", "join_days",
           "latitude", "longitude", "stops_below_learnt", "alerts")  # fmt: skip
_ZONE = "an IANA time zone name such as “Etc/GMT+6” or “CST6CDT”; dates are its local days"


def read_workspace_file(folder: Path) -> WorkspaceFile:
    """Read `folder`/workspace.toml. Raises InputError with every problem in it."""
    settings, problems = read_settings(folder)
    if problems:
        raise InputError(problems)
    return settings


def read_settings(folder: Path) -> tuple[WorkspaceFile, list[Problem]]:
    """The settings as far as they can be understood, and every problem in them; with any, the settings only serve to
    look for problems in the files that they name. Raises InputError where there is no such file, or it is no TOML."""
    path = folder / FILE_NAME
    if not folder.is_dir():
        raise InputError([Problem(file=str(folder), expected="a workspace folder; there is none of this name")])
    if not path.is_file():
        raise InputError([Problem(file=str(path), expected="the file that says what the sites are; it is missing")])
    settings, problems = _settings(path.read_bytes())
    return settings, list(problems)


@lru_cache(maxsize=8)
def _settings(content: bytes) -> tuple[WorkspaceFile, tuple[Problem, ...]]:
    """The settings of these bytes and their problems: a page asks for them several times a click."""
    try:
        data = tomllib.loads(content.decode("utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(
            [Problem(file=FILE_NAME, expected=f"a TOML file in UTF-8; reading stopped: {error}")]
        ) from None
    reader = _Reader()
    return reader.workspace(data), tuple(reader.problems)


def day_asked(settings: WorkspaceFile, as_of: datetime.date | None = None) -> tuple[datetime.date, str]:
    """The day that answers are for, and where it is from: asked for, else set in the file, else today in its zone."""
    if as_of is not None:
        return as_of, "asked for"
    if settings.as_of is not None:
        return settings.as_of, FILE_NAME
    return datetime.datetime.now(zoneinfo.ZoneInfo(settings.time_zone)).date(), "today"


class _Reader(SurveyReader):
    """Walks the settings and gathers problems by key."""

    def workspace(self, data: Mapping[str, Any]) -> WorkspaceFile:
        self.table({"": data}, "", _TOP, "")
        zone = self.text(data, "time_zone", "") or "UTC"
        if "time_zone" not in data:
            self.wrong("time_zone", None, _ZONE)
        else:
            try:
                zoneinfo.ZoneInfo(zone)
            except (zoneinfo.ZoneInfoNotFoundError, ValueError, OSError):
                self.wrong("time_zone", zone, _ZONE)
                zone = "UTC"
        unit = self.text(data, "display_unit", "", "m3/s") or "m3/s"
        try:
            unit = parse_unit(unit)
        except UnitError as error:
            self.wrong("display_unit", error.text, error.expected)
            unit = "m3/s"
        as_of = self.day(data, "as_of", "")
        gauges = {k: self.gauge(k, data["gauges"]) for k in self.table(data, "gauges", None, "gauges")}
        flows = {k: self.flow(k, data["flows"], gauges) for k in self.table(data, "flows", None, "flows")}
        outlets: dict[str, Outlet] = {}
        alerts: dict[str, AlertRules] = {}
        for key in self.table(data, "outlets", None, "outlets"):
            outlet = outlets[key] = self.outlet(key, data["outlets"], (*flows, *gauges))
            rules = read_alerts(self, data["outlets"][key], outlet)
            if rules is not None:
                alerts[key] = rules
                outlets[key] = replace(outlet, alert_at=rules.level)
        for key in sorted(set(gauges) & set(flows)):
            self.wrong(f"flows.{key}", key, "an id that no gauge has: an outlet could not tell them apart")
        if not gauges:
            self.wrong("gauges", None, "at least one gauge, written [gauges.SOME_ID]")
        if not self.table(data, "outlets", None, "outlets"):
            self.wrong("outlets", None, "at least one outlet, written [outlets.SOME_ID]")
        return WorkspaceFile(
            title=self.text(data, "title", "", "Untitled springs") or "Untitled springs",
            time_zone=zone,
            display_unit=unit,
            as_of=as_of,
            gauges=gauges,
            flows=flows,
            outlets=outlets,
            surveys=self.surveys(data),
            alerts=alerts,
            watch=read_watch(self, data),
            positions=self.positions(data),
            permit=self.permit(data),
            people=self.people(data),
            services=self.services(data),
        )

    def gauge(self, key: str, parent: Mapping[str, Any]) -> GaugeSettings:
        at = f"gauges.{key}"
        t = self.table(parent, key, _GAUGE, at)
        file, service = self.text(t, "file", at), self.text(t, "service", at)
        if (file is None) == (service is None):
            self.wrong(at, None, "either file = “…” or service = “…” with station = “…”")
        if service is not None and service not in SERVICES:
            self.wrong(f"{at}.service", service, "one of " + ", ".join(SERVICES))
        station = t.get("station")
        if service is not None and not (isinstance(station, str) and station):
            self.wrong(f"{at}.station", station, "the station's id as a text in quotes, leading zeros kept")
        error = t.get("error_percent", DEFAULT_ERROR_PERCENT)
        if isinstance(error, bool) or not isinstance(error, int | float) or not 0 < error < 500:
            self.wrong(f"{at}.error_percent", error, "a number above 0: 95 % of values lie within it of the truth")
            error = DEFAULT_ERROR_PERCENT
        zone = self.text(t, "time_zone", at)
        return GaugeSettings(
            id=key,
            title=self.text(t, "title", at, key) or key,
            file=file,
            service=service,
            station=station if isinstance(station, str) else None,
            choices=ReadChoices(
                unit=self.text(t, "unit", at),
                column=self.text(t, "column", at),
                date_column=self.text(t, "date_column", at),
                day_first=self.truth(t, "day_first", at),
                series=self.text(t, "series", at),
                time_zone=zone,
            ),
            error_percent=float(error),
            error_is_assumed="error_percent" not in t,
        )

    def flow(self, key: str, parent: Mapping[str, Any], gauges: Mapping[str, GaugeSettings]) -> FlowSettings:
        at = f"flows.{key}"
        t = self.table(parent, key, _FLOW, at)
        members = t.get("gauges")
        if not isinstance(members, list) or not members or not all(isinstance(m, str) for m in members):
            self.wrong(f"{at}.gauges", members, f"a list of gauge ids out of: {', '.join(gauges) or 'none'}")
            members = []
        for member in members:
            if member not in gauges:
                self.wrong(f"{at}.gauges", member, f"a gauge id out of: {', '.join(gauges) or 'none'}")
        if len(set(members)) < len(members):
            self.wrong(f"{at}.gauges", ", ".join(members), "each gauge once")
        return FlowSettings(
            id=key,
            title=self.text(t, "title", at, key) or key,
            gauges=tuple(members),
            bridge_gaps_days=self.whole(t, "bridge_gaps_days", at, 0, 0),
        )

    def outlet(self, key: str, parent: Mapping[str, Any], flows: tuple[str, ...]) -> Outlet:
        at = f"outlets.{key}"
        t = self.table(parent, key, _OUTLET, at)
        flow = t.get("flow")
        if flow not in flows:
            self.wrong(f"{at}.flow", flow, f"a flow or gauge id out of: {', '.join(flows) or 'none'}")
        stop, restart = self.level(t, "stops_below", at), self.level(t, "restarts_above", at)
        if restart is not None and "stops_below" not in t:
            self.wrong(f"{at}.restarts_above", restart, "stops_below as well")
        if stop is not None and restart is not None and restart.m3s < stop.m3s:
            self.wrong(f"{at}.restarts_above", restart, f"a level at or above stops_below ({stop})")
            restart = None
        return Outlet(
            id=key,
            title=self.text(t, "title", at, key) or key,
            flow=str(flow),
            stops_below=stop,
            restarts_above=restart if stop is not None else None,
            stop_days=self.whole(t, "stop_days", at, 1, 1),
            restart_days=self.whole(t, "restart_days", at, 1, 1),
            join_days=self.whole(t, "join_days", at, 5, 0),
            learnt=self.level(t, "stops_below_learnt", at),
        )
