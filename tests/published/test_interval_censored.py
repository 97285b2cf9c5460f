"""Interval-censored times against the breast cosmesis study.

Data: Finkelstein and Wolfe 1985, Biometrics 41:933–945, 94 women, months until breast retraction; transcribed as in
the object `bcos` of the R package interval 1.1-1.0 (46 with radiation alone, 48 with chemotherapy as well). Copies in
other packages differ in several rows (KMsurv::bcdeter has 95 rows, npsurv::cancer five other records): numbers
computed from them do not belong to these data.

Reference numbers: two independent computations agree (R 4.2.2 with npsurv and survival::survreg, and Python) where
not said otherwise. Rows with low = 0 are left-censored.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.interval_censored import npmle
from ecology.interval_fits import fit_intervals
from ecology.interval_likelihood import Distribution
from ecology.interval_tests import permutation_log_rank
from ecology.npmle_bootstrap import bootstrap_npmle

I = np.inf  # noqa: E741 - the table below is easier to check against the source with one letter
RADIATION_LOW = [
    45, 6, 0, 46, 46, 7, 17, 7, 37, 0, 4, 15, 11, 22, 46, 46, 25, 46, 26, 46, 27, 36, 46,
    36, 37, 40, 17, 46, 11, 38, 5, 37, 0, 18, 24, 36, 5, 19, 17, 24, 32, 33, 19, 37, 34, 36,
]  # fmt: skip
RADIATION_HIGH = [
    I, 10, 7, I, I, 16, I, 14, 44, 8, 11, I, 15, I, I, I, 37, I, 40, I, 34, 44, I,
    48, I, I, 25, I, 18, I, 12, I, 5, I, I, I, 11, 35, 25, I, I, I, 26, I, I, I,
]  # fmt: skip
CHEMOTHERAPY_LOW = [
    8, 0, 24, 17, 17, 24, 16, 13, 11, 16, 18, 17, 32, 23, 44, 14, 0, 5, 12, 11, 33, 31, 13, 19,
    34, 13, 16, 35, 15, 11, 22, 10, 30, 13, 10, 8, 4, 11, 14, 4, 34, 30, 18, 16, 35, 21, 11, 48,
]  # fmt: skip
CHEMOTHERAPY_HIGH = [
    12, 22, 31, 27, 23, 30, 24, I, 13, 20, 25, 26, I, I, 48, 17, 5, 8, 20, I, 40, I, 39, 32,
    I, I, 24, I, 22, 17, 32, 35, 34, I, 17, 21, 9, I, 19, 8, I, 36, 24, 60, 39, I, 20, I,
]  # fmt: skip

Arm = tuple[np.ndarray, np.ndarray]

RADIATION: Arm = (np.array(RADIATION_LOW, float), np.array(RADIATION_HIGH))
CHEMOTHERAPY: Arm = (np.array(CHEMOTHERAPY_LOW, float), np.array(CHEMOTHERAPY_HIGH))
BOTH: Arm = (np.concatenate((RADIATION[0], CHEMOTHERAPY[0])), np.concatenate((RADIATION[1], CHEMOTHERAPY[1])))
GIVEN_CHEMOTHERAPY = np.repeat([0.0, 1.0], [46, 48])


def test_the_transcription_has_the_published_counts() -> None:
    """46 and 48 women, 25 and 13 of them right-censored: Finkelstein and Wolfe 1985, Table 1."""
    assert (len(RADIATION[0]), len(CHEMOTHERAPY[0])) == (46, 48)
    assert (np.isinf(RADIATION[1]).sum(), np.isinf(CHEMOTHERAPY[1]).sum()) == (25, 13)


@pytest.mark.parametrize(
    ("data", "intervals", "masses", "log_likelihood"),
    [
        (
            RADIATION,
            [(4, 5), (6, 7), (7, 8), (11, 12), (24, 25), (33, 34), (38, 40), (46, 48)],
            [0.046346774, 0.033363371, 0.088667368, 0.070752922, 0.092645837, 0.081785765, 0.120879827, 0.465558136],
            -58.06002195,
        ),
        (
            CHEMOTHERAPY,
            [(4, 5), (5, 8), (11, 12), (16, 17), (18, 19), (19, 20), (24, 25), (30, 31), (35, 36), (44, 48), (48, 60)],
            [
                0.043282628, 0.043282628, 0.069205583, 0.145397715, 0.141094898, 0.115745926, 0.099865311, 0.070881377,
                0.160831107, 0.055206414, 0.055206414,
            ],
            -65.63696491,
        ),
    ],
    ids=["radiation", "chemotherapy"],
)  # fmt: skip
def test_the_npmle_of_each_arm_has_the_known_masses(
    data: Arm, intervals: list[tuple[int, int]], masses: list[float], log_likelihood: float
) -> None:
    """Two independent computations; four digits also in Fay and Shaw 2010, J. Stat. Softw. 36(2), value from memory."""
    fit = npmle(*data)
    assert list(zip(fit.low, fit.high, strict=True)) == intervals
    np.testing.assert_allclose(fit.mass, masses, atol=1e-6)
    assert fit.log_likelihood == pytest.approx(log_likelihood, abs=1e-6)
    assert fit.converged
    assert fit.max_gradient <= fit.n + 1e-8


def test_the_npmle_of_both_arms_has_the_known_likelihood() -> None:
    """Log likelihood −136.96380: one computation, an EM run of 9,312 iterations to 1e-12."""
    fit = npmle(*BOTH)
    assert fit.log_likelihood == pytest.approx(-136.96380, abs=1e-5)
    assert fit.max_gradient <= fit.n + 1e-8


def test_survival_is_known_at_the_ends_of_innermost_intervals() -> None:
    """S(5) = 1 − 0.0463 under radiation: vignette of the R package interval, value from memory."""
    low, high = npmle(*RADIATION).not_yet_bounds(np.array([5.0, 39.0]))
    assert low[0] == high[0] == pytest.approx(1 - 0.0463, abs=5e-5)
    assert high[1] - low[1] == pytest.approx(0.120879827, abs=1e-6)


@pytest.mark.parametrize(
    ("data", "distribution", "expected", "log_likelihood", "median"),
    [
        (RADIATION, "weibull", {"shape": 1.12161285, "scale": 57.5130959}, -64.73147062, 41.4811689),
        (RADIATION, "exponential", {"scale": np.exp(4.1185598)}, -64.86944817, None),
        (RADIATION, "lognormal", {"mu": 3.7503327, "sigma": 1.30804524}, -64.73489868, np.exp(3.7503327)),
        (RADIATION, "loglogistic", {"mu": 3.7433234, "scale": 0.76306803}, -64.81946275, np.exp(3.7433234)),
        (CHEMOTHERAPY, "weibull", {"shape": 2.03023843, "scale": 28.0424741}, -75.71506839, 23.4107018),
        (CHEMOTHERAPY, "exponential", {"scale": np.exp(3.3769786)}, -84.99690750, None),
        (CHEMOTHERAPY, "lognormal", {"mu": 3.0815836, "sigma": 0.63047481}, -76.55098281, np.exp(3.0815836)),
        (CHEMOTHERAPY, "loglogistic", {"mu": 3.0992214, "scale": 0.35379186}, -75.87737749, np.exp(3.0992214)),
        (BOTH, "weibull", {"shape": 1.49999605, "scale": 37.3847577}, -148.79243115, None),
    ],
)
def test_parametric_fits_equal_the_reference_fits(
    data: Arm, distribution: Distribution, expected: dict[str, float], log_likelihood: float, median: float | None
) -> None:
    """survreg, scipy and lifelines agree on these; two independent computations for each."""
    fit = fit_intervals(*data, distribution)
    assert fit.parameters == pytest.approx(expected, rel=2e-7)
    assert fit.log_likelihood == pytest.approx(log_likelihood, abs=1e-7)
    if median is not None:
        assert fit.median == pytest.approx(median, rel=1e-7)


@pytest.mark.parametrize(("data", "errors"), [(RADIATION, (0.225985, 0.213664)), (CHEMOTHERAPY, (0.0853341, 0.140733))])
def test_weibull_errors_are_those_of_the_observed_information(data: Arm, errors: tuple[float, float]) -> None:
    """Errors of (intercept, log scale) as survreg prints them (observed information); two computations."""
    fit = fit_intervals(*data, "weibull")
    np.testing.assert_allclose(np.sqrt(np.diag(fit.covariance)), errors, rtol=5e-6)


@pytest.mark.parametrize(
    ("distribution", "coefficients", "errors", "sigma", "log_likelihood"),
    [
        ("weibull", (3.89927623, -0.56755054), (0.14053, 0.17573), 0.61933971, -143.32082711),
        ("lognormal", (3.54787488, -0.42100046), (None, 0.20319), 0.88214143, -146.62233197),
        ("loglogistic", (3.60924508, -0.48730687), (None, 0.195127), 0.49962187, -145.58506217),
    ],
)
def test_accelerated_failure_time_models_equal_survreg(
    distribution: Distribution,
    coefficients: tuple[float, float],
    errors: tuple[float | None, float],
    sigma: float,
    log_likelihood: float,
) -> None:
    """ln T on the arm, both arms together; survreg and an own fit in Python; observed information."""
    fit = fit_intervals(*BOTH, distribution, covariates=GIVEN_CHEMOTHERAPY[:, None], terms=["chemotherapy"])
    np.testing.assert_allclose(fit.coefficients, coefficients, atol=2e-7)
    for own, known in zip(np.sqrt(np.diag(fit.covariance)), errors, strict=False):
        assert known is None or own == pytest.approx(known, abs=6e-6)
    assert fit.sigma == pytest.approx(sigma, rel=1e-7)
    assert fit.log_likelihood == pytest.approx(log_likelihood, abs=1e-7)


def test_the_permutation_log_rank_test_equals_the_published_one() -> None:
    """|Z| = 2.684, p = 0.00728: Fay and Shaw 2010, value from memory; more digits from one own computation."""
    test = permutation_log_rank(*BOTH, GIVEN_CHEMOTHERAPY, draws=4_999, seed=11)
    assert abs(test.z) == pytest.approx(2.683896, abs=1e-6)
    assert test.p_asymptotic == pytest.approx(0.0072770, abs=1e-7)
    assert test.z > 0  # chemotherapy: earlier retraction
    assert test.permutation == "monte-carlo"
    assert test.p_permutation == pytest.approx(test.p_asymptotic, abs=4 * np.sqrt(0.00728 / 4_999))


def test_the_bootstrap_surrounds_the_estimate_and_repeats_with_its_seed() -> None:
    """No outside value: intervals hold the estimate, and the same seed gives the same bytes."""
    first, again = (bootstrap_npmle(*CHEMOTHERAPY, draws=60, seed=5, days=np.array([10.0, 20.0])) for _ in range(2))
    assert np.all(first.low <= first.by_low)
    assert np.all(first.by_high <= first.high)
    assert first.quantile_low <= first.quantile_bounds[0] < first.quantile_bounds[1] <= first.quantile_high
    assert first.low.tobytes() == again.low.tobytes()
    assert first.unconverged == 0


@pytest.mark.parametrize(
    ("shape", "first", "second", "log_likelihood"),
    [
        ("weibull", 2.9368592, 1 / 2.82349525, -2028.56611074),
        ("lognormal", 2.7527213, 0.38747467, -2030.11527491),
        ("loglogistic", 2.7728854, 0.20704503, -2007.58493696),
    ],
)
def test_exact_times_beside_intervals_enter_with_their_density(
    diabetes: pd.DataFrame, shape: Distribution, first: float, second: float, log_likelihood: float
) -> None:
    """731 onsets, 595 of them exact: the data set of lifelines 0.30.3, years of illness.

    Location and scale of the log time. Weibull by two independent computations and lifelines, which also gives the
    median 16.5610078; the others by one.
    """
    low, high = diabetes["left"].to_numpy(float), diabetes["right"].to_numpy(float)
    assert (len(low), int((low == high).sum()), int((low == 0).sum())) == (731, 595, 1)
    fit = fit_intervals(low, high, shape)
    assert fit.log_likelihood == pytest.approx(log_likelihood, abs=1e-5)
    assert fit.coefficients[0] == pytest.approx(first, abs=2e-6)
    assert fit.sigma == pytest.approx(second, abs=2e-6)
    if shape == "weibull":
        assert fit.median == pytest.approx(16.5610078, abs=1e-5)


def test_a_covariate_of_exact_and_interval_times(diabetes: pd.DataFrame) -> None:
    """Accelerated failure time by gender on the same data, by two independent computations."""
    low, high = diabetes["left"].to_numpy(float), diabetes["right"].to_numpy(float)
    male = (diabetes["gender"] == "male").to_numpy(float)[:, None]
    fit = fit_intervals(low, high, "weibull", covariates=male, terms=("male",))
    assert fit.coefficients[:2] == pytest.approx([2.907977418, 0.045758296], abs=2e-6)
    assert fit.sigma == pytest.approx(0.35382184, abs=2e-6)
    assert float(np.sqrt(fit.covariance[1, 1])) == pytest.approx(0.0275011, abs=2e-6)
    assert fit.log_likelihood == pytest.approx(-2027.19633319, abs=1e-5)
