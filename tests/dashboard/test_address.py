"""A link that names a choice by its id, as the command line does, reproduces the view and still does when copied."""

from __future__ import annotations

import pytest

from dashboard.views.address import option_named
from tests.dashboard.conftest import DEMO
from tests.dashboard.test_pages import app


@pytest.mark.parametrize(
    ("view", "asked", "kept"),
    [
        ("views/when_was_it_dry.py", {"outlet": "trough", "unit": "l/s", "spells": "joined"},
         {"outlet": "Stone trough", "unit": "L/s", "spells": "Short interruptions joined"}),
        ("views/how_many_visits.py", {"purpose": "return"}, {"purpose": "That they are back, soon"}),
        ("views/write_down_a_visit.py", {"what": "look"}, {"what": "Only: is it running?"}),
    ],
)  # fmt: skip
def test_a_choice_by_its_id_stays_in_the_address_in_words(monkeypatch, view, asked, kept):
    at = app(monkeypatch, DEMO, view, **asked)
    found = {k: "".join(v) for k, v in at.query_params.items()}
    assert {k: found.get(k) for k in kept} == kept
    again = app(monkeypatch, DEMO, view, **kept)
    assert {k: again.session_state[k] for k in kept} == {k: at.session_state[k] for k in kept} == asked


def test_an_id_is_told_from_a_label_and_from_what_is_neither():
    labels = {7: "7 days", 14: "14 days", "ledge": "Ledge", "x": "ledge"}
    assert option_named("14", labels) == 14 and option_named("x", labels) == "x"
    # What is one option's label and another's id is the label: that is how the address is written.
    assert option_named("ledge", labels) is None
    assert option_named("14 days", labels) is None and option_named("60", labels) is None
    assert option_named(None, labels) is None
