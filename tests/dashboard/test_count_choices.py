"""The count regression as asked for on the command line and on its page: choices, what they change, what is refused."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.count_choices import CountChoices
from dashboard.answers.count_curves import expected_over_flow
from dashboard.answers.counts import counts
from dashboard.answers.counts_answer import CountsAnswer
from dashboard.figures.count_checks import Labels, check_picture
from dashboard.figures.flow_windows import window_curve
from dashboard.figures.large_print import SCALE, large_print
from dashboard.wording import check_labels
from dashboard.wording import count_checks as check_words
from dashboard.wording import counts as words
from dashboard.wording.count_windows import DECLARED, TOO_NARROW, windows
from dashboard.workspace import load_workspace
from ecology.count_response import Response, TemperatureBand
from ecology.count_terms import ModelTerms
from tests.dashboard.conftest import DEMO
from tests.dashboard.test_cli import run
from tests.dashboard.test_pages import app, first_sentence, said

VIEW = "views/counts_and_flow.py"


@pytest.fixture(scope="module")
def workspace():
    return load_workspace(DEMO)


@pytest.fixture(scope="module")
def usual(workspace) -> CountsAnswer:
    return counts(workspace)


@pytest.fixture(scope="module")
def of_kind(workspace) -> Callable[[str], CountsAnswer]:
    """The answer about another response, worked out once."""
    return cache(lambda kind: counts(workspace, choices=CountChoices(response=Response(kind=kind))))


@pytest.fixture(scope="module")
def by_outlet(workspace) -> CountsAnswer:
    return counts(workspace, choices=CountChoices(terms=ModelTerms(flow_by_outlet=True)))


def test_the_cross_validation_is_in_the_json_with_its_caution(capsys):
    _, out, _ = run(capsys, "counts", DEMO, "--json", "--windows", "7,30,90")
    answer = json.loads(out)
    cv = answer["cross_validation"]
    assert [w["window_days"] for w in cv["windows"]] == [7, 30, 90]
    assert answer["window_days"] == cv["best_window_days"] == 30  # the demo was made with 30 days
    assert answer["window_chosen"] is cv["chosen"] is True
    assert cv["note"] == TOO_NARROW
    assert {"score", "behind", "behind_se", "covered_80", "covered_95"} <= set(cv["windows"][0])


def test_a_declared_window_is_used_whatever_predicts_best(workspace, usual):
    other = counts(workspace, window=7)
    assert other.design.window == 7
    assert not other.window_chosen
    assert DECLARED in windows(other)
    assert other.cross_validation.windows["window"].tolist() == [7, 30, 90]
    assert usual.cross_validation.best == 30


def test_every_check_has_a_detail_and_only_failed_ones_a_consequence(capsys):
    _, out, _ = run(capsys, "counts", DEMO, "--json")
    checks = json.loads(out)["checks"]
    assert [c["name"] for c in checks] == list(check_labels.NAMES)
    for c in checks:
        assert c["detail"].endswith(".")
        assert (c["consequence"] is not None) == (c["passed"] is False)


def test_a_failed_check_changes_the_first_sentence(usual):
    def failing(*names: str, about: str | None = None) -> CountsAnswer:
        checks = tuple(
            replace(c, passed=c.name not in names, about=about if c.name in names and about else c.about)
            for c in usual.checks
        )
        return replace(usual, checks=checks)

    plain = words.answer(failing())
    assert plain.startswith("Counts rise with flow: twice the discharge over the 30 days before")
    assert "care" not in plain
    assert "on average over low and high flow" in words.answer(failing("flow"))
    assert words.answer(failing("zeros")).endswith(
        "Read it with care: 1 of 14 checks failed (zeros expected and seen)."
    )
    apart = words.answer(failing("collinearity", about="log_discharge_30d"))
    assert apart.startswith("The effect of flow can hardly be told from those of the other terms")
    alone = replace(failing("autocorrelation"), clustered=None, why_not_clustered="one cycle")
    assert "no interval: visits are not independent" in words.answer(alone)
    assert "95 %" not in words.answer(alone)


def test_every_failed_check_says_what_follows(usual):
    for c in usual.checks:
        assert check_words.what_follows(replace(c, passed=False))
        assert check_words.what_follows(replace(c, passed=True)) is None


def test_every_check_has_a_picture_with_a_key(usual):
    labels = Labels(titles={"ledge": "Ledge outlet"}, unit="cfs", effort_unit="person-min")
    for c in usual.checks:
        drawing = check_picture(c, labels)
        assert drawing is not None, c.name
        assert len(drawing.figure.data), c.name
        assert len(drawing.alt) > 20
        assert c.name in check_labels.KEYS
        large = large_print(drawing)
        assert large.figure.layout.font.size == pytest.approx(SCALE * drawing.figure.layout.font.size)
        assert drawing.figure.layout.font.size < 20  # the drawing itself is kept as it was


def test_the_whole_curve_of_windows_is_drawn_with_the_one_used_in_a_ring(usual):
    drawing = window_curve(usual.cross_validation, 30)
    curve, ring = drawing.figure.data
    assert list(curve.x) == ["7 days", "30 days", "90 days"]
    assert list(ring.x) == ["30 days"]
    assert "symbol" in ring.marker and ring.marker.symbol == "circle-open"


@pytest.mark.parametrize(
    ("kind", "says"),
    [
        ("gravid", "times the odds of carrying eggs"),
        ("juveniles", "times the odds of being juvenile"),
        ("presence", "times the rate of finding animals"),
    ],
)
def test_other_responses_are_binomial_with_the_same_terms(of_kind, usual, kind, says):
    answer = of_kind(kind)
    assert answer.fit.model == "binomial"
    assert set(answer.design.terms) <= set(usual.design.terms)
    assert says in words.answer(answer)
    curve = expected_over_flow(answer, "ledge")
    assert curve[["low", "expected", "high"]].to_numpy().min() > 0
    assert curve["high"].max() < 1
    assert answer.as_json()["alpha"]["value"] is None
    assert answer.as_json()["alpha"]["why"]


def test_the_shares_made_without_an_effect_of_flow_show_none(of_kind):
    """In the demo eggs and young follow the season alone; so says the script that made them."""
    for kind in ("gravid", "juveniles"):
        answer = of_kind(kind)
        low, high = answer.per_doubling[1:]
        assert low < 1 < high


def test_the_effect_of_flow_of_each_outlet_and_of_all(by_outlet):
    answer = by_outlet
    assert [e.outlet for e in answer.effects] == ["ledge", "trough", "grotto", "headpool"]
    logs = np.log([e.value for e in answer.effects])
    share = answer.design.rows["outlet"].value_counts(normalize=True)[["ledge", "trough", "grotto", "headpool"]]
    assert np.log(answer.per_doubling[0]) == pytest.approx(float(logs @ share.to_numpy()))
    assert answer.slopes_p > 0.05  # one slope made them all
    # The baseline outlet's effect is the plain coefficient.
    at = answer.design.terms.index(answer.design.flow_term)
    assert answer.effects[0].value == pytest.approx(2 ** answer.fit.estimate[at])


def test_the_tests_of_equal_slopes_agree_with_statsmodels_up_to_its_scale(by_outlet):
    """Outside computation: the Wald statistic by statsmodels from the same estimates and covariance."""
    import statsmodels.api as sm
    from scipy import stats

    answer = by_outlet
    d, f = answer.design, answer.fit
    reference = sm.NegativeBinomial(f.count, d.matrix, offset=d.offset).fit(
        start_params=np.append(f.estimate, f.alpha), method="newton", disp=0, cov_type="cluster",
        cov_kwds={"groups": pd.factorize(d.rows["cycle"])[0], "use_correction": True},
    )  # fmt: skip
    R = np.zeros((3, len(d.terms) + 1))
    for i, term in enumerate(d.interactions):
        R[i, d.terms.index(term)] = 1
    wald = float(reference.wald_test(R, scalar=True, use_f=False).statistic)
    g = answer.clustered.n_clusters
    assert answer.slopes_p == pytest.approx(stats.f.sf(wald * (g - 3) / (3 * (g - 1)), 3, g - 3), rel=1e-3)


def test_the_exponent_of_effort_is_told_and_the_demo_was_made_with_one(usual):
    exponent = usual.as_json()["effort_exponent"]
    assert exponent["low"] < 1 < exponent["high"]
    assert exponent["by_cluster"] is True


def test_temperatures_outside_the_band_are_flagged_by_row(workspace):
    band = TemperatureBand(limit_c=0.5, usual_c=17.9)
    answer = counts(workspace, choices=CountChoices(band=band))
    frame = workspace.visits.frame
    expected = frame[(frame["water_temp_c"] - 17.9).abs() > 0.5]
    assert answer.outside_band["row"].tolist() == expected["row"].tolist()
    told = answer.as_json()["temperature"]
    assert (told["n_outside"], told["n_measured"]) == (len(expected), int(frame["water_temp_c"].notna().sum()))
    assert any(f"outside its usual 17.9 ± 0.50 °C on {len(expected)} of" in s for s in words.details(answer))


def test_the_command_line_reads_temperatures_with_their_unit(capsys):
    _, out, _ = run(capsys, "counts", DEMO, "--json", "--temperature-limit", "9 F")
    told = json.loads(out)["temperature"]
    assert told["usual_c"] == pytest.approx(22.2222, abs=1e-4)  # 72 °F
    assert told["limit_c"] == pytest.approx(5)


REFUSED = {
    "no limit": (["--response", "temperature"], "--temperature-limit"),
    "a stage of a share": (["--response", "gravid", "--stage", "adults"], "--stage"),
    "stages of a stage": (["--factor", "stage", "--stage", "adults"], "--factor"),
    "no such column": (["--covariate", "turbidity"], "people_in_water"),
    "a column of words": (["--covariate", "note"], "most cells of this one hold words"),
    "no such taxon": (["--taxon", "newt"], "none is written"),
    "one taxon": (["--factor", "taxon"], "at least two taxa"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_the_visits_do_not_hold_is_one_message(capsys, name):
    options, told = REFUSED[name]
    code, out, err = run(capsys, "counts", DEMO, *options)
    assert (code, out) == (2, "")
    assert told in err
    assert "Traceback" not in err


@pytest.mark.parametrize("option", [["--windows", "30"], ["--windows", "7,7"], ["--temperature-limit", "2"]])
def test_options_that_mean_nothing_are_refused_with_an_example(capsys, option):
    with pytest.raises(SystemExit) as stop:
        run(capsys, "counts", DEMO, *option)
    assert stop.value.code == 2
    assert "such as" in capsys.readouterr().err


def test_a_cell_of_a_covariate_that_is_no_number_is_told_with_its_row(capsys, demo):
    path = Path(demo) / "visits.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    cells = lines[4].rsplit(",", 2)
    lines[4] = ",".join([cells[0], "two or three", cells[2]])
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    code, _, err = run(capsys, "counts", demo, "--covariate", "people_in_water")
    assert code == 2
    assert "row 5" in err and "two or three" in err


def test_the_same_data_give_the_same_bytes(capsys, usual):
    assert json.loads(run(capsys, "counts", DEMO, "--json")[1]) == json.loads(json.dumps(usual.as_json()))


def test_a_covariate_is_charted_against_time_and_flow(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW)
    before = len(at.get("plotly_chart"))
    at.multiselect(key="covariates").select("people_in_water").run()
    assert not at.exception
    assert len(at.get("plotly_chart")) == before + 2
    assert "“people_in_water” as it is written" in said(at)


@pytest.mark.parametrize("response", ["eggs", "gravid", "temperature"])
def test_the_page_explains_other_responses(monkeypatch, response):
    at = app(monkeypatch, DEMO, VIEW)
    usual = first_sentence(at)
    at.selectbox(key="response").select(response).run()
    if response == "temperature":
        # No visit of the demo is further than 2 °F from 64 °F: nothing to estimate, said of the response asked for.
        at.number_input(key="usual-temperature").set_value(64.0).run()
        assert first_sentence(at).startswith("Whether water outside its usual temperature follows flow cannot be said")
        at.number_input(key="temperature-limit").set_value(0.5).run()
    assert not at.exception
    assert first_sentence(at) != usual
    assert re.search("times the (count of|odds|rate)", first_sentence(at))


def test_the_page_says_so_when_the_window_was_chosen(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW, window="0")
    assert TOO_NARROW in said(at)
    assert DECLARED not in said(at)


def test_large_print_keeps_the_number_of_pictures_and_enlarges_them(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW)
    height = json.loads(at.get("plotly_chart")[0].proto.spec)["layout"]["height"]
    at.toggle(key="large-print").set_value(True).run()
    assert not at.exception
    assert json.loads(at.get("plotly_chart")[0].proto.spec)["layout"]["height"] == int(height * SCALE)


def test_another_check_shows_another_picture(monkeypatch):
    at = app(monkeypatch, DEMO, VIEW)
    box = next(b for b in at.selectbox if b.label == "Picture of a check")
    for name in ("separation", "residuals", "influence", "flow range"):
        box.select(name).run()
        assert not at.exception, name
        assert check_labels.KEYS[name] in said(at)
        box = next(b for b in at.selectbox if b.label == "Picture of a check")
