"""The likelihood of a search history when a search can miss animals that are there.

The return T after a restart follows a Weibull, lognormal or log-logistic distribution. A search before T finds
nothing; one after it finds animals with probability 1 − exp(−rate·effort), independently of the others. Of a spell,
what the searches say about T changes only at a search, so that its likelihood is a finite sum over the stretches
between searches: the probability that T lies in the stretch times that of every miss from there on. No grid of days
is needed. Day d covers (d, d + 1]: a search on day d can find animals that returned that day.

Source: MacKenzie et al. 2002, Ecology 83:2248–2255 (histories with missed detections, cited from memory);
Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data, 2nd ed. (interval-censored times).
"""

from __future__ import annotations

import numpy as np

from ecology.interval_likelihood import Distribution, log_density, log_tails
from ecology.missed_animals_searches import BLOCK_SPELLS, Histories

#: ln of the median of each distribution's unit form ε: T = exp(location + σ·ε).
MEDIAN_OF_ERROR = {"weibull": float(np.log(np.log(2.0))), "lognormal": 0.0, "loglogistic": 0.0}


def log_likelihood(
    histories: Histories, theta: np.ndarray, distribution: Distribution, weights: np.ndarray | None = None
) -> tuple[float, np.ndarray, np.ndarray]:
    """(log likelihood, score, observed information) at θ = (ln median [ln days], ln σ, ln rate).

    σ is the scale of ln T; a search of typical effort finds with p = 1 − exp(−rate). ln rate may be +inf (p = 1),
    where its derivatives are 0. `weights` count spells (a bootstrap). Where the likelihood is 0: −inf, 0, identity.
    """
    if histories.n > BLOCK_SPELLS:
        value, score, information, begin = 0.0, np.zeros(3), np.zeros((3, 3)), 0
        for block in histories.blocks:
            own = None if weights is None else weights[begin : begin + block.n]
            begin += block.n
            one, slope, curvature = log_likelihood(block, theta, distribution, own)
            if not np.isfinite(one):
                return -np.inf, np.zeros(3), np.eye(3)
            value, score, information = value + one, score + slope, information + curvature
        return value, score, information
    sigma, rate = float(np.exp(theta[1])), float(np.exp(theta[2]))
    half = MEDIAN_OF_ERROR[distribution]
    u_low, u_high = (histories.log_low - theta[0]) / sigma, (histories.log_high - theta[0]) / sigma
    log_p, (f_low, slope_low), (f_high, slope_high) = _within(distribution, u_low + half, u_high + half)
    x = np.where(histories.missed > 0.0, rate * np.maximum(histories.missed, 1e-300), 0.0)
    log_weight = histories.log_share - x
    peak = np.maximum.reduceat(log_p + log_weight, histories.first)
    if not np.all(np.isfinite(peak)):
        return -np.inf, np.zeros(3), np.eye(3)
    counts = np.diff(np.append(histories.first, log_p.size))
    log_spell = peak + np.log(np.add.reduceat(np.exp(log_p + log_weight - np.repeat(peak, counts)), histories.first))
    log_weight -= np.repeat(log_spell, counts)
    # Each stretch's share of its spell, and that share's derivatives by the two ends in units of σ.
    share = np.exp(log_p + log_weight)
    by_low, by_high = -np.exp(f_low + log_weight), np.exp(f_high + log_weight)
    bend_low, bend_high = by_low * slope_low, by_high * slope_high
    u_low, u_high = np.where(np.isfinite(u_low), u_low, 0.0), np.where(np.isfinite(u_high), u_high, 0.0)
    x = np.minimum(x, 1e6)  # the share is 0 long before
    # ∂u/∂ln median = −1/σ, ∂u/∂ln σ = −u; ∂share/∂ln rate = −x·share.
    pull, turn = by_low + by_high, by_low * u_low + by_high * u_high
    bend, lean = bend_low + bend_high, bend_low * u_low + bend_high * u_high
    stack = np.stack(
        (
            -pull / sigma,
            -turn,
            -x * share,
            bend / sigma**2,
            (lean + pull) / sigma,
            bend_low * u_low**2 + bend_high * u_high**2 + turn,
            x * pull / sigma,
            x * turn,
            (x * x - x) * share,
        )
    )
    by = np.add.reduceat(stack, histories.first, axis=1)
    w = np.ones(histories.n) if weights is None else weights
    value = float(w @ log_spell)
    score = by[:3] @ w
    raw = by[3:] @ w
    hessian = np.array([[raw[0], raw[1], raw[3]], [raw[1], raw[2], raw[4]], [raw[3], raw[4], raw[5]]])
    hessian -= (by[:3] * w) @ by[:3].T
    if np.isfinite(rate):
        x = rate * histories.find_effort
        of = w[histories.find_spell]
        h = x / np.expm1(np.minimum(x, 700.0))
        after = rate * float(w @ histories.missed_after)
        value += float(of @ np.log(-np.expm1(-x))) - after
        score[2] += float(of @ h) - after
        hessian[2, 2] += float(of @ (h * (1.0 - x - h))) - after
    elif w @ histories.missed_after > 0.0:
        return -np.inf, np.zeros(3), np.eye(3)
    return value, score, -hessian


def _within(
    distribution: Distribution, low: np.ndarray, high: np.ndarray
) -> tuple[np.ndarray, tuple[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]:
    """ln P(low < ε ≤ high), and at either end (ln density, its derivative): (−inf, 0) where the end is infinite."""
    (below_low, above_low), (below_high, above_high) = log_tails(distribution, low), log_tails(distribution, high)
    right = low > 0.0  # from the tail that loses fewer digits
    larger, smaller = np.where(right, above_low, below_high), np.where(right, above_high, below_low)
    with np.errstate(divide="ignore", invalid="ignore"):
        log_p = larger + np.log1p(-np.exp(np.minimum(smaller - larger, 0.0)))
    log_p[np.isnan(log_p)] = -np.inf  # both tails are 0 to the last digit
    ends = []
    for z in (low, high):
        finite = np.isfinite(z)
        log_f, slope, _ = log_density(distribution, np.where(finite, z, 0.0))
        ends.append((np.where(finite, log_f, -np.inf), np.where(finite, slope, 0.0)))
    return log_p, ends[0], ends[1]
