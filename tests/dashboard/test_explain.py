"""`explain` on the command line and as a page."""

from __future__ import annotations

import json
import math
import re

import pandas as pd
import pytest

from dashboard.answers.explain import explain
from dashboard.cli import main
from dashboard.figures.drop_staircase import drop_staircase
from dashboard.wording import explain as words
from dashboard.wording import explain_comparison
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import DEMO
from tests.dashboard.contract import departures
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import app, first_sentence, rewrite, said

PAGE = "views/is_the_drop_expected.py"
DROP = ("--outlet", "grotto", "--period", "2025-05-01/2025-10-19", "--baseline", "2023-05-01/2023-10-19")


def run(capsys, *arguments) -> tuple[int, str, str]:
    try:
        code = main([str(a) for a in arguments])
    except SystemExit as stop:
        code = int(stop.code)
    out, err = capsys.readouterr()
    return code, out, err


def as_json(capsys, *arguments) -> dict:
    code, out, _ = run(capsys, "explain", *arguments, "--json")
    assert code == 0
    return json.loads(out)


def test_the_drop_put_into_the_demo_is_found_with_its_size(capsys):
    """TRUTH.json: counts at the grotto are 0.45 times what flow, season and effort give from 1 May 2025 on."""
    a = as_json(capsys, DEMO, *DROP)
    assert a["verdict"] == "lower than expected" and a["tail_probability"] < 0.05
    assert a["outlet"] == "grotto" and a["observed"]["count"] < a["expected"]["low"]
    parts = {p["name"]: p for p in a["parts"]}
    assert list(parts) == ["effort", "flow", "season", "surface dry", "outlet", "unexplained"]
    assert parts["unexplained"]["low"] < 0.45 < parts["unexplained"]["high"]
    assert 0.45 * a["expected"]["low"] < a["observed"]["count"] < 0.45 * a["expected"]["high"]
    elsewhere = as_json(capsys, DEMO, "--outlet", "headpool", *DROP[2:])
    assert elsewhere["verdict"] == "as expected"


def test_the_answer_keeps_the_contract_and_its_product_is_exact(capsys):
    a = as_json(capsys, DEMO, "--period", "2022-05-01/2022-12-31", "--baseline", "2021-05-01/2021-12-31")
    keys = {
        "workspace", "as_of", "warnings", "method_version", "outlet", "observed", "baseline", "expected",
        "tail_probability", "verdict", "parts", "sentence", "why",
    }  # fmt: skip
    assert keys <= set(a)
    assert departures("explain", a) == []
    assert a["outlet"] is None and a["outlets"] == ["ledge", "trough", "grotto", "headpool"]
    assert {"count", "visits", "effort"} <= set(a["observed"])
    assert {"value", "low", "high", "level"} <= set(a["expected"])
    ratio = (a["observed"]["count"] / a["observed"]["visits"]) / (a["baseline"]["count"] / a["baseline"]["visits"])
    assert math.prod(p["factor"] for p in a["parts"]) == pytest.approx(ratio, rel=1e-9)
    difference = a["observed"]["count"] - a["baseline"]["count"] / a["baseline"]["visits"] * a["observed"]["visits"]
    assert sum(p["animals"] for p in a["parts"]) == pytest.approx(difference, abs=1e-8)
    assert a["observed"]["dry_visits"] > 0
    assert a["tried"] == {"n": 1, "chance_that_one_is_as_far_out": a["tail_probability"], "sentence": None}
    assert a["why"] is None and a["comparison"] is None


def test_the_same_command_gives_the_same_bytes(capsys):
    assert run(capsys, "explain", DEMO, *DROP, "--json") == run(capsys, "explain", DEMO, *DROP, "--json")


