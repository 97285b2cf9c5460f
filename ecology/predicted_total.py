"""The total count that a period should bring, by a model fitted without it: draws, interval and tails.

Each draw takes one value of everything that is uncertain: dispersion and spread between cycles (a node of the grid),
coefficients given them, the deviation of each cycle (known in part where the cycle has other visits, else new), and
last the counts themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.cycle_effects import CycleModel, CycleNode

#: Draws made at a time, so that memory stays small for long periods.
_AT_A_TIME = 2_000


@dataclass(frozen=True, eq=False, kw_only=True)
class PredictedTotal:
    """Draws of a period's total count (`totals`) and of its expectation (`means`), one each a draw."""

    totals: np.ndarray
    means: np.ndarray

    @property
    def expected(self) -> float:
        """Mean of the expectation."""
        return float(self.means.mean())

    def interval(self, level: float) -> tuple[float, float]:
        """Whole counts that `level` of the draws keep to, as many beyond either end."""
        tail = 0.5 * (1.0 - level)
        low, high = np.quantile(self.totals, [tail, 1.0 - tail], method="inverted_cdf")
        return float(low), float(high)

    def at_most(self, count: float) -> float:
        """Chance of this count or a lower one."""
        return float(np.mean(self.totals <= count))

    def at_least(self, count: float) -> float:
        """Chance of this count or a higher one."""
        return float(np.mean(self.totals >= count))


def predict_total(
    model: CycleModel,
    design: np.ndarray,
    offset: np.ndarray,
    groups: np.ndarray,
    *,
    draws: int = 10_000,
    seed: int | np.random.Generator = 1,
) -> PredictedTotal:
    """Total count over the visits given by `design`, `offset` [ln effort] and their cycles `groups`."""
    one = np.zeros(len(offset), dtype=int)
    found = predict_totals(model, design, offset, groups, one, draws=draws, seed=seed)
    return PredictedTotal(totals=found.totals[:, 0], means=found.means[:, 0])


def predict_totals(
    model: CycleModel,
    design: np.ndarray,
    offset: np.ndarray,
    groups: np.ndarray,
    period: np.ndarray,
    *,
    draws: int,
    seed: int | np.random.Generator,
) -> PredictedTotal:
    """The same for several periods at once (draws × periods); `period` numbers each visit's from 0."""
    rng = np.random.default_rng(seed)
    labels, member = np.unique(groups.astype(str), return_inverse=True)
    known = np.minimum(np.searchsorted(model.labels, labels), len(model.labels) - 1)
    known = np.where(model.labels[known] == labels, known, -1)
    into = (period[:, None] == np.arange(period.max() + 1)).astype(np.float64)
    totals, means = [], []
    for node, number in zip(model.nodes, _shares(model, draws, rng), strict=True):
        for first in range(0, int(number), _AT_A_TIME):
            size = min(_AT_A_TIME, int(number) - first)
            mean = _expectations(node, design, offset, member, known, size, rng)
            met = mean
            if node.alpha > 1e-8:
                met = mean * rng.gamma(1.0 / node.alpha, node.alpha, mean.shape)
            # The visits' counts are Poisson given what each meets, so that their sum is Poisson too.
            totals.append(rng.poisson(np.minimum(met @ into, 1e15)))
            means.append(mean @ into)
    return PredictedTotal(totals=np.concatenate(totals), means=np.concatenate(means))


def coefficient_draws(model: CycleModel, draws: int, seed: int | np.random.Generator) -> np.ndarray:
    """Draws of the coefficients (draws × terms) over all that is uncertain."""
    rng = np.random.default_rng(seed)
    shares = _shares(model, draws, rng)
    return np.concatenate(
        [_coefficients(node, int(number), rng) for node, number in zip(model.nodes, shares, strict=True) if number]
    )


def _coefficients(node: CycleNode, number: int, rng: np.random.Generator) -> np.ndarray:
    return node.coefficients + rng.standard_normal((number, len(node.coefficients))) @ node.root.T


def _expectations(
    node: CycleNode,
    design: np.ndarray,
    offset: np.ndarray,
    member: np.ndarray,
    known: np.ndarray,
    number: int,
    rng: np.random.Generator,
) -> np.ndarray:
    """Expected counts of every visit (draws × visits) given one node."""
    beta = _coefficients(node, number, rng)
    u = rng.standard_normal((number, len(known)))
    at = np.flatnonzero(known >= 0)
    if at.size:
        there = known[at]
        centre = node.deviation[there] - (beta - node.coefficients) @ node.slope[there].T
        u[:, at] = centre + u[:, at] / np.sqrt(node.precision[there])
    eta = offset + beta @ design.T + node.spread * u[:, member]
    return np.exp(np.minimum(eta, 700.0))


def _shares(model: CycleModel, draws: int, rng: np.random.Generator) -> np.ndarray:
    """How many draws each node gets: systematic, so that every node has its share to within one."""
    weights = np.array([node.weight for node in model.nodes])
    ends = np.cumsum(weights / weights.sum()) * draws
    places = np.arange(draws) + rng.random()
    at = np.minimum(np.searchsorted(ends, places, side="right"), len(weights) - 1)
    return np.bincount(at, minlength=len(weights))
