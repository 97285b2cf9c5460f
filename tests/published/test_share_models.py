"""The binomial model against worked examples of the literature.

Numbers marked “value from memory” were printed in the source named; statsmodels, fitted here to the same data, gives
all their digits and more.
"""

from __future__ import annotations

import numpy as np
import pytest

from ecology.share_model import ShareFit, fit_shares

DOSE = np.array([1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.8610, 1.8839])
BEETLES = np.array([59, 60, 62, 56, 63, 59, 62, 60])
KILLED = np.array([6, 13, 18, 28, 52, 53, 61, 60])


def same_as_statsmodels(fit: ShareFit, link: str) -> None:
    """Coefficients, errors and deviance of the same model fitted by statsmodels' GLM."""
    import statsmodels.api as sm

    family = sm.families.Binomial(getattr(sm.families.links, link)())
    answers = np.column_stack((fit.count, fit.trials - fit.count))
    outside = sm.GLM(answers, fit.design, family=family).fit(tol=1e-14, maxiter=200)
    np.testing.assert_allclose(fit.estimate, outside.params, rtol=1e-6)
    information = -outside.model.hessian(outside.params, observed=True)
    np.testing.assert_allclose(fit.covariance, np.linalg.inv(information), rtol=1e-5)
    assert fit.deviance == pytest.approx(outside.deviance, rel=1e-9)
    assert fit.log_likelihood == pytest.approx(outside.llf, rel=1e-9)


def test_beetles_with_a_logit_link_equal_the_printed_fit():
    """Bliss 1935, Ann. Appl. Biol. 22:134; Dobson, An Introduction to Generalized Linear Models: -60.72 (5.18), 34.27
    (2.91), deviance 11.23. Values from memory."""
    fit = fit_shares(KILLED, BEETLES, np.column_stack((np.ones(8), DOSE)), terms=("one", "dose"))
    np.testing.assert_allclose(fit.estimate, [-60.717455, 34.270326], atol=1e-5)
    np.testing.assert_allclose(fit.standard_error, [5.180711, 2.912140], atol=1e-5)
    assert fit.deviance == pytest.approx(11.232231, abs=1e-6)
    same_as_statsmodels(fit, "Logit")


def test_beetles_with_a_complementary_log_log_link_equal_the_printed_fit():
    """The same book, the extreme-value model: -39.57, 22.04, deviance 3.45. Values from memory."""
    fit = fit_shares(KILLED, BEETLES, np.column_stack((np.ones(8), DOSE)), terms=("one", "dose"), link="log-log")
    np.testing.assert_allclose(fit.estimate, [-39.57, 22.04], atol=6e-3)
    assert fit.deviance == pytest.approx(3.45, abs=6e-3)
    same_as_statsmodels(fit, "CLogLog")


def test_budworm_equals_the_printed_fit():
    """Collett 1991; Venables and Ripley, Modern Applied Statistics with S, section 7.2: -3.473 (0.4685), male 1.101,
    slope 1.064 (0.1311). Values from memory."""
    dose = np.tile(np.arange(6.0), 2)
    dead = np.array([1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16])
    female = np.repeat([0.0, 1.0], 6)
    fit = fit_shares(dead, np.full(12, 20), np.column_stack((female, 1 - female, dose)), terms=("F", "M", "dose"))
    np.testing.assert_allclose(fit.estimate, [-3.473155, -2.372412, 1.064214], atol=1e-6)
    np.testing.assert_allclose(fit.standard_error, [0.468520, 0.385511, 0.131077], atol=1e-5)
    same_as_statsmodels(fit, "Logit")
