"""The page “Is this drop more than expected?” with a mouse and with a finger."""

from __future__ import annotations

import re
from urllib.parse import parse_qs, urlparse

import pytest

pytestmark = pytest.mark.browser

ADDRESS = "/drop?judged-from=2022-05-01&judged-to=2022-12-19&baseline-from=2021-05-01&baseline-to=2021-12-19"


def large_sentence(t) -> str:
    return t.page.get_by_test_id("stMain").locator("p", has_text="Ledge outlet, ").first.inner_text()


def plot(t):
    return t.page.locator('[data-testid="stPlotlyChart"]').last


def drag(t, first: float, last: float) -> None:
    """The mouse across the picture, from one share of its width to another, with the button held."""
    area = plot(t).locator(".nsewdrag").first
    area.scroll_into_view_if_needed()
    box = area.bounding_box()
    y = box["y"] + 0.5 * box["height"]
    t.page.mouse.move(box["x"] + first * box["width"], y)
    t.page.mouse.down()
    t.page.mouse.move(box["x"] + 0.5 * (first + last) * box["width"], y, steps=4)
    t.page.mouse.move(box["x"] + last * box["width"], y, steps=4)
    t.page.mouse.up()


def test_a_drag_over_the_counts_chooses_the_days_of_either_period_and_puts_them_in_the_address(tab):
    t = tab()
    t.open(ADDRESS)
    assert "1 May 2022 to 19 Dec 2022" in large_sentence(t)
    t.act(lambda: t.page.get_by_test_id("stButtonGroup").get_by_text("baseline", exact=True).click())
    t.act(lambda: drag(t, 0.70, 0.75))
    chosen = parse_qs(urlparse(t.page.url).query)
    assert (chosen["judged-from"], chosen["judged-to"]) == (["2022-05-01"], ["2022-12-19"])
    assert "2018" < chosen["baseline-from"][0] < chosen["baseline-to"][0] < "2022"
    assert "1 May 2022 to 19 Dec 2022" in large_sentence(t)
    baseline = chosen["baseline-from"]
    t.act(lambda: t.page.get_by_test_id("stButtonGroup").get_by_text("period judged", exact=True).click())
    t.act(lambda: drag(t, 0.50, 0.56))
    chosen = parse_qs(urlparse(t.page.url).query)
    first, last = chosen["judged-from"][0], chosen["judged-to"][0]
    # The picture shows 20 years; its middle is in 2015.
    assert first < last < "2018" and first > "2013"
    assert chosen["baseline-from"] == baseline
    assert "1 May 2022" not in large_sentence(t)
    # The address alone gives the same page again.
    said = large_sentence(t)
    t.reload()
    assert large_sentence(t) == said
    assert t.wrong == []


def test_an_influential_visit_that_is_clicked_is_shown_as_it_stands_in_the_file(tab):
    t = tab()
    t.open("/counts")
    main = t.page.get_by_test_id("stMain")
    t.act(lambda: main.get_by_text("Visits that move the effect of flow most", exact=True).click())
    grid = main.get_by_test_id("stDataFrame").first
    grid.scroll_into_view_if_needed()
    assert main.get_by_text(re.compile("^Row [0-9]+ of the visits")).count() == 0
    # The box in front of the first row, below the heading.
    t.act(lambda: grid.click(position={"x": 16, "y": 52}))
    assert main.get_by_text(re.compile("^Row [0-9]+ of the visits")).count() == 1
    assert t.wrong == []


def test_a_finger_on_the_picture_moves_the_page(tab):
    t = tab("phone")
    t.open(ADDRESS)
    taken = plot(t).locator(".nsewdrag").first.evaluate("e => getComputedStyle(e).pointerEvents")
    assert taken == "none"
    assert t.sideways() == 0
    assert t.wrong == []
