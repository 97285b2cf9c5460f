"""Whether values drift up or down over time, by ranks: no shape and no distribution is assumed.

Kendall's S counts pairs that rise less pairs that fall (Mann 1945, Econometrica 13:245–259); the slope is the median of
the slopes of all pairs (Sen 1968, JASA 63:1379–1389), with limits at the ranks that S would reach by chance, rounded
outwards. Values are taken as independent of one another. A single step gives the same answer as a steady drift.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from ecology.not_estimable import NotEstimable

#: Fewer values are not tested: the lowest p that four can reach is 0.08.
FEWEST_VALUES = 5
#: Below this, without ties, p comes from counting all orders.
_EXACT_BELOW = 10


@dataclass(frozen=True, kw_only=True)
class RankTrend:
    """`s` with its `variance` (ties allowed for), `z` (with the correction for whole numbers), two-sided `p`.

    `slope` per unit of time with `low` and `high` at `level`; a limit is NaN where there are too few pairs for it.
    """

    n: int
    s: int
    variance: float
    z: float
    p: float
    slope: float
    low: float
    high: float
    level: float


def rank_trend(values: np.ndarray, times: np.ndarray | None = None, *, level: float = 0.95) -> RankTrend:
    """Kendall's test against time and Sen's slope.

    values  in the order of time
    times   rising, in any unit; 0, 1, 2, … if nothing is said

    Raises ValueError for times that do not rise, NotEstimable with fewer than `FEWEST_VALUES` values or all the same.
    """
    y = np.asarray(values, dtype=float)
    t = np.arange(y.size, dtype=float) if times is None else np.asarray(times, dtype=float)
    if y.ndim != 1 or t.shape != y.shape or not (np.all(np.isfinite(y)) and np.all(np.diff(t) > 0)):
        raise ValueError("values and rising times of the same number, none of them missing")
    n = y.size
    if n < FEWEST_VALUES:
        raise NotEstimable(f"{n} values show no trend: at least {FEWEST_VALUES} are needed.")
    first, second = np.triu_indices(n, 1)
    rise = y[second] - y[first]
    s = int(np.sign(rise).sum())
    ties = np.unique(y, return_counts=True)[1].astype(float)
    variance = (n * (n - 1) * (2 * n + 5) - float((ties * (ties - 1) * (2 * ties + 5)).sum())) / 18.0
    if variance <= 0.0:
        raise NotEstimable("All values are the same: there is no trend to judge.")
    z = (s - np.sign(s)) / np.sqrt(variance)
    p = _exact_p(n, s) if n < _EXACT_BELOW and ties.max() == 1 else 2.0 * float(ndtr(-abs(z)))
    slopes = np.sort(rise / (t[second] - t[first]))
    reach = float(ndtri(0.5 * (1.0 + level))) * np.sqrt(variance)
    low, high = (slopes.size - reach) / 2.0, (slopes.size + reach) / 2.0
    return RankTrend(
        n=n,
        s=s,
        variance=variance,
        z=float(z),
        p=p,
        slope=float(np.median(slopes)),
        low=_at_rank(slopes, math.floor(low)),
        high=_at_rank(slopes, math.ceil(high + 1.0)),
        level=level,
    )


def _at_rank(ordered: np.ndarray, rank: int) -> float:
    """The value at a rank from 1 on; NaN beyond the ends."""
    return float(ordered[rank - 1]) if 1 <= rank <= ordered.size else float("nan")


def _exact_p(n: int, s: int) -> float:
    """Two-sided p of S over all orders of n different values: how many orders have how many falling pairs."""
    orders = np.ones(1)
    for size in range(2, n + 1):
        orders = np.convolve(orders, np.ones(size))
    pairs = n * (n - 1) // 2
    scores = pairs - 2 * np.arange(orders.size)
    return float(orders[np.abs(scores) >= abs(s)].sum() / orders.sum())
