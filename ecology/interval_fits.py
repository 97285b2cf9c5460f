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
from typing import Literal

import numpy as np
from scipy.special import expit, log_expit, log_ndtr

from ecology.count_model import NotEstimable

Distribution = Literal["weibull", "lognormal", "loglogistic", "exponential"]
DISTRIBUTIONS: tuple[Distribution, ...] = ("weibull", "lognormal", "loglogistic", "exponential")

_MOST_STEPS = 200
_LOG_SIGMA_EDGE = 6.0  # σ beyond e^±6 is a point mass, or spread over more than any record can show
_FLAT_LOG_SIGMA = 3.0  # a standard error of ln σ above this: the likelihood has flattened, not peaked (3 rows give < 1)
_FLAT_COEFFICIENT = 15.0  # the same for coefficients of ln T, e^15 being a factor of three million


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
        return np.where(t > 0.0, np.exp(_log_tails(self.distribution, z)[0]), 0.0)


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
    data = _Intervals.of(low, high, X)
    theta = _maximise(data, distribution)
    value, _, information = _likelihood(data, theta, distribution)
    covariance = _inverse(information)
    _refuse_what_runs_off(covariance, names)
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


# ---- the data, checked -------------------------------------------------------------------------------------------


def _checked(
    low: np.ndarray, high: np.ndarray, covariates: np.ndarray | None, terms: Sequence[str]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[str, ...]]:
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    if low.ndim != 1 or low.shape != high.shape or low.size == 0:
        raise ValueError(f"intervals need two equally long, non-empty rows of ends, not {low.shape} and {high.shape}")
    wrong = np.flatnonzero(~(low <= high) | (low == np.inf) | (high == -np.inf))
    if wrong.size:
        i = int(wrong[0])
        raise ValueError(f"({low[i]}, {high[i]}] at position {i} is not an interval with low ≤ high")
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


@dataclass(frozen=True, eq=False, kw_only=True)
class _Intervals:
    """Logarithms of the ends, −inf for left-censored rows, and which rows are exact."""

    low: np.ndarray
    high: np.ndarray
    exact: np.ndarray
    X: np.ndarray

    @classmethod
    def of(cls, low: np.ndarray, high: np.ndarray, X: np.ndarray) -> _Intervals:
        with np.errstate(divide="ignore"):
            return cls(low=np.log(np.maximum(low, 0.0)), high=np.log(high), exact=low == high, X=X)


# ---- likelihood --------------------------------------------------------------------------------------------------


