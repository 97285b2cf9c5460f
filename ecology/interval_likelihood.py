"""Likelihood of times known only within intervals, under ln T = x'β + σ·ε, and its derivatives.

ε is the logarithm of a unit exponential (Weibull; σ = 1 is the exponential), standard normal or standard logistic. The
likelihood of (low, high] is F(high) − F(low); exact times enter with their density.

Source: Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data, 2nd ed., chapters 2 and 3;
Lawless 2003, Statistical Models and Methods for Lifetime Data, 2nd ed., chapter 5.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import expit, log_expit, log_ndtr

Distribution = Literal["weibull", "lognormal", "loglogistic", "exponential"]
DISTRIBUTIONS: tuple[Distribution, ...] = ("weibull", "lognormal", "loglogistic", "exponential")


@dataclass(frozen=True, eq=False, kw_only=True)
class LogIntervals:
    """Logarithms of the ends, −inf for left-censored rows, and which rows are exact."""

    low: np.ndarray
    high: np.ndarray
    exact: np.ndarray
    X: np.ndarray

    @classmethod
    def of(cls, low: np.ndarray, high: np.ndarray, X: np.ndarray) -> LogIntervals:
        with np.errstate(divide="ignore"):
            return cls(low=np.log(np.maximum(low, 0.0)), high=np.log(high), exact=low == high, X=X)


def log_tails(distribution: Distribution, z: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(log P(ε ≤ z), log P(ε > z)), each with its digits in its own tail; z may be ±inf."""
    if distribution == "lognormal":
        return log_ndtr(z), log_ndtr(-z)
    if distribution == "loglogistic":
        return log_expit(z), log_expit(-z)
    with np.errstate(over="ignore", divide="ignore"):
        hazard = np.exp(z)
        return np.log(-np.expm1(-hazard)), -hazard


def log_density(distribution: Distribution, z: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(log density of ε, its first and second derivative) at finite z."""
    if distribution == "lognormal":
        return -0.5 * z**2 - 0.5 * np.log(2.0 * np.pi), -z, np.full_like(z, -1.0)
    if distribution == "loglogistic":
        share = expit(z)
        return log_expit(z) + log_expit(-z), 1.0 - 2.0 * share, -2.0 * share * (1.0 - share)
    hazard = np.exp(np.minimum(z, 700.0))
    return z - hazard, 1.0 - hazard, -hazard


def interval_likelihood(
    data: LogIntervals, theta: np.ndarray, distribution: Distribution
) -> tuple[float, np.ndarray, np.ndarray]:
    """(log likelihood, score, observed information) at θ = (β, ln σ), or θ = β for the exponential."""
    k = data.X.shape[1]
    log_sigma = float(theta[k]) if theta.size > k else 0.0
    sigma = float(np.exp(log_sigma))
    centre = data.X @ theta[:k]
    z_low, z_high = (data.low - centre) / sigma, (data.high - centre) / sigma
    has_low, has_high = np.isfinite(z_low), np.isfinite(z_high)
    f_low, d_low, _ = log_density(distribution, np.where(has_low, z_low, 0.0))
    f_high, d_high, dd_high = log_density(distribution, np.where(has_high, z_high, 0.0))
    below_low, above_low = log_tails(distribution, z_low)
    below_high, above_high = log_tails(distribution, z_high)
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
