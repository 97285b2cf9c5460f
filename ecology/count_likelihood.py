"""Log likelihood of counts with mean μ and variance μ + α·μ² (Poisson at α = 0), and its derivatives.

It is written in sums of log(1 + α·j) over j below the count, which stay exact down to α = 0, so that the Poisson model
is the edge of the negative binomial one and not another formula.

Source: Lawless 1987, Canadian Journal of Statistics 15:209–225 (negative binomial regression, α = 0 included).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaln

LARGEST_COUNT = 10_000_000  # the sums over j run to the largest count


@dataclass(frozen=True, eq=False, kw_only=True)
class CountData:
    """Arrays of a fit, with the counts as positions in the tables of sums over j = 0 … count − 1."""

    y: np.ndarray
    X: np.ndarray
    offset: np.ndarray
    position: np.ndarray
    steps: np.ndarray
    constant: float

    @classmethod
    def of(cls, y: np.ndarray, X: np.ndarray, offset: np.ndarray) -> CountData:
        position = y.astype(np.int64)
        return cls(
            y=y,
            X=X,
            offset=offset,
            position=position,
            steps=np.arange(float(position.max())),
            constant=float(gammaln(y + 1.0).sum()),
        )


def checked_arrays(
    count: np.ndarray, design: np.ndarray, offset: np.ndarray | None, terms: Sequence[str]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[str, ...]]:
    """(counts, design, offset, names) as arrays of their own; ValueError where they do not fit together."""
    y, X = np.array(count, dtype=float), np.array(design, dtype=float)
    off = np.zeros(y.shape) if offset is None else np.array(offset, dtype=float)
    names = tuple(terms)
    if y.ndim != 1 or y.size == 0 or X.ndim != 2 or X.shape[0] != y.size or off.shape != y.shape:
        raise ValueError(f"{y.shape} counts, a design of shape {X.shape} and {off.shape} offsets do not fit together")
    if len(names) != X.shape[1] or len(set(names)) != len(names):
        raise ValueError(f"{len(names)} names {names} for {X.shape[1]} columns; each column needs its own")
    if not (np.all(np.isfinite(y)) and np.all(np.isfinite(X)) and np.all(np.isfinite(off))):
        raise ValueError("counts, design and offset have no missing or infinite values: leave such rows out first")
    if np.any(y < 0) or np.any(y != np.floor(y)) or np.any(y > LARGEST_COUNT):
        raise ValueError(f"counts are whole numbers from 0 to {LARGEST_COUNT:,}")
    return y, X, off, names


def log_likelihood_of(data: CountData, beta: np.ndarray, alpha: float) -> float:
    """Log likelihood, with all constants, of coefficients and α ≥ 0."""
    eta = data.offset + data.X @ beta
    return log_likelihood_at(data, eta, np.exp(eta), alpha)


def log_likelihood_at(data: CountData, eta: np.ndarray, mean: np.ndarray, alpha: float) -> float:
    """The same from the linear predictor and its exponential, which the caller already has."""
    if alpha == 0.0:
        return dot(data.y, eta) - float(mean.sum()) - data.constant
    rising = _prefix(np.log1p(alpha * data.steps))[data.position].sum()
    spread = (
        dot(data.y + 1.0 / alpha, np.log1p(alpha * mean))
        if alpha > 1e-6
        else float((mean * log1p_over(alpha * mean)).sum()) + dot(data.y, np.log1p(alpha * mean))
    )
    return float(rising) + dot(data.y, eta) - spread - data.constant


def alpha_scores(data: CountData, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Each row's derivative of the log likelihood by α."""
    rising = _prefix(data.steps / (1.0 + alpha * data.steps))[data.position]
    h, _ = _curve(alpha * mean)
    return rising + mean**2 * h - data.y * mean / (1.0 + alpha * mean)


def alpha_derivatives(data: CountData, mean: np.ndarray, alpha: float) -> tuple[float, float]:
    """First and second derivative of the log likelihood by α, at fixed means."""
    share = data.steps / (1.0 + alpha * data.steps)
    h, slope = _curve(alpha * mean)
    ratio = mean / (1.0 + alpha * mean)
    first = _prefix(share)[data.position].sum() + dot(mean**2, h) - dot(data.y, ratio)
    second = -_prefix(share**2)[data.position].sum() + dot(mean**3, slope) + dot(data.y, ratio**2)
    return float(first), float(second)


def coefficient_information(data: CountData, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Observed information of the coefficients."""
    weight = mean * (1.0 + alpha * data.y) / (1.0 + alpha * mean) ** 2
    return data.X.T @ (weight[:, None] * data.X)


def joint_information(data: CountData, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Observed information of (coefficients, α)."""
    k = data.X.shape[1]
    joint = np.empty((k + 1, k + 1))
    joint[:k, :k] = coefficient_information(data, mean, alpha)
    joint[:k, k] = joint[k, :k] = data.X.T @ ((data.y - mean) * mean / (1.0 + alpha * mean) ** 2)
    joint[k, k] = -alpha_derivatives(data, mean, alpha)[1]
    return joint


def dot(a: np.ndarray, b: np.ndarray) -> float:
    """Scalar product in one thread: the library's own starts threads from 10,000 numbers on, and on a busy machine
    waiting for them takes thirty times as long as the sum."""
    return float(np.einsum("i,i->", a, b))


def log1p_over(x: np.ndarray) -> np.ndarray:
    """log(1 + x)/x, 1 at 0."""
    safe = np.where(x > 0.0, x, 1.0)
    return np.where(x > 0.0, np.log1p(safe) / safe, 1.0)


def _curve(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """h(x) = (log(1 + x) − x/(1 + x))/x² and its derivative; by series near 0, where h = ½."""
    safe = np.where(x > 1e-2, x, 1.0)
    numerator = np.log1p(safe) - safe / (1.0 + safe)
    h = numerator / safe**2
    slope = 1.0 / (safe * (1.0 + safe) ** 2) - 2.0 * numerator / safe**3
    near = x <= 1e-2
    if near.any():
        k = np.arange(2, 11)
        weight = (-1.0) ** k * (k - 1.0) / k
        t = x[near]
        h[near] = np.polynomial.polynomial.polyval(t, weight)
        slope[near] = np.polynomial.polynomial.polyval(t, weight[1:] * (k[1:] - 2.0))
    return h, slope


def _prefix(values: np.ndarray) -> np.ndarray:
    """Sums of the values before each position, the last included."""
    return np.concatenate(([0.0], np.cumsum(values)))
