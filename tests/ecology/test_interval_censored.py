"""What the interval-censored estimates promise, on data small enough to reason about."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ecology.interval_censored import npmle
from ecology.interval_fits import fit_intervals
from ecology.interval_likelihood import DISTRIBUTIONS, Distribution
from ecology.interval_tests import permutation_log_rank
from ecology.not_estimable import NotEstimable
from ecology.npmle_bootstrap import bootstrap_npmle


def _arrays(*rows: tuple[float, float]) -> tuple[np.ndarray, np.ndarray]:
    table = np.array(rows, dtype=float)
    return table[:, 0], table[:, 1]


def test_intervals_that_only_touch_do_not_share_a_time() -> None:
    """(1, 2] and (2, 3] are half-open (Peto 1973): no time lies in both."""
    fit = npmle(*_arrays((1, 2), (2, 3)))
    assert list(zip(fit.low, fit.high, strict=True)) == [(1, 2), (2, 3)]
    np.testing.assert_allclose(fit.mass, [0.5, 0.5])


def test_an_exact_time_lies_in_the_interval_that_ends_there_and_not_in_the_one_that_starts_there() -> None:
    fit = npmle(*_arrays((1, 2), (2, 2), (2, 3)))
    assert list(zip(fit.low, fit.high, strict=True)) == [(2, 2), (2, 3)]
    np.testing.assert_allclose(fit.mass, [2 / 3, 1 / 3], atol=1e-9)


def test_exact_and_right_censored_times_give_the_product_limit_estimate() -> None:
    """Kaplan and Meier 1958: with only exact and right-censored times the NPMLE is their estimate (scipy's ecdf)."""
    rng = np.random.default_rng(4)
    time, limit = rng.integers(1, 40, 120).astype(float), rng.integers(1, 60, 120).astype(float)
    seen = time <= limit
    low = np.minimum(time, limit)
    fit = npmle(low, np.where(seen, time, np.inf))
    outside = stats.ecdf(stats.CensoredData.right_censored(low, ~seen)).sf
    np.testing.assert_allclose(fit.not_yet_bounds(outside.quantiles)[1], outside.probabilities, atol=1e-8)


def test_a_lag_of_zero_days_has_a_place() -> None:
    """(−1, 0] and the exact time 0 both mean day 0; (0, 3] excludes it."""
    fit = npmle(*_arrays((-1, 0), (0, 0), (0, 3), (-1, 5)))
    assert list(zip(fit.low, fit.high, strict=True)) == [(0, 0), (0, 3)]
    assert fit.not_yet_bounds(-0.5) == (1.0, 1.0)
    low, high = fit.not_yet_bounds(0.0)
    assert low == high == pytest.approx(1 / 3, abs=1e-8)


def test_survival_is_a_range_only_inside_an_innermost_interval() -> None:
    fit = npmle(*_arrays((0, 10), (20, 30)))
    low, high = fit.not_yet_bounds(np.array([0.0, 5.0, 10.0, 15.0, 20.0, 29.9, 30.0]))
    np.testing.assert_allclose(low, [1, 0.5, 0.5, 0.5, 0.5, 0, 0])
    np.testing.assert_allclose(high, [1, 1, 0.5, 0.5, 0.5, 0.5, 0])


def test_the_median_has_no_upper_end_when_most_were_never_seen() -> None:
    fit = npmle(*_arrays((0, 4), (10, np.inf), (12, np.inf)))
    assert fit.quantile_bounds(0.5) == (12.0, np.inf)
    assert fit.quantile_bounds(0.25) == (0.0, 4.0)
    ends, survival = fit.survival_at_interval_ends()
    assert ends.tolist() == [4.0, np.inf]
    np.testing.assert_allclose(survival, [2 / 3, 0])


def test_weights_count_rows() -> None:
    low, high = _arrays((0, 4), (3, 9), (8, np.inf), (3, 3.5))
    weighted = npmle(low, high, weights=np.array([1.0, 3.0, 2.0, 0.0]))
    repeated = npmle(np.repeat(low, [1, 3, 2, 0]), np.repeat(high, [1, 3, 2, 0]))
    np.testing.assert_allclose(weighted.mass, repeated.mass, atol=1e-9)
    assert weighted.n == 6


@pytest.mark.parametrize("row", [(3.0, 2.0), (np.nan, 2.0), (1.0, np.nan), (np.inf, np.inf)])
def test_what_is_not_an_interval_is_refused(row: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="position 1 is not an interval"):
        npmle(*_arrays((0, 1), row))
    with pytest.raises(ValueError, match="position 1 is not an interval"):
        fit_intervals(*_arrays((0, 1), row), "weibull")


def test_an_unfinished_search_says_so() -> None:
    rng = np.random.default_rng(1)
    low = rng.uniform(0, 50, 200)
    fit = npmle(low, low + rng.uniform(1, 20, 200), max_iterations=1)
    assert not fit.converged
    assert fit.max_gradient > fit.n + 1e-3


def test_bootstrapped_clusters_are_drawn_whole() -> None:
    """Two clusters that agree within themselves: every resample has 0, half or all of each."""
    low, high = _arrays(*[(0, 1)] * 5, *[(10, 11)] * 5)
    bands = bootstrap_npmle(low, high, draws=200, seed=1, days=np.array([5.0]), groups=np.repeat(["a", "b"], 5))
    assert (bands.low[0], bands.high[0]) == (0.0, 1.0)
    rows = bootstrap_npmle(low, high, draws=200, seed=1, days=np.array([5.0]))
    assert 0.0 < rows.low[0] < rows.high[0] < 1.0


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_exact_and_censored_times_fit_as_scipy_fits_them(distribution: Distribution) -> None:
    """scipy.stats.CensoredData with every kind of row is an outside computation of the same likelihood."""
    rng = np.random.default_rng(8)
    time = 20 * rng.weibull(1.4, 60)
    low, high = np.floor(time / 7) * 7, np.floor(time / 7) * 7 + 7
    low[:10] = high[:10] = time[:10]
    high[50:] = np.inf
    fit = fit_intervals(low, high, distribution)
    shape, scale = fit.parameters.get("shape", 1.0), fit.parameters.get("scale", 1.0)
    mu = fit.parameters.get("mu", 0.0)
    outside = {
        "weibull": stats.weibull_min(shape, scale=scale),
        "exponential": stats.expon(scale=scale),
        "lognormal": stats.lognorm(fit.sigma, scale=np.exp(mu)),
        "loglogistic": stats.fisk(1 / fit.sigma, scale=np.exp(mu)),
    }[distribution]
    exact = low == high
    value = outside.logpdf(low[exact]).sum() + np.log(outside.cdf(high[~exact]) - outside.cdf(low[~exact])).sum()
    assert fit.log_likelihood == pytest.approx(value, abs=1e-9)
    assert fit.median == pytest.approx(outside.median())
    np.testing.assert_allclose(
        fit.cdf(np.array([-1.0, 0.0, 3.0, 40.0])), outside.cdf([-1.0, 0.0, 3.0, 40.0]), atol=1e-12
    )
    assert fit.median_low < fit.median < fit.median_high


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_errors_with_exact_rows_and_a_covariate_are_those_of_the_measured_curvature(distribution: Distribution) -> None:
    """Second differences of the log likelihood as scipy.stats has it, in (coefficients, ln σ)."""
    rng = np.random.default_rng(21)
    wet = np.arange(50) % 2
    time = 20 * np.exp(0.4 * wet) * rng.weibull(1.4, 50)
    low, high = np.floor(time / 7) * 7, np.floor(time / 7) * 7 + 7
    low[:15] = high[:15] = time[:15]
    high[42:] = np.inf
    exact = low == high
    fit = fit_intervals(low, high, distribution, covariates=wet[:, None], terms=["wet"])
    at = fit.coefficients if distribution == "exponential" else np.append(fit.coefficients, np.log(fit.sigma))

    def value(theta: np.ndarray) -> float:
        sigma, scale = (np.exp(theta[2]) if theta.size == 3 else 1.0), np.exp(theta[0] + theta[1] * wet)
        law = {
            "weibull": lambda s: stats.weibull_min(1 / sigma, scale=s),
            "exponential": lambda s: stats.expon(scale=s),
            "lognormal": lambda s: stats.lognorm(sigma, scale=s),
            "loglogistic": lambda s: stats.fisk(1 / sigma, scale=s),
        }[distribution]
        within = law(scale[~exact])
        return float(
            law(scale[exact]).logpdf(low[exact]).sum()
            + np.log(within.cdf(high[~exact]) - within.cdf(low[~exact])).sum()
        )

    unit = 1e-3 * np.eye(at.size)
    curvature = [
        [(value(at + a + b) - value(at + a - b) - value(at - a + b) + value(at - a - b)) / 4e-6 for b in unit]
        for a in unit
    ]
    assert fit.log_likelihood == pytest.approx(value(at), abs=1e-9)
    np.testing.assert_allclose(fit.covariance, np.linalg.inv(-np.array(curvature)), rtol=1e-3, atol=1e-6)


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_the_unit_of_time_changes_nothing_but_the_scale(distribution: Distribution) -> None:
    low, high = _arrays((0, 7), (7, 14), (14, np.inf), (3, 21), (30, 44), (30, np.inf))
    days, hours = fit_intervals(low, high, distribution), fit_intervals(24 * low, 24 * high, distribution)
    assert hours.log_likelihood == pytest.approx(days.log_likelihood, abs=1e-9)
    assert hours.median == pytest.approx(24 * days.median)
    assert hours.sigma == pytest.approx(days.sigma)


@pytest.mark.parametrize(
    ("rows", "reason"),
    [
        ([(5, np.inf), (9, np.inf)], "Nothing was seen to happen"),
        ([(0, 5), (-1, 9)], "All times are left-censored"),
        ([(0, 5), (3, 9), (2, np.inf)], "One time lies within every interval"),
        ([(3, 3), (3, 3)], "One time lies within every interval"),
        ([(-1, 0), (3, 9)], "can only be 0"),
        ([(0, 1), (10, np.inf)], "wider spread"),
    ],
)
def test_a_shape_that_the_data_do_not_hold_is_not_invented(rows: list[tuple[float, float]], reason: str) -> None:
    with pytest.raises(NotEstimable, match=reason) as caught:
        fit_intervals(*_arrays(*rows), "weibull")
    assert caught.value.reason.endswith(".")


@pytest.mark.parametrize("distribution", ["weibull", "lognormal", "loglogistic"])
def test_intervals_that_meet_at_one_end_do_not_hold_a_spread(distribution: Distribution) -> None:
    """Nine in (10, 20] and one in (20, 30]: a spread of 0 at 20 explains them as well as anything can."""
    low, high = _arrays(*[(10, 20)] * 9, (20, 30))
    with pytest.raises(NotEstimable, match=r"spread|shape|flat"):
        fit_intervals(low, high, distribution)


def test_a_covariate_whose_rows_were_never_seen_is_named() -> None:
    """All rows of one group right-censored: the likelihood rises for ever as its times grow."""
    low, high = _arrays((0, 7), (7, 14), (14, 21), (3, 9), (30, np.inf), (40, np.inf))
    with pytest.raises(NotEstimable, match="“head”"):
        fit_intervals(low, high, "weibull", covariates=np.array([[0, 0, 0, 0, 1, 1.0]]).T, terms=["head"])


def test_a_covariate_that_never_varies_is_named() -> None:
    low, high = _arrays((0, 7), (7, 14), (14, np.inf), (30, 44))
    with pytest.raises(NotEstimable, match="“wet year”"):
        fit_intervals(low, high, "weibull", covariates=np.ones((4, 1)), terms=["wet year"])


def test_few_rows_are_compared_over_all_labellings() -> None:
    """Two groups of three that do not overlap: 2 of the 20 labellings are as extreme, p = 0.1 exactly."""
    low, high = _arrays((1, 2), (2, 3), (3, 4), (11, 12), (12, 13), (13, 14))
    test = permutation_log_rank(low, high, np.array(list("aaabbb")), seed=1)
    assert (test.permutation, test.labellings, test.groups, test.sizes) == ("exact", 20, ("a", "b"), (3, 3))
    assert test.p_permutation == pytest.approx(0.1)
    assert test.z < 0  # the second group is slower


def test_groups_that_cannot_differ_or_are_not_two_are_refused() -> None:
    with pytest.raises(NotEstimable, match="same time"):
        permutation_log_rank(*_arrays((0, 5), (1, 6), (2, 7)), np.array([1, 1, 2]), seed=1)
    with pytest.raises(ValueError, match="found 3 labels"):
        permutation_log_rank(*_arrays((0, 5), (1, 6), (2, 7)), np.array([1, 3, 2]), seed=1)


def test_scores_of_the_rank_test_sum_to_zero_with_every_kind_of_row() -> None:
    """A consequence of the likelihood equations (Fay and Shih 1998); an exact time has a score of its own."""
    low, high = _arrays((2, 2), (2, 2), (0, 4), (3, np.inf), (5, 9), (9, 9), (-1, 0), (8, 12))
    test = permutation_log_rank(low, high, np.array([1, 2, 1, 2, 1, 2, 1, 2]), seed=1)
    assert np.isfinite(test.scores).all()
    assert test.scores.sum() == pytest.approx(0.0, abs=1e-6)
    assert test.scores[6] == test.scores.max()
