"""Files with the same bytes are read once in a run: most tests copy the demo and change one line of one file of it.

Nothing else is spared. What a reading comes to, its warnings included, is kept by the bytes of its files and by all
that was asked; a file that a test changes is read again, and what is wrong with a file is never kept. That one and the
same file gives the same reading is for the tests of the readers to check.
"""

from __future__ import annotations

import datetime
import functools
import hashlib
from collections import OrderedDict
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

from dashboard import workspace
from dashboard.workspace_gauges import Gauge
from dashboard.workspace_settings import GaugeSettings

#: Readings kept of a kind.
KEPT = 60


class Kept:
    """The last results of a kind by what they were made from."""

    def __init__(self) -> None:
        self.results: OrderedDict[object, Any] = OrderedDict()

    def of(self, key: object, make: Callable[[], Any]) -> Any:
        if key in self.results:
            self.results.move_to_end(key)
            return self.results[key]
        result = make()
        self.results[key] = result
        if len(self.results) > KEPT:
            self.results.popitem(last=False)
        return result


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def read_once(patch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Have workspaces read through this; gives a function that forgets everything."""
    gauges, tables, sums = Kept(), Kept(), Kept()
    read_gauge, combine = workspace.read_gauge, workspace.combine

    def gauge(folder: Path, settings: GaugeSettings, zone: str, day: Any, warnings: list[str]) -> Gauge:
        pattern = settings.file
        if pattern is None or Path(pattern).is_absolute() or ".." in Path(pattern).parts:
            return read_gauge(folder, settings, zone, day, warnings)
        used = tuple((str(p.relative_to(folder)), digest(p)) for p in sorted(folder.glob(pattern)) if p.is_file())

        def make() -> tuple[Gauge, list[str]]:
            told: list[str] = []
            return read_gauge(folder, settings, zone, day, told), told

        found, told = gauges.of((used, repr(settings), zone, day), make)
        warnings.extend(told)
        return found

    def table(read: Callable[..., Any]) -> Callable[..., Any]:
        @functools.wraps(read)
        def once(path: Path, **asked: Any) -> Any:
            if not asked.get("shown_as") or not path.is_file():
                return read(path, **asked)
            plain = {k: list(v) if k == "outlets" else v for k, v in asked.items()}
            key = (read, digest(path), repr(plain), datetime.date.today())
            return tables.of(key, lambda: read(path, **asked))

        return once

    def flow(id: str, title: str, parts: Mapping[str, Any], **asked: Any) -> Any:
        # By the series themselves: those of a reading that is kept are the same objects. They stay while this does.
        key = (id, title, tuple((g, _Same(d)) for g, d in parts.items()), repr(asked))
        return sums.of(key, lambda: combine(id, title, parts, **asked))

    patch.setattr(workspace, "read_gauge", gauge)
    patch.setattr(workspace, "read_visits", table(workspace.read_visits))
    patch.setattr(workspace, "read_captures", table(workspace.read_captures))
    patch.setattr(workspace, "combine", flow)

    def anew() -> None:
        for kept in (gauges, tables, sums):
            kept.results.clear()

    return anew


class _Same:
    """A key that is equal for one and the same object only."""

    def __init__(self, thing: object) -> None:
        self.thing = thing

    def __hash__(self) -> int:
        return id(self.thing)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Same) and other.thing is self.thing
