"""Cautions where the act is: two lines at most on a phone, the full text below them."""

from __future__ import annotations

import re

import pytest

from dashboard.wording import cautions
from tests.dashboard.conftest import DEMO
from tests.dashboard.test_pages import app

#: Letters that fit two lines of a phone 390 pixels wide, beside the rule and the margins (measured).
TWO_LINES = 94


def test_every_short_form_fits_two_lines_of_a_phone():
    short = {name: text for name, text in vars(cautions).items() if name.startswith("SHORT_")}
    assert len(short) >= 7
    assert {name: len(text) for name, text in short.items() if len(text) > TWO_LINES} == {}


@pytest.mark.parametrize(
    ("view", "short", "full"),
    [
        (
            "views/is_it_running.py",
            cautions.SHORT_TRIP,
            (cautions.NOT_A_WARNING, cautions.WADING, cautions.PROVISIONAL),
        ),
        ("views/write_down_a_visit.py", cautions.SHORT_VISIT, (cautions.WADING, cautions.DISTURBANCE)),
    ],
)
def test_the_full_text_opens_below_the_short_one_without_asking_the_server(monkeypatch, view, short, full):
    (note,) = [h.proto.body for h in app(monkeypatch, DEMO, view).get("html") if 'role="note"' in h.proto.body]
    shown, hidden = note.split("<details>")
    assert re.findall(r"<p[^>]*>([^<]+)</p>", shown) == [short]
    assert f">{cautions.IN_FULL}</summary>" in hidden and all(sentence in hidden for sentence in full)
