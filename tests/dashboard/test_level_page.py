"""The page “Where does it stop?”: its answer, its picture, and taking the level over in two steps."""

from __future__ import annotations

import json
import re

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.threshold import threshold
from dashboard.answers.tried_level import try_level
from dashboard.figures.level_curve import beyond, level_curve, near_range
from dashboard.wording import threshold as level_words
from dashboard.workspace import load_workspace
from hydro.threshold import estimate_level
from tests.dashboard.conftest import DEMO
from tests.dashboard.pictures_shown import pointed_of
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import app, first_sentence, rewrite, said

VIEW = "views/where_does_it_stop.py"


@pytest.fixture(scope="module")
def ledge():
    found = threshold(load_workspace(DEMO), outlets=("ledge",))
    return found.outlets[0], found.header


def drawn(o, reach=None, unit="m3/s"):
    return level_curve(
        o.sightings, o.estimate, id="a", title="A", set_m3s=o.outlet.stop_m3s, unit=unit, reach=reach, alt="An answer."
    )


def marks(figure) -> dict[str, list[int]]:
    """Rows of the visits file by row of marks."""
    return {t.name: list(t.customdata) for t in figure.data if t.yaxis == "y2"}


def test_the_first_sentence_is_the_answer_of_the_command_line(monkeypatch, ledge):
    at = app(monkeypatch, DEMO, VIEW)
    assert first_sentence(at) == level_words.answer(*ledge)
    text = said(at)
    for sentence in level_words.details(*ledge):
        assert sentence in text


def test_every_sighting_is_one_mark_that_knows_its_row(ledge):
    o, _ = ledge
    found = marks(drawn(o).figure)
    known = o.sightings[o.sightings["discharge_m3s"].notna()]
    for surface in ("running", "pooled", "dry"):
        assert sorted(found[f"seen {surface}"]) == sorted(known.loc[known["surface"] == surface, "row"])
    assert sorted(found["disagrees"]) == sorted(o.estimate.contradictions["row"])


def test_running_stands_above_pooled_above_dry(ledge):
    figure = drawn(ledge[0]).figure
    heights = {t.name: np.round(np.asarray(t.y, float)) for t in figure.data if t.name.startswith("seen")}
    assert {n: set(v.tolist()) for n, v in heights.items()} == {
        "seen dry": {0.0}, "seen pooled": {1.0}, "seen running": {2.0},
    }  # fmt: skip


def test_learnt_and_set_level_stand_where_they_are_in_the_unit_chosen(ledge):
    o, _ = ledge
    figure = drawn(o, unit="cfs").figure
    lines = {s.line.dash: s.x0 for s in figure.layout.shapes if s.type == "line"}
    cfs = 0.3048**3
    assert lines["solid"] == pytest.approx(o.estimate.stop_level.value_m3s / cfs)
    assert lines["dash"] == pytest.approx(38)
    (band,) = [s for s in figure.layout.shapes if s.type == "rect"]
    assert (band.x0, band.x1) == pytest.approx(
        (o.estimate.stop_level.low_m3s / cfs, o.estimate.stop_level.high_m3s / cfs)
    )


def test_the_near_view_leaves_out_only_sightings_of_running_water_and_counts_them(monkeypatch, ledge):
    o, _ = ledge
    reach = near_range(o.sightings, o.estimate)
    near, whole = marks(drawn(o, reach).figure), marks(drawn(o).figure)
    assert near["seen dry"] == whole["seen dry"]
    missing = len(whole["seen running"]) - len(near["seen running"])
    assert missing == beyond(o.sightings, reach) > 0
    assert f"{missing} sightings further from the level lie outside the picture" in said(app(monkeypatch, DEMO, VIEW))
    at = app(monkeypatch, DEMO, VIEW, range="all")
    assert "outside the picture" not in said(at)


def test_a_sighting_at_no_discharge_is_drawn_at_the_left_edge():
    days = pd.date_range("2020-01-01", periods=12, freq="30D")
    flow = [0.0, 0.2, 0.3, 0.25, 0.35, 1.0, 1.2, 1.1, 1.3, 1.25, 2.0, 3.0]
    sightings = pd.DataFrame(
        {"date": days, "surface": ["dry"] * 5 + ["running"] * 7, "discharge_m3s": flow, "row": range(2, 14)}
    ).assign(source="visit")
    estimate = estimate_level(sightings, draws=0)
    figure = level_curve(
        sightings, estimate, id="a", title="A", set_m3s=None, unit="m3/s", reach=None, alt="An answer."
    ).figure  # fmt: skip
    (dry,) = [t for t in figure.data if t.name == "seen dry"]
    at = dict(zip(dry.customdata, dry.x, strict=True))
    assert 0 < at[2] < min(x for r, x in at.items() if r != 2)
    assert figure.layout.xaxis.ticktext[0] == "0"
    assert 10 ** figure.layout.xaxis.range[0] < at[2]


