"""Planned visits: the command as a person and as a script meet it, and the page."""

from __future__ import annotations

import json
import math

import pandas as pd
import pytest
from scipy import stats

from dashboard.answers.plan import plan
from dashboard.answers.plan_request import plan_request
from dashboard.cli import main
from dashboard.figures.plan_picture import plan_picture
from dashboard.report.sections_plan import plan_sections
from dashboard.report.sections_water import Scope
from dashboard.wording import cautions
from dashboard.wording import plan as plan_words
from dashboard.wording.plan_assumptions import NONE_MISSED, assumptions
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import DEMO
from tests.dashboard.contract import departures
from tests.dashboard.test_alert_levels import six_years
from tests.dashboard.test_pages import app, first_sentence, said

VIEW = "views/how_many_visits.py"
PURPOSES = ("absence", "return", "trend")


def run(capsys, *argv):
    code = main(["plan", *(str(a) for a in argv)])
    out, err = capsys.readouterr()
    return code, out, err


def answer(capsys, *argv):
    code, out, err = run(capsys, *argv, "--json")
    assert (code, err) == (0, "")
    return json.loads(out)


@pytest.mark.parametrize("purpose", PURPOSES)
def test_every_purpose_keeps_the_contract_and_its_text_carries_the_cautions(capsys, purpose):
    found = answer(capsys, DEMO, "--purpose", purpose)
    assert {"workspace", "as_of", "warnings", "method_version"} <= set(found)
    assert {"purpose", "inputs", "visits_needed", "curve", "assumptions"} <= set(found)
    assert departures("plan", found) == []
    assert found["purpose"] == purpose
    assert found["visits_needed"] >= 1
    assert found["why"] is None
    assert all({"visits", "probability"} <= set(row) for row in found["curve"])
    assert all(0.0 <= row["probability"] <= 1.0 for row in found["curve"])
    assert found["fewer"]
    assert all(row["visits"] < found["visits_needed"] for row in found["fewer"])
    code, text, err = run(capsys, DEMO, "--purpose", purpose)
    assert (code, err) == (0, "")
    for sentence in (found["sentence"], cautions.DISTURBANCE, cautions.PERMIT_VISITS, cautions.PROVISIONAL):
        assert sentence in text
    assert "Fewer visits:" in text


def test_the_same_data_and_seed_give_the_same_bytes(capsys):
    asked = (DEMO, "--purpose", "trend", "--json")
    assert run(capsys, *asked) == run(capsys, *asked)


def test_the_number_needed_is_the_first_of_the_curve_that_is_enough(capsys):
    """At the low end of detection, which the plan holds for."""
    found = answer(capsys, DEMO, "--purpose", "absence", "--detection", "0.3-0.6", "--sure", "0.95")
    assert found["visits_needed"] == 9 == min(row["visits"] for row in found["curve"] if row["low"] >= 0.95)
    assert found["inputs"]["detection_per_visit"] == {
        "value": None, "low": 0.3, "high": 0.6, "level": None, "source": "given",
    }  # fmt: skip
    with_prior = answer(capsys, DEMO, "--purpose", "absence", "--detection", "0.3", "--prior", "0.8")
    assert with_prior["visits_needed"] == 13
    assert min(row["visits"] for row in with_prior["curve"] if row["present"] <= 0.05) == 13


def test_detection_of_the_workspace_holds_the_truth_behind_the_demo(capsys):
    """The demo's animals are found at 0.898 of the visits in the first three weeks and at 0.9335 of all."""
    truth = json.loads((DEMO.parent / "TRUTH.json").read_text())["detection_per_visit"]["ledge"]
    used = answer(capsys, DEMO, "--purpose", "absence")["inputs"]["detection_per_visit"]
    assert used["source"] == "searches after first finds"
    assert used["low"] < truth["first_three_weeks_after_return"] < truth["all_visits"] < used["high"]


def test_half_the_effort_takes_more_visits(capsys):
    usual = answer(capsys, DEMO, "--purpose", "absence", "--sure", "0.99")
    half = answer(capsys, DEMO, "--purpose", "absence", "--sure", "0.99", "--effort", usual["inputs"]["effort"] / 2)
    assert half["visits_needed"] > usual["visits_needed"]
    low = usual["inputs"]["detection_per_visit"]["low"]
    assert half["inputs"]["detection_per_visit"]["low"] == pytest.approx(1 - (1 - low) ** 0.5)


