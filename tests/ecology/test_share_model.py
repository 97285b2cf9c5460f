"""The binomial model against statsmodels and scipy, and where it has no answer."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm
from scipy import stats

from ecology.cluster_errors import robust_errors
from ecology.not_estimable import DependentTermsError, NotEstimable, SeparatedError
from ecology.share_likelihood import share_log_pmf, share_tails
from ecology.share_model import fit_shares


def _sample(n: int, seed: int, most: int = 12) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    X = np.column_stack((np.ones(n), rng.normal(size=n), np.arange(n) % 2))
    trials = rng.integers(1, most + 1, n)
    p = 1 / (1 + np.exp(-(X @ [-0.6, 0.7, -0.4])))
    return rng.binomial(trials, p).astype(float), trials.astype(float), X


TERMS = ("one", "flow", "late")


def test_shares_equal_statsmodels_and_scipy():
    y, n, X = _sample(80, 1)
    fit = fit_shares(y, n, X, terms=TERMS)
    outside = sm.GLM(np.column_stack((y, n - y)), X, family=sm.families.Binomial()).fit(tol=1e-12)
    np.testing.assert_allclose(fit.estimate, outside.params, rtol=1e-7)
    np.testing.assert_allclose(fit.standard_error, outside.bse, rtol=1e-6)
    assert fit.deviance == pytest.approx(outside.deviance, abs=1e-7)
    assert fit.pearson_chi2 == pytest.approx(outside.pearson_chi2, rel=1e-7)
    assert fit.log_likelihood == pytest.approx(stats.binom.logpmf(y, n, fit.probability).sum(), abs=1e-9)


def test_presence_with_effort_equals_statsmodels_and_means_what_a_count_means():
    rng = np.random.default_rng(2)
    X = np.column_stack((np.ones(600), rng.normal(size=600)))
    offset = np.log(rng.uniform(0.5, 2.0, 600))
    rate = np.exp(offset + X @ [-0.3, 0.6])
    y = (rng.poisson(rate) > 0).astype(float)
    fit = fit_shares(y, np.ones(600), X, terms=("one", "flow"), link="log-log", offset=offset)
    family = sm.families.Binomial(link=sm.families.links.CLogLog())
    outside = sm.GLM(y, X, family=family, offset=offset).fit(tol=1e-12)
    np.testing.assert_allclose(fit.estimate, outside.params, rtol=1e-6)
    assert fit.log_likelihood == pytest.approx(outside.llf, abs=1e-7)
    # Observed information: second differences of scipy's log likelihood.
    step = 1e-3

    def value(beta: np.ndarray) -> float:
        return float(stats.bernoulli.logpmf(y, 1 - np.exp(-np.exp(offset + X @ beta))).sum())

    unit = step * np.eye(2)
    at = fit.estimate
    curve = [
        [(value(at + a + b) - value(at + a - b) - value(at - a + b) + value(at - a - b)) / (4 * step**2) for b in unit]
        for a in unit
    ]
    np.testing.assert_allclose(fit.covariance, np.linalg.inv(-np.array(curve)), rtol=1e-3)
    # The truth of the counts is the truth here: the chance of none is exp(-expected count).
    assert abs(fit.estimate[1] - 0.6) < 3 * fit.standard_error[1]


def test_the_cluster_errors_of_a_share_equal_statsmodels():
    y, n, X = _sample(120, 3)
    herd = np.arange(120) // 8
    fit = fit_shares(y, n, X, terms=TERMS)
    outside = sm.GLM(np.column_stack((y, n - y)), X, family=sm.families.Binomial()).fit(
        tol=1e-12, cov_type="cluster", cov_kwds={"groups": herd, "use_correction": True}
    )
    own = robust_errors(fit, kind="CL1", groups=herd)
    np.testing.assert_allclose(own.standard_error, outside.bse, rtol=1e-6)


def test_the_score_vanishes_at_the_estimates():
    y, n, X = _sample(90, 4)
    for link in ("logit", "log-log"):
        fit = fit_shares(y, n, X, terms=TERMS, link=link)
        assert fit.converged
        np.testing.assert_allclose(fit.score_rows.sum(axis=0), 0, atol=1e-6)


def test_tails_and_probabilities_equal_scipys():
    y, n, p = np.array([0, 1, 3, 5, 5]), np.array([4, 1, 7, 5, 9]), np.array([0.2, 0.7, 0.5, 0.9, 0.01])
    below, at_least = share_tails(y, n, p)
    np.testing.assert_allclose(below, stats.binom.cdf(y - 1, n, p), atol=1e-14)
    np.testing.assert_allclose(at_least, stats.binom.sf(y - 1, n, p), rtol=1e-10)
    np.testing.assert_allclose(share_log_pmf(y, n, p), stats.binom.logpmf(y, n, p), rtol=1e-10)
    assert share_tails(n + 1, n, p)[0].tolist() == [1.0] * 5


def test_residuals_of_the_right_model_are_standard_normal():
    y, n, X = _sample(2_000, 5)
    fit = fit_shares(y, n, X, terms=TERMS)
    residual = fit.quantile_residuals_at(np.random.default_rng(1).uniform(size=2_000))
    assert stats.kstest(residual, "norm").pvalue > 0.01


def test_terms_that_part_yes_from_no_are_named_and_not_estimated():
    flow = np.array([1.0, 2, 3, 4, 5, 6])
    X = np.column_stack((np.ones(6), flow))
    with pytest.raises(SeparatedError, match="“flow”"):
        fit_shares(np.array([0.0, 0, 0, 1, 1, 1]), np.ones(6), X, terms=("one", "flow"))
    with pytest.raises(SeparatedError, match="No answer is yes"):
        fit_shares(np.zeros(6), np.ones(6), X, terms=("one", "flow"))
    with pytest.raises(SeparatedError, match="Every answer is yes"):
        fit_shares(np.ones(6), np.ones(6), X, terms=("one", "flow"))
    with pytest.raises(DependentTermsError):
        fit_shares(np.array([0.0, 1, 0, 1, 1, 0]), np.ones(6), np.column_stack((X, flow)), terms=("a", "b", "c"))
    with pytest.raises(NotEstimable):
        fit_shares(np.array([0.0, 1]), np.ones(2), X[:2], terms=("a", "b"))


@pytest.mark.parametrize(("y", "n"), [(3.0, 2.0), (-1.0, 2.0), (0.5, 2.0), (0.0, 0.0), (np.nan, 1.0)])
def test_what_is_no_share_is_refused(y, n):
    with pytest.raises(ValueError):
        fit_shares(np.array([y, 1, 0]), np.array([n, 2, 2]), np.ones((3, 1)), terms=("one",))