def _log_tails(distribution: Distribution, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(log P(ε ≤ z), log P(ε > z)), each with its digits in its own tail; z may be ±inf."""
    if distribution == "lognormal":
        return log_ndtr(z), log_ndtr(-z)
    if distribution == "loglogistic":
        return log_expit(z), log_expit(-z)
    with np.errstate(over="ignore", divide="ignore"):
        hazard = np.exp(z)
        return np.log(-np.expm1(-hazard)), -hazard


def _log_density(distribution: Distribution, z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(log density of ε, its first and second derivative) at finite z."""
    if distribution == "lognormal":
        return -0.5 * z**2 - 0.5 * np.log(2.0 * np.pi), -z, np.full_like(z, -1.0)
    if distribution == "loglogistic":
        share = expit(z)
        return log_expit(z) + log_expit(-z), 1.0 - 2.0 * share, -2.0 * share * (1.0 - share)
    hazard = np.exp(np.minimum(z, 700.0))
    return z - hazard, 1.0 - hazard, -hazard


def _likelihood(
    data: _Intervals, theta: np.ndarray, distribution: Distribution
) -> tuple[float, np.ndarray, np.ndarray]:
    """(log likelihood, score, observed information) at θ = (β, ln σ), or θ = β for the exponential."""
    k = data.X.shape[1]
    log_sigma = float(theta[k]) if theta.size > k else 0.0
    sigma = float(np.exp(log_sigma))
    centre = data.X @ theta[:k]
    z_low, z_high = (data.low - centre) / sigma, (data.high - centre) / sigma
    has_low, has_high = np.isfinite(z_low), np.isfinite(z_high)
    f_low, d_low, _ = _log_density(distribution, np.where(has_low, z_low, 0.0))
    f_high, d_high, dd_high = _log_density(distribution, np.where(has_high, z_high, 0.0))
    below_low, above_low = _log_tails(distribution, z_low)
    below_high, above_high = _log_tails(distribution, z_high)
    # The difference of two tails, from whichever side it loses fewer digits.
    right = z_low > 0.0
    larger, smaller = np.where(right, above_low, below_high), np.where(right, above_high, below_low)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        log_p = np.where(data.exact, f_high, larger + np.log1p(-np.exp(np.minimum(smaller - larger, 0.0))))
        row = np.where(data.exact, f_high - log_sigma - data.high, log_p)
        value = float(row.sum())
        if not np.isfinite(value):
            return -np.inf, np.zeros(theta.size), np.eye(theta.size)
        at_low = -np.exp(np.where(has_low & ~data.exact, f_low - log_p, -np.inf))
        at_high = np.exp(np.where(has_high & ~data.exact, f_high - log_p, -np.inf))
    # First and second derivatives of each row by its two ends in units of σ.
    first_low, first_high = at_low, np.where(data.exact, d_high, at_high)
    second_low = at_low * d_low - at_low**2
    second_high = np.where(data.exact, dd_high, at_high * d_high - at_high**2)
    across = -at_low * at_high
    z_low, z_high = np.where(has_low, z_low, 0.0), np.where(has_high, z_high, 0.0)
    # ∂z/∂β = −x/σ, ∂z/∂ln σ = −z, ∂²z/∂β∂ln σ = x/σ, ∂²z/∂(ln σ)² = z.
    pull = first_low + first_high
    by_beta = -(data.X.T @ pull) / sigma
    bend = second_low + second_high + 2.0 * across
    information = np.empty((theta.size, theta.size))
    information[:k, :k] = -(data.X.T @ (bend[:, None] * data.X)) / sigma**2
    if theta.size == k:
        return value, by_beta, information
    moved = first_low * z_low + first_high * z_high
    mixed = (second_low + across) * z_low + (second_high + across) * z_high + pull
    information[:k, k] = information[k, :k] = -(data.X.T @ mixed) / sigma
    own = second_low * z_low**2 + second_high * z_high**2 + 2.0 * across * z_low * z_high + moved
    information[k, k] = -float(own.sum())
    by_log_sigma = -float(moved.sum())
    if data.exact.any():
        by_log_sigma -= float(data.exact.sum())
    return value, np.append(by_beta, by_log_sigma), information


def _refuse_what_runs_off(covariance: np.ndarray, names: tuple[str, ...]) -> None:
    """A likelihood that approaches its bound only in the limit looks like a maximum with enormous errors."""
    error = np.sqrt(np.diag(covariance))
    running = [name for name, e in zip(names, error[1:], strict=False) if e > _FLAT_COEFFICIENT]
    if running:
        raise NotEstimable(f"The effect of “{running[0]}” runs off to infinity: the rows it marks have no upper bound.")
    if error.size > len(names) + 1 and error[-1] > _FLAT_LOG_SIGMA:
        raise NotEstimable("The likelihood is flat towards a single time: the data do not say how the times spread.")
    if error[0] > _FLAT_COEFFICIENT:
        raise NotEstimable("The likelihood is flat as the median runs off: the times cannot be placed.")


def _maximise(data: _Intervals, distribution: Distribution) -> np.ndarray:
    """θ at the maximum: Newton's method with the step halved until the likelihood rises."""
    k = data.X.shape[1]
    low, high = np.where(np.isfinite(data.low), data.low, np.nan), np.where(np.isfinite(data.high), data.high, np.nan)
    # The middle on the log scale; half or double the only end that is known; the mean where a row says nothing.
    start = 0.5 * (
        np.where(np.isnan(low), high - 2 * np.log(2.0), low) + np.where(np.isnan(high), low + 2 * np.log(2.0), high)
    )
    start = np.where(np.isnan(start), np.nanmean(start), start)
    beta = np.linalg.lstsq(data.X, start, rcond=None)[0]
    spread = float(np.std(start - data.X @ beta))
    theta = np.append(beta, np.log(min(max(spread, 0.2), 2.0)))
    if distribution == "exponential":
        theta = theta[:k]
    value, score, information = _likelihood(data, theta, distribution)
    while not np.isfinite(value) and theta.size > k and theta[k] < _LOG_SIGMA_EDGE:
        # A row far in the tail has probability 0 to the last digit: begin with a wider spread.
        theta[k] += 0.7
        value, score, information = _likelihood(data, theta, distribution)
    for _ in range(_MOST_STEPS):
        change = _ascent(information, score)
        gain = float(score @ change)
        change = change * min(1.0, 3.0 / max(float(np.abs(change).max()), 1e-300))
        size = 1.0
        while True:
            trial = theta + size * change
            new, new_score, new_information = _likelihood(data, trial, distribution)
            if new >= value - 1e-13 * abs(value):
                break
            size *= 0.5
            if size < 1e-12:
                raise NotEstimable("The likelihood could not be climbed from any nearby value: the data are too few.")
        theta, value, score, information = trial, new, new_score, new_information
        if theta.size > k and abs(theta[k]) > _LOG_SIGMA_EDGE:
            way = "a single time" if theta[k] < 0.0 else "ever wider spread"
            raise NotEstimable(f"The likelihood rises for ever towards {way}: the shape cannot be estimated.")
        if np.abs(theta[:k]).max() > 1e4:
            raise NotEstimable("The likelihood rises for ever as the median runs off: the times cannot be placed.")
        if gain < 1e-13 * (1.0 + abs(value)):
            return theta
    raise NotEstimable("The likelihood has no maximum that can be found: it is flat or rises for ever.")


def _ascent(information: np.ndarray, score: np.ndarray) -> np.ndarray:
    """The Newton step; where the surface does not curve down, the step with its curvatures made positive."""
    values, vectors = np.linalg.eigh(information)
    curvature = np.maximum(np.abs(values), 1e-10 * max(float(np.abs(values).max()), 1e-300))
    return vectors @ ((vectors.T @ score) / curvature)


def _inverse(information: np.ndarray) -> np.ndarray:
    """The covariance; NotEstimable where the likelihood does not curve down clearly in every direction."""
    size = np.sqrt(np.abs(np.diag(information)))
    if np.any(size == 0.0) or np.linalg.eigvalsh(information / np.outer(size, size)).min() < 1e-8:
        raise NotEstimable("The likelihood is flat in some direction: the data do not determine all parameters.")
    inverse = np.linalg.inv(information)
    return 0.5 * (inverse + inverse.T)
