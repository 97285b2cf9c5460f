"""Nonparametric maximum likelihood for times that are only known to lie between two visits.

Every row says “the event happened in (low, high]”. The estimate is a set of innermost intervals, each with a mass;
where inside an innermost interval the mass sits is not known, so survival is given as bounds and drawn as boxes.

Sources: Peto 1973, Applied Statistics 22:86–91 (innermost intervals); Turnbull 1976, J. R. Statist. Soc. B
38:290–295; Lindsay 1983, Annals of Statistics 11:86–94 (gradient bound); Wang 2008, Computational Statistics and
Data Analysis 52:2388–2402 (constrained Newton with support reduction); Kim and Park 2011, SIAM J. Sci. Comput.
33:3261–3281 (block pivoting for non-negative least squares).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_DENSE_SUPPORT = 100  # above it the Newton system is solved sparse: fewer steps, and no waiting of LAPACK's threads
_ARMIJO = 1e-4


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
    low, high, weight = _checked(low, high, weights)
    first, past, column_low, column_high = _innermost(low, high)
    columns = column_low.size
    key, back = np.unique(first * (columns + 1) + past, return_inverse=True)
    first, past = key // (columns + 1), key % (columns + 1)
    weight = np.bincount(back, weight)
    mass, iterations = _maximise(first, past, weight, columns, tolerance, max_iterations)
    total = float(weight.sum())
    probability = _row_probability(mass, first, past)
    gradient = _gradient(weight / probability, first, past, columns)
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
        converged=bool(gap <= max(tolerance, _rounding(total, columns))),
    )


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
    low, high, _ = _checked(low, high, None)
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


def _checked(
    low: np.ndarray, high: np.ndarray, weights: np.ndarray | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The rows that count, as float arrays; ValueError where a row is not an interval."""
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    if low.ndim != 1 or low.shape != high.shape or low.size == 0:
        raise ValueError(f"intervals need two equally long, non-empty rows of ends, not {low.shape} and {high.shape}")
    wrong = np.flatnonzero(~(low <= high) | (low == np.inf) | (high == -np.inf))
    if wrong.size:
        i = int(wrong[0])
        raise ValueError(f"({low[i]}, {high[i]}] at position {i} is not an interval with low ≤ high")
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


def _row_probability(mass: np.ndarray, first: np.ndarray, past: np.ndarray) -> np.ndarray:
    cumulative = np.concatenate(([0.0], np.cumsum(mass)))
    # A row on one column takes its mass as it is: the difference of two sums would round it.
    return np.where(past - first == 1, mass[first], cumulative[past] - cumulative[first])


def _gradient(value: np.ndarray, first: np.ndarray, past: np.ndarray, columns: int) -> np.ndarray:
    """For every column, the sum of the rows' values over the rows that cover it: rows are runs of ones."""
    steps = np.bincount(first, value, columns + 1) - np.bincount(past, value, columns + 1)
    return np.cumsum(steps)[:columns]


def _rounding(total: float, columns: int) -> float:
    """How far the gradient may miss the total through rounding alone (probabilities are at least 1/total)."""
    return 8.0 * np.finfo(float).eps * total * np.sqrt(total * columns)


def _maximise(
    first: np.ndarray, past: np.ndarray, weight: np.ndarray, columns: int, tolerance: float, max_iterations: int
) -> tuple[np.ndarray, int]:
    """Masses on the innermost intervals and the Newton steps it took.

    Minimises −Σ w log P + total·Σ mass over mass ≥ 0 (whose minimiser sums to 1). Each step adds the steepest column
    between each pair of neighbours in the support, solves the quadratic approximation over the support exactly
    under mass ≥ 0, which removes columns, and searches along the line to it.
    """
    total = float(weight.sum())
    support = _stabbing(first, past, columns)
    mass = np.where(support, 1.0 / support.sum(), 0.0)
    probability = _row_probability(mass, first, past)
    floor = max(tolerance, _rounding(total, columns))
    best = np.inf
    stalled = 0
    for iteration in range(max_iterations + 1):
        ratio = weight / probability
        gradient = _gradient(ratio, first, past, columns)
        gap = float(gradient.max()) - total
        if gap <= tolerance or iteration == max_iterations:
            break
        if gap <= floor:
            # Inside rounding: go on only as long as steps still help.
            stalled = 0 if gap < 0.5 * best else stalled + 1
            best = min(best, gap)
            if stalled > 2:
                break
        candidates = support | _steepest_between(gradient, support, total)
        curvature = ratio / probability
        target = _newton_target(first, past, curvature, mass, gradient, candidates, total)
        direction = target - mass
        slope = float((total - gradient) @ direction)
        objective = float(-(weight @ np.log(probability))) + total * float(mass.sum())
        step = 1.0
        while True:
            trial = np.maximum(mass + step * direction, 0.0) if step < 1.0 else target
            trial_probability = _row_probability(trial, first, past)
            if trial_probability.min() > 0.0:
                value = float(-(weight @ np.log(trial_probability))) + total * float(trial.sum())
                # The last term: at the maximum a step changes the objective by less than its rounding.
                if value <= objective + _ARMIJO * step * slope + 1e-14 * abs(objective):
                    break
            step *= 0.5
            if step < 1e-12:
                return mass, iteration
        # The scale 1 is the best scale, so that this never lowers the likelihood.
        mass = trial / trial.sum()
        probability = trial_probability / trial.sum()
        support = mass > 0.0
    return mass, iteration


