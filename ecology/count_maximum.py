"""The maximum of the count likelihood: coefficients at a fixed α, coefficients with α, and where the profile falls.

Sources: Lawless 1987, Canadian Journal of Statistics 15:209–225 (maximum likelihood with α); Self and Liang 1987,
JASA 82:605–610 (likelihood ratio on the edge α = 0).
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.special import chdtri

from ecology.count_likelihood import (
    CountData,
    alpha_derivatives,
    coefficient_information,
    joint_information,
    log_likelihood_at,
)
from ecology.newton_ascent import climb

#: Beyond this an exponential overflows; such steps are cut back.
_LARGEST_ETA = 700.0


def starting_coefficients(data: CountData) -> np.ndarray:
    """Least squares on the logarithm of slightly raised counts."""
    return np.linalg.lstsq(data.X, np.log(np.maximum(data.y, 0.5)) - data.offset, rcond=None)[0]


def fit_coefficients(data: CountData, beta: np.ndarray, alpha: float) -> tuple[np.ndarray, int, bool]:
    """Coefficients at a fixed α: (coefficients, steps, converged)."""

    def look(at: np.ndarray) -> tuple[float, np.ndarray]:
        eta = data.offset + data.X @ at
        mean = np.exp(np.minimum(eta, _LARGEST_ETA))
        return log_likelihood_at(data, eta, mean, alpha), mean

    def step(_: np.ndarray, mean: np.ndarray) -> tuple[np.ndarray, float]:
        score = data.X.T @ ((data.y - mean) / (1.0 + alpha * mean))
        change = np.linalg.solve(coefficient_information(data, mean, alpha), score)
        return change, float(score @ change)

    found, _, steps, converged = climb(beta, look, step)
    return found, steps, converged


def fit_with_alpha(data: CountData, beta: np.ndarray, mean: np.ndarray) -> tuple[np.ndarray, float, int, bool]:
    """(coefficients, α, steps, converged): damped Newton on (coefficients, ln α) from the Poisson fit."""
    k = beta.size
    alpha = max(float(np.sum((data.y - mean) ** 2 - data.y)) / float(np.sum(mean**2)), 1e-6)
    beta, first, _ = fit_coefficients(data, beta, alpha)

    def look(at: np.ndarray) -> tuple[float, np.ndarray]:
        eta = data.offset + data.X @ at[:k]
        there = np.exp(np.minimum(eta, _LARGEST_ETA))
        return log_likelihood_at(data, eta, there, float(np.exp(at[k]))), there

    def step(at: np.ndarray, there: np.ndarray) -> tuple[np.ndarray, float]:
        dispersion = float(np.exp(at[k]))
        joint = joint_information(data, there, dispersion)
        by_alpha = alpha_derivatives(data, there, dispersion)[0]
        residual = (data.y - there) / (1.0 + dispersion * there)
        score = np.append(data.X.T @ residual, dispersion * by_alpha)
        joint[k] *= dispersion
        joint[:, k] *= dispersion
        joint[k, k] -= dispersion * by_alpha
        change = _ascent(joint, score)
        return change, float(score @ change)

    def first_part(change: np.ndarray) -> float:
        # e² is as far as α should move on one quadratic approximation.
        return min(1.0, 2.0 / max(abs(float(change[k])), 1e-300))

    found, _, steps, converged = climb(np.append(beta, np.log(alpha)), look, step, first_part=first_part)
    return found[:k], float(np.exp(found[k])), first + steps, converged


def profile_limit(
    data: CountData, beta: np.ndarray, target: float, around: tuple[float, Literal["below", "above"]] | None
) -> float:
    """The α at which the log likelihood, maximised over the coefficients, falls to `target`.

    `around` is the estimate and the side to look on; None looks upwards from the edge α = 0. The derivative of the
    profile is the partial derivative by α, so that Newton's method needs no differences; a bracket keeps it safe.
    """
    if around is None:
        # From the edge the profile falls at least like its score; begin where a typical mean doubles its variance.
        alpha, low, high = 1.0 / max(float(np.mean(data.y)), 1e-3), 0.0, np.inf
        falls_to_the_right = True
    else:
        estimate, side = around
        falls_to_the_right = side == "above"
        low, high = (estimate, np.inf) if falls_to_the_right else (0.0, estimate)
        curvature = np.linalg.inv(joint_information(data, np.exp(data.offset + data.X @ beta), estimate))[-1, -1]
        spread = np.sqrt(max(curvature, 0.0)) / estimate
        alpha = estimate * float(np.exp((2.0 if falls_to_the_right else -2.0) * min(max(spread, 1e-3), 1.0)))
    for _ in range(200):
        beta, _, _ = fit_coefficients(data, beta, alpha)
        eta = data.offset + data.X @ beta
        mean = np.exp(eta)
        excess = log_likelihood_at(data, eta, mean, alpha) - target
        if (excess > 0.0) == falls_to_the_right:
            low = alpha
        else:
            high = alpha
        slope = alpha * alpha_derivatives(data, mean, alpha)[0]
        proposal = alpha * float(np.exp(np.clip(-excess / slope, -3.0, 3.0))) if slope != 0.0 else np.nan
        if not low < proposal < high:
            proposal = 4.0 * alpha if np.isinf(high) else (0.5 * high if low == 0.0 else float(np.sqrt(low * high)))
        if abs(proposal - alpha) <= 1e-9 * alpha:
            return float(proposal)
        if proposal > 1e8:
            return float("inf")
        alpha = proposal
    return float(alpha)


def mixture_quantile(level: float) -> float:
    """The value that ½χ²₀ + ½χ²₁ exceeds with probability 1 − level."""
    return float(chdtri(1.0, 2.0 * (1.0 - level))) if level > 0.5 else 0.0


def _ascent(information: np.ndarray, score: np.ndarray) -> np.ndarray:
    """The Newton step, or where the surface does not curve down the step with its curvatures made positive."""
    change = np.linalg.solve(information, score)
    try:
        np.linalg.cholesky(information)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(information)
        change = vectors @ ((vectors.T @ score) / np.maximum(np.abs(values), 1e-8 * np.abs(values).max()))
    return change
