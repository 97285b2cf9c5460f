"""`alert-levels` on the command line and as a page, and taking the recommended level over."""

from __future__ import annotations

import io
import json
import re

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.alert_levels import alert_levels, levels_to_try, needs_of
from dashboard.answers.csv_file import csv_bytes
from dashboard.cli import main
from dashboard.figures.alert_tradeoff import alert_tradeoff
from dashboard.wording import alert_levels as alert_words
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import DEMO, TOML
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import app, first_sentence, said

VIEW = "views/how_far_ahead.py"
FT3 = 0.3048**3  # m³ in a cubic foot: the international foot


def run(capsys, *argv):
    code = main([str(a) for a in argv])
    out, err = capsys.readouterr()
    return code, out, err


@pytest.fixture(scope="module")
def answer():
    return alert_levels(load_workspace(DEMO))


def six_years(folder):
    """Six years, each dry from 1 July to 14 September after 20 days at 55 ft³/s; nothing else ever falls to 55."""
    days = pd.date_range("2015-01-01", "2020-12-31")
    day = days.strftime("%m-%d")
    flow = np.where(
        (day >= "07-01") & (day <= "09-14"), 30.0, np.where((day >= "06-11") & (day < "07-01"), 55.0, 100.0)
    )
    lines = ["date,discharge (cfs)", *(f"{d:%Y-%m-%d},{v}" for d, v in zip(days, flow, strict=True))]
    (folder / "north.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def test_the_contract_of_the_machine_answer(capsys):
    code, out, err = run(capsys, "alert-levels", DEMO, "--json", "--try", "55.5 cfs")
    assert (code, err) == (0, "")
    ledge, trough = json.loads(out)["outlets"]
    assert [o["outlet"] for o in (ledge, trough)] == ["ledge", "trough"]  # outlets that can stop
    assert (ledge["needs"]["lead_days"], ledge["needs"]["hit_rate"]) == (14, 0.9)
    wanted = {
        "level", "hits", "late", "misses", "false_alerts", "hit_rate", "false_alarm_ratio", "alerts_per_year",
        "lead_days",
    }  # fmt: skip
    levels = [c["level"]["value"] for c in ledge["candidates"]]
    assert levels == sorted(levels) and 55.5 in levels
    for c in ledge["candidates"]:
        assert wanted <= set(c)
        assert c["level"]["unit"] == "cfs"
        assert set(c["lead_days"]) >= {"p10", "median", "p90"}
        judged = c["hits"] + c["late"] + c["misses"]
        assert judged + c["not_judged"] + c["too_soon"] == ledge["n_events"]
        assert c["hit_rate"] == pytest.approx(c["hits"] / judged)
        assert c["false_alarm_ratio"] == pytest.approx(c["false_alerts"] / (c["hits"] + c["late"] + c["false_alerts"]))
        assert c["alerts_per_year"] == pytest.approx(c["alerts"] / ledge["n_years"])
    assert wanted | {"held_out"} <= set(ledge["recommended"])
    held_out = ledge["recommended"]["held_out"]
    assert held_out["hit_rate_interval"]["low"] <= held_out["hit_rate"] <= held_out["hit_rate_interval"]["high"]
    assert {c["chance"] for c in ledge["chance_candidates"]} >= {0.05, 0.5, 0.9}
    # Three stops are too few to recommend anything: null beside the reason, the table still there.
    assert (trough["n_events"], trough["recommended"]) == (3, None)
    assert trough["why"] == "fewer than 5 stops can be judged"
    assert trough["candidates"]


def test_lead_is_counted_from_the_first_day_at_or_below_the_level(capsys, folder):
    code, out, _ = run(capsys, "alert-levels", six_years(folder), "--json", "--try", "55 cfs", "--try", "54.9 cfs")
    assert code == 0
    (outlet,) = json.loads(out)["outlets"]
    by_level = {c["level"]["value"]: c for c in outlet["candidates"]}
    at, below = by_level[55.0], by_level[54.9]
    assert [at[k] for k in ("hits", "late", "misses", "false_alerts", "hit_rate")] == [6, 0, 0, 0, 1.0]
    assert at["lead_days"] == {"p10": 20.0, "median": 20.0, "p90": 20.0}
    assert at["alerts_per_year"] == pytest.approx(6 / (2192 / 365.25))
    assert [below[k] for k in ("hits", "late", "misses", "alerts")] == [0, 0, 6, 0]
    assert below["false_alarm_ratio"] is None and "false_alarm_ratio" in below["why"]
    assert outlet["recommended"]["held_out"]["hits"] == 6
    code, out, _ = run(capsys, "alert-levels", folder, "--json", "--try", "55 cfs", "--lead-days", "21")
    late = next(c for c in json.loads(out)["outlets"][0]["candidates"] if c["level"]["value"] == 55.0)
    assert [late[k] for k in ("hits", "late", "misses")] == [0, 6, 0]


def test_the_cost_of_a_miss_chooses_instead_of_a_hit_rate(capsys):
    _, out, _ = run(capsys, "alert-levels", DEMO, "--json", "--outlet", "ledge", "--miss-cost", "0.1")
    cheap = json.loads(out)["outlets"][0]
    _, out, _ = run(capsys, "alert-levels", DEMO, "--json", "--outlet", "ledge", "--miss-cost", "50")
    dear = json.loads(out)["outlets"][0]
    assert cheap["needs"]["chosen_by"] == dear["needs"]["chosen_by"] == "cost"
    assert cheap["recommended"]["false_alerts"] <= dear["recommended"]["false_alerts"]
    assert cheap["recommended"]["hits"] <= dear["recommended"]["hits"]
    assert dear["recommended"]["value_at_cost"] <= 1


def test_a_perennial_outlet_says_why_where_it_is_asked_for(capsys):
    code, out, _ = run(capsys, "alert-levels", DEMO, "--json", "--outlet", "grotto")
    (outlet,) = json.loads(out)["outlets"]
    assert (code, outlet["candidates"], outlet["recommended"]) == (0, [], None)
    assert "no stop level is set" in outlet["why"]
    _, text, _ = run(capsys, "alert-levels", DEMO)
    assert "No stop level is set for Grotto, Head pool" in text


@pytest.mark.parametrize(
    ("argv", "told"),
    [
        (["--try", "fifty", "--try", "0 cfs"], ["--try: found “fifty”", "--try: found “0 cfs”"]),
        (["--lead-days", "30", "--horizon", "20"], ["--horizon: found “20”", "at least the 30 days"]),
    ],
)
def test_wrong_needs_are_one_message_with_every_problem(capsys, argv, told):
    code, out, err = run(capsys, "alert-levels", DEMO, *argv)
    assert (code, out) == (2, "")
    assert all(text in err for text in told)


@pytest.mark.parametrize(
    "argv", [["--hit-rate", "0"], ["--hit-rate", "1.5"], ["--miss-cost", "-2"], ["--lead-days", "0"]]
)
def test_options_out_of_range_are_refused(capsys, argv):
    with pytest.raises(SystemExit) as stopped:
        main(["alert-levels", str(DEMO), *argv])
    assert stopped.value.code == 2
    assert argv[1] in capsys.readouterr().err


def test_the_same_data_give_the_same_bytes(capsys):
    argv = ("alert-levels", DEMO, "--json", "--outlet", "ledge")
    assert run(capsys, *argv)[1] == run(capsys, *argv)[1]


def test_nothing_dated_later_than_the_day_asked_is_used(capsys, folder):
    six_years(folder)
    _, before, _ = run(capsys, "alert-levels", folder, "--json", "--as-of", "2018-12-31")
    text = (folder / "north.csv").read_text().replace("2019-05-05,100.0", "2019-05-05,20.0")
    (folder / "north.csv").write_text(text)
    _, after, _ = run(capsys, "alert-levels", folder, "--json", "--as-of", "2018-12-31")
    assert json.loads(before)["outlets"] == json.loads(after)["outlets"]
    assert json.loads(before)["outlets"][0]["n_events"] == 4


def test_the_level_that_is_set_is_judged_beside_the_others(capsys, folder):
    six_years(folder)
    text = TOML.replace("[outlets.pool]", '[outlets.ledge.alerts]\nlevel = "61 cfs"\n\n[outlets.pool]')
    (folder / "workspace.toml").write_text(text, encoding="utf-8")
    _, out, _ = run(capsys, "alert-levels", folder, "--json")
    (level,) = [c for c in json.loads(out)["outlets"][0]["candidates"] if c["origin"] == "set"]
    assert (level["level"]["value"], level["hits"]) == (61.0, 6)


def test_every_table_and_the_picture_can_be_taken_away(answer):
    tables = {t.name: t.frame for t in answer.tables()}
    assert {"alert-levels-ledge", "alert-chances-ledge", "alert-stops-ledge", "alerts-ledge"} <= set(tables)
    levels = answer.outlets[0].levels
    back = pd.read_csv(io.BytesIO(csv_bytes(tables["alert-levels-ledge"])))
    assert back["level_m3s"].tolist() == pytest.approx(levels.at)
    assert len(tables["alert-stops-ledge"]) == levels.n_events * len(levels.at)
    for name, frame in tables.items():
        assert csv_bytes(frame).count(b"\n") >= len(frame), name


def test_levels_tried_are_round_above_the_stop_level_and_do_not_look_at_what_came():
    flow = np.concatenate((np.full(300, 100.0), np.full(65, 30.0))) * FT3
    levels = np.array(levels_to_try(flow, 40 * FT3, "cfs")) / FT3
    assert (levels > 40).all() and (np.diff(levels) > 0).all()
    assert levels == pytest.approx([float(f"{x:.2g}") for x in levels])
    assert 95 < levels[-1] <= 105
    shuffled = np.random.default_rng(1).permutation(flow)
    assert levels_to_try(shuffled, 40 * FT3, "cfs") == levels_to_try(flow, 40 * FT3, "cfs")


# ---- the page ---------------------------------------------------------------------------------------------------


def test_the_first_sentence_of_the_page_is_the_answer_of_the_command_line(monkeypatch, answer):
    at = app(monkeypatch, DEMO, VIEW)
    assert first_sentence(at) == alert_words.answer(answer.outlets[0], answer.header)
    text = said(at)
    for sentence in alert_words.details(answer.outlets[0], answer.header):
        assert sentence in text


def test_false_alarm_ratio_and_rate_are_named_apart(monkeypatch):
    text = said(app(monkeypatch, DEMO, VIEW))
    assert "(false-alarm ratio)" in text and "(false-alarm rate)" in text


def test_needs_are_in_the_address(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, lead="30", share="80")
    assert "30 days ahead" in first_sentence(at)
    assert "announce 80 in 100 stops" in said(at)
    at = app(monkeypatch, DEMO, VIEW, by="cost", cost="2")
    assert "costing as much as 2 false alerts" in said(at)


def test_a_level_that_cannot_be_read_is_said_and_one_that_can_is_judged(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW)
    at.text_input(key="try").set_value("55").run()
    assert "found “55”; expected a number and a unit" in said(at)
    at.text_input(key="try").set_value("55.5 cfs").run()
    assert "As tried: 55.5" in said(at)
    assert not at.exception


def test_too_few_stops_are_said_and_nothing_can_be_taken_over(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, outlet="trough")
    assert "No alert level can be recommended for Stone trough: only 3 stops can be judged" in first_sentence(at)
    assert "none is recommended" in said(at)
    assert len(at.get("plotly_chart")) == 1
    assert not [b for b in at.button if b.key == "use-alert-level"]


def test_an_outlet_that_never_stops_has_no_picture(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, outlet="grotto")
    assert first_sentence(at).startswith("There is no alert level for Grotto")
    assert len(at.get("plotly_chart")) == 0


def test_every_level_is_one_point_of_the_picture(answer):
    o = answer.outlets[0]
    figure = alert_tradeoff(
        o.levels, o.chances, o.origin, id="a", title="A", unit="cfs", level=0.95, alt="An answer."
    ).figure  # fmt: skip
    by_name = {t.name: t for t in figure.data}
    assert list(by_name["levels"].x) == o.levels.table["false_per_year"].tolist()
    assert list(by_name["levels"].y) == o.levels.table["hit_rate"].tolist()
    assert list(by_name["chances"].y) == o.chances.table["hit_rate"].tolist()
    chosen = o.levels.table.iloc[o.levels.recommended.candidate]
    assert (by_name["recommended"].x[0], by_name["recommended"].y[0]) == (chosen["false_per_year"], chosen["hit_rate"])
    assert by_name["held out"].y[0] == o.levels.recommended.held_out["hit_rate"]
    (needed,) = [s for s in figure.layout.shapes if s.type == "line"]
    assert needed.y0 == needed.y1 == 0.9
    # Labels stand clear of each other, of points and of lines; the recommended level and the set one have theirs.
    labels = [a for a in figure.layout.annotations if a.xref != "paper"]
    for k, o_ in enumerate(o.origin):
        if k == o.levels.recommended.candidate or o_ == "set":
            assert any(a.x == o.levels.table["false_per_year"].iloc[k] for a in labels)


def test_every_stop_and_alert_behind_a_level_can_be_seen(monkeypatch, answer):
    at = app(monkeypatch, DEMO, VIEW)
    at.session_state["rows-alerts"] = True
    at.run()
    t = answer.outlets[0].levels
    stops, alerts = tables_of(at)[-2], tables_of(at)[-1]
    assert len(stops) == t.n_events
    row = t.table.iloc[t.recommended.candidate]
    assert (stops["Announced"] == "in time").sum() == row["hits"]
    assert (alerts["What came of it"] == "false").sum() == row["false_alerts"]


def test_the_recommended_level_is_taken_over_in_two_steps(monkeypatch, unwatched_demo):
    demo = unwatched_demo
    path = demo / "workspace.toml"
    before = path.read_bytes()
    at = app(monkeypatch, demo, VIEW)
    assert "Alert level in workspace.toml: not set → 42 cfs." in said(at)
    at.button(key="use-alert-level").click().run()
    assert path.read_bytes() == before
    assert re.match(r'\[outlets\.ledge\.alerts\]\nlevel = "42 cfs"  # was not set until', at.code[0].value)
    at.button(key="write-alert-level").click().run()
    assert not at.exception
    text = said(at)
    assert "Written to workspace.toml: alert at 42 cfs or below; none was set before." in text
    assert "The alert level set in the workspace is the one recommended." in text
    assert load_workspace(demo).outlets["ledge"].alert_at.m3s == pytest.approx(42 * FT3)


def test_leaving_it_as_it_is_leaves_it(monkeypatch, demo):
    before = (demo / "workspace.toml").read_bytes()
    at = app(monkeypatch, demo, VIEW)
    at.button(key="use-alert-level").click().run()
    at.button(key="leave-alert-level").click().run()
    assert (demo / "workspace.toml").read_bytes() == before
    assert at.button(key="use-alert-level")


def test_a_horizon_grows_with_the_lead_where_none_is_given():
    assert needs_of(lead_days=14).horizon_days == 90
    assert needs_of(lead_days=60).horizon_days == 120


def test_of_three_days_nothing_is_said_of_a_year(capsys, folder):
    lines = ["date,discharge (cfs)", "2020-12-29,60", "2020-12-30,45", "2020-12-31,30"]
    (folder / "north.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "visits.csv").unlink()
    toml = folder / "workspace.toml"
    toml.write_text(toml.read_text().replace('[surveys]\nvisits = "visits.csv"\n', ""), encoding="utf-8")
    code, out, err = run(capsys, "alert-levels", folder, "--json", "--try", "50 cfs")
    assert (code, err) == (0, "")
    (tried,) = [c for c in json.loads(out)["outlets"][0]["candidates"] if c["origin"] == "tried"]
    assert tried["alerts"] == 1
    assert tried["alerts_per_year"] is tried["false_per_year"] is None
    assert "alerts_per_year, false_per_year: the record has less than one year of known days" in tried["why"]
    _, text, _ = run(capsys, "alert-levels", folder, "--try", "50 cfs")
    assert "1 alert in 3 days, too short a record to say how many a year" in text
