"""The calendar: visits that the plan asks for, visits that are due, days on which an outlet may stop or run again."""

from __future__ import annotations

import functools
import itertools
import re
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from dashboard.answers.plan import plan
from dashboard.answers.plan_request import plan_request
from dashboard.export.calendar_file import DayEvent, calendar_file
from dashboard.export.planned_days import MOST_VISITS, PlannedDays, planned_days
from dashboard.wording import cautions
from dashboard.workspace import Workspace, load_workspace
from ecology.return_watch import WatchPlan
from tests.dashboard.conftest import DEMO

DAY = pd.Timestamp("2025-11-03")


@functools.cache
def demo_at(day: str) -> Workspace:
    return load_workspace(DEMO, as_of=pd.Timestamp(day))


@functools.cache
def without_finds(w: Workspace, since: str) -> Workspace:
    """The workspace as if nothing had been found at the ledge since a day."""
    assert w.visits is not None
    frame = w.visits.frame.copy()
    late = (frame["outlet"] == "ledge") & (frame["date"] >= since) & (frame["kind"] == "counted")
    frame.loc[late, "count"] = 0.0
    return replace(w, visits=replace(w.visits, frame=frame))


@functools.cache
def planned(w: Workspace) -> PlannedDays:
    return planned_days(w, [DAY])


def days_of(w: Workspace, start: str) -> list[DayEvent]:
    return [e for e in planned(w).events if e.id.startswith(start)]


def test_visits_after_a_restart_lie_as_far_apart_as_the_plan_says_until_the_watch_is_over() -> None:
    w = without_finds(demo_at("2024-12-20"), "2024-12-07")
    asked = plan(w, plan_request("return"), outlets=["ledge"]).plan
    assert isinstance(asked, WatchPlan) and asked.every_days is not None and w.visits is not None
    found = days_of(w, "watch-ledge")
    at = w.visits.at("ledge")
    searched = at.loc[(at["date"] >= "2024-12-07") & at["kind"].isin(["counted", "searched-uncounted"]), "date"]
    first = pd.Timestamp("2024-12-07") if searched.empty else searched.max() + pd.Timedelta(days=asked.every_days)
    assert found[0].first == max(first, w.as_of)
    assert {(b.first - a.first).days for a, b in itertools.pairwise(found)} == {asked.every_days}
    assert found[-1].first <= pd.Timestamp("2024-12-07") + pd.Timedelta(days=asked.watch_days)
    assert 1 < len(found) <= MOST_VISITS and not any(e.tentative for e in found)
    assert cautions.WADING in found[0].text and f"every {asked.every_days} days" in found[0].text


def test_once_animals_are_found_no_more_visits_of_the_watch_are_planned_and_the_reason_is_given() -> None:
    made = planned(demo_at("2025-10-19"))
    assert not [e for e in made.events if e.id.startswith("watch-ledge")]
    assert any("animals were found there after it ran again" in note for note in made.notes)
    assert any("Stone trough" in note for note in made.notes)


def test_a_dry_outlet_has_the_days_on_which_it_may_run_again_and_visits_that_hang_on_them() -> None:
    w = demo_at("2024-11-30")
    assert [e.id.rsplit("-", 1)[0] for e in planned(w).events if e.id.startswith("stop-ledge")] == []
    (again,) = days_of(w, "restart-ledge")
    assert again.tentative and again.first >= w.as_of and "has run again" in again.text
    visits = days_of(w, "watch-ledge")
    assert visits and all(v.tentative and "Go only once water is back" in v.text for v in visits)
    assert again.first <= visits[0].first <= again.last


def test_a_visit_that_the_rules_ask_for_is_due_until_somebody_has_searched(tmp_path: Path, folder: Path) -> None:
    path = folder / "workspace.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text + "\n[outlets.ledge.alerts]\nvisit_due_days = 7\n", encoding="utf-8")
    due = days_of(load_workspace(folder, as_of=pd.Timestamp("2020-09-16")), "due-ledge")
    assert [e.first for e in due] == [pd.Timestamp("2020-09-22")]
    late = days_of(load_workspace(folder, as_of=pd.Timestamp("2020-09-19")), "due-ledge")
    assert [e.id for e in late] == [e.id for e in due]
    assert days_of(load_workspace(folder, as_of=pd.Timestamp("2020-12-01")), "due-ledge") == []


def test_a_calendar_imported_anew_replaces_what_it_brought_before_and_nothing_of_another_place() -> None:
    """RFC 5545: 3.6.1 (UID and DTSTAMP once each), 3.8.4.7 (UID unique in the world), 3.8.7.4 (SEQUENCE grows)."""
    from icalendar import Calendar

    event = DayEvent(id="stop-ledge-20241207", first=DAY, last=DAY, title="t", text="x", tentative=True)
    made = [calendar_file([event], DAY + pd.Timedelta(days=d), p) for d, p in ((0, "A"), (1, "A"), (0, "B"))]
    first, later, elsewhere = (Calendar.from_ical(m).walk("VEVENT")[0] for m in made)
    assert first["UID"] == later["UID"] != elsewhere["UID"]
    assert later["SEQUENCE"] == first["SEQUENCE"] + 1 and later["DTSTAMP"].dt > first["DTSTAMP"].dt
    assert first["STATUS"] == "TENTATIVE" and first["DTSTAMP"].dt.utcoffset().total_seconds() == 0


@pytest.mark.parametrize("text", ["a\r\nb", "tab\tbell\x07end", "semi;colon, comma\\slash"])
def test_a_text_of_any_signs_makes_one_property_of_allowed_signs(text: str) -> None:
    """RFC 5545, 3.1 (lines end in CRLF, at most 75 octets) and 3.3.11 (no control signs but the tab)."""
    made = calendar_file([DayEvent(id="a", first=DAY, last=DAY, title=text, text=text)], DAY, "P")
    assert made.endswith("\r\n") and all(len(line.encode()) <= 75 for line in made.split("\r\n"))
    assert not re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", made)
    assert all(re.match(r"[A-Z-]+[;:]| ", line) for line in made.split("\r\n") if line)


def test_the_whole_calendar_of_the_demo_is_one_that_another_program_reads_without_a_complaint() -> None:
    """Judge: icalendar. Every event has UID, DTSTAMP and DTSTART once; an end lies after its beginning."""
    from icalendar import Calendar

    w = without_finds(demo_at("2024-12-20"), "2024-12-07")
    text = calendar_file(planned(w).events, w.as_of, w.settings.title)
    calendar = Calendar.from_ical(text)
    assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
    events = calendar.walk("VEVENT")
    assert len({str(e["UID"]) for e in events}) == len(events) > 3 and not any(e.errors for e in events)
    assert all(e["DTEND"].dt > e["DTSTART"].dt for e in events)
    for block in re.findall(r"BEGIN:VEVENT.*?END:VEVENT", text, flags=re.S):
        assert [len(re.findall(rf"^{name}[;:]", block, flags=re.M)) for name in ("UID", "DTSTAMP", "DTSTART")] == [
            1
        ] * 3
