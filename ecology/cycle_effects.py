"""Counts whose flow cycles differ: negative binomial within a cycle, a normal deviation of ln mean between cycles.

count ~ NB2(mean = exp(offset + x·β + σ·u of its cycle), variance = mean + α·mean²), u standard normal. Visits of one
cycle share u, so that a whole period can lie high or low together, which errors of single visits do not show. For given
(√α, σ) the coefficients and the u have a joint mode; the likelihood integrated over both is taken from its curvature
(Laplace), which allows for the coefficients spent, and is then laid out over a grid of (√α, σ) instead of at one best
point: that is where the uncertainty of the dispersion and of the spread between cycles comes in.

Sources: Breslow and Clayton 1993, JASA 88:9–25 (integrating over random effects by the curvature at the mode); Gelman
2006, Bayesian Analysis 1:515–534 (flat or half-normal prior on a standard deviation between groups); Rue, Martino and
Chopin 2009, J. R. Statist. Soc. B 71:319–392 (a grid over the few variance parameters, normal given them).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.count_likelihood import CountData, log_likelihood_at

#: Scale of the half-normal prior on the spread of ln mean between cycles: 1 would be cycles that differ threefold.
SPREAD_PRIOR = 0.5
#: Scale of the half-normal prior on √α, the coefficient of variation of what the visits of a cycle meet.
VARIATION_PRIOR = 2.0
_MOST_STEPS = 60
_NODES = 9
#: The grid ends where the log posterior has fallen by so much: beyond lies less than 1 in 1,000 of the weight.
_FALL = 6.0


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleNode:
    """What is known given one pair (variation √α, spread σ).

    `coefficients` (in the design's own columns) are normal around this value with covariance factor `root`
    (root @ root.T); `deviation` holds u of each cycle at those coefficients, normal with variance 1/`precision`, and
    moves by -`slope` @ (coefficients - value) when they do. `weight` is its share of the whole.
    """

    variation: float
    spread: float
    weight: float
    coefficients: np.ndarray
    root: np.ndarray
    deviation: np.ndarray
    precision: np.ndarray
    slope: np.ndarray

    @property
    def alpha(self) -> float:
        return self.variation**2


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleModel:
    """A fitted model: nodes over (√α, σ), the labels of the cycles in the order of each node's deviations."""

    nodes: tuple[CycleNode, ...]
    labels: np.ndarray
    n: int

    @property
    def coefficients(self) -> np.ndarray:
        """Mean of the coefficients over the nodes."""
        return np.sum([node.weight * node.coefficients for node in self.nodes], axis=0)

    @property
    def alpha(self) -> float:
        """Mean dispersion within cycles."""
        return float(sum(node.weight * node.alpha for node in self.nodes))

    @property
    def spread(self) -> float:
        """Mean spread of ln mean between cycles."""
        return float(sum(node.weight * node.spread for node in self.nodes))


def fit_cycles(
    count: np.ndarray,
    design: np.ndarray,
    offset: np.ndarray,
    groups: np.ndarray,
    *,
    start: np.ndarray,
    start_alpha: float,
) -> CycleModel:
    """The model of counts by cycle.

    count        whole numbers ≥ 0
    design       one column a term, of full rank, for which finite coefficients exist (`fit_counts` has seen to it)
    offset       ln effort
    groups       cycle label of each row; labels are compared as text
    start, start_alpha   coefficients and α of the fit without cycles
    """
    labels, member = np.unique(groups.astype(str), return_inverse=True)
    basis, triangle = np.linalg.qr(design)
    scale = np.sqrt(len(count))
    work = _Work(CountData.of(count.astype(float), basis * scale, offset), member, len(labels))
    back = np.linalg.inv(triangle) * scale
    first = _Mode(beta=triangle @ start / scale, u=np.zeros(len(labels)))
    nodes = _grid(work, first, float(np.sqrt(max(start_alpha, 0.0))))
    top = max(mode.value for *_, mode in nodes)
    weights = np.array([np.exp(mode.value - top) for *_, mode in nodes])
    weights /= weights.sum()
    kept = [
        _node(work, variation, spread, mode, float(weight), back)
        for (variation, spread, mode), weight in zip(nodes, weights, strict=True)
        if weight > 1e-6
    ]
    return CycleModel(nodes=tuple(kept), labels=labels, n=len(count))


@dataclass(frozen=True, eq=False, kw_only=True)
class _Mode:
    """Joint mode of coefficients (in the orthonormal basis) and deviations, and the log posterior of (√α, σ) there."""

    beta: np.ndarray
    u: np.ndarray
    value: float = -np.inf


class _Work:
    """Counts with their cycles; every step costs rows times columns, whatever the number of cycles."""

    def __init__(self, data: CountData, member: np.ndarray, groups: int) -> None:
        self.data, self.member, self.groups = data, member, groups

    def sums(self, values: np.ndarray) -> np.ndarray:
        """Sums by cycle of one value a row, or of each column."""
        if values.ndim == 1:
            return np.bincount(self.member, values, self.groups)
        return np.column_stack([np.bincount(self.member, column, self.groups) for column in values.T])

    def curvature(self, mean: np.ndarray, alpha: float, spread: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(Schur complement of the coefficients, coupling by cycle, own curvature of each deviation)."""
        weight = mean * (1.0 + alpha * self.data.y) / (1.0 + alpha * mean) ** 2
        weighted = weight[:, None] * self.data.X
        coupling = spread * self.sums(weighted)
        own = 1.0 + spread**2 * self.sums(weight)
        return self.data.X.T @ weighted - coupling.T @ (coupling / own[:, None]), coupling, own

    def mode(self, variation: float, spread: float, start: _Mode) -> _Mode:
        """Newton's method from `start`, with steps halved where they do not climb."""
        alpha, data = variation**2, self.data
        beta, u = start.beta, start.u
        eta = data.offset + data.X @ beta + spread * u[self.member]
        mean = np.exp(np.minimum(eta, 700.0))
        value = log_likelihood_at(data, eta, mean, alpha) - 0.5 * float(u @ u)
        for _ in range(_MOST_STEPS):
            schur, coupling, own = self.curvature(mean, alpha, spread)
            residual = (data.y - mean) / (1.0 + alpha * mean)
            by_u = spread * self.sums(residual) - u
            right = data.X.T @ residual - coupling.T @ (by_u / own)
            step = np.linalg.solve(schur, right)
            step_u = (by_u - coupling @ step) / own
            gain = float((data.X.T @ residual) @ step + by_u @ step_u)
            size = 1.0
            while size > 1e-10:
                trial, trial_u = beta + size * step, u + size * step_u
                eta = data.offset + data.X @ trial + spread * trial_u[self.member]
                mean = np.exp(np.minimum(eta, 700.0))
                new = log_likelihood_at(data, eta, mean, alpha) - 0.5 * float(trial_u @ trial_u)
                if new >= value - 1e-10 * abs(value):
                    break
                size *= 0.5
            else:
                break
            beta, u, value = trial, trial_u, new
            if gain < 1e-7:
                break
        schur, _, own = self.curvature(mean, alpha, spread)
        prior = -0.5 * (variation / VARIATION_PRIOR) ** 2 - 0.5 * (spread / SPREAD_PRIOR) ** 2
        value += prior - 0.5 * float(np.log(own).sum()) - 0.5 * float(np.linalg.slogdet(schur)[1])
        return _Mode(beta=beta, u=u, value=value)


def _grid(work: _Work, start: _Mode, variation: float) -> list[tuple[float, float, _Mode]]:
    """Evenly spaced nodes of (√α, σ) over the region that matters, each with its mode."""
    from scipy.optimize import minimize

    best = [start]

    def loss(at: np.ndarray) -> float:
        mode = work.mode(abs(float(at[0])), abs(float(at[1])), best[0])
        if mode.value > best[0].value:
            best[0] = mode
        return -mode.value

    corner = np.array([max(variation, 0.1), 0.2])
    simplex = corner + np.array([[0.0, 0.0], [-0.4 * corner[0], 0.0], [0.0, 0.2]])
    settings = {"initial_simplex": simplex, "xatol": 0.01, "fatol": 0.05, "maxfev": 60}
    found = minimize(loss, corner, method="Nelder-Mead", options=settings)
    centre = np.abs(found.x)
    top = best[0]
    axes = []
    for which in (0, 1):
        low = _edge(work, centre, which, -1.0, top)
        high = _edge(work, centre, which, 1.0, top)
        # Mid-points of equal cells, so that an edge at 0 is given no more than its share.
        axes.append(low + (high - low) * (np.arange(_NODES) + 0.5) / _NODES)
    nodes = []
    for a in axes[0]:
        mode = top
        for s in axes[1]:
            mode = work.mode(float(a), float(s), mode)
            nodes.append((float(a), float(s), mode))
    return nodes


def _edge(work: _Work, centre: np.ndarray, which: int, sign: float, top: _Mode) -> float:
    """Where the log posterior has fallen by `_FALL` along one axis, or 0."""
    reach, inside, at = 0.05 if which else 0.02, 0.0, centre.copy()
    for _ in range(12):
        at[which] = max(centre[which] + sign * reach, 0.0)
        fallen = top.value - work.mode(float(at[0]), float(at[1]), top).value
        if at[which] == 0.0 or fallen >= _FALL:
            break
        inside, reach = reach, reach * 2.0
    if at[which] == 0.0:
        return 0.0
    # One cut between the last step inside and the first one outside is near enough for the end of a grid.
    middle = 0.5 * (inside + reach)
    at[which] = centre[which] + sign * middle
    fallen = top.value - work.mode(float(at[0]), float(at[1]), top).value
    return float(centre[which] + sign * (middle if fallen >= _FALL else reach))


def _node(work: _Work, variation: float, spread: float, mode: _Mode, weight: float, back: np.ndarray) -> CycleNode:
    """A grid point in the design's own columns."""
    eta = work.data.offset + work.data.X @ mode.beta + spread * mode.u[work.member]
    schur, coupling, own = work.curvature(np.exp(np.minimum(eta, 700.0)), variation**2, spread)
    forward = np.linalg.inv(back)
    return CycleNode(
        variation=variation,
        spread=spread,
        weight=weight,
        coefficients=back @ mode.beta,
        root=back @ np.linalg.cholesky(np.linalg.inv(schur)),
        deviation=mode.u,
        precision=own,
        slope=(coupling / own[:, None]) @ forward,
    )
