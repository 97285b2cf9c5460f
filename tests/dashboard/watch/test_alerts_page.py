"""The page of alerts without a browser."""

from __future__ import annotations

import pytest

from dashboard.watch.acknowledged import FILE, read_acknowledged
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import app, first_sentence, said
from tests.dashboard.watch.conftest import FEED, RULES, Springs

VIEW = "views/alerts.py"
SECRET_NAME = "CREW_MAIL_ADDRESS"


@pytest.fixture(scope="module")
def watched(tmp_path_factory):
    """One warning that came 3 days before a stop, on a workspace whose today is a week later."""
    from dashboard.watch.one_pass import run_pass

    folder = tmp_path_factory.mktemp("page") / "springs"
    folder.mkdir()
    channels = FEED + f'[watch.channels.crew]\nmessage_to = "{SECRET_NAME}"\n'
    rules = RULES + "promised = { lead_days = 2, hit_rate = 0.9 }\n"
    springs = Springs(folder).settings(rules=rules, channels=channels).record(*[80.0] * 10)
    for block in ([50.0, 48.0, 45.0], [30.0, 30.0], [70.0] * 3):
        run_pass(folder, environment={}, now=springs.now)
        springs.record(block[0])
        run_pass(folder, environment={}, now=springs.now)
        springs.record(*block[1:])
    path = folder / "workspace.toml"
    path.write_text(f'as_of = "{springs.day(len(springs.values)):%Y-%m-%d}"\n' + path.read_text())
    return springs


def test_the_page_says_what_came_after_each_alert_and_how_the_rule_did(monkeypatch, watched):
    at = app(monkeypatch, watched.folder, VIEW)
    assert first_sentence(at).endswith("1 warning of a stop among them: 1 in time.")
    text = said(at)
    assert "dry on 14 Jan 2020, 3 days after it began, 2 days after it was raised" in text
    assert "1 stop, of which 1 told at least 2 days and at most 90 days ahead, 0 later and 0 not at all" in text
    assert "fewer than 5 cases cannot tell" in text
    assert "No alert is not an all-clear" in text and "not an official warning" in text
    assert len(at.get("plotly_chart")) == 1


def test_the_page_names_the_rules_and_channels_and_never_where_an_address_is_kept(monkeypatch, watched):
    text = said(app(monkeypatch, watched.folder, VIEW))
    assert (
        "Ledge: discharge at or below 55.0 ft³/s; that it stopped; that it runs again; no reading for 72 hours" in text
    )
    assert "Told through: feed (feed file), crew (message)." in text
    assert SECRET_NAME not in text


def test_an_alert_is_acknowledged_on_the_page(monkeypatch, watched):
    at = app(monkeypatch, watched.folder, VIEW)
    assert "nobody has seen to it" in said(at)
    button = next(b for b in at.button if b.label == "Write it down")
    button.click().run()
    assert "Write your name first." in said(at) and not (watched.folder / FILE).exists()
    at.text_input(key="seen-to-by").set_value("Ilse Brandt")
    next(b for b in at.button if b.label == "Write it down").click().run()
    assert not at.exception
    (row,) = read_acknowledged(watched.folder)
    assert row.by == "Ilse Brandt"
    assert "seen to by Ilse Brandt" in said(at)
    (watched.folder / FILE).unlink()


def test_whoever_may_only_look_cannot_acknowledge(monkeypatch, watched):
    monkeypatch.setattr("dashboard.views.shown.role", lambda: "viewer")
    at = app(monkeypatch, watched.folder, VIEW)
    assert not [b for b in at.button if b.label == "Write it down"]


def test_every_number_of_the_history_can_be_taken_along(monkeypatch, watched):
    at = app(monkeypatch, watched.folder, VIEW)
    at.session_state["rows-alerts"] = True
    at.run()
    frame = tables_of(at)[0]
    assert {"Alert", "What came after", "Days ahead, from its beginning", "Seen to by"} <= set(frame.columns)
    assert len(frame) == 3


def test_a_workspace_without_a_history_says_how_one_comes_about(monkeypatch, springs):
    at = app(monkeypatch, springs.folder, VIEW)
    assert "Nothing has been raised here yet" in first_sentence(at)


def test_a_spoilt_file_of_acknowledgements_is_said_on_the_page(monkeypatch, springs):
    (springs.folder / FILE).write_text("something else\n", encoding="utf-8")
    assert "acknowledged.csv" in said(app(monkeypatch, springs.folder, VIEW))
