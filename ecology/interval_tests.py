"""Do two groups of interval-censored times differ? The permutation form of the log-rank test.

Each row's score is the mean over its interval of what the log-rank test gives a known time, with survival from the
NPMLE of both groups together; the group sums are compared over permutations of the group labels. That is valid where
the visits were made on the same plan in both groups, so that the labels may be exchanged if nothing differs.

Source: Fay and Shaw 2010, Journal of Statistical Software 36(2); Fay and Shih 1998, JASA 93:387–396.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain, combinations
from math import comb
from typing import Literal

import numpy as np
from scipy.special import ndtr, xlogy

from ecology.interval_censored import Npmle, npmle
from ecology.not_estimable import NotEstimable

MOST_ENUMERATED = 50_000  # up to this many ways to label the rows all are listed, above it they are drawn


@dataclass(frozen=True, eq=False, kw_only=True)
class TwoSampleTest:
    """Result of the permutation log-rank test.

    z               standardised sum of scores of the second group; positive = its times tend to be shorter
    p_asymptotic    two-sided, from the normal approximation with the permutation variance
    p_permutation   two-sided: the share of labellings at least as far from the expected sum; from all of them, or
                    (1 + hits)/(1 + draws) from random ones. Prefer it below about ten rows a group.
    permutation     "exact" or "monte-carlo"
    labellings      how many were listed or drawn
    scores          one a row
    groups          the two labels, in the order first and second
    sizes           rows in each
    """

    z: float
    p_asymptotic: float
    p_permutation: float
    permutation: Literal["exact", "monte-carlo"]
    labellings: int
    scores: np.ndarray
    groups: tuple[object, object]
    sizes: tuple[int, int]


def permutation_log_rank(
    low: np.ndarray,
    high: np.ndarray,
    group: np.ndarray,
    *,
    draws: int = 9_999,
    seed: int | np.random.Generator,
) -> TwoSampleTest:
    """Compare two groups of intervals (low, high] (conventions as in `npmle`).

    group   a label a row, two different ones; the sorted second is the one whose scores are summed
    draws   random labellings where more than 50,000 are possible

    Raises ValueError unless there are exactly two labels, NotEstimable where all scores are equal.
    """
    low, high, group = np.asarray(low, dtype=float), np.asarray(high, dtype=float), np.asarray(group)
    labels, member = np.unique(group, return_inverse=True)
    if group.shape != low.shape or labels.size != 2:
        raise ValueError(f"two groups are compared, one label a row; found {labels.size} labels for {low.size} rows")
    scores = log_rank_scores(low, high, npmle(low, high))
    n, second = low.size, int(member.sum())
    centred = scores - scores.mean()
    variance = float(centred @ centred) * second * (n - second) / n / (n - 1)
    if variance <= 1e-20:
        raise NotEstimable("All intervals are compatible with the same time: the groups cannot be told apart.")
    total = float(centred[member == 1].sum())
    z = total / np.sqrt(variance)
    # Sums that differ by rounding only count as equal.
    reached = abs(total) - 1e-9 * np.sqrt(variance)
    ways = comb(n, second)
    if ways <= MOST_ENUMERATED:
        picks = np.fromiter(chain.from_iterable(combinations(range(n), second)), np.intp, ways * second)
        sums = centred[picks.reshape(ways, second)].sum(axis=1)
        p_permutation, used = float(np.mean(np.abs(sums) >= reached)), ways
    else:
        if draws < 1:
            raise ValueError(f"{ways} labellings are possible: at least one must be drawn, not {draws}")
        hits = _random_hits(centred, second, reached, draws, np.random.default_rng(seed))
        p_permutation, used = (1 + hits) / (1 + draws), draws
    first_label, second_label = labels.tolist()
    return TwoSampleTest(
        z=float(z),
        p_asymptotic=float(2.0 * ndtr(-abs(z))),
        p_permutation=p_permutation,
        permutation="exact" if ways <= MOST_ENUMERATED else "monte-carlo",
        labellings=used,
        scores=scores,
        groups=(first_label, second_label),
        sizes=(n - second, second),
    )


def log_rank_scores(low: np.ndarray, high: np.ndarray, pooled: Npmle) -> np.ndarray:
    """[S(low)·ln S(low) − S(high)·ln S(high)]/[S(low) − S(high)] for each row, S from the pooled NPMLE.

    For an exact time t, S(low) is survival just before t. The scores sum to 0 but for rounding.
    """
    cumulative = np.concatenate(([0.0], np.cumsum(pooled.mass)))
    exact = low == high
    before = np.where(
        exact,
        np.searchsorted(pooled.high, low, side="left"),
        np.searchsorted(pooled.high, low, side="right"),
    )
    after = np.searchsorted(pooled.high, high, side="right")
    s_low = np.clip(1.0 - cumulative[before], 0.0, 1.0)
    # The last cumulative mass is 1 but for rounding, and must be for S ln S to vanish.
    s_high = np.where(after == pooled.mass.size, 0.0, np.clip(1.0 - cumulative[after], 0.0, 1.0))
    return (xlogy(s_low, s_low) - xlogy(s_high, s_high)) / (s_low - s_high)


def _random_hits(centred: np.ndarray, second: int, reached: float, draws: int, rng: np.random.Generator) -> int:
    """How many of `draws` random labellings have a sum at least as far from 0, in blocks that fit in memory."""
    hits = 0
    block = max(1, 2_000_000 // centred.size)
    for begin in range(0, draws, block):
        rows = min(block, draws - begin)
        order = rng.permuted(np.broadcast_to(centred, (rows, centred.size)), axis=1)
        hits += int(np.count_nonzero(np.abs(order[:, :second].sum(axis=1)) >= reached))
    return hits