def test_an_outlet_seen_only_running_says_so_and_offers_no_level(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, outlet="grotto")
    assert "was only ever seen running" in first_sentence(at)
    assert "There is no learnt level to use here." in said(at)
    assert not [b for b in at.button if b.key == "use-level"]
    spec = json.loads(at.get("plotly_chart")[0].proto.spec)
    assert {t["name"] for t in spec["data"]} == {"seen running", "bracket"}


def test_without_visits_there_is_no_picture_and_the_reason_stands_in_the_first_sentence(monkeypatch, folder):
    rewrite(folder / "workspace.toml", '[surveys]\nvisits = "visits.csv"\n', "")
    at = app(monkeypatch, folder, VIEW)
    assert first_sentence(at) == "Where Ledge stops cannot be learnt: the workspace names no visits."
    assert len(at.get("plotly_chart")) == 0


def test_contradictions_are_listed_with_day_surface_discharge_expected_and_row(monkeypatch, ledge):
    shown = tables_of(app(monkeypatch, DEMO, VIEW))[0]
    expected = ledge[0].estimate.contradictions.iloc[::-1]
    assert shown["Row of the file"].tolist() == expected["row"].tolist()
    assert shown["Day"].tolist() == expected["date"].tolist()
    assert shown["Surface seen"].tolist() == expected["surface"].tolist()
    assert shown["Expected"].tolist() == expected["expected"].tolist()
    assert "Discharge that day, ft³/s" in shown


def test_a_chosen_row_is_shown_as_it_stands_in_the_visits_file(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW)
    row = int(tables_of(at)[0]["Row of the file"].iloc[2])
    at.session_state["disagreeing-ledge"] = {"selection": {"rows": [2], "columns": [], "cells": []}}
    at.run()
    if at.exception:
        pytest.fail(at.exception[0].value)
    assert f"Row {row} of the visits file, as read" in said(at)


def test_every_sighting_is_listed_and_those_not_used_say_why(monkeypatch, ledge):
    at = app(monkeypatch, DEMO, VIEW)
    at.session_state["rows-level"] = True
    at.run()
    shown = tables_of(at)[-1]
    assert len(shown) == len(ledge[0].sightings)
    assert int((shown["Not used because"] != "").sum()) == len(ledge[0].estimate.left_out)


# ---- taking the level over --------------------------------------------------------------------------------------


def test_the_file_changes_only_after_the_second_step_and_every_page_uses_the_new_level(monkeypatch, demo):
    path = demo / "workspace.toml"
    before = path.read_bytes()
    at = app(monkeypatch, demo, VIEW)
    assert "Stop level in workspace.toml: 38 cfs → 37.3 cfs." in said(at)
    at.button(key="use-level").click().run()
    assert path.read_bytes() == before
    assert at.code[0].value == 'stops_below = "38 cfs"'
    assert re.fullmatch(
        r'stops_below = "37\.3 cfs"  # was "38 cfs" until \d{4}-\d\d-\d\d; learnt from 436 sightings\n'
        r'stops_below_learnt = "37\.3 cfs"',
        at.code[1].value,
    )
    at.button(key="write-level").click().run()
    assert not at.exception
    assert 'stops_below = "37.3 cfs"  # was "38 cfs" until' in path.read_text()
    text = said(at)
    assert "Written to workspace.toml: stops below 37.3 cfs; it was 38 cfs before." in text
    assert "The level set in the workspace is this one already." in text
    assert "The level in the workspace, 37.3" in text and "was learnt and taken over" in text
    at.switch_page("views/when_was_it_dry.py").run()
    assert "below 37.3" in first_sentence(at)
    (picture,) = pointed_of(at)
    labels = " ".join(re.findall(r">([^<]+)</text>", picture["svg"]))
    assert "37.3" in labels and "learnt" in labels and "set" not in labels


def test_leaving_it_as_it_is_leaves_it(monkeypatch, demo):
    before = (demo / "workspace.toml").read_bytes()
    at = app(monkeypatch, demo, VIEW)
    at.button(key="use-level").click().run()
    at.button(key="leave-level").click().run()
    assert (demo / "workspace.toml").read_bytes() == before
    assert not at.code
    assert at.button(key="use-level")