def test_what_is_not_known_of_detection_is_null_with_why_and_numbers_for_assumed_ones(capsys):
    found = answer(capsys, DEMO, "--purpose", "absence", "--outlet", "grotto")
    assert found["visits_needed"] is None
    assert found["inputs"]["detection_per_visit"]["value"] is None
    assert "after dry spells" in found["why"]
    assert found["curve"] == []
    # n = ln 0.05 / ln(1 − p), rounded up: McArdle 1990, Oikos 57:276–277.
    needed = {row["detection"]: row["visits_needed"] for row in found["by_assumed_detection"]}
    assert needed == {0.3: 9, 0.5: 5, 0.7: 3}
    code, text, _ = run(capsys, DEMO, "--purpose", "absence", "--outlet", "grotto")
    assert code == 0
    assert "9 visits if it finds 30 in 100" in text


def test_a_trend_that_no_number_of_visits_shows_is_null_with_why_and_says_what_more_cycles_do(capsys):
    found = answer(capsys, DEMO, "--purpose", "trend", "--cycles", "2", "--decline", "0.3")
    assert found["visits_needed"] is None
    assert "not enough" in found["why"]
    assert found["with_twice_the_cycles"]["power"] > found["power"]["value"]
    assert found["power"]["low"] <= found["power"]["value"] <= found["power"]["high"]


def test_a_workspace_with_few_counts_says_what_is_missing_for_a_trend(capsys, folder):
    found = answer(capsys, folder, "--purpose", "trend")
    assert found["visits_needed"] is None
    assert found["why"]


@pytest.mark.parametrize(
    ("purpose", "more", "said"),
    [
        ("absence", ("--detection", "0.3"), "Only 4 visits are allowed: they would find animals that are there with a"),
        (
            "return",
            ("--watch", "90"),
            "Only 4 visits are allowed: every 23 days they would know a return in time with a",
        ),
        (
            "trend",
            ("--cycles", "2"),
            "Only 4 visits are allowed: 2 visits a cycle would show the decline with a chance",
        ),
    ],
)
def test_what_the_permit_allows_is_said_beside_what_is_needed(capsys, purpose, more, said):
    code, text, _ = run(capsys, DEMO, "--purpose", purpose, *more, "--allowed", "4")
    assert code == 0
    assert said in text
    if purpose == "absence":
        # 1 − 0.7⁴ = 0.7599
        row = answer(capsys, DEMO, "--purpose", purpose, *more, "--allowed", "4")["allowed"]
        assert (row["visits"], row["low"]) == (4, pytest.approx(0.7599))
        text = run(capsys, DEMO, "--purpose", purpose, *more, "--allowed", "9")[1]
        assert "The plan stays within the 9 visits" in text


def test_everything_wrong_with_the_wishes_comes_in_one_message(capsys):
    code, out, err = run(
        capsys, DEMO, "--purpose", "trend", "--detection", "0.4", "--sure", "95", "--decline", "1.5", "--cycles", "1"
    )
    assert (code, out) == (2, "")
    for option in ("--detection", "--sure", "--decline", "--cycles"):
        assert option in err
    assert "4 problems" in err


@pytest.mark.parametrize("wrong", ["0", "1.2", "0.6-0.3", "much", "0.3-", "1.2.3", "-0.3"])
def test_a_detection_that_is_none_is_refused(capsys, wrong):
    code, _, err = run(capsys, DEMO, "--purpose", "absence", f"--detection={wrong}")
    assert code == 2
    assert "0.3-0.6" in err


def test_an_effort_beside_a_detection_that_is_given_is_refused(capsys):
    code, _, err = run(capsys, DEMO, "--purpose", "absence", "--detection", "0.4", "--effort", "30")
    assert code == 2
    assert "--effort" in err


def test_outlets_are_planned_one_at_a_time(capsys):
    code, _, err = run(capsys, DEMO, "--purpose", "absence", "--outlet", "ledge", "--outlet", "grotto")
    assert code == 2
    assert "one outlet at a time" in err


def test_nothing_dated_later_than_the_day_asked_is_used(capsys):
    early = answer(capsys, DEMO, "--purpose", "absence", "--as-of", "2016-06-30")
    late = answer(capsys, DEMO, "--purpose", "absence")
    assert early["as_of"] == "2016-06-30"
    searches = [a["inputs"]["detection_per_visit"].get("searches") or 0 for a in (early, late)]
    assert searches[0] < searches[1]


@pytest.mark.parametrize("purpose", PURPOSES)
def test_the_page_says_what_the_command_says(monkeypatch, purpose):
    expected = plan(load_workspace(DEMO), plan_request(purpose), outlets=("ledge",))
    at = app(monkeypatch, DEMO, VIEW, purpose=purpose)
    text = said(at)
    assert first_sentence(at) == plan_words.answer(expected)
    for sentence in (*plan_words.fewer(expected), *assumptions(expected)):
        assert sentence in text
    assert cautions.DISTURBANCE in text
    assert cautions.PERMIT_VISITS in text
    assert len(at.get("plotly_chart")) == 1


