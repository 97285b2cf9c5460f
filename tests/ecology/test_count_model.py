"""What the count fit promises, on data made here and against scipy and statsmodels as outside computations."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import optimize, stats

from ecology.cluster_errors import robust_errors, t_quantile
from ecology.count_fit import likelihood_ratio_alpha
from ecology.count_model import fit_counts, rate_ratio_per_doubling
from ecology.count_residuals import (
    count_tails,
    extra_zeros_score,
    negative_binomial_log_pmf,
    randomised_quantile_residuals,
)
from ecology.not_estimable import NotEstimable


def _sample(n: int, alpha: float, seed: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    design = np.column_stack((np.ones(n), rng.normal(size=n), np.arange(n) % 2))
    mean = np.exp(design @ [1.2, 0.5, -0.4])
    return rng.poisson(mean * (rng.gamma(1 / alpha, alpha, n) if alpha else 1.0)), design


TERMS = ["(intercept)", "flow", "late"]


def _log_pmf(y: np.ndarray, mean: np.ndarray, alpha: float) -> np.ndarray:
    return stats.nbinom.logpmf(y, 1 / alpha, 1 / (1 + alpha * mean))


def test_the_reported_likelihood_is_scipys_at_the_estimates() -> None:
    y, design = _sample(90, 0.6, 1)
    fit = fit_counts(y, design, terms=TERMS)
    assert fit.model == "negative-binomial"
    assert fit.log_likelihood == pytest.approx(_log_pmf(y, fit.mean, fit.alpha).sum(), abs=1e-9)
    assert fit.aic == pytest.approx(2 * 4 - 2 * fit.log_likelihood)
    poisson = fit_counts(y, design, terms=TERMS, family="poisson")
    assert poisson.log_likelihood == pytest.approx(stats.poisson.logpmf(y, poisson.mean).sum(), abs=1e-9)
    assert fit.poisson_log_likelihood == pytest.approx(poisson.log_likelihood)


def test_the_score_vanishes_at_the_estimates() -> None:
    y, design = _sample(90, 0.6, 2)
    for family in ("auto", "poisson"):
        fit = fit_counts(y, design, terms=TERMS, family=family)
        assert fit.converged
        np.testing.assert_allclose(fit.score_rows.sum(axis=0), 0, atol=1e-6)


def test_the_covariance_is_the_inverse_of_the_measured_curvature() -> None:
    """Second differences of scipy's log likelihood in (coefficients, α)."""
    y, design = _sample(120, 0.5, 3)
    fit = fit_counts(y, design, terms=TERMS)
    at, step = np.append(fit.estimate, fit.alpha), 1e-3

    def value(theta: np.ndarray) -> float:
        return float(_log_pmf(y, np.exp(design @ theta[:3]), theta[3]).sum())

    unit = step * np.eye(4)
    curvature = [
        [(value(at + a + b) - value(at + a - b) - value(at - a + b) + value(at - a - b)) / (4 * step**2) for b in unit]
        for a in unit
    ]
    np.testing.assert_allclose(fit.joint_covariance, np.linalg.inv(-np.array(curvature)), rtol=2e-3, atol=1e-6)


@pytest.mark.parametrize("alpha", [0.6, 0.05])
def test_the_interval_for_alpha_ends_where_the_profile_falls_by_half_a_chi_square_quantile(alpha: float) -> None:
    """3.841459 = χ²₁ at 0.95; the profile is computed anew by scipy's general minimiser."""
    y, design = _sample(150, alpha, 5)
    fit = fit_counts(y, design, terms=TERMS)

    def profile(a: float) -> float:
        def loss(beta: np.ndarray) -> float:
            return -float(_log_pmf(y, np.exp(design @ beta), a).sum())

        return -float(optimize.minimize(loss, fit.estimate, method="BFGS").fun)

    assert 2 * (fit.log_likelihood - profile(fit.alpha_high)) == pytest.approx(3.841459, abs=1e-4)
    if fit.alpha_low > 0:
        assert 2 * (fit.log_likelihood - profile(fit.alpha_low)) == pytest.approx(3.841459, abs=1e-4)
    else:
        assert 2 * (fit.log_likelihood - fit.poisson_log_likelihood) < 3.841459