def test_nothing_later_than_the_day_asked_is_used(capsys, demo):
    asked = ("--outlet", "grotto", "--period", "2018-05-01/2018-10-31", "--as-of", "2018-12-31")
    early = as_json(capsys, demo, *asked)
    searched = re.compile(r"^(20(?:19|2\d)-[^,]*,[^,]*,grotto,[^,]*,yes,)[^,]*,", re.MULTILINE)
    text = (demo / "visits.csv").read_text(encoding="utf-8")
    later, n = searched.subn(r"\g<1>99,", text)
    assert n > 50
    (demo / "visits.csv").write_text(later, encoding="utf-8")
    assert as_json(capsys, demo, *asked) == early
    assert as_json(capsys, demo, *asked[:-2])["expected"] != early["expected"]


def test_a_baseline_is_taken_from_the_years_before_where_none_is_named(capsys):
    a = as_json(capsys, DEMO, "--outlet", "grotto", "--period", "2024-11-01/2025-03-31")
    assert (a["baseline"]["first"], a["baseline"]["last"]) == ("2023-11-01", "2024-03-31")
    assert a["baseline_from"] == "the same days 1 year before"
    two_years = as_json(capsys, DEMO, "--outlet", "grotto", "--period", "2023-01-01/2024-06-30")
    assert (two_years["baseline"]["first"], two_years["baseline"]["last"]) == ("2021-01-01", "2022-06-30")


def test_a_change_on_the_ground_is_compared_with_an_outlet_that_always_runs(capsys):
    a = as_json(capsys, DEMO, "--outlet", "grotto", "--change", "2025-05-01", "--control", "headpool")
    assert (a["observed"]["first"], a["observed"]["last"]) == ("2025-05-01", "2025-10-19")
    assert a["baseline"]["last"] == "2025-04-30" and a["baseline_from"] == "every day before the change"
    c = a["comparison"]
    assert c["ratio"]["low"] < 0.45 < c["ratio"]["high"] < 1
    assert c["cycles_after"] == 1 and len(c["assumptions"]) == 3
    text = run(capsys, "explain", DEMO, "--outlet", "grotto", "--change", "2025-05-01", "--control", "headpool")[1]
    assert "fell against Head pool since Thu 1 May 2025" in text
    assert "One cycle after cannot tell a lasting change from a single odd year" in text
    assert explain_comparison.COUNTED_TWICE in text and words.DOES_NOT_SHOW in text
    assert "because" not in text and "caused" not in text
    dries = as_json(capsys, DEMO, "--outlet", "grotto", "--change", "2025-05-01", "--control", "ledge")
    assert "can fall dry itself" in dries["comparison"]["assumptions"][-1]


def test_many_periods_tried_are_part_of_the_answer(capsys):
    """24 looks at 5 in 100 each: at least one is out in 71 of 100 searches (1 - 0.95^24)."""
    text = run(capsys, "explain", DEMO, *DROP, "--tried", "24")[1]
    assert "24 periods were looked at" in text and "in 71 in 100 such searches" in text
    a = as_json(capsys, DEMO, *DROP, "--tried", "24")
    assert a["tried"]["chance_that_one_is_as_far_out"] == pytest.approx(1 - (1 - a["tail_probability"]) ** 24)


@pytest.mark.parametrize(
    ("arguments", "said_of_it"),
    [
        ([], "two days such as 2024-05-01/2024-10-31, or --change DATE"),
        (["--period", "2020-05-01"], "is not two dates"),
        (["--period", "2020-05-01/2020-04-01"], "ends before it begins"),
        (["--period", "2020-05-01/2020-10-31", "--baseline", "2020-10-01/2020-12-31"], "days outside the period"),
        (["--period", "2021-05-01/2021-10-31"], "a period that begins by 2020-12-31"),
        (["--period", "2020-05-01/2020-10-31", "--control", "nowhere"], "an outlet id: ledge, pool"),
        (["--period", "2020-05-01/2020-10-31", "--control", "ledge", "--outlet", "ledge"], "not among those judged"),
        (["--period", "2020-05-01/2020-10-31", "--change", "2020-07-01"], "not after the first day of"),
    ],
)
def test_days_and_outlets_that_do_not_fit_are_refused(capsys, folder, arguments, said_of_it):
    code, out, err = run(capsys, "explain", folder, *arguments)
    assert (code, out) == (2, "")
    assert said_of_it in err and "Traceback" not in err


