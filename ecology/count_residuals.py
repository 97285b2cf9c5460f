"""Probabilities of counts with mean μ and variance μ + α·μ² (Poisson at α = 0), and what they say of a fitted model.

Sources: Dunn and Smyth 1996, J. Comput. Graph. Statist. 5:236–244 (randomised quantile residuals); van den Broek 1995,
Biometrics 51:738–743 (score test for extra zeros).
"""

from __future__ import annotations

import numpy as np
from scipy.special import betainc, chdtrc, gammainc, gammaincc, gammaln, ndtri, xlogy

from ecology.count_likelihood import log1p_over
from ecology.not_estimable import NotEstimable


def negative_binomial_log_pmf(
    count: np.ndarray | float, mean: np.ndarray | float, alpha: np.ndarray | float
) -> np.ndarray:
    """Log probability of a count under mean μ > 0 and variance μ + α·μ²; α = 0 is Poisson. Arguments broadcast."""
    y, mean, alpha = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (count, mean, alpha)))
    x = alpha * mean
    return _log_rising(y, alpha) - gammaln(y + 1.0) + xlogy(y, mean) - mean * log1p_over(x) - y * np.log1p(x)


def randomised_quantile_residuals(
    count: np.ndarray, mean: np.ndarray, alpha: float, *, seed: int | np.random.Generator
) -> np.ndarray:
    """Residuals that are standard normal if the model is right: Φ⁻¹(u), u uniform on (P(Y < y), P(Y ≤ y)).

    They depend on the seed: look at several before believing a pattern.
    """
    return quantile_residuals_at(count, mean, alpha, np.random.default_rng(seed).uniform(size=np.shape(count)))


def quantile_residuals_at(count: np.ndarray, mean: np.ndarray, alpha: float, u: np.ndarray) -> np.ndarray:
    """The same with the share `u` (0 to 1) of each count's own probability given."""
    y, mean = np.asarray(count, dtype=float), np.asarray(mean, dtype=float)
    below, above = count_tails(y, mean, alpha)
    below_next, above_next = count_tails(y + 1.0, mean, alpha)
    smallest = np.finfo(float).tiny
    # In the upper half the tail keeps the digits that the cumulative probability has lost.
    lower = ndtri(np.maximum(below + u * (below_next - below), smallest))
    upper = -ndtri(np.maximum(above_next + (1.0 - u) * (above - above_next), smallest))
    return np.where(below < 0.5, lower, upper)


def count_tails(count: np.ndarray, mean: np.ndarray, alpha: float) -> tuple[np.ndarray, np.ndarray]:
    """(P(Y < count), P(Y ≥ count)) under mean μ and variance μ + α·μ²; α = 0 is Poisson."""
    y = np.asarray(count, dtype=float)
    positive = np.maximum(y, 1.0)
    if alpha > 0.0:
        size = 1.0 / alpha
        at_most = betainc(size, positive, 1.0 / (1.0 + alpha * mean))
        at_least = betainc(positive, size, alpha * mean / (1.0 + alpha * mean))
    else:
        at_most = gammaincc(positive, mean)
        at_least = gammainc(positive, mean)
    return np.where(y <= 0.0, 0.0, at_most), np.where(y <= 0.0, 1.0, at_least)


def extra_zeros_score(
    count: np.ndarray, mean: np.ndarray | None = None, design: np.ndarray | None = None
) -> tuple[float, float]:
    """(score statistic, p) of more or fewer zeros than a Poisson model expects; χ² on one degree of freedom.

    With neither `mean` nor `design` all rows share one mean. Otherwise give the fitted Poisson means and the
    design they were fitted with. Zeros of a dry outlet are not counts and must not be among the rows.
    """
    y = np.asarray(count, dtype=float)
    if (mean is None) != (design is None):
        raise ValueError("the fitted means and their design come together")
    if mean is None or design is None:
        mean, design = np.full(y.shape, y.mean()), np.ones((y.size, 1))
    if not np.any(y > 0):
        raise NotEstimable("All counts are 0: a Poisson model expects nothing else.")
    zero = np.exp(-mean)
    weighted = design.T @ mean
    information = float(np.sum((1.0 - zero) / zero)) - float(
        weighted @ np.linalg.solve(design.T @ (mean[:, None] * design), weighted)
    )
    statistic = float(np.sum(((y == 0) - zero) / zero)) ** 2 / information
    return statistic, float(chdtrc(1.0, statistic))


def _log_rising(y: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    """Σ log(1 + α·j) over j < y, for arrays of α: gamma functions where they keep their digits, Stirling below."""
    size = 1.0 / np.where(alpha > 0.0, alpha, 1.0)
    large = size > 1e4
    ordinary = gammaln(y + size) - gammaln(size) - xlogy(y, size)
    correction = 1.0 / (12.0 * (size + y)) - 1.0 / (12.0 * size)
    stirling = (size + y - 0.5) * np.log1p(y / size) - y + correction
    return np.where(alpha > 0.0, np.where(large, stirling, ordinary), 0.0)
