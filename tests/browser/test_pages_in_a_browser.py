"""The dashboard in a real browser: no errors, nothing from outside, nothing moves sideways, addresses work."""

from __future__ import annotations

import csv
import io
import os
import re
import statistics
import time
from functools import partial
from pathlib import Path
from urllib.parse import parse_qs, urlparse

import pytest

from dashboard.app import PAGES
from dashboard.wording.cautions import IN_FULL, SHORT_TRIP
from tests.browser.conftest import serious, settle, sidebar

pytestmark = pytest.mark.browser

#: A picture of the drawing library, or one that a page shows as plain SVG.
DRAWN = (
    '[data-testid="stPlotlyChart"] .main-svg, [data-testid="stMarkdown"] svg[role="img"], '
    '.pointed-picture svg[role="img"]'
)
PICTURES = {
    "": 1,
    "dry": 1,
    "level": 1,
    "warn": 1,
    "ahead": 3,
    "alerts": 0,
    "returns": 3,
    "counts": 4,
    "drop": 2,
    "individuals": 2,
    "plan": 1,
    "write": 0,
    "report": 0,
    "data": 0,
    "start": 0,
}
HEIGHTS = {
    "": 1500, "dry": 2700, "level": 1900, "warn": 2600, "ahead": 2900, "alerts": 1300, "returns": 4300, "counts": 4200,
    "drop": 2500, "individuals": 5200, "plan": 2000, "write": 2000, "report": 2000, "data": 3400, "start": 1300,
}  # fmt: skip
#: A picture of twenty years may cost so many times what a change of one small table costs.
MOST_TIMES = 5.0


@pytest.mark.parametrize(("screen", "scheme", "other"), [("desktop", "light", "dark"), ("phone", "dark", "light")])
def test_every_page_opens_without_an_error_or_a_request_to_elsewhere(tab, screen, scheme, other):
    """On a desktop every address is typed anew: a new session of the dashboard each time. On a phone one session goes
    from page to page. Those who cannot see it are thought of.

    Then the scheme changes under the open page, which has to be as good in the other one.
    """
    from playwright.sync_api import expect

    t = tab(screen, scheme)
    for page in PAGES:
        t.page.emulate_media(color_scheme=scheme)
        t.received = 0
        if screen == "desktop" or page is PAGES[0]:
            t.open(f"/{page.address}")
        else:
            t.follow(page.title)
        assert page.title in t.page.title()
        assert 1_000 < t.received < 1_000_000
        for now in (scheme, other):
            if now == other:
                t.dress(other)
            which = f"/{page.address} {screen} {now}"
            expect(t.page.get_by_role("heading", name=page.title, level=1)).to_be_visible()
            assert t.page.get_by_test_id("stException").count() == 0, which
            assert t.page.locator(DRAWN).count() >= PICTURES[page.address], which
            assert t.sideways() == 0, which
            if page.address == "dry" and screen == "desktop":
                spells = t.page.locator(".plain-table").first
                assert spells.evaluate("e => e.scrollWidth - e.clientWidth") == 0, "the table of spells is cut off"
            if now == scheme or os.environ.get("ALL_PICTURES"):
                tall = HEIGHTS[page.address] * (1.6 if screen == "phone" else 1)
                t.picture(f"{page.address or 'status'}-{screen}-{now}", int(tall))
            assert t.wrong == [], which
            if screen == "desktop":
                assert serious(t.page) == [], which


@pytest.fixture(scope="module")
def dry(desk, dashboard_address):
    """One open page “When was it dry?” for the tests that leave it as it is."""
    t = desk.take("desktop", "light", dashboard_address)
    t.open("/dry")
    yield t
    desk.give_back(t)


def test_the_shared_controls_are_there_after_a_cold_address(tab):
    """With a folder named pages beside the entry, a cold address ran the page without them."""
    t = tab()
    t.open("/dry?outlet=trough&unit=l/s&period=3y")
    text = t.page.get_by_test_id("stMain").inner_text()
    assert "Stone trough was dry" in text
    assert "L/s" in text
    assert "touch the period 20 Oct 2022 to 19 Oct 2025" in text
    assert t.wrong == []


