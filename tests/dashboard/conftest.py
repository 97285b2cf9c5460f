"""Small workspaces made on the spot, and the demo."""

from __future__ import annotations

import contextlib
import datetime
import functools
import importlib
import re
import shutil
import tomllib
from collections.abc import Callable, Collection, Iterator
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

DEMO = Path(str(files("demo_data") / "quillmere"))

TOML = """\
title = "Test springs"
time_zone = "CST6CDT"
as_of = "2020-12-31"
display_unit = "cfs"

[gauges.north]
file = "north.csv"

[flows.system]
gauges = ["north"]

[outlets.ledge]
title = "Ledge"
flow = "system"
stops_below = "40 cfs"

[outlets.pool]
flow = "system"

[surveys]
visits = "visits.csv"
"""
VISITS = """\
date,outlet,surface,searched,count,effort
2020-03-01,ledge,running,yes,4,30
2020-03-01,pool,running,yes,2,30
2020-07-15,ledge,dry,,,
2020-09-20,ledge,running,yes,0,30
2020-10-10,ledge,running,yes,3,30
"""


def gauge_text() -> str:
    """A year of daily discharge in ft³/s, below 40 from 1 July to 14 September."""
    days = pd.date_range("2020-01-01", "2020-12-31", freq="D")
    values = np.where((days >= "2020-07-01") & (days < "2020-09-15"), 30.0, 60.0)
    lines = ["date,discharge (cfs)", *(f"{d:%Y-%m-%d},{v}" for d, v in zip(days, values, strict=True))]
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="session", autouse=True)
def what_is_the_same_for_every_page() -> Iterator[None]:
    """Work that AppTest does anew for each page, and a server once: it took half of the time of these tests.

    It reads the metadata of every installed package in search of components, and compiles the scripts of the page.
    Neither changes during a run. It also looks a thousand times a second whether the page is done, for which the page
    has to stop each time. Where another version has other names for these, it only takes longer.
    """
    patch = pytest.MonkeyPatch()
    with contextlib.suppress(ImportError, AttributeError):
        from streamlit.components.v2 import manifest_scanner
        from streamlit.runtime.scriptrunner.script_cache import ScriptCache
        from streamlit.testing.v1 import app_test, local_script_runner

        search = functools.cache(manifest_scanner.scan_component_manifests)
        patch.setattr(manifest_scanner, "scan_component_manifests", search)
        scripts = ScriptCache()
        patch.setattr(local_script_runner, "ScriptCache", lambda: scripts)
        patch.setattr(app_test, "ScriptCache", lambda: scripts)
        looking = local_script_runner.require_widgets_deltas

        def wait(runner: local_script_runner.LocalScriptRunner, timeout: float = 3) -> None:
            thread = runner._script_thread
            if thread is not None:
                thread.join(timeout)
            looking(runner, timeout if runner.script_stopped() else 0)

        patch.setattr(local_script_runner, "require_widgets_deltas", wait)
    yield
    patch.undo()


#: Questions that take longest, each a module of dashboard.answers with a function of its name.
SLOW = ("outlook", "returns", "counts", "threshold", "individuals", "explain", "alert_levels", "plan", "status")


@pytest.fixture(scope="session", autouse=True)
def the_demo_is_read_once() -> Iterator[Callable[[], None]]:
    """Commands that ask the demo itself share one reading of it and its answers, as pages do; gives a function that has
    it read and answered anew.

    Reading was most of the time of the tests of the command line. Of copies that tests may spoil, those files are read
    that differ from any read before.
    """
    from dashboard import workspace
    from tests.dashboard.read_once import read_once

    patch = pytest.MonkeyPatch()
    forget = read_once(patch)
    read, kept = workspace.load_workspace, {}
    answers: dict[tuple[object, ...], object] = {}

    def load(folder: Path, *, as_of: datetime.date | None = None, only: Collection[str] = ()) -> workspace.Workspace:
        if Path(folder) != DEMO:
            return read(folder, as_of=as_of, only=only)
        asked = as_of, tuple(only)
        if asked not in kept:
            kept[asked] = read(DEMO, as_of=as_of, only=only)
        return kept[asked]

    def answered_once(answer: Callable[..., object]) -> Callable[..., object]:
        @functools.wraps(answer)
        def once(ws: workspace.Workspace, *given: object, **named: object) -> object:
            if not any(ws is shared for shared in kept.values()):
                return answer(ws, *given, **named)
            key = (answer, id(ws), given, tuple(sorted(named.items())))
            try:
                known = key in answers
            except TypeError:  # a table among what is asked, say
                return answer(ws, *given, **named)
            if not known:
                answers[key] = answer(ws, *given, **named)
            return answers[key]

        return once

    def anew() -> None:
        kept.clear()
        answers.clear()
        forget()

    patch.setattr(workspace, "load_workspace", load)
    for name in SLOW:
        module = importlib.import_module(f"dashboard.answers.{name}")
        patch.setattr(module, name, answered_once(getattr(module, name)))
    yield anew
    patch.undo()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small workspace that is right in every way."""
    (tmp_path / "workspace.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / "north.csv").write_text(gauge_text(), encoding="utf-8")
    (tmp_path / "visits.csv").write_text(VISITS, encoding="utf-8")
    return tmp_path


@pytest.fixture
def demo(tmp_path: Path) -> Path:
    """A copy of the demo that a test may spoil."""
    shutil.copytree(DEMO, tmp_path / "demo")
    return tmp_path / "demo"


def without_rules(folder: Path) -> Path:
    """Take the rules and channels of the watch out of the demo's settings."""
    text = (folder / "workspace.toml").read_text(encoding="utf-8")
    start = r"(?:#[^\n]*\n)?\[(?:outlets\.\w+\.alerts|watch\.channels\.\w+)\]\n"
    text = re.sub(start + r"(?:[^\n\[#][^\n]*\n)+\n?", "", text)
    assert "alerts" not in tomllib.loads(text)["outlets"]["ledge"] and "watch" not in tomllib.loads(text)
    (folder / "workspace.toml").write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def unwatched_demo(demo: Path) -> Path:
    """A copy of the demo that asks to be told nothing."""
    return without_rules(demo)
