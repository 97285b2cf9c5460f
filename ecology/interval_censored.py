"""Nonparametric maximum likelihood for times that are only known to lie between two visits.

Every row says “the event happened in (low, high]”. The estimate is a set of innermost intervals, each with a mass;
where inside an innermost interval the mass sits is not known, so survival is given as bounds and drawn as boxes.

Sources: Peto 1973, Applied Statistics 22:86–91 (innermost intervals); Turnbull 1976, J. R. Statist. Soc. B
38:290–295; Lindsay 1983, Annals of Statistics 11:86–94 (gradient bound).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.interval_ends import checked_intervals
from ecology.npmle_newton import gradient_rounding, mass_gradient, maximise_masses, row_probability


@dataclass(frozen=True, eq=False, kw_only=True)
class Npmle:
    """The nonparametric maximum likelihood estimate of a distribution of times.

    low, high       ends of the innermost intervals (low, high]; low == high is a single point; high may be inf
    mass            probability of each; only intervals with positive mass are listed; sums to 1
    log_likelihood  at the estimate; exact rows enter with their point mass
    n               sum of the weights (the number of rows where none were given)
    max_gradient    the largest of sum_i w_i A_ij / P_i over all innermost intervals j, also those without mass.
                    At the maximum it equals n; max_gradient − n bounds how far the log likelihood is from its maximum.
    iterations      Newton steps taken
    converged       max_gradient − n is within the tolerance asked for (or within rounding of 0)
    """

    low: np.ndarray
    high: np.ndarray
    mass: np.ndarray
    log_likelihood: float
    n: float
    max_gradient: float
    iterations: int
    converged: bool

    def survival_at_interval_ends(self) -> tuple[np.ndarray, np.ndarray]:
        """(times, P(T > time)) at the right ends of the innermost intervals, where survival is known exactly."""
        return self.high.copy(), np.clip(1.0 - np.cumsum(self.mass), 0.0, 1.0)

    def not_yet_bounds(self, t: np.ndarray | float) -> tuple[np.ndarray, np.ndarray]:
        """(lowest, highest) value of S(t) = P(T > t); they differ only where t lies inside an innermost interval.

        `t` may be a number or an array; both results have its shape.
        """
        t = np.asarray(t, dtype=float)
        before = np.concatenate(([0.0], np.cumsum(self.mass)))
        surely = np.searchsorted(self.high, t, side="right")
        # A point at t has happened by t; an open interval has possibly begun only after its left end.
        possibly = np.maximum(np.searchsorted(self.low, t, side="left"), surely)
        return np.clip(1.0 - before[possibly], 0.0, 1.0), np.clip(1.0 - before[surely], 0.0, 1.0)

    def quantile_bounds(self, p: float = 0.5) -> tuple[float, float]:
        """(low, high]: the innermost interval that holds the p-quantile, the first time by which P(T ≤ t) ≥ p.

        `high` is inf where fewer than a share p are known to have happened. Needs 0 < p < 1.
        """
        if not 0.0 < p < 1.0:
            raise ValueError(f"a quantile lies strictly between 0 and 1, not at {p}")
        # A cumulative mass that misses p by rounding only has reached it.
        j = min(int(np.searchsorted(np.cumsum(self.mass), p - 1e-10)), self.mass.size - 1)
        return float(self.low[j]), float(self.high[j])


def npmle(
    low: np.ndarray,
    high: np.ndarray,
    *,
    weights: np.ndarray | None = None,
    tolerance: float = 1e-8,
    max_iterations: int = 500,
) -> Npmle:
    """Maximum likelihood without a shape, from intervals (low, high].

    low, high   same length; low < high is the interval (low, high], low == high an exact time, high == inf not seen
                by `low`. `low == 0` excludes the time 0 itself, as in published data of positive times. A lag that
                may have been 0 days, [0, r], is given as low = −1 (any negative number, also −inf); an exact lag of
                0 days as low == high == 0.
    weights     how often each row counts; rows with weight 0 are left out
    tolerance   the log likelihood is within this of its maximum (Lindsay's bound); rounding sets a floor

    Raises ValueError where an interval is not one. The cost grows about linearly with the number of rows; equal rows
    are counted, not repeated.
    """
    low, high, weight = _checked_rows(low, high, weights)
    first, past, column_low, column_high = _innermost(low, high)
    columns = column_low.size
    key, back = np.unique(first * (columns + 1) + past, return_inverse=True)
    first, past = key // (columns + 1), key % (columns + 1)
    weight = np.bincount(back, weight)
    mass, iterations = maximise_masses(first, past, weight, columns, tolerance, max_iterations)
    total = float(weight.sum())
    probability = row_probability(mass, first, past)
    gradient = mass_gradient(weight / probability, first, past, columns)
    kept = mass > 0.0
    gap = float(gradient.max()) - total
    return Npmle(
        low=column_low[kept],
        high=column_high[kept],
        mass=mass[kept],
        log_likelihood=float(weight @ np.log(probability)),
        n=total,
        max_gradient=float(gradient.max()),
        iterations=iterations,
        converged=bool(gap <= max(tolerance, gradient_rounding(total, columns))),
    )


def _checked_rows(
    low: np.ndarray, high: np.ndarray, weights: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The rows that count, as float arrays; ValueError where a row is not an interval."""
    low, high = checked_intervals(low, high)
    if weights is None:
        return low, high, np.ones(low.size)
    weights = np.asarray(weights, dtype=float)
    if weights.shape != low.shape or not np.all(np.isfinite(weights)) or np.any(weights < 0) or not weights.any():
        raise ValueError("weights are finite, not negative, not all 0, and one for each interval")
    used = weights > 0
    return low[used], high[used], weights[used]


def _innermost(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Innermost intervals, and for every row the first one it covers and the one past its last.

    At equal values an exact time opens before any right end closes, and right ends close before open left ends open:
    (1, 2] and (2, 3] do not meet, (1, 2] and the exact time 2 do.
    """
    values, rank = np.unique(np.concatenate((low, high)), return_inverse=True)
    left = 3 * rank[: low.size] + np.where(low == high, 0, 2)
    right = 3 * rank[low.size :] + 1
    present = np.zeros(3 * values.size, dtype=bool)
    present[left] = True
    present[right] = True
    codes = np.flatnonzero(present)
    closes = codes % 3 == 1
    opening = np.flatnonzero(~closes[:-1] & closes[1:])
    column_left, column_right = codes[opening], codes[opening + 1]
    first = np.searchsorted(column_left, left, side="left")
    past = np.searchsorted(column_right, right, side="right")
    return first, past, values[column_left // 3], values[column_right // 3]
