"""Masses on innermost intervals that maximise the likelihood of interval-censored rows.

Every row covers a run of neighbouring innermost intervals (columns) `first` … `past − 1`, so that its probability is a
difference of two cumulative masses.

Sources: Lindsay 1983, Annals of Statistics 11:86–94 (gradient bound); Wang 2008, Computational Statistics and Data
Analysis 52:2388–2402 (constrained Newton with support reduction); Kim and Park 2011, SIAM J. Sci. Comput.
33:3261–3281 (block pivoting for non-negative least squares).
"""

from __future__ import annotations

import numpy as np

_DENSE_SUPPORT = 100  # above it the Newton system is solved sparse: fewer steps, and no waiting of LAPACK's threads
_ARMIJO = 1e-4


def maximise_masses(
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
    probability = row_probability(mass, first, past)
    floor = max(tolerance, gradient_rounding(total, columns))
    best = np.inf
    stalled = 0
    for iteration in range(max_iterations + 1):
        ratio = weight / probability
        gradient = mass_gradient(ratio, first, past, columns)
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
            trial_probability = row_probability(trial, first, past)
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


def row_probability(mass: np.ndarray, first: np.ndarray, past: np.ndarray) -> np.ndarray:
    cumulative = np.empty(mass.size + 1)
    cumulative[0] = 0.0
    mass.cumsum(out=cumulative[1:])
    # A row on one column takes its mass as it is: the difference of two sums would round it.
    return np.where(past - first == 1, mass[first], cumulative[past] - cumulative[first])


def mass_gradient(value: np.ndarray, first: np.ndarray, past: np.ndarray, columns: int) -> np.ndarray:
    """For every column, the sum of the rows' values over the rows that cover it: rows are runs of ones."""
    steps = np.bincount(first, value, columns + 1) - np.bincount(past, value, columns + 1)
    return steps.cumsum()[:columns]


def gradient_rounding(total: float, columns: int) -> float:
    """How far the gradient may miss the total through rounding alone (probabilities are at least 1/total)."""
    return 8.0 * np.finfo(float).eps * total * np.sqrt(total * columns)


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
        pull = linear - mass_gradient(curvature * row_probability(base, first, past), first, past, columns)
        solution = base + _solve_on(first, past, curvature, pull, free)
        excess = mass_gradient(curvature * row_probability(solution, first, past), first, past, columns) - linear
        wrong = (free & (solution < 0.0)) | (candidates & ~free & (excess < -small))
        count = int(wrong.sum())
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
    node = np.zeros(free.size + 1, dtype=np.intp)
    free.cumsum(out=node[1:])
    size = int(node[-1])
    start, stop = node[first], node[past]
    at = np.flatnonzero(free)
    value = linear[at]
    right_side = value.copy()
    right_side[:-1] -= value[1:]
    if size <= _DENSE_SUPPORT:
        edges = np.bincount(start * (size + 1) + stop, curvature, (size + 1) ** 2).reshape(size + 1, size + 1)
        edges = edges + edges.T
        edges.flat[:: size + 2] = 0.0
        laplacian = -edges[1:, 1:]
        laplacian.flat[:: size + 1] = edges[1:].sum(axis=1)
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
    solution[at] = cumulative
    solution[at[1:]] -= cumulative[:-1]
    return solution
