"""Power by simulation: against the formula where it is exact, against a general library, and with stated truths."""

from __future__ import annotations

import numpy as np
import pytest

from ecology.cycle_variation import cycle_variation
from ecology.not_estimable import NotEstimable
from ecology.survey_power import (
    Comparison,
    CountSurvey,
    detectable_decline,
    formula_power,
    judged,
    simulated_power,
)
from ecology.trend_plan import MOST_IN_A_CYCLE, plan_trend

SURVEY = CountSurvey(expected=np.array([4.0]), visit_alpha=0.4, between=0.07)


def test_errors_are_the_cluster_robust_ones_of_a_general_library():
    """Each period by itself: a Poisson GLM with whole cycles as clusters (statsmodels, no small-sample factor) times
    y / (y − 1), which CR2 comes to where all cycles carry the same weight (Bell and McCaffrey 2002)."""
    import statsmodels.api as sm

    rng = np.random.default_rng(3)
    count = rng.negative_binomial(2.0, 0.3, size=(1, 6, 5)) * rng.integers(1, 3, size=(1, 6, 1))
    found = judged(count, np.full(count.shape, 4.0), 0.5)
    y = count.ravel()
    model = sm.GLM(y, np.ones((30, 1)), family=sm.families.Poisson(), offset=np.full(30, np.log(4.0)))
    fit = model.fit(cov_type="cluster", cov_kwds={"groups": np.repeat(np.arange(6), 5), "use_correction": False})
    assert found.log_rate[0] == pytest.approx(fit.params[0], rel=1e-9)
    assert found.variance[0] == pytest.approx(fit.cov_params()[0, 0] * 6 / 5, rel=1e-7)


def test_without_cycles_and_with_many_visits_the_simulation_meets_the_formula():
    """Each visit a cycle of its own: 24 against 24, 8 animals halved, alpha 0.4; the formula says 0.8795 and knows no
    estimated variance."""
    survey = CountSurvey(expected=np.array([8.0]), visit_alpha=0.4, between=0.0)
    design = Comparison(cycles_before=24, cycles_after=24, decline=0.5)
    found = simulated_power(survey, design, 1, sets=4000, seed=5)
    assert formula_power(survey, design, 1) == pytest.approx(0.8795395, abs=1e-6)
    assert 0.83 < found.value < 0.8795
    assert found.low < found.value < found.high


@pytest.mark.parametrize("cycles", [2, 3, 5, 10])
def test_without_a_decline_hardly_more_sets_show_one_than_promised(cycles):
    """Half of 5 %: 2.5 %; 4000 sets leave about 0.5 % to either side."""
    none = Comparison(cycles_before=cycles, cycles_after=cycles, decline=0.0)
    assert simulated_power(SURVEY, none, 8, sets=4000, seed=2).value < 0.036


@pytest.mark.parametrize("visits", [2, 8, 26])
def test_the_formula_is_an_upper_bound(visits):
    for cycles in (3, 6):
        design = Comparison(cycles_before=cycles, cycles_after=cycles, decline=0.5)
        found = simulated_power(SURVEY, design, visits, seed=4)
        assert found.low < formula_power(SURVEY, design, visits)


def test_visits_of_unequal_promise_tell_less_than_equal_ones():
    mixed = CountSurvey(expected=np.array([0.5, 7.5]), visit_alpha=0.4, between=0.07)
    design = Comparison(cycles_before=5, cycles_after=5, decline=0.5)
    assert mixed.mean == SURVEY.mean
    assert simulated_power(mixed, design, 6, seed=1).value < simulated_power(SURVEY, design, 6, seed=1).value


def test_a_place_where_nothing_is_found_any_more_shows_its_decline():
    """No animal in the later cycles: the logarithm does not exist, the decline is plain all the same."""
    survey = CountSurvey(expected=np.array([6.0]), visit_alpha=0.0, between=0.0)
    design = Comparison(cycles_before=5, cycles_after=5, decline=0.9999)
    assert simulated_power(survey, design, 4, sets=500).value > 0.95


def test_the_same_seed_gives_the_same_power_whatever_was_asked_before():
    design = Comparison(cycles_before=4, cycles_after=4, decline=0.4)
    alone = simulated_power(SURVEY, design, 7, sets=300, seed=9)
    simulated_power(SURVEY, design, 3, sets=300, seed=9)
    assert simulated_power(SURVEY, design, 7, sets=300, seed=9) == alone
    assert simulated_power(SURVEY, design, 7, sets=300, seed=10) != alone


def test_a_plan_is_enough_and_one_visit_less_is_not():
    design = Comparison(cycles_before=6, cycles_after=4, decline=0.5)
    plan = plan_trend(SURVEY, design, sure=0.8, sets=1000, seed=1)
    at = plan.curve.set_index("per_cycle")
    assert plan.visits_needed == 4 * plan.per_cycle
    assert at.loc[plan.per_cycle, "probability"] == plan.power.value >= 0.8
    assert at.loc[plan.per_cycle - 1, "probability"] < 0.8
    assert (plan.curve["visits"] == 4 * plan.curve["per_cycle"]).all()
    # What a plan can show with its chance is about the decline that it was made for, on the hopeful side.
    assert 0.40 < at.loc[plan.per_cycle, "detectable_decline"] < 0.55