def test_a_choice_replaces_what_the_address_asked_for(tab):
    t = tab()
    t.open("/dry?outlet=trough&unit=l/s&period=3y")
    t.act(t.page.get_by_role("radio", name="10 years", exact=True).click)
    t.act(lambda: choose(t, "Outlet", "Ledge outlet"))
    t.act(lambda: choose(t, "Unit", "m³/s"))
    text = t.page.get_by_test_id("stMain").inner_text()
    assert "Ledge outlet was dry" in text
    assert "m³/s" in text
    assert "touch the period 20 Oct 2015 to 19 Oct 2025" in text
    assert parse_qs(urlparse(t.page.url).query) == {"unit": ["m³/s"], "period": ["10 years"]}
    assert t.wrong == []


def test_an_outlet_that_the_address_makes_up_is_said(tab):
    t = tab()
    t.open("/dry?outlet=nowhere")
    assert "There is no outlet “nowhere”" in t.page.get_by_test_id("stMain").inner_text()
    assert t.wrong == []


def test_a_choice_is_in_the_address_and_kept_from_page_to_page(tab):
    from playwright.sync_api import expect

    t = tab()
    t.open("/dry")
    t.act(lambda: choose(t, "Outlet", "Stone trough"))
    assert parse_qs(urlparse(t.page.url).query) == {"outlet": ["Stone trough"]}
    for name in ("When do they come back?", "What does this rest on?", "Do counts follow flow?"):
        link = t.page.get_by_test_id("stSidebarNav").get_by_role("link", name=name, exact=True)
        t.act(link.click)
        expect(t.page.get_by_role("heading", name=name, level=1)).to_be_visible()
        settle(t.page)
    expect(t.page.get_by_role("combobox").first).to_have_value("Stone trough")
    # A reload of the address alone gives the same page again.
    t.reload()
    expect(t.page.get_by_role("combobox").first).to_have_value("Stone trough")
    assert t.wrong == []


def choose(t, label: str, option: str) -> None:
    t.page.get_by_role("combobox", name=re.compile(label)).click()
    t.page.get_by_role("option", name=option, exact=True).click()


def test_links_inside_a_page_lead_on_where_the_side_bar_is_closed(tab):
    """On a phone the side bar covers the page and does not close by itself after a choice."""
    from playwright.sync_api import expect

    t = tab("phone")
    t.open("/")
    assert t.page.get_by_test_id("stSidebar").count() == 0 or sidebar(t.page) == "closed"
    link = t.page.get_by_test_id("stMain").get_by_role("link", name="→ Do counts follow flow?")
    t.act(link.click)
    expect(t.page.get_by_role("heading", name="Do counts follow flow?", level=1)).to_be_visible()
    assert t.wrong == []


def test_a_phone_shows_every_outlet_in_words_without_opening_anything(tab):
    t = tab("phone")
    t.open("/")
    for title in ("Ledge outlet", "Stone trough", "Grotto", "Head pool"):
        row = t.page.get_by_text(re.compile(rf"^{title}: (running|dry|unknown)$"))
        assert row.is_visible()
        size = float(row.evaluate("e => parseFloat(getComputedStyle(e).fontSize)"))
        assert size >= 18
    # The rows are on the first two screens of a phone held upright.
    assert row.bounding_box()["y"] < 2 * 844
    assert t.wrong == []


def test_a_trip_is_checked_on_a_phone(tab):
    """The day goes into the address, every row says what is known about it, and the address alone gives it again."""
    t = tab("phone")
    t.open("/")
    for part, typed in zip(("year", "month", "day"), ("2025", "11", "01"), strict=True):
        t.page.get_by_role("spinbutton", name=f"{part}, Trip on").focus()
        t.page.keyboard.type(typed)
    t.act(t.page.get_by_role("heading", level=1).click)
    rows = t.page.get_by_text(re.compile(r"on Sat 1 November 2025: (\d+ in 100 that it runs|counts as running)"))
    assert rows.count() == 4
    assert parse_qs(urlparse(t.page.url).query) == {"trip": ["2025-11-01"]}
    note = t.page.get_by_role("note")
    assert SHORT_TRIP in note.inner_text() and "Before wading" not in note.inner_text()
    note.get_by_text(IN_FULL).click()
    assert "not an official warning" in note.inner_text() and "Before wading" in note.inner_text()
    note.get_by_text(IN_FULL).click()
    said = t.page.get_by_test_id("stMain").inner_text()
    assert t.sideways() == 0
    t.picture("trip-phone-light", 3000)
    t.reload()
    assert t.page.get_by_test_id("stMain").inner_text() == said
    assert t.wrong == []