def test_counts_that_vary_less_than_poisson_are_fitted_as_poisson() -> None:
    """The limit is one-sided: 2.705543 = the 0.95 quantile of ½χ²₀ + ½χ²₁ (Self and Liang 1987)."""
    rng = np.random.default_rng(6)
    y, design = rng.binomial(6, 0.5, 80), np.ones((80, 1))
    fit = fit_counts(y, design, terms=["(intercept)"])
    assert (fit.model, fit.boundary, fit.alpha, fit.alpha_low) == ("poisson", True, 0.0, 0.0)
    assert np.isnan(fit.alpha_se)
    assert fit.notes
    drop = fit.log_likelihood - _log_pmf(y, np.full(80, y.mean()), fit.alpha_high).sum()
    assert 2 * drop == pytest.approx(2.705543, abs=1e-5)
    assert likelihood_ratio_alpha(fit) == (0.0, 1.0)


def test_few_rows_are_fitted_as_poisson_without_alpha() -> None:
    y, design = _sample(24, 1.0, 7)
    fit = fit_counts(y, design, terms=TERMS)
    assert fit.model == "poisson"
    assert np.isnan([fit.alpha, fit.alpha_low, fit.alpha_high]).all()
    assert "robust" in fit.notes[0]
    with pytest.raises(NotEstimable):
        likelihood_ratio_alpha(fit)
    asked = fit_counts(y, design, terms=TERMS, family="negative-binomial")
    assert asked.model == "negative-binomial"


def test_the_likelihood_ratio_of_alpha_halves_its_p() -> None:
    y, design = _sample(60, 0.1, 11)
    fit = fit_counts(y, design, terms=TERMS)
    ratio, p = likelihood_ratio_alpha(fit)
    assert ratio > 0
    assert p == pytest.approx(0.5 * stats.chi2.sf(ratio, 1))


def test_only_zeros_have_no_rate() -> None:
    with pytest.raises(NotEstimable, match="All counts are 0"):
        fit_counts(np.zeros(30), np.ones((30, 1)), terms=["(intercept)"])


def test_a_term_that_repeats_others_is_named_with_them() -> None:
    y, design = _sample(60, 0.5, 8)
    repeated = np.column_stack((design, 3 * design[:, 1] - 2))
    with pytest.raises(NotEstimable, match="“depth” is determined by “\\(intercept\\)” and “flow”"):
        fit_counts(y, repeated, terms=[*TERMS, "depth"])
    with pytest.raises(NotEstimable, match="“empty” is 0 in every row"):
        fit_counts(y, np.column_stack((design, np.zeros(60))), terms=[*TERMS, "empty"])
    with pytest.raises(NotEstimable, match="3 rows cannot determine 3 terms"):
        fit_counts(y[:3], design[:3], terms=TERMS)


def test_a_term_that_singles_out_zeros_is_named() -> None:
    y, design = _sample(60, 0.5, 9)
    y[:7] = 0
    outlet = (np.arange(60) < 7).astype(float)
    with pytest.raises(NotEstimable, match="The term “head” singles out"):
        fit_counts(y, np.column_stack((design, outlet)), terms=[*TERMS, "head"])


def test_two_terms_that_single_out_zeros_only_together_are_both_named() -> None:
    """Neither column alone is idle on the rows with counts; their difference is (Correia et al. 2019)."""
    y, design = _sample(60, 0.5, 9)
    y[:7], y[7:] = 0, np.maximum(y[7:], 1)
    first = np.random.default_rng(2).normal(size=60)
    second = first + (np.arange(60) < 7)
    with pytest.raises(NotEstimable, match="The terms “first”, “second” single out"):
        fit_counts(y, np.column_stack((design, first, second)), terms=[*TERMS, "first", "second"])


def test_two_separate_outlets_of_zeros_are_found() -> None:
    y, design = _sample(60, 0.5, 9)
    y[:7] = 0
    columns = [(np.arange(60) < 3).astype(float), ((np.arange(60) >= 3) & (np.arange(60) < 7)).astype(float)]
    with pytest.raises(NotEstimable, match="“a”, “b” single out"):
        fit_counts(y, np.column_stack((design, *columns)), terms=[*TERMS, "a", "b"])


