"""The hydrograph under a pointer, a finger, the keys and a narrow window, as people use it."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.browser.conftest import Tab, serious

pytestmark = pytest.mark.browser

FIELD, SAID = ".pointed-field", ".pointed-said"
#: From where to where marks reach [shares of the picture's width].
REACH = """() => { const field = document.querySelector('.pointed-field').getBoundingClientRect();
  const marks = [...document.querySelectorAll('.pointed-picture path[data-at]')].map(p => p.getBoundingClientRect());
  return [Math.min(...marks.map(m => m.left)), Math.max(...marks.map(m => m.right))]
    .map(x => (x - field.left) / field.width); }"""


def read(t: Tab, share: float) -> str:
    """What is said with the pointer at a share of the picture's width."""
    box: Any = t.page.locator(FIELD).bounding_box()
    t.page.mouse.move(box["x"] + share * box["width"], box["y"] + 180)
    return str(t.page.locator(SAID).inner_text())


def test_a_day_is_read_by_pointer_and_keys_and_days_dragged_across_are_shown_alone(tab):
    t = tab()
    t.open("/dry")
    text = read(t, 0.62)
    assert re.match(r"\w{3} \d{1,2} \w+ 201\d\n[\d.]+ ft³/s", text)
    assert t.page.evaluate(REACH) == pytest.approx([0, 1], abs=0.02)
    # The same day by the keys, as a screen reader says it.
    field = t.page.locator(FIELD)
    field.focus()
    t.page.keyboard.press("Home")
    assert field.get_attribute("aria-valuetext").startswith("Sat 1 October 2005, ")
    t.page.keyboard.press("ArrowRight")
    assert field.get_attribute("aria-valuetext").startswith("Sun 2 October 2005, ")
    assert t.page.locator(SAID).is_visible()
    t.page.keyboard.press("Escape")
    assert not t.page.locator(SAID).is_visible()
    # A click alone changes nothing; days dragged across become the period, and the address says so.
    box = field.bounding_box()
    x, y = box["x"], box["y"] + 150
    t.page.mouse.click(x + 100, y)
    before = t.runs
    t.page.mouse.move(x + 0.40 * box["width"], y)
    t.page.mouse.down()
    t.page.mouse.move(x + 0.45 * box["width"], y + 10, steps=3)
    t.page.mouse.move(x + 0.50 * box["width"], y, steps=3)
    assert t.runs == before
    t.act(t.page.mouse.up)
    t.page.wait_for_url("**from=2013-*&to=2015-*")
    first, last = (re.search(rf"{name}=(\d{{4}}-\d\d-\d\d)", t.page.url)[1] for name in ("from", "to"))
    shown = [e.input_value() for e in t.page.locator('[data-testid="stDateInput"] input').all()]
    assert shown == [first, last]
    assert str(int(first[8:])) in read(t, 0.0005).split("\n")[0]
    # The address alone brings the same days, and others can be dragged out of these.
    t.reload()
    assert [e.input_value() for e in t.page.locator('[data-testid="stDateInput"] input').all()] == [first, last]
    assert serious(t.page) == []
    assert t.wrong == []


def test_on_a_phone_a_tap_reads_a_day_and_marks_keep_to_the_width(tab):
    t = tab("phone", "dark")
    t.open("/dry?period=1y")
    field = t.page.locator(FIELD)
    field.scroll_into_view_if_needed()
    box = field.bounding_box()
    t.page.touchscreen.tap(box["x"] + 0.7 * box["width"], box["y"] + 150)
    assert "2025" in t.page.locator(SAID).inner_text()
    assert t.page.evaluate(REACH) == pytest.approx([0, 1], abs=0.06)
    t.page.set_viewport_size({"width": 700, "height": 390})  # turned on its side
    t.page.wait_for_function(f"() => Math.abs(({REACH})()[1] - 1) < 0.05")
    assert t.sideways() == 0
    assert t.wrong == []