def test_choices_on_the_page_come_from_the_address(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, purpose="absence", detection="given", prior="50", **{"sure-absence": "90"})
    wishes = plan_request("absence", sure=0.9, detection="0.3-0.6", prior=0.5)
    assert first_sentence(at) == plan_words.answer(plan(load_workspace(DEMO), wishes))


def test_where_detection_is_not_known_the_page_draws_assumed_ones_and_takes_a_range(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, outlet="grotto")
    assert "is not known" in first_sentence(at)
    names = {t["name"] for t in json.loads(at.get("plotly_chart")[0].proto.spec)["data"]}
    assert names == {"if 30 in 100", "if 50 in 100", "if 70 in 100"}
    at.segmented_control(key="detection").select("given").run()
    assert not at.exception
    assert first_sentence(at).startswith("Plan 9 visits to Grotto")


def test_the_plan_can_be_taken_away(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW)
    at.session_state["take-away-plan"] = True
    at.run()
    assert not at.exception
    names = {b.proto.help for b in at.get("download_button")}
    assert {"plan-absence.csv", "picture-plan-absence-ledge.csv", "plan.json"} <= names


def test_the_report_has_a_section_for_every_purpose():
    day = pd.Timestamp("2025-10-19")
    scope = Scope(
        workspace=load_workspace(DEMO), outlets=("grotto", "ledge"), first=day, last=day, unit="cfs", level=0.95, seed=1
    )
    sections = plan_sections(scope)
    assert [s.name for s in sections] == ["plan-absence-ledge", "plan-return-ledge", "plan-trend-ledge"]
    for s in sections:
        assert s.answer.startswith(("Plan ", "Visit "))
        assert len(s.plates) == 1
        assert cautions.DISTURBANCE in s.cautions


def test_a_small_workspace_has_its_page_for_every_purpose(monkeypatch, folder):
    for purpose in PURPOSES:
        at = app(monkeypatch, folder, VIEW, purpose=purpose)
        assert "not known" in first_sentence(at) or "cannot be said" in first_sentence(at)


def all_found(folder):
    """Six years, each dry from 1 July to 14 September; two searches without a find after it, then three with one."""
    rows = ["date,outlet,surface,searched,count,effort"]
    for i, year in enumerate(range(2015, 2021)):
        back = pd.Timestamp(f"{year}-09-15")
        for days, count in ((0, 0), (9 + 2 * i, 0), (15 + 2 * i, 3), (40, 2), (45, 1)):
            rows.append(f"{back + pd.Timedelta(days=days):%Y-%m-%d},ledge,running,yes,{count},30")
    (folder / "visits.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return six_years(folder)


def test_where_no_search_missed_the_lower_bound_of_detection_is_planned_with(capsys, folder):
    found = answer(capsys, all_found(folder), "--purpose", "absence", "--outlet", "ledge")
    p = found["inputs"]["detection_per_visit"]
    # 12 of 12: the one-sided 95 % bound of Clopper and Pearson 1934, Biometrika 26:404–413, by scipy's own routine.
    bound = stats.binomtest(12, 12).proportion_ci(0.90, method="exact").low
    assert (p["searches"], p["value"], p["high"]) == (12, None, 1.0)
    assert p["low"] == pytest.approx(bound)
    # McArdle 1990, Oikos 57:276–277: the least n with (1 − p)^n ≤ 0.05.
    assert found["visits_needed"] == math.ceil(math.log(0.05) / math.log(1.0 - bound))
    assert "judging by 12 searches after first finds, all of which found animals" in found["sentence"]
    assert NONE_MISSED in found["assumptions"]
    watch = answer(capsys, folder, "--purpose", "return", "--outlet", "ledge")
    assert watch["visits_needed"] >= 1 and watch["inputs"]["watch_from"] == "lags"


@pytest.mark.parametrize("wish", [{"purpose": "trend"}, {"purpose": "return"}, {"purpose": "absence", "prior": 0.5}])
def test_the_plan_in_words_stands_where_no_curve_runs_and_whole_numbers_are_labelled_once(wish):
    drawing = plan_picture(plan(load_workspace(DEMO), plan_request(**wish), outlets=["ledge"]))
    layout = drawing.figure.layout
    (label,) = [a for a in layout.annotations if "visit" in a.text and a.xref != "paper"]
    (stem,) = [s for s in layout.shapes if s.x0 == s.x1]
    assert label.x == stem.x0 and label.y == stem.y1 in (-0.03, 1.03)
    assert label.y < min(t for trace in drawing.figure.data for t in trace.y if t is not None) or label.y > 1.0
    assert layout.xaxis.dtick == 1 or layout.xaxis.range[1] - layout.xaxis.range[0] > 9
