"""Judging a period by a model that never saw it, on made surveys whose truth is known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.before_after import before_after
from ecology.count_drop import DropJudgement, judge_drop
from ecology.drop_periods import within
from ecology.not_estimable import NotEstimable
from tests.ecology.made_survey import MadeSurvey, made_counts, made_survey, year


def judge(made: MadeSurvey, visits: pd.DataFrame | None = None, at: int = 12, **more) -> DropJudgement:
    design, groups = made.design(visits)
    return judge_drop(design, groups, baseline=year(at - 1), judged=year(at), draws=2_000, **more)


def test_how_often_a_period_is_called_lower_and_how_often_a_halving_is_found():
    """The small version of tests/benchmarks/bench_drop_truth.py, which has 1,000 sets and limits of 3 to 7 in 100."""
    rng = np.random.default_rng(2)
    lower, inside, found, said = 0, 0, 0, 0
    for k in range(24):
        made = made_survey(rng, effort_missing=0.15 * (k % 2))
        j = judge(made, at=int(rng.integers(1, 21)), seed=k + 1)
        if j.predicted is None:
            continue
        said += 1
        used = within(made.visits["date"], (j.judged.first, j.judged.last)) & made.visits["effort"].notna().to_numpy()
        halved = made_counts(rng, 0.5 * made.mean[used], 0.4 - 0.25**2).sum()
        lower += j.verdict == "lower than expected"
        inside += j.low <= j.judged.count <= j.high
        found += j.predicted.at_most(halved) < 0.05
        assert j.factors["factor"].prod() == pytest.approx(j.split.ratio, rel=1e-9)
        assert j.factors["animals"].sum() == pytest.approx(j.split.difference, abs=1e-9 * j.baseline.count)
    assert said >= 21
    assert lower <= 4  # 5 in 100 of 24: 5 or more by chance in 1 of 170
    assert inside >= said - 4
    assert found >= 0.45 * said


@pytest.fixture(scope="module")
def made() -> MadeSurvey:
    """Two outlets; the second is met dry four times in the year judged and once before."""
    survey = made_survey(np.random.default_rng(5), years=14, visits_a_year=8, outlets=("pool", "shelf"))
    visits = survey.visits.copy()
    shelf = (visits["outlet"] == "shelf").to_numpy()
    for at, n in ((12, 4), (11, 1)):
        rows = visits.index[shelf & within(visits["date"], year(at))][:n]
        visits.loc[rows, ["kind", "count", "effort"]] = ["dry", np.nan, np.nan]
    return MadeSurvey(
        visits=visits, mean=survey.mean, deviation=survey.deviation, water=survey.water, cycles=survey.cycles
    )


def test_factors_multiply_to_the_ratio_of_counts_per_visit_planned(made):
    j = judge(made)
    assert (j.judged.planned, j.judged.dry, j.baseline.dry) == (16, 4, 1)
    ratio = (j.judged.count / 16) / (j.baseline.count / 16)
    assert j.split.ratio == pytest.approx(ratio, rel=1e-12)
    assert j.factors["factor"].prod() == pytest.approx(ratio, rel=1e-9)
    assert j.factors["animals"].sum() == pytest.approx(j.judged.count - j.baseline.count, abs=1e-9)
    factors = j.factors.set_index("part")
    assert factors.loc["surface dry", "factor"] < 0.9
    assert (factors["low"] <= factors["factor"] + 1e-12).all() and (factors["factor"] <= factors["high"] + 1e-12).all()
    assert factors.loc["unexplained", "high"] / factors.loc["unexplained", "low"] > 1.5


def test_the_model_never_sees_the_period_judged(made):
    before = judge(made)
    visits = made.visits.copy()
    rows = within(visits["date"], year(12)) & (visits["kind"] == "counted").to_numpy()
    visits.loc[rows, "count"] = 0.0
    after = judge(made, visits)
    assert np.array_equal(before.predicted.totals, after.predicted.totals)
    assert after.verdict == "lower than expected" and after.tail_low < before.tail_low
    assert after.factors["factor"].prod() == 0 and np.isnan(after.factors["high"].iloc[-1])


def test_more_animals_than_expected_are_said_too(made):
    visits = made.visits.copy()
    rows = within(visits["date"], year(12)) & (visits["kind"] == "counted").to_numpy()
    visits.loc[rows, "count"] = visits.loc[rows, "count"] * 4 + 10
    j = judge(made, visits)
    assert j.verdict == "higher than expected"
    assert j.tail == j.tail_high < 0.05


def cannot_say(made: MadeSurvey, visits: pd.DataFrame) -> str:
    j = judge(made, visits)
    assert (j.verdict, j.expected, j.tail, j.low) == ("cannot say", None, None, None)
    assert j.factors.empty and j.why is not None
    return j.why


def test_what_is_missing_is_said_with_what_would_be_needed(made):
    visits = made.visits
    inside = within(visits["date"], year(12))
    here = visits.index[inside & (visits["kind"] == "counted").to_numpy()]
    assert "has 2 visits" in cannot_say(made, visits.drop(here[2:]))
    assert "surface was dry on all 4 visits" in cannot_say(made, visits.drop(here))
    few = visits[inside | within(visits["date"], (year(8)[0], year(11)[1]))]
    assert "in 4 flow cycles or years; at least 25 visits in 5 are needed" in cannot_say(made, few)
    only_there = visits[inside | (visits["outlet"] == "pool").to_numpy()]
    assert "no counted visit to shelf" in cannot_say(made, only_there)
    zero = visits.assign(count=visits["count"].where(inside | (visits["kind"] == "dry"), 0.0))
    assert "All counts are 0" in cannot_say(made, zero)


def test_a_period_met_dry_on_every_visit_is_a_state_and_not_a_count(made):
    visits = made.visits.copy()
    inside = within(visits["date"], year(12))
    visits.loc[inside, ["kind", "count", "effort"]] = ["dry", np.nan, np.nan]
    assert "the surface was dry on all 16 visits" in cannot_say(made, visits)


def test_flow_that_no_other_visit_had_is_counted_and_too_much_of_it_leaves_nothing_to_say(made):
    design, groups = made.design()
    inside = within(design.rows["date"], year(12))
    order = np.argsort(design.rows["log_discharge"].to_numpy())
    extreme = np.zeros(len(order), dtype=bool)
    extreme[order[:20]] = True
    kept = inside | ~extreme
    lowest = design.rows.loc[kept & ~inside, "log_discharge"].min()
    j = judge(made)
    beyond = design.rows.loc[inside, "log_discharge"]
    known = design.rows.loc[~inside, "log_discharge"]
    assert j.flow_outside == ((beyond < known.min()) | (beyond > known.max())).sum()
    low_flow = made.design(made.visits)[0]
    low_flow.rows.loc[inside, "log_discharge"] = lowest - 5
    why = judge_drop(low_flow, groups, baseline=year(11), judged=year(12), draws=200).why
    assert "visits at such a flow in other years are needed" in why


def contrast(survey: MadeSurvey, seed: int = 1):
    design, groups = survey.design()
    day = design.rows["date"]
    before, after = within(day, (year(0)[0], year(9)[1])), within(day, (year(10)[0], year(13)[1]))
    return before_after(design, groups, comparison="pool", before=before, after=after, seed=seed)


def test_a_change_at_one_outlet_stands_out_against_the_other_and_a_common_one_does_not():
    survey = made_survey(
        np.random.default_rng(8), years=14, visits_a_year=10, outlets=("pool", "shelf"), spread=0.1, own_spread=0.1
    )
    rng = np.random.default_rng(1)
    late = (survey.visits["date"] >= year(10)[0]).to_numpy()
    shelf = (survey.visits["outlet"] == "shelf").to_numpy()
    ratios = {}
    for name, changed in (("one", late & shelf), ("both", late)):
        visits = survey.visits.assign(count=made_counts(rng, survey.mean * np.where(changed, 0.5, 1.0), 0.38))
        there = MadeSurvey(
            visits=visits, mean=survey.mean, deviation=survey.deviation, water=survey.water, cycles=survey.cycles
        )
        ratios[name] = contrast(there)
    assert ratios["one"].low < 0.5 < ratios["one"].high < 1
    assert ratios["both"].low < 1 < ratios["both"].high
    assert ratios["both"].change[2] < 1 and ratios["both"].comparison[2] < 1
    assert (ratios["one"].cycles_before, ratios["one"].cycles_after) == (10, 4)
    assert ratios["one"].visits["question after"] == 40


def test_a_comparison_needs_visits_in_all_four_cells(made):
    design, groups = made.design()
    day = design.rows["date"]
    after = within(day, year(12)) & (design.rows["outlet"] == "shelf").to_numpy()
    with pytest.raises(NotEstimable, match="comparison after 0"):
        before_after(design, groups, comparison="pool", before=within(day, year(11)), after=after)
