"""A visit written down at the spring: on a phone, undone again, with the connection cut, and by two people at once."""

from __future__ import annotations

import csv
import os
import shutil
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from tests.browser.conftest import DEMO, ROOT, Tab, free_port

pytestmark = pytest.mark.browser


@pytest.fixture
def springs(tmp_path: Path) -> Path:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    return folder


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "visits.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def count(t: Tab, animals: str, note: str) -> None:
    """Fill in a counted visit without sending it."""
    t.act(lambda: t.page.get_by_role("radio", name="Running", exact=True).click())
    box = t.page.get_by_label("Animals counted")
    box.fill(animals)
    t.act(lambda: box.press("Tab"))
    box = t.page.get_by_label("Note")
    box.fill(note)
    t.act(lambda: box.press("Tab"))


def test_a_visit_is_written_down_on_a_phone_and_taken_out_again(tab, lent):
    from playwright.sync_api import expect

    springs, address = lent
    before = (springs / "visits.csv").read_bytes()
    t = tab("phone", address=address)
    t.open("/write")
    assert t.sideways() == 0
    small = t.page.evaluate(
        """() => [...document.querySelectorAll('[data-testid="stMain"] [data-testid="stButtonGroup"] button')]
        .filter(b => b.getBoundingClientRect().height < 44).length"""
    )
    assert small == 0
    count(t, "4", "under the ledge, shaded")
    # Typed and not sent: another page and back keeps it.
    t.act(lambda: t.page.get_by_test_id("stMain").get_by_role("link", name="Is it running?").click())
    t.act(lambda: t.page.get_by_test_id("stMain").get_by_role("link", name="Write down a visit").click())
    assert t.page.get_by_label("Animals counted").input_value() == "4"
    t.act(lambda: t.page.get_by_role("button", name="Write it down").click())
    t.page.get_by_text("In visits.csv: ").first.wait_for()
    # Seen without scrolling where the finger was, and read out to those who do not see it.
    said = t.page.get_by_test_id("stMain").get_by_role("status").filter(has_text="Saved. In visits.csv: ")
    expect(said).to_contain_text("4 animals")
    expect(said).to_be_in_viewport(ratio=1)
    expect(t.page.get_by_test_id("stToast")).to_contain_text("Saved. In visits.csv: ")
    assert (rows(springs)[-1]["count"], rows(springs)[-1]["note"]) == ("4", "under the ledge, shaded")
    assert t.page.get_by_label("Animals counted").input_value() == ""
    t.picture("write-phone-light", 2600)
    t.act(lambda: t.page.get_by_role("button", name="Take it out again").first.click())
    assert (springs / "visits.csv").read_bytes() == before
    assert t.wrong == []


def at_once(people: Sequence[Tab], springs: Path, each: int) -> None:
    """People in browsers of their own send `each` visits at the same moments: every one is in the table, once."""
    for t in people:
        t.open("/write")
    for i in range(each):
        for who, t in enumerate(people):
            count(t, f"{i}", f"person {who}, visit {i}")
        before = [t.runs for t in people]
        for t in people:
            t.page.get_by_role("button", name="Write it down").dispatch_event("click")
        for t, ran in zip(people, before, strict=True):
            t.until(ran, timeout=120)
            assert t.page.get_by_label("Note").input_value() == ""
    written = sorted((r["note"], r["count"]) for r in rows(springs) if r["note"].startswith("person "))
    assert written == sorted((f"person {who}, visit {i}", f"{i}") for who in range(2) for i in range(each))
    assert [t.wrong for t in people] == [[], []]


def test_two_people_write_at_once_and_lose_and_double_nothing(tab, lent):
    """Fifty each are tests/benchmarks/bench_two_people.py; writers without a browser are in tests/dashboard."""
    springs, address = lent
    at_once([tab("desktop", address=address), tab("phone", address=address)], springs, each=2)


def test_an_entry_made_while_the_file_changes_underneath_keeps_both(tab, lent):
    springs, address = lent
    t = tab(address=address)
    t.open("/write")
    count(t, "2", "mine")
    text = (springs / "visits.csv").read_text(encoding="utf-8")
    line = "2025-10-18,09:00,grotto,running,yes,7,30,7,0,0,18.1,Ivo Oakhollow,1,theirs\n"
    (springs / "visits.csv").write_text(text + line, encoding="utf-8")
    t.act(lambda: t.page.get_by_role("button", name="Write it down").click())
    t.page.get_by_text("In visits.csv: ").first.wait_for()
    assert [r["note"] for r in rows(springs)[-2:]] == ["theirs", "mine"]


def test_what_is_wrong_is_said_by_field_and_nothing_is_written(tab, lent):
    springs, address = lent
    before = (springs / "visits.csv").read_bytes()
    t = tab(address=address)
    t.open("/write")
    count(t, "2", "=SUM(A1)")
    assert "Note “=SUM(A1)”: expected text that begins" in t.page.get_by_test_id("stMain").inner_text()
    t.act(lambda: t.page.get_by_role("button", name="Write it down").click())
    assert (springs / "visits.csv").read_bytes() == before
    assert t.page.get_by_label("Animals counted").input_value() == "2"


@pytest.fixture
def restarted(springs: Path) -> Iterator[tuple[str, object]]:
    """A dashboard that can be killed and started again at the same address."""
    port = free_port()
    address = f"http://127.0.0.1:{port}"
    running: list[subprocess.Popen[bytes]] = []

    def start() -> None:
        command = [sys.executable, "-m", "dashboard.cli", "serve", str(springs), "--port", str(port)]
        running.append(subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT,
                                        start_new_session=True))  # fmt: skip
        until = time.monotonic() + 60
        while time.monotonic() < until:
            try:
                with urllib.request.urlopen(f"{address}/_stcore/health") as answer:
                    if answer.read() == b"ok":
                        return
            except (urllib.error.URLError, ConnectionError):
                time.sleep(0.1)
        pytest.fail("the dashboard did not start again")

    def cut() -> None:
        os.killpg(running[-1].pid, signal.SIGKILL)
        running[-1].wait()

    start()
    yield address, (cut, start)
    cut()


def test_what_was_typed_outlives_a_connection_that_drops_and_comes_back(tab, springs, restarted):
    address, (cut, start) = restarted
    t = tab(address=address)
    t.open("/write")
    count(t, "6", "typed before the connection went")
    cut()
    t.page.wait_for_timeout(1500)
    assert len(rows(springs)) == len(rows(DEMO))
    start()
    t.page.wait_for_selector('[data-testid="stApp"][data-test-connection-state="CONNECTED"]', timeout=60_000)
    t.page.get_by_role("button", name="Write it down").wait_for(timeout=60_000)
    t.page.wait_for_timeout(1500)
    assert t.page.get_by_label("Animals counted").input_value() == "6"
    t.act(lambda: t.page.get_by_role("button", name="Write it down").click())
    t.page.get_by_text("In visits.csv: ").first.wait_for()
    assert [r["note"] for r in rows(springs)].count("typed before the connection went") == 1
