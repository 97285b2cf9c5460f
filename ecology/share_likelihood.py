"""Probabilities of a binomial count and their derivatives, for a logit and a complementary log-log link."""

from __future__ import annotations

from typing import Literal

import numpy as np
from scipy.special import betainc, betaincc, betaln, expit, xlog1py, xlogy

Link = Literal["logit", "log-log"]

#: Bounds that keep exponentials finite; a chance is 0 or 1 to every digit long before them.
_LARGEST_ETA, _LARGEST_RATE = 30.0, 700.0


def share_tails(successes: np.ndarray, trials: np.ndarray, probability: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(P(Y < successes), P(Y ≥ successes)) of a binomial variable; successes from 0 to trials + 1."""
    y, n = np.asarray(successes, dtype=float), np.asarray(trials, dtype=float)
    a, b = np.maximum(y, 1.0), np.maximum(n - y + 1.0, 1e-300)
    below = np.where(y <= 0.0, 0.0, np.where(y > n, 1.0, betaincc(a, b, probability)))
    return below, np.where(y <= 0.0, 1.0, np.where(y > n, 0.0, betainc(a, b, probability)))


def share_log_pmf(successes: np.ndarray, trials: np.ndarray, probability: np.ndarray) -> np.ndarray:
    """Log probability of successes out of trials."""
    y, n = np.asarray(successes, dtype=float), np.asarray(trials, dtype=float)
    return log_choose(n, y) + xlogy(y, probability) + xlog1py(n - y, -probability)


def log_choose(trials: np.ndarray, successes: np.ndarray) -> np.ndarray:
    """Logarithm of the binomial coefficient."""
    return -np.log1p(trials) - betaln(trials - successes + 1.0, successes + 1.0)


def probability(link: Link, eta: np.ndarray) -> np.ndarray:
    """The chance at a linear predictor."""
    return expit(eta) if link == "logit" else -np.expm1(-np.exp(np.minimum(eta, _LARGEST_ETA)))


def log_likelihood(link: Link, y: np.ndarray, n: np.ndarray, eta: np.ndarray) -> float:
    """Without the binomial coefficient."""
    if link == "logit":
        return float((y * eta - n * np.logaddexp(0.0, eta)).sum())
    rate = np.exp(np.minimum(eta, _LARGEST_ETA))
    return float((xlogy(y, -np.expm1(-rate)) - (n - y) * rate).sum())


def derivatives(link: Link, y: np.ndarray, n: np.ndarray, eta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First and minus second derivative of each row's log likelihood by its linear predictor."""
    if link == "logit":
        p = expit(eta)
        return y - n * p, n * p * (1.0 - p)
    rate = np.exp(np.minimum(eta, _LARGEST_ETA))
    found = rate / np.expm1(np.minimum(rate, _LARGEST_RATE))  # of the log of the chance of finding any
    return y * found - (n - y) * rate, (n - y) * rate + y * found * (rate / -np.expm1(-rate) - 1.0)