def test_everything_wrong_with_a_question_is_said_at_once(capsys, folder):
    days = ("--period", "2021-05-01/2021-10-31", "--baseline", "2021-10-01/2021-12-31")
    code, _, err = run(capsys, "explain", folder, *days, "--control", "nowhere")
    assert code == 2 and err.startswith("3 problems")


def test_a_period_that_is_not_over_is_said_to_be_so(capsys):
    text = run(capsys, "explain", DEMO, "--outlet", "grotto", "--period", "2025-05-01/2025-12-31")[1]
    assert "The period judged is not over: it holds the visits up to Sun 19 October 2025." in text


def test_too_few_data_are_said_with_what_would_be_needed(capsys, folder):
    code, out, _ = run(capsys, "explain", folder, "--period", "2020-09-01/2020-12-31")
    assert code == 0 and "cannot be said" in out and "at least 3 are needed" in out
    a = as_json(capsys, folder, "--period", "2020-09-01/2020-12-31")
    assert a["verdict"] == "cannot say" and a["expected"]["value"] is None and a["expected"]["why"] == a["why"]
    assert a["parts"] == [] and a["why_no_parts"]


def test_the_page_says_what_the_command_says_of_the_days_in_its_address(monkeypatch):
    days = {"judged-from": "2025-05-01", "judged-to": "2025-10-19", "baseline-from": "2023-05-01"}
    at = app(monkeypatch, DEMO, PAGE, outlet="grotto", **days, **{"baseline-to": "2023-10-19", "control": "headpool"})
    found = explain(
        load_workspace(DEMO), outlets=("grotto",), control="headpool",
        judged=tuple(pd.Timestamp(d).date() for d in ("2025-05-01", "2025-10-19")),
        baseline=tuple(pd.Timestamp(d).date() for d in ("2023-05-01", "2023-10-19")),
    )  # fmt: skip
    assert first_sentence(at) == words.read_aloud(found)
    assert words.DOES_NOT_SHOW in said(at) and explain_comparison.comparison(found) in said(at)
    assert all(sentence in said(at) for sentence in explain_comparison.assumptions(found))
    assert tables_of(at)[0]["Factor"].iloc[-1] == pytest.approx(found.judgement.factors["factor"].iloc[-1], rel=5e-3)


def test_the_page_opens_with_the_half_year_to_the_last_visit(monkeypatch):
    at = app(monkeypatch, DEMO, PAGE)
    assert first_sentence(at).startswith("Ledge outlet, 18 Apr 2025 to 17 Oct 2025: ")


def test_days_that_cannot_be_compared_are_said_and_not_a_fault(monkeypatch):
    at = app(monkeypatch, DEMO, PAGE)
    at.date_input(key="baseline-to").set_value(pd.Timestamp("2025-06-01").date()).run()
    assert not at.exception
    assert first_sentence(at) == "These days cannot be compared."
    text = said(at).replace("\\", "")
    assert "18 Apr 2024 to 1 Jun 2025: expected days outside the period 18 Apr 2025 to 17 Oct 2025." in text
    assert "2025-" not in text


def test_every_period_looked_at_on_the_page_counts(monkeypatch):
    at = app(monkeypatch, DEMO, PAGE)
    assert "periods were looked at" not in said(at)
    at.date_input(key="judged-from").set_value(pd.Timestamp("2025-05-01").date()).run()
    assert "2 periods were looked at" in said(at)
    at.date_input(key="baseline-from").set_value(pd.Timestamp("2024-05-01").date()).run()
    assert "2 periods were looked at" in said(at)


