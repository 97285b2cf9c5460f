"""Percentile intervals around the nonparametric estimate of interval-censored times, from resampled rows.

Source: Sen and Xu 2015, J. Statist. Plann. Inference 159:57–70 (why they are approximate; citation from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.interval_censored import npmle
from ecology.interval_ends import checked_intervals


@dataclass(frozen=True, eq=False, kw_only=True)
class BootstrapBands:
    """Percentile intervals around an NPMLE from resampled rows (or clusters of rows).

    days                     the times asked for
    by_low, by_high          bounds of P(T ≤ t) at the estimate itself; they differ inside innermost intervals
    low, high                interval for P(T ≤ t): the (1 − level)/2 quantile of the resampled *lower* bounds and the
                             (1 + level)/2 quantile of the resampled *upper* bounds, so that both what is unknown
                             within intervals and sampling are covered
    quantile                 which quantile the next four describe (0.5 = median)
    quantile_bounds          the innermost interval of the quantile at the estimate (may end at inf)
    quantile_low, quantile_high   by the same rule from the ends of the resampled quantile intervals; may be inf
    draws, level, unconverged     how many resamples, which level, and how many of them missed the tolerance
    """

    days: np.ndarray
    by_low: np.ndarray
    by_high: np.ndarray
    low: np.ndarray
    high: np.ndarray
    quantile: float
    quantile_bounds: tuple[float, float]
    quantile_low: float
    quantile_high: float
    draws: int
    level: float
    unconverged: int


def bootstrap_npmle(
    low: np.ndarray,
    high: np.ndarray,
    *,
    draws: int,
    seed: int | np.random.Generator,
    days: np.ndarray,
    quantile: float = 0.5,
    level: float = 0.95,
    groups: np.ndarray | None = None,
) -> BootstrapBands:
    """Percentile bootstrap of the NPMLE: rows, or whole `groups` of rows, are drawn with replacement.

    With purely interval-censored times the NPMLE converges slower than 1/√n, so that these intervals are approximate
    (Sen and Xu 2015, J. Statist. Plann. Inference 159:57–70, citation from memory); state the number of rows beside
    them. Quantiles use the nearest order statistic outwards, never a value between a finite time and inf.
    """
    low, high = checked_intervals(low, high)
    days = np.atleast_1d(np.asarray(days, dtype=float))
    if draws < 1:
        raise ValueError(f"a bootstrap needs at least one draw, not {draws}")
    if not 0.0 < level < 1.0:
        raise ValueError(f"a level lies between 0 and 1, not at {level}")
    if groups is None:
        member = np.arange(low.size)
    else:
        if np.shape(groups) != low.shape:
            raise ValueError(f"{np.size(groups)} groups for {low.size} intervals")
        member = np.unique(groups, return_inverse=True)[1]
    units = int(member.max()) + 1
    counts = np.random.default_rng(seed).multinomial(units, np.full(units, 1.0 / units), size=draws)
    by_low, by_high = np.empty((draws, days.size)), np.empty((draws, days.size))
    ends = np.empty((draws, 2))
    unconverged = 0
    for draw, count in enumerate(counts):
        # A looser tolerance: a log likelihood within 1e-6 moves no percentile visibly.
        fit = npmle(low, high, weights=count[member].astype(float), tolerance=1e-6)
        lowest, highest = fit.not_yet_bounds(days)
        by_low[draw], by_high[draw] = 1.0 - highest, 1.0 - lowest
        ends[draw] = fit.quantile_bounds(quantile)
        unconverged += not fit.converged
    estimate = npmle(low, high)
    lowest, highest = estimate.not_yet_bounds(days)
    tail = (1.0 - level) / 2.0
    return BootstrapBands(
        days=days,
        by_low=1.0 - highest,
        by_high=1.0 - lowest,
        low=np.quantile(by_low, tail, axis=0, method="lower"),
        high=np.quantile(by_high, 1.0 - tail, axis=0, method="higher"),
        quantile=quantile,
        quantile_bounds=estimate.quantile_bounds(quantile),
        quantile_low=float(np.quantile(ends[:, 0], tail, method="lower")),
        quantile_high=float(np.quantile(ends[:, 1], 1.0 - tail, method="higher")),
        draws=draws,
        level=level,
        unconverged=unconverged,
    )
