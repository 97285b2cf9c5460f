"""Choosing a mark, taking a level over and asking about a trip, as a person does it."""

from __future__ import annotations

import re
from urllib.parse import parse_qs, urlparse

import pytest

from tests.dashboard.conftest import without_rules

pytestmark = pytest.mark.browser


LONELIEST = """() => { const plot = document.querySelector('[data-testid="stPlotlyChart"] .js-plotly-plot');
  const i = plot.data.findIndex(d => d.name === 'seen dry');
  const all = [...plot.querySelectorAll('.scatterlayer .trace.scatter')];
  const trace = all.find(x => x.__data__?.[0]?.trace?.index === i);
  const at = [...trace.querySelectorAll('.points path')].map(p => { const r = p.getBoundingClientRect();
    return [r.x + r.width / 2, r.y + r.height / 2]; });
  const alone = at.map((p, k) => Math.min(...at.map((q, m) => m === k ? Infinity : Math.hypot(p[0]-q[0], p[1]-q[1]))));
  const n = alone.indexOf(Math.max(...alone));
  return [...at[n], plot.data[i].customdata[n]]; }"""


def test_a_mark_in_the_picture_shows_its_row_of_the_file(tab):
    t = tab()
    t.open("/level?range=near")
    t.page.get_by_test_id("stPlotlyChart").scroll_into_view_if_needed()
    x, y, row = t.page.evaluate(LONELIEST)
    t.act(lambda: t.page.mouse.click(x, y))
    assert f"Row {row} of the visits file, as read" in t.page.get_by_test_id("stMain").inner_text()
    assert t.wrong == []


@pytest.mark.parametrize("address", ["/level", "/ahead"])
def test_a_finger_that_lands_on_a_picture_still_moves_the_page(tab, address):
    """A picture whose marks can be chosen takes touches for itself unless that is prevented."""
    t = tab("phone")
    t.open(address)
    box = t.page.get_by_test_id("stPlotlyChart").first.bounding_box()
    x, y = box["x"] + 150, min(box["y"] + 200, 800)
    moved = "document.querySelector('[data-testid=\"stMain\"]').scrollTop"
    assert t.page.evaluate(moved) == 0
    touch = t.page.context.new_cdp_session(t.page)
    touch.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    for step in range(1, 16):
        touch.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y - 15 * step}]})
        t.page.wait_for_timeout(16)
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    t.page.wait_for_timeout(300)
    assert t.page.evaluate(moved) > 100


def test_a_level_is_taken_over_in_two_steps_and_the_whole_dashboard_follows(tab, lent):
    folder, address = lent
    settings = folder / "workspace.toml"
    before = settings.read_text(encoding="utf-8")
    t = tab("phone", "dark", address=address)
    t.open("/level")
    t.act(t.page.get_by_role("button", name="Use this level …").click)
    assert settings.read_text(encoding="utf-8") == before
    assert "The line now" in t.page.get_by_test_id("stMain").inner_text()
    assert t.sideways() == 0
    t.picture("level-asked-phone-dark", 2600)
    t.act(t.page.get_by_role("button", name="Write it into workspace.toml").click)
    assert "Written to workspace.toml" in t.page.get_by_test_id("stMain").inner_text()
    after = settings.read_text(encoding="utf-8")
    assert re.search(r'stops_below = "37\.3 cfs"  # was "38 cfs" until', after)
    t.open("/dry")
    assert "37.3" in t.page.get_by_test_id("stMain").inner_text()
    assert t.wrong == []


def test_a_trip_is_in_the_address_and_in_every_row_and_kept_on_the_next_page(tab):
    from playwright.sync_api import expect

    t = tab()
    t.open("/?trip=2025-11-10")
    text = t.page.get_by_test_id("stMain").inner_text()
    assert text.count("on Mon 10 November 2025: ") >= 4
    t.picture("trip-desktop-light", 1500)
    link = t.page.get_by_test_id("stSidebarNav").get_by_role("link", name="What is ahead?", exact=True)
    t.act(link.click)
    expect(t.page.get_by_role("heading", name="What is ahead?", level=1)).to_be_visible()
    assert re.search(r"On Mon 10 November 2025: \d+ in 100 that it runs", t.page.get_by_test_id("stMain").inner_text())
    assert parse_qs(urlparse(t.page.url).query)["trip"] == ["2025-11-10"]
    t.picture("ahead-trip-desktop-light", 2900)
    assert t.wrong == []


def test_an_alert_level_is_taken_over_in_two_steps(tab, lent):
    folder, address = lent
    without_rules(folder)
    settings = folder / "workspace.toml"
    before = settings.read_text(encoding="utf-8")
    t = tab("phone", address=address)
    t.open("/warn?lead=14&share=90")
    t.act(t.page.get_by_role("button", name="Use this alert level …").click)
    assert settings.read_text(encoding="utf-8") == before
    assert "The line that is added" in t.page.get_by_test_id("stMain").inner_text()
    assert t.sideways() == 0
    t.picture("warn-asked-phone-light", 3600)
    t.act(t.page.get_by_role("button", name="Write it into workspace.toml").click)
    text = t.page.get_by_test_id("stMain").inner_text()
    assert "Written to workspace.toml: alert at 42 cfs or below" in text
    assert "The alert level set in the workspace is the one recommended." in text
    assert re.search(r'\[outlets\.ledge\.alerts\]\nlevel = "42 cfs"', settings.read_text(encoding="utf-8"))
    assert t.wrong == []