def test_before_and_after_a_day_is_one_choice_on_the_page(monkeypatch):
    at = app(monkeypatch, DEMO, PAGE, outlet="grotto", compare="change", change="2025-05-01", control="headpool")
    assert first_sentence(at).startswith("Grotto, 1 May 2025 to 19 Oct 2025: fewer animals")
    assert "fell against Head pool since Thu 1 May 2025" in said(at)
    at.segmented_control(key="judge").select("all").run()
    assert first_sentence(at).startswith("Ledge outlet, Stone trough and Grotto, 1 May 2025")


def test_the_staircase_goes_from_the_baseline_to_the_count(monkeypatch):
    workspace = load_workspace(DEMO)
    judged, baseline = ((pd.Timestamp(f"{y}-05-01").date(), pd.Timestamp(f"{y}-10-19").date()) for y in (2025, 2023))
    j = explain(workspace, judged=judged, baseline=baseline, outlets=("grotto",)).judgement
    drawing = drop_staircase(j, name="n", title="t", alt="a")
    data = drawing.data
    assert data["from_per_visit"].iloc[0] == pytest.approx(j.baseline.per_visit)
    assert data["to_per_visit"].iloc[-1] == pytest.approx(j.judged.per_visit)
    assert (data["to_per_visit"] / data["from_per_visit"]).to_numpy() == pytest.approx(data["factor"].to_numpy())
    assert drawing.figure.layout.xaxis.type == "log"


def test_a_count_of_zero_is_drawn_on_an_axis_that_has_a_zero(capsys, demo):
    searched = re.compile(r"^(2023-[^,]*,[^,]*,grotto,[^,]*,yes,)[^,]*(,[^,]*),[^,]*,[^,]*,[^,]*,", re.MULTILINE)
    text = (demo / "visits.csv").read_text(encoding="utf-8")
    (demo / "visits.csv").write_text(searched.sub(r"\g<1>0\2,,,,", text), encoding="utf-8")
    judged = pd.Timestamp("2023-03-01").date(), pd.Timestamp("2023-10-31").date()
    found = explain(load_workspace(demo), judged=judged, outlets=("grotto",))
    assert found.judgement.judged.count == 0 and found.judgement.verdict == "lower than expected"
    drawing = drop_staircase(found.judgement, name="n", title="t", alt="a")
    assert drawing.figure.layout.xaxis.type != "log"
    code, out, _ = run(capsys, "explain", demo, "--outlet", "grotto", "--period", "2023-03-01/2023-10-31")
    assert code == 0 and "0 were counted" in out
    last = found.as_json()["parts"][-1]
    assert (last["factor"], last["high"], last["why"]) == (0.0, None, words.NO_UPPER_LIMIT)


def test_tables_and_pictures_can_be_taken_away(monkeypatch):
    workspace = load_workspace(DEMO)
    days = pd.Timestamp("2025-05-01").date(), pd.Timestamp("2025-10-19").date()
    found = explain(workspace, judged=days, outlets=("ledge",))
    names = {t.name: t.frame for t in found.tables()}
    assert set(names) == {"drop-factors", "drop-rows", "drop-left-out", "drop-fitted-rows", "drop-expected"}
    rows = names["drop-rows"]
    assert rows.loc[rows["period"] == "judged", "count"].sum() == found.judgement.judged.count
    assert not names["drop-fitted-rows"]["date"].between(*map(pd.Timestamp, days)).any()
    assert names["drop-expected"]["chance"].sum() == pytest.approx(1)


def test_a_workspace_without_visits_cannot_say(capsys, folder):
    rewrite(folder / "workspace.toml", '[surveys]\nvisits = "visits.csv"\n', "")
    a = as_json(capsys, folder, "--period", "2020-03-01/2020-06-30", "--control", "pool")
    assert a["verdict"] == "cannot say" and a["why"] == "the workspace names no visits"
    assert a["comparison"]["ratio"] is None