def test_where_cycles_differ_more_visits_do_not_help_and_more_cycles_do():
    plan = plan_trend(
        CountSurvey(expected=np.array([4.0]), visit_alpha=0.4, between=0.2),
        Comparison(cycles_before=3, cycles_after=3, decline=0.5),
        sure=0.8,
        sets=500,
    )
    assert plan.visits_needed is None
    assert plan.power.visits == MOST_IN_A_CYCLE
    assert plan.power.value < plan.power_limit < 0.8
    assert plan.more_cycles.value > plan.power.value


def test_a_larger_decline_and_more_cycles_are_easier_to_show():
    def power(decline: float, cycles: int) -> float:
        return formula_power(SURVEY, Comparison(cycles_before=cycles, cycles_after=cycles, decline=decline), 6)

    assert power(0.3, 4) < power(0.5, 4) < power(0.5, 8)
    narrow, wide = (
        Comparison(cycles_before=3, cycles_after=3, decline=0.5),
        Comparison(cycles_before=9, cycles_after=9, decline=0.5),
    )
    assert detectable_decline(SURVEY, wide, 6) < detectable_decline(SURVEY, narrow, 6)


@pytest.mark.parametrize(("alpha", "between"), [(0.4, 0.1), (0.4, 0.0), (0.0, 0.2)])
def test_variation_between_cycles_is_found_back(alpha, between):
    """200 records of 20 cycles with 12 visits; means known, so that the estimate has no bias to allow for."""
    rng = np.random.default_rng(11)
    cycle = np.repeat(np.arange(20), 12)
    total = (1 + alpha) * (1 + between) - 1
    spread = np.sqrt(np.log1p(between))
    raw = []
    for _ in range(200):
        mean = rng.uniform(1.0, 8.0, size=240)
        shared = np.exp(spread * rng.standard_normal(20) - 0.5 * spread**2)[cycle]
        own = alpha * rng.standard_gamma(1 / alpha, 240) if alpha else 1.0
        raw.append(cycle_variation(rng.poisson(mean * shared * own).astype(float), mean, total, cycle).raw_between)
    error = np.std(raw) / np.sqrt(len(raw))
    assert abs(np.mean(raw) - between) < 3.5 * error


@pytest.mark.parametrize(("cycles", "visits", "between"), [(8, 12, 0.07), (20, 12, 0.07), (20, 6, 0.0)])
def test_with_a_fitted_mean_the_variation_keeps_its_size_and_its_limit(cycles, visits, between):
    """300 records whose mean level is their own: the correction takes most of the bias, the limit holds in 9 of 10."""
    rng = np.random.default_rng(5)
    cycle = np.repeat(np.arange(cycles), visits)
    spread = np.sqrt(np.log1p(between))
    raw, high = [], []
    for _ in range(300):
        shared = np.exp(spread * rng.standard_normal(cycles) - 0.5 * spread**2)[cycle]
        count = rng.poisson(4.0 * shared * 0.4 * rng.standard_gamma(2.5, cycle.size)).astype(float)
        found = cycle_variation(count, np.full(cycle.size, count.mean()), 1.4 * (1 + between) - 1, cycle)
        raw.append(found.raw_between)
        high.append(found.between_high)
        assert found.between >= max(found.raw_between, 0.0)
    assert np.mean(raw) < between
    assert np.mean(np.array(high) >= between) > 0.84


def test_dispersion_within_and_between_cycles_make_up_the_whole():
    rng = np.random.default_rng(1)
    cycle = np.repeat(np.arange(15), 8)
    shared = np.exp(0.5 * rng.standard_normal(15))[cycle]
    found = cycle_variation(rng.poisson(5 * shared).astype(float), np.full(120, 5.0), 0.3, cycle)
    assert (1 + found.visit_alpha) * (1 + found.between) == pytest.approx(1.3)
    assert found.n_cycles == 15


def test_few_cycles_tell_nothing_of_how_they_differ():
    with pytest.raises(NotEstimable, match="4 flow cycles"):
        cycle_variation(np.ones(8), np.ones(8), 0.3, np.repeat(np.arange(4), 2))
    with pytest.raises(NotEstimable, match="dispersion"):
        cycle_variation(np.ones(12), np.ones(12), np.nan, np.repeat(np.arange(6), 2))


def test_impossible_designs_are_refused():
    with pytest.raises(ValueError, match="two cycles"):
        Comparison(cycles_before=1, cycles_after=5, decline=0.5)
    with pytest.raises(ValueError, match="decline"):
        Comparison(cycles_before=2, cycles_after=2, decline=1.0)
    with pytest.raises(ValueError, match="above 0"):
        CountSurvey(expected=np.array([0.0]), visit_alpha=0.1, between=0.0)