def _stabbing(first: np.ndarray, past: np.ndarray, columns: int) -> np.ndarray:
    """A small set of columns such that every row covers one: the greedy choice of right ends."""
    latest_start = np.full(columns, -1)
    np.maximum.at(latest_start, past - 1, first)
    chosen = np.zeros(columns, dtype=bool)
    last = -1
    for column, start in enumerate(latest_start.tolist()):
        if start > last:
            last = column
            chosen[column] = True
    return chosen


def _steepest_between(gradient: np.ndarray, support: np.ndarray, total: float) -> np.ndarray:
    """The column of largest gradient in each stretch between support columns, where it exceeds the total."""
    outside = np.flatnonzero(~support)
    added = np.zeros_like(support)
    if outside.size == 0:
        return added
    stretch = np.cumsum(support)[outside]
    begins = np.flatnonzero(np.concatenate(([True], stretch[1:] != stretch[:-1])))
    lengths = np.diff(np.append(begins, outside.size))
    peak = np.repeat(np.maximum.reduceat(gradient[outside], begins), lengths)
    added[outside[(gradient[outside] >= peak) & (peak > total)]] = True
    return added


def _newton_target(
    first: np.ndarray,
    past: np.ndarray,
    curvature: np.ndarray,
    mass: np.ndarray,
    gradient: np.ndarray,
    candidates: np.ndarray,
    total: float,
) -> np.ndarray:
    """Minimiser of the quadratic approximation over the candidate columns under mass ≥ 0, by block pivoting.

    With H = A' diag(w/P²) A the quadratic is ½ x'Hx − x'(2·gradient − total), because H·mass = gradient.
    """
    columns = gradient.size
    linear = 2.0 * gradient - total
    free = candidates.copy()
    fewest, patience = columns + 1, 3
    small = 1e-12 * total
    for _ in range(20 * columns + 100):
        # Solve for the change, not the value: near the maximum a change keeps its digits.
        base = np.where(free, mass, 0.0)
        pull = linear - _gradient(curvature * _row_probability(base, first, past), first, past, columns)
        solution = base + _solve_on(first, past, curvature, pull, free)
        excess = _gradient(curvature * _row_probability(solution, first, past), first, past, columns) - linear
        wrong = (free & (solution < 0.0)) | (candidates & ~free & (excess < -small))
        count = int(np.count_nonzero(wrong))
        if count == 0:
            return solution
        if count < fewest:
            fewest, patience = count, 3
        elif patience > 0:
            patience -= 1
        else:
            # Exchanging everything has stopped helping: exchange one, which cannot cycle.
            keep = int(np.flatnonzero(wrong)[-1])
            wrong[:] = False
            wrong[keep] = True
        free = free ^ wrong
    return np.maximum(solution, 0.0)


def _solve_on(
    first: np.ndarray, past: np.ndarray, curvature: np.ndarray, linear: np.ndarray, free: np.ndarray
) -> np.ndarray:
    """The unconstrained minimiser over the free columns, zero elsewhere.

    In cumulative masses every row is one edge between two points of the time axis, so that the matrix is a graph
    Laplacian grounded at cumulative mass 0: sparse, positive definite, and never formed row by column.
    """
    node = np.concatenate(([0], np.cumsum(free)))
    size = int(node[-1])
    start, stop = node[first], node[past]
    at = np.flatnonzero(free)
    value = linear[at]
    right_side = value - np.append(value[1:], 0.0)
    if size <= _DENSE_SUPPORT:
        edges = np.bincount(start * (size + 1) + stop, curvature, (size + 1) ** 2).reshape(size + 1, size + 1)
        edges = edges + edges.T
        np.fill_diagonal(edges, 0.0)
        laplacian = -edges[1:, 1:]
        laplacian[np.diag_indices(size)] = edges[1:].sum(axis=1)
        cumulative = np.linalg.solve(laplacian, right_side)
    else:
        from scipy.sparse import coo_array
        from scipy.sparse.linalg import splu

        crosses = start != stop
        begin, end, edge = start[crosses], stop[crosses], curvature[crosses]
        degree = np.bincount(begin, edge, size + 1) + np.bincount(end, edge, size + 1)
        inner = begin > 0
        begin, end, edge = begin[inner] - 1, end[inner] - 1, edge[inner]
        diagonal = np.arange(size)
        entries = np.concatenate((degree[1:], -edge, -edge))
        places = (np.concatenate((diagonal, begin, end)), np.concatenate((diagonal, end, begin)))
        matrix = coo_array((entries, places), shape=(size, size)).tocsc()
        factor = splu(matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=0.0, options={"SymmetricMode": True})
        cumulative = factor.solve(right_side)
    solution = np.zeros(linear.size)
    solution[at] = np.diff(cumulative, prepend=0.0)
    return solution