def test_an_idle_direction_that_raises_and_lowers_zeros_is_estimable() -> None:
    """A term that is 0 on every count but takes both signs among zeros has a finite estimate."""
    y, design = _sample(60, 0.5, 9)
    y[:8], y[8:] = 0, np.maximum(y[8:], 1)
    both_ways = np.where(np.arange(60) < 4, 1.0, -1.0) * (np.arange(60) < 8)
    fit = fit_counts(y, np.column_stack((design, both_ways)), terms=[*TERMS, "tilt"])
    assert fit.converged
    assert np.isfinite(fit.estimate).all()


@pytest.mark.parametrize("bad", [-1.0, 0.5, np.nan, np.inf])
def test_what_is_not_a_count_is_refused(bad: float) -> None:
    y, design = _sample(60, 0.5, 9)
    counts = y.astype(float)
    counts[3] = bad
    with pytest.raises(ValueError, match=r"counts"):
        fit_counts(counts, design, terms=TERMS)


def test_badly_scaled_terms_change_nothing() -> None:
    """Discharge in another unit, a year and its square as they are: the same means to many digits."""
    y, design = _sample(80, 0.5, 10)
    year = 2000 + np.arange(80) // 4
    small = np.column_stack((design, year - 2010, (year - 2010.0) ** 2))
    large = np.column_stack((design * [1, 1e6, 1], year, year.astype(float) ** 2))
    fits = [fit_counts(y, d, terms=[*TERMS, "year", "square"]) for d in (small, large)]
    np.testing.assert_allclose(fits[0].mean, fits[1].mean, rtol=1e-6)
    assert fits[1].estimate[1] * 1e6 == pytest.approx(fits[0].estimate[1], rel=1e-6)
    assert fits[1].standard_error[1] * 1e6 == pytest.approx(fits[0].standard_error[1], rel=1e-6)


def test_large_counts_with_little_extra_variance_keep_their_digits() -> None:
    """Counts near 100,000 with α = 1e-4: the gamma-function form would lose digits that the sums keep."""
    rng = np.random.default_rng(12)
    y = rng.poisson(1e5 * rng.gamma(1e4, 1e-4, 200))
    fit = fit_counts(y, np.ones((200, 1)), terms=["(intercept)"])
    assert fit.converged
    # Moment estimate of α for one mean: (s² − ȳ)/ȳ², near the maximum likelihood one for large means.
    moment = (y.var() - y.mean()) / y.mean() ** 2
    assert fit.alpha == pytest.approx(moment, rel=0.02)
    # Counts this large are as good as normal, so that the error of their variance is √(2/n) of it.
    assert fit.alpha_se == pytest.approx((fit.alpha + 1 / y.mean()) * np.sqrt(2 / 200), rel=0.02)
    assert fit.alpha_low < fit.alpha - fit.alpha_se < fit.alpha + fit.alpha_se < fit.alpha_high


def test_the_log_pmf_equals_scipys_over_all_orders_of_alpha() -> None:
    y = np.array([0.0, 1.0, 3.0, 40.0, 900.0])
    mean = np.array([0.2, 2.0, 3.5, 30.0, 950.0])
    for alpha in (5.0, 0.4, 1e-2):
        np.testing.assert_allclose(negative_binomial_log_pmf(y, mean, alpha), _log_pmf(y, mean, alpha), rtol=1e-9)
    np.testing.assert_allclose(negative_binomial_log_pmf(y, mean, 0.0), stats.poisson.logpmf(y, mean), rtol=1e-12)
    # Towards 0 the difference from Poisson is α/2·((y − μ)² − y).
    tilt = 0.5e-7 * ((y - mean) ** 2 - y)
    np.testing.assert_allclose(
        negative_binomial_log_pmf(y, mean, 1e-7) - stats.poisson.logpmf(y, mean), tilt, rtol=1e-3, atol=1e-11
    )


def test_residuals_of_the_right_model_are_standard_normal_and_of_a_wrong_one_are_not() -> None:
    y, design = _sample(2_000, 0.7, 13)
    fit = fit_counts(y, design, terms=TERMS)
    right = randomised_quantile_residuals(y, fit.mean, fit.alpha, seed=1)
    wrong = randomised_quantile_residuals(y, fit.mean, 0.0, seed=1)
    assert stats.kstest(right, "norm").pvalue > 0.01
    assert stats.kstest(wrong, "norm").pvalue < 1e-6
    assert np.isfinite(wrong).all()
    np.testing.assert_array_equal(right, randomised_quantile_residuals(y, fit.mean, fit.alpha, seed=1))