def test_what_can_be_touched_is_large_enough_on_a_phone(tab):
    """44 px is the target size of WCAG 2.1 success criterion 2.5.5 (level AAA), 24 px that of WCAG 2.2 2.5.8 (AA)."""
    t = tab("phone")
    t.open("/counts")
    for role in ("combobox", "radio"):
        for thing in t.page.get_by_test_id("stMain").get_by_role(role).all():
            box = thing.bounding_box()
            assert box is None or box["height"] >= 24


def test_a_table_can_be_saved_and_read_back_in_full(dry):
    t = dry
    t.act(lambda: t.page.get_by_text("Take it with you: tables and pictures").click())
    button = t.page.get_by_test_id("stDownloadButton").first
    with t.page.expect_download() as waiting:
        button.get_by_role("button").click()
    saved = waiting.value
    assert saved.suggested_filename == "dry-spells-ledge.csv"
    rows = list(csv.DictReader(io.StringIO(Path(saved.path()).read_text(encoding="utf-8"), newline="")))
    assert re.fullmatch(r"\d{4}-\d\d-\d\d", rows[0]["first"])
    assert any(len(r["minimum_m3s"].split(".")[-1]) > 6 for r in rows)
    assert t.wrong == []


def test_a_picture_can_be_saved_on_white_paper(tab):
    from dashboard.views.take_away import can_draw

    if not can_draw():
        reason = "no browser is found to draw with"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    t = tab(scheme="dark")
    t.open("/returns")
    t.act(lambda: t.page.get_by_text("Take it with you: tables and pictures").click())
    with t.page.expect_download() as waiting:
        t.page.get_by_role("button", name="PNG").first.click()
    assert Path(waiting.value.path()).read_bytes().startswith(b"\x89PNG")
    assert t.wrong == []


def test_the_grid_offers_no_export_of_its_own(dry):
    """It would write cells that a spreadsheet runs as formulas."""
    t = dry
    rows = t.page.get_by_test_id("stMain").get_by_text("The rows behind", exact=True)
    t.act(rows.click)
    t.page.get_by_test_id("stDataFrame").first.hover()
    assert t.page.get_by_role("button", name=re.compile("download", re.I)).count() == 0
    t.act(rows.click)


def test_a_changed_period_costs_little_more_than_a_change_that_draws_nothing(dry):
    """Twenty years of daily values against another listing of the same spells: a ratio, for busy machines too."""
    t = dry

    def median(*names: str) -> float:
        taken = []
        for name in names * 3:
            button = t.page.get_by_role("radio", name=name, exact=True)
            start = time.monotonic()
            t.act(partial(button.dispatch_event, "click"))
            taken.append(time.monotonic() - start)
        return statistics.median(taken)

    listing = median("Short interruptions joined", "Each spell by itself")
    period = median("10 years", "All")
    print(f"changed choice to settled page: period {period:.3f} s, listing {listing:.3f} s")
    assert period < MOST_TIMES * listing
    assert t.wrong == []


def test_a_broken_file_is_explained_and_a_mended_one_shown(tab, lent):
    folder, address = lent
    visits = folder / "visits.csv"
    right = visits.read_text(encoding="utf-8")
    visits.write_text(right.replace(",ledge,", ",lege,", 1), encoding="utf-8")
    t = tab("phone", address=address)
    t.open("/dry")
    text = t.page.get_by_test_id("stMain").inner_text()
    assert "lege" in text
    assert "visits.csv" in text
    assert "Traceback" not in text
    assert t.sideways() == 0
    t.picture("broken-phone-light", 1200)
    visits.write_text(right, encoding="utf-8")
    t.reload()
    assert "was dry in" in t.page.get_by_test_id("stMain").inner_text()
    assert t.wrong == []
