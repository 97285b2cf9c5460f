"""Weibull, lognormal, log-logistic and exponential fits to times known only within intervals.

All four are log-linear models ln T = x'β + σ·ε, where ε is the logarithm of a unit exponential (Weibull; σ = 1 is
the exponential), standard normal or standard logistic. The likelihood of (low, high] is F(high) − F(low); exact
times enter with their density, so that then the log likelihood depends on the unit of time.

Source: Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data, 2nd ed., chapters 2 and 3;
Lawless 2003, Statistical Models and Methods for Lifetime Data, 2nd ed., chapter 5.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from ecology.interval_ends import checked_intervals
from ecology.interval_likelihood import DISTRIBUTIONS, Distribution, LogIntervals, interval_likelihood, log_tails
from ecology.interval_maximum import covariance_of, maximise_intervals, refuse_what_runs_off
from ecology.not_estimable import NotEstimable


@dataclass(frozen=True, eq=False, kw_only=True)
class IntervalFit:
    """A parametric fit.

    distribution     weibull, lognormal, loglogistic or exponential
    parameters       without covariates: weibull {shape, scale}, S(t) = exp(−(t/scale)^shape); exponential {scale};
                     lognormal {mu, sigma}; loglogistic {mu, scale}, S(t) = 1/(1 + exp((ln t − mu)/scale)).
                     With covariates the location (weibull scale, mu) is the one at all covariates 0.
    standard_error   of `parameters`, by the delta method
    terms            “(intercept)”, then the covariates
    coefficients     of ln T, one a term; exp(coefficient) is the factor on the median time
    covariance       of (coefficients, ln σ) from the observed information (exponential: of the coefficients)
    sigma            scale of ln T (1 for the exponential)
    log_likelihood, aic, n
    median, median_low, median_high   at covariates 0, with an interval at `level` on the log scale
    """

    distribution: Distribution
    parameters: Mapping[str, float]
    standard_error: Mapping[str, float]
    terms: tuple[str, ...]
    coefficients: np.ndarray
    covariance: np.ndarray
    sigma: float
    log_likelihood: float
    aic: float
    n: int
    median: float
    median_low: float
    median_high: float
    level: float

    def cdf(self, t: np.ndarray | float, covariates: np.ndarray | None = None) -> np.ndarray:
        """P(T ≤ t); 0 for t ≤ 0. `covariates` is one row in the order of `terms` without the intercept."""
        t = np.asarray(t, dtype=float)
        location = self.coefficients[0] + (0.0 if covariates is None else float(self.coefficients[1:] @ covariates))
        with np.errstate(divide="ignore"):
            z = (np.log(np.maximum(t, 0.0)) - location) / self.sigma
        return np.where(t > 0.0, np.exp(log_tails(self.distribution, z)[0]), 0.0)


def fit_intervals(
    low: np.ndarray,
    high: np.ndarray,
    distribution: Distribution,
    *,
    covariates: np.ndarray | None = None,
    terms: Sequence[str] = (),
    level: float = 0.95,
) -> IntervalFit:
    """Maximum likelihood fit to intervals (low, high].

    low, high    low ≤ 0 is left-censored, high == inf right-censored, low == high an exact time
    covariates   one column a covariate (an accelerated failure time model); an intercept is added
    terms        their names
    level        of the interval for the median

    Raises ValueError for arrays that are not intervals; NotEstimable, with the reason, where the likelihood has no
    single finite maximum, or where a row says that T = 0, which has no place in these distributions.
    """
    if distribution not in DISTRIBUTIONS:
        raise ValueError(f"distribution is one of {', '.join(DISTRIBUTIONS)}, not {distribution!r}")
    low, high, X, names = _checked(low, high, covariates, terms)
    if np.any(high <= 0.0):
        raise NotEstimable(
            f"{int(np.sum(high <= 0.0))} of the times can only be 0, which these distributions cannot produce. Times "
            "counted in whole days d can be given as (d, d + 1] instead."
        )
    _refuse_what_is_flat(low, high, X, names, distribution)
    data = LogIntervals.of(low, high, X)
    theta = maximise_intervals(data, distribution)
    value, _, information = interval_likelihood(data, theta, distribution)
    covariance = covariance_of(information)
    refuse_what_runs_off(covariance, names)
    k = X.shape[1]
    free_sigma = distribution != "exponential"
    sigma = float(np.exp(theta[k])) if free_sigma else 1.0
    covariance_all = covariance if free_sigma else np.pad(covariance, (0, 1))
    at_half = _MEDIAN_OF_ERROR[distribution]
    log_median = float(theta[0]) + sigma * at_half
    # ∂ ln median / ∂(intercept, ln σ)
    by = np.array([1.0, sigma * at_half])
    corner = covariance_all[np.ix_([0, k], [0, k])]
    reach = NormalDist().inv_cdf(0.5 * (1.0 + level)) * float(np.sqrt(by @ corner @ by))
    parameters, errors = _named(distribution, float(theta[0]), sigma, np.sqrt(np.diag(corner)))
    return IntervalFit(
        distribution=distribution,
        parameters=parameters,
        standard_error=errors,
        terms=("(intercept)", *names),
        coefficients=theta[:k].copy(),
        covariance=covariance,
        sigma=sigma,
        log_likelihood=value,
        aic=2.0 * theta.size - 2.0 * value,
        n=low.size,
        median=float(np.exp(log_median)),
        median_low=float(np.exp(log_median - reach)),
        median_high=float(np.exp(log_median + reach)),
        level=level,
    )


_MEDIAN_OF_ERROR: dict[str, float] = {
    "weibull": float(np.log(np.log(2.0))),
    "exponential": float(np.log(np.log(2.0))),
    "lognormal": 0.0,
    "loglogistic": 0.0,
}


def _named(
    distribution: Distribution, location: float, sigma: float, errors: np.ndarray
) -> tuple[dict[str, float], dict[str, float]]:
    """Parameters under their usual names, with delta-method errors from those of (location, ln σ)."""
    at, spread = float(errors[0]), float(errors[1])
    if distribution == "weibull":
        scale, shape = float(np.exp(location)), 1.0 / sigma
        return {"shape": shape, "scale": scale}, {"shape": shape * spread, "scale": scale * at}
    if distribution == "exponential":
        scale = float(np.exp(location))
        return {"scale": scale}, {"scale": scale * at}
    second = "sigma" if distribution == "lognormal" else "scale"
    return {"mu": location, second: sigma}, {"mu": at, second: sigma * spread}


def _checked(
    low: np.ndarray, high: np.ndarray, covariates: np.ndarray | None, terms: Sequence[str]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[str, ...]]:
    """(low, high, design with its intercept, names of the covariates); ValueError where they do not fit together."""
    low, high = checked_intervals(low, high)
    names = tuple(terms)
    extra = np.empty((low.size, 0)) if covariates is None else np.asarray(covariates, dtype=float)
    if extra.ndim != 2 or extra.shape != (low.size, len(names)):
        raise ValueError(f"covariates of shape {extra.shape} with {len(names)} names do not fit {low.size} intervals")
    if not np.all(np.isfinite(extra)):
        raise ValueError("covariates have no missing or infinite values: leave such rows out first")
    return low, high, np.column_stack((np.ones(low.size), extra)), names


def _refuse_what_is_flat(
    low: np.ndarray, high: np.ndarray, X: np.ndarray, names: tuple[str, ...], distribution: Distribution
) -> None:
    if np.all(np.isinf(high)):
        raise NotEstimable("Nothing was seen to happen: all times are right-censored, and only a lower bound is known.")
    if np.all((low <= 0.0) & (high > low)):
        raise NotEstimable("All times are left-censored: only an upper bound is known.")
    latest, earliest = float(np.maximum(low, 0.0).max()), float(high.min())
    together = latest < earliest or (latest == earliest and bool(np.any(low == high)))
    if distribution != "exponential" and together:
        raise NotEstimable(
            "One time lies within every interval: a distribution concentrated there explains all rows, and the data "
            "do not say how the times spread."
        )
    size = np.sqrt(np.einsum("ij,ij->j", X, X))
    diagonal = np.zeros(X.shape[1])
    if np.all(size > 0.0):
        _, triangle = np.linalg.qr(X / size)
        diagonal[: triangle.shape[0]] = np.abs(np.diag(triangle))
    for j in range(1, X.shape[1]):
        if diagonal[j] < 1e-9:
            raise NotEstimable(f"The term “{names[j - 1]}” is constant or determined by the others: leave it out.")
