"""Values out of a settings file, each checked; everything wrong is gathered by key."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from typing import Any

from dashboard.years import FIRST_YEAR, LAST_YEAR
from hydro.problems import Problem
from hydro.units import Quantity, UnitError, parse_quantity

FILE_NAME = "workspace.toml"


class SettingsValues:
    """Walks the settings and gathers problems by key."""

    def __init__(self) -> None:
        self.problems: list[Problem] = []

    def wrong(self, key: str, value: object, expected: str) -> None:
        shown = None if value is None else str(value)
        self.problems.append(Problem(file=FILE_NAME, row=key, value=shown, expected=expected))

    def table(self, parent: Mapping[str, Any], key: str, known: tuple[str, ...] | None, at: str) -> Mapping[str, Any]:
        found = parent.get(key, {})
        if not isinstance(found, dict):
            self.wrong(at, found, f"a table, written [{at}]")
            return {}
        for name in found:
            if known is not None and name not in known:
                near = difflib.get_close_matches(name, known, 1)
                hint = f"did you mean {near[0]}? " if near else ""
                self.wrong(f"{at}.{name}", found[name], f"{hint}one of {', '.join(known)}")
        return found

    def text(self, table: Mapping[str, Any], key: str, at: str, default: str | None = None) -> str | None:
        value = table.get(key, default)
        if value is not None and not (isinstance(value, str) and value.strip()):
            self.wrong(f"{at}.{key}" if at else key, value, "a text in quotes")
            return default
        return value

    def whole(self, table: Mapping[str, Any], key: str, at: str, default: int, least: int) -> int:
        value = table.get(key, default)
        if not isinstance(value, int) or isinstance(value, bool) or value < least:
            self.wrong(f"{at}.{key}", value, f"a whole number of {least} or more")
            return default
        return value

    def truth(self, table: Mapping[str, Any], key: str, at: str) -> bool | None:
        value = table.get(key)
        if value is not None and not isinstance(value, bool):
            self.wrong(f"{at}.{key}", value, "true or false")
            return None
        return value

    def day(self, table: Mapping[str, Any], key: str, at: str) -> date | None:
        value = table.get(key)
        day = value if type(value) is date else None
        if isinstance(value, str):
            with suppress(ValueError):
                day = date.fromisoformat(value)
        if day is not None and FIRST_YEAR <= day.year <= LAST_YEAR:
            return day
        if value is not None:
            self.wrong(f"{at}.{key}" if at else key, value, "a date such as 2024-03-05")
        return None

    def level(self, t: Mapping[str, Any], key: str, at: str) -> Quantity | None:
        value = t.get(key)
        if value is None:
            return None
        try:
            return parse_quantity(value if isinstance(value, str) else str(value))
        except UnitError as error:
            self.wrong(f"{at}.{key}", error.text, error.expected)
            return None
