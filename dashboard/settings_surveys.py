"""The parts of workspace.toml about surveys, permit, people, services and places."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from dashboard.settings_values import SettingsValues
from dashboard.workspace_settings import PeopleSettings, PermitSettings, Position, ServiceSettings, SurveySettings
from hydro.services.access import is_host

_SURVEYS = ("visits", "captures", "columns", "effort_unit", "day_first", "outside_record", "animal",
            "scientific_name", "capture_columns", "capture_day_first")  # fmt: skip
_PERMIT = ("number", "holder", "first", "last", "holding_minutes")
_PEOPLE = ("recorders", "keepers")
_SERVICE_HOSTS = ("us", "england", "france")


class SurveyReader(SettingsValues):
    """Reads those parts; what is wrong is gathered in `problems`."""

    def surveys(self, data: Mapping[str, Any]) -> SurveySettings:
        t = self.table(data, "surveys", _SURVEYS, "surveys")
        columns, of_captures = self._columns(t, "columns"), self._columns(t, "capture_columns")
        outside = t.get("outside_record")
        if outside not in (None, "keep", "refuse"):
            self.wrong("surveys.outside_record", outside, "“keep” or “refuse”")
        return SurveySettings(
            visits=self.text(t, "visits", "surveys"),
            captures=self.text(t, "captures", "surveys"),
            columns=columns,
            capture_columns=of_captures,
            capture_day_first=self.truth(t, "capture_day_first", "surveys"),
            effort_unit=self.text(t, "effort_unit", "surveys", "person-min") or "person-min",
            day_first=self.truth(t, "day_first", "surveys"),
            keep_outside_record=outside == "keep",
            animal=self.text(t, "animal", "surveys"),
            scientific_name=self.text(t, "scientific_name", "surveys"),
        )

    def _columns(self, t: Mapping[str, Any], key: str) -> dict[str, str]:
        columns = self.table(t, key, None, f"surveys.{key}")
        for name, theirs in columns.items():
            if not isinstance(theirs, str) or not re.search(r"\S", theirs):
                self.wrong(f"surveys.{key}.{name}", theirs, "the name of a column in quotes")
        return {k: v for k, v in columns.items() if isinstance(v, str)}

    def permit(self, data: Mapping[str, Any]) -> PermitSettings:
        t = self.table(data, "permit", _PERMIT, "permit")
        first, last = self.day(t, "first", "permit"), self.day(t, "last", "permit")
        if first is not None and last is not None and last < first:
            self.wrong("permit.last", last, f"a day not before the first, {first}")
        return PermitSettings(
            number=self.text(t, "number", "permit"),
            holder=self.text(t, "holder", "permit"),
            first=first,
            last=last,
            holding_minutes=self.whole(t, "holding_minutes", "permit", 0, 0) or None,
        )

    def people(self, data: Mapping[str, Any]) -> PeopleSettings:
        t = self.table(data, "people", _PEOPLE, "people")
        found: dict[str, frozenset[str]] = {}
        for key in _PEOPLE:
            names = t.get(key, [])
            if not isinstance(names, list) or not all(isinstance(n, str) and "@" in n for n in names):
                self.wrong(f"people.{key}", names, "a list of e-mail addresses in quotes")
                names = []
            found[key] = frozenset(n.strip().casefold() for n in names)
        return PeopleSettings(**found)

    def services(self, data: Mapping[str, Any]) -> ServiceSettings:
        t = self.table(data, "services", _SERVICE_HOSTS, "services")
        for name, host in t.items():
            if not isinstance(host, str) or not is_host(host):
                expected = "a host such as “https://example.org”, without a key or anything else"
                self.wrong(f"services.{name}", host, expected)
        return ServiceSettings(hosts={k: v for k, v in t.items() if isinstance(v, str)})

    def positions(self, data: Mapping[str, Any]) -> dict[str, Position]:
        found = {}
        outlets = data.get("outlets", {})
        for key, t in outlets.items() if isinstance(outlets, dict) else ():
            if not isinstance(t, dict) or not ("latitude" in t or "longitude" in t):
                continue
            pair = [t.get("latitude"), t.get("longitude")]
            for name, value, most in zip(("latitude", "longitude"), pair, (90, 180), strict=True):
                if isinstance(value, bool) or not isinstance(value, int | float) or not -most <= value <= most:
                    self.wrong(f"outlets.{key}.{name}", value, f"decimal degrees from -{most} to {most}, both or none")
                    break
            else:
                found[key] = Position(latitude=float(str(pair[0])), longitude=float(str(pair[1])))
        return found