def test_far_counts_have_finite_residuals_of_the_right_sign() -> None:
    residual = randomised_quantile_residuals(np.array([0, 300]), np.array([500.0, 10.0]), 0.0, seed=1)
    assert residual[0] < -20
    assert residual[1] > 20


@pytest.mark.parametrize("alpha", [0.0, 0.3])
def test_tails_equal_scipys(alpha: float) -> None:
    y, mean = np.array([0, 1, 2, 7, 30]), np.array([0.5, 2.0, 4.0, 4.0, 12.0])
    law = stats.nbinom(1 / alpha, 1 / (1 + alpha * mean)) if alpha else stats.poisson(mean)
    below, at_least = count_tails(y, mean, alpha)
    np.testing.assert_allclose(below, law.cdf(y - 1), rtol=1e-10)
    np.testing.assert_allclose(at_least, law.sf(y - 1), rtol=1e-10)


def test_the_extra_zero_score_keeps_its_size_under_a_poisson_model() -> None:
    """Simulated: about 5 % of Poisson samples exceed χ²₁ at 0.95, with a covariate in the model."""
    rng = np.random.default_rng(14)
    design = np.column_stack((np.ones(150), rng.normal(size=150)))
    mean = np.exp(design @ [0.3, 0.4])
    rejected = 0
    for _ in range(300):
        y = rng.poisson(mean)
        fit = fit_counts(y, design, terms=["(intercept)", "flow"], family="poisson")
        rejected += extra_zeros_score(y, fit.mean, design)[1] < 0.05
    # Binomial(300, 0.05) leaves 3 to 31 with probability 1 − 1e-4 (scipy.stats.binom).
    assert 3 <= rejected <= 31


def test_a_doubling_multiplies_by_two_to_the_coefficient() -> None:
    """0.8 → 1.741101: arithmetic."""
    assert rate_ratio_per_doubling(0.8) == pytest.approx(1.741101, abs=1e-6)


def test_clusters_are_labels_in_any_order() -> None:
    y, design = _sample(90, 0.5, 15)
    fit = fit_counts(y, design, terms=TERMS)
    spell = np.arange(90) // 9
    named = np.array([f"spell {s}" for s in spell])
    for kind in ("CL0", "CL1"):
        a, b = robust_errors(fit, kind=kind, groups=spell), robust_errors(fit, kind=kind, groups=named)
        np.testing.assert_allclose(a.covariance, b.covariance)
    assert a.degrees_of_freedom == 9
    assert "10 clusters" in a.notes[0]
    ratio = a.covariance / robust_errors(fit, kind="CL0", groups=spell).covariance
    np.testing.assert_allclose(ratio, 10 / 9 * 89 / 86)


def test_every_row_its_own_cluster_is_the_row_sandwich() -> None:
    y, design = _sample(90, 0.5, 15)
    fit = fit_counts(y, design, terms=TERMS)
    rows = robust_errors(fit, kind="HC0")
    np.testing.assert_allclose(rows.covariance, robust_errors(fit, kind="CL0", groups=np.arange(90)).covariance)
    np.testing.assert_allclose(robust_errors(fit, kind="HC1").covariance / rows.covariance, 90 / 86)


def test_cluster_intervals_use_the_t_distribution_with_one_less_than_the_clusters() -> None:
    """t₉ at 0.975 = 2.262157: printed in every table of the t distribution."""
    assert t_quantile(9, 0.975) == pytest.approx(2.262157, abs=1e-6)
    y, design = _sample(90, 0.5, 15)
    fit = fit_counts(y, design, terms=TERMS)
    errors = robust_errors(fit, kind="CL1", groups=np.arange(90) // 9)
    low, high = errors.intervals(fit.estimate)
    np.testing.assert_allclose((high - low) / 2, 2.262157 * errors.standard_error, rtol=1e-6)
    np.testing.assert_allclose(
        errors.p_values(fit.estimate), 2 * stats.t.sf(np.abs(fit.estimate) / errors.standard_error, 9)
    )


def test_one_cluster_shows_nothing() -> None:
    y, design = _sample(90, 0.5, 15)
    fit = fit_counts(y, design, terms=TERMS)
    with pytest.raises(NotEstimable, match="one cluster"):
        robust_errors(fit, kind="CL1", groups=np.zeros(90))
    with pytest.raises(ValueError, match="needs groups"):
        robust_errors(fit, kind="CL1")
