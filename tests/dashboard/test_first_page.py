"""The first page kept by an earlier run: the same page, without reading anything, and never an old one."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from dashboard import cache, cache_first_page, first_page, loaded
from dashboard.answers.status import status
from dashboard.first_page import KEPT_AT, keep_first_page, kept_first_page
from dashboard.first_page_apart import Apart
from dashboard.serving import APP, WORKSPACE_VARIABLE, make_demo
from dashboard.trip_check import TripCheck


@pytest.fixture
def settled(folder: Path) -> Path:
    """A workspace whose files were written an hour ago."""
    for path in folder.iterdir():
        os.utime(path, (time.time() - 3600,) * 2)
    return folder


@pytest.fixture(autouse=True)
def nothing_in_memory():
    st.cache_resource.clear()
    yield
    st.cache_resource.clear()


def worked_out(folder: Path) -> TripCheck:
    """The page as the dashboard works it out, which also keeps it."""
    found = cache.load(folder)
    assert found.workspace is not None
    return cache_first_page.trip_check_of(found, found.workspace.unit, None)


def shown_page(folder: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[list[str], list[str], list[str]]:
    """Texts, pictures and labels of the page in a new session."""
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(folder))
    at = AppTest.from_file(str(APP), default_timeout=60).run()
    assert not at.exception, at.exception
    assert not at.get("plotly_chart"), "the first page would wait for the drawing library"
    texts = [m.value for m in at.markdown] + [h.proto.body for h in at.get("html")]
    pictures = [text for text in texts if "<svg" in text]
    return texts, pictures, [e.label for e in at.expander]


def test_the_page_as_kept_is_the_page_as_worked_out_and_reads_no_file_of_the_workspace(settled, monkeypatch):
    before = shown_page(settled, monkeypatch)
    assert before[1]
    st.cache_resource.clear()
    monkeypatch.setattr("dashboard.workspace.load_workspace", lambda *a, **k: pytest.fail("the workspace was read"))
    assert kept_first_page(settled) is not None
    assert shown_page(settled, monkeypatch) == before


def test_what_is_kept_comes_back_whole(settled):
    page = worked_out(settled)
    assert kept_first_page(settled) == page
    assert TripCheck.from_text(page.as_text()) == page


def test_what_stands_closed_is_drawn_later_and_the_same(settled, monkeypatch):
    found = cache.load(settled)
    assert found.workspace is not None
    at_once = cache_first_page.trip_check_at_once(found.workspace, found.revision, found.workspace.unit, None)
    whole = worked_out(settled)
    drawn = {o.outlet: o.picture for o in whole.outlets}
    assert {o.outlet: o.picture for o in at_once.outlets} == {"ledge": drawn["ledge"], "pool": None}
    assert all(o.has_picture for o in at_once.outlets) and drawn["pool"]
    (settled / KEPT_AT).unlink()
    st.cache_resource.clear()
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(settled))
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.session_state["outlet-pool"] = True
    at.run()
    assert drawn["pool"] in [m.value for m in at.markdown]
    assert kept_first_page(settled) == whole  # kept when the page had been sent


def test_another_process_works_out_the_same_page_and_keeps_it_when_told_to_go_on(settled, monkeypatch):
    apart = Apart(settled)
    found = cache.load(settled)
    assert found.workspace is not None
    at_once = cache_first_page.trip_check_at_once(found.workspace, found.revision, found.workspace.unit, None)
    assert apart.page_of(settled, found.revision) == at_once
    assert apart.page_of(settled, "another state of the files") is None
    assert not (settled / KEPT_AT).exists()
    # A page that waits for it shows it without reading anything.
    st.cache_resource.clear()
    monkeypatch.setattr("dashboard.cache_first_page._apart", apart)
    with monkeypatch.context() as m:
        m.setattr("dashboard.workspace.load_workspace", lambda *a, **k: pytest.fail("the workspace was read"))
        assert any("<svg" in text for text in shown_page(settled, monkeypatch)[0])
    apart.go_on()
    assert kept_first_page(settled) == worked_out(settled)


def test_where_another_process_finds_a_problem_the_page_says_it(settled, monkeypatch):
    with (settled / "visits.csv").open("a") as file:
        file.write("2020-13-45,ledge,running,yes,1,30\n")
    monkeypatch.setattr("dashboard.cache_first_page._apart", Apart(settled))
    assert "2020-13-45" in "".join(shown_page(settled, monkeypatch)[0])


def test_another_unit_or_a_trip_is_worked_out(settled, monkeypatch):
    usual = worked_out(settled)
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(settled))
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.query_params["unit"] = "l/s"
    at.run()
    assert not at.exception
    pictures = [m.value for m in at.markdown if "<svg" in m.value]
    assert pictures
    assert all("L/s" in p and "ft³/s" not in p for p in pictures)
    assert kept_first_page(settled) == usual


@pytest.mark.parametrize("name", ["workspace.toml", "north.csv", "visits.csv"])
def test_other_contents_are_noticed_even_with_the_same_size_and_time(settled, name):
    worked_out(settled)
    path = settled / name
    before, old = path.stat(), path.read_bytes()
    digit = next(i for i in range(len(old) - 1, 0, -1) if old[i : i + 1].isdigit() and old[i : i + 1] != b"7")
    path.write_bytes(old[:digit] + b"7" + old[digit + 1 :])
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert path.stat().st_size == before.st_size
    assert kept_first_page(settled) is None
    path.write_bytes(old)
    assert kept_first_page(settled) is not None


@pytest.mark.parametrize("part", ["_program", "_content"])
def test_another_program_or_other_files_are_noticed(settled, monkeypatch, part):
    worked_out(settled)
    monkeypatch.setattr(first_page, part, lambda *a: "another")
    assert kept_first_page(settled) is None


def test_another_day_is_noticed(settled, monkeypatch):
    worked_out(settled)

    class Tomorrow(first_page.datetime.datetime):
        @classmethod
        def now(cls, tz=None):
            return super().now(tz) + first_page.datetime.timedelta(days=1)

    monkeypatch.setattr(first_page.datetime, "datetime", Tomorrow)
    assert kept_first_page(settled) is None


def test_files_that_may_change_again_without_a_trace_are_not_kept(settled):
    (settled / "visits.csv").touch()
    worked_out(settled)
    assert not (settled / KEPT_AT).exists()


def test_files_that_changed_since_they_were_read_are_not_kept(settled):
    page = worked_out(settled)
    found = cache.load(settled)
    (settled / KEPT_AT).unlink()
    os.utime(settled / "visits.csv", (time.time() - 1800,) * 2)
    assert loaded.revision(settled) != found.revision
    assert not keep_first_page(settled, found, page)
    assert not (settled / KEPT_AT).exists()


@pytest.mark.parametrize("text", ["", "{", "[]", '{"rests_on": 1}'])
def test_a_broken_kept_page_is_as_none(settled, text):
    worked_out(settled)
    (settled / KEPT_AT).write_text(text)
    assert kept_first_page(settled) is None


def test_a_kept_page_of_another_shape_is_as_none(settled):
    worked_out(settled)
    data = json.loads((settled / KEPT_AT).read_text())
    (settled / KEPT_AT).write_text(json.dumps({**data, "page": '{"unit": "cfs", "outlets": [{}]}'}))
    assert kept_first_page(settled) is None


def test_where_nothing_can_be_written_nothing_is_kept_and_the_page_is_there(settled, monkeypatch):
    (settled / ".resurgence").write_text("in the way")
    assert shown_page(settled, monkeypatch)[1]
    assert kept_first_page(settled) is None


def test_what_the_tool_keeps_beside_the_demo_does_not_go_into_a_new_one(tmp_path):
    assert make_demo(tmp_path / "springs")
    assert not (tmp_path / "springs" / ".resurgence").exists()


def test_a_kept_page_needs_no_library_for_tables(settled):
    worked_out(settled)
    code = (
        "import sys; from pathlib import Path; import dashboard.cli, dashboard.app\n"
        "from dashboard.first_page import kept_first_page\n"
        "assert kept_first_page(Path(sys.argv[1])).outlets[0].picture\n"
        "print([m for m in ('pandas', 'numpy', 'scipy', 'pyarrow') if m in sys.modules])"
    )
    found = subprocess.run([sys.executable, "-c", code, str(settled)], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "[]", found.stdout + found.stderr


def test_a_status_worked_out_for_the_command_line_keeps_the_same_page(settled):
    page = worked_out(settled)
    (settled / KEPT_AT).unlink()
    found = cache.load(settled)
    assert found.workspace is not None
    assert first_page.keep_status(found, status(found.workspace))
    assert kept_first_page(settled) == page