def test_a_file_changed_between_showing_and_writing_is_not_overwritten(monkeypatch, demo):
    at = app(monkeypatch, demo, VIEW)
    at.button(key="use-level").click().run()
    rewrite(demo / "workspace.toml", 'stops_below = "38 cfs"', 'stops_below = "39 cfs"')
    changed = (demo / "workspace.toml").read_bytes()
    at.button(key="write-level").click().run()
    assert (demo / "workspace.toml").read_bytes() == changed
    text = said(at)
    assert "workspace.toml has been changed since this page showed it" in text
    assert "Stop level in workspace.toml: 39 cfs → 37.3 cfs." in text


def test_a_level_that_the_file_would_not_take_says_why_and_has_no_button(monkeypatch, demo):
    rewrite(demo / "workspace.toml", '"38 cfs"', '"36 cfs"')
    rewrite(demo / "workspace.toml", '"40 cfs"', '"37 cfs"')
    at = app(monkeypatch, demo, VIEW)
    assert "a level at or above stops_below (37.3 cfs)" in said(at)
    assert not [b for b in at.button if b.key in ("use-level", "write-level")]


def test_a_write_protected_file_is_said(monkeypatch, demo):
    (demo / "workspace.toml").chmod(0o444)
    at = app(monkeypatch, demo, VIEW)
    at.button(key="use-level").click().run()
    at.button(key="write-level").click().run()
    assert "workspace.toml is write-protected" in said(at)
    assert '"38 cfs"' in (demo / "workspace.toml").read_text()


def slide(at, value: str):
    at.select_slider[0].set_value(value).run()
    if at.exception:
        pytest.fail(at.exception[0].value)
    return at


def test_a_level_that_is_tried_is_drawn_and_held_against_sightings_and_record(monkeypatch, ledge):
    o, _ = ledge
    at = app(monkeypatch, DEMO, VIEW)
    shown = next(d for d in tables_of(at) if "Dry days a year" in d)
    assert shown["Level"].tolist() == ["learnt", "set"]
    at = slide(at, at.select_slider[0].options[-1])
    shown = next(d for d in tables_of(at) if "Dry days a year" in d)
    assert shown["Level"].tolist() == ["learnt", "set", "tried"]
    tried = float(shown["Stops below, ft³/s"].iloc[-1]) * 0.3048**3
    q, seen = o.sightings["discharge_m3s"], o.sightings["surface"]
    restart = max(tried, o.outlet.restart_m3s)
    wrong = ((seen == "running") & (q < tried)) | ((seen == "dry") & (q >= restart))
    assert shown["Sightings that disagree"].iloc[-1] == wrong.sum() > shown["Sightings that disagree"].iloc[0]
    assert shown["Dry days a year"].iloc[-1] > shown["Dry days a year"].iloc[0]
    spec = json.loads(at.get("plotly_chart")[0].proto.spec)
    (line,) = [x for x in spec["layout"]["shapes"] if x["type"] == "line" and x["line"]["dash"] == "dot"]
    assert line["x0"] == pytest.approx(tried / 0.3048**3, rel=0.005)


def test_a_level_that_was_tried_is_written_as_set_by_hand(monkeypatch, demo):
    at = app(monkeypatch, demo, VIEW)
    choices = at.select_slider[0].options
    # The restart level stands at 40: a stop level above it is shown, and refused with the reason.
    at = slide(at, next(v for v in choices if float(v.split()[0]) > 40))
    assert not [b for b in at.button if b.key == "use-level"]
    assert "expected a level at or above stops_below" in said(at)
    at = slide(at, next(v for v in choices if float(v.split()[0]) > 38.5))
    at.button(key="use-level").click().run()
    assert "counts as set by hand" in said(at)
    at.button(key="write-level").click().run()
    text = (demo / "workspace.toml").read_text()
    (line,) = [x for x in text.splitlines() if x.startswith("stops_below") and "chosen by hand" in x]
    assert 'was "38 cfs"' in line
    assert "stops_below_learnt" not in text
    assert not load_workspace(demo).outlets["ledge"].level_is_learnt


def test_of_three_days_no_dry_days_a_year_are_told(folder):
    lines = ["date,discharge (cfs)", "2020-12-29,60", "2020-12-30,45", "2020-12-31,30"]
    (folder / "north.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    rows = "2020-12-30,ledge,running\n2020-12-31,ledge,dry\n"
    (folder / "visits.csv").write_text("date,outlet,surface\n" + rows, encoding="utf-8")
    workspace = load_workspace(folder)
    found = try_level(workspace, "ledge", workspace.outlets["ledge"].stop_m3s)
    assert (found.dry_days, found.known_days, found.dry_days_a_year) == (1, 3, None)
    o = threshold(workspace, outlets=["ledge"]).outlets[0]
    assert "would have been dry on 1 of 3 known days, too short a record to say how many a year." in level_words.tried(
        o, found, "cfs"
    )
