"""How much flow cycles differ beyond what a count model explains.

Counts of one cycle share its good or bad luck: E[count | cycle] = μ · b with b of mean 1 and variance ω. Two visits of
one cycle then have covariance μᵢ·μⱼ·ω, so that products of residuals of different visits of a cycle tell ω. The
dispersion α of the fit, which knows no cycles, holds both: 1 + α = (1 + α_visit)(1 + ω).

A method of moments with the fit's own weights 1 ÷ (1 + α·μ), as for variance components of counts (McCullagh and
Nelder 1989, Generalized Linear Models, 2nd ed., section 14.5; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.not_estimable import NotEstimable

#: Fewer cycles with two visits or more tell nothing of how cycles differ.
FEWEST_CYCLES = 5


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleVariation:
    """`between` is ω (relative variance of cycles; 0 where the estimate falls below), `visit_alpha` the dispersion of
    visits within a cycle, `raw_between` the estimate before it is kept from falling below 0, `n_cycles` the cycles
    with two visits or more."""

    between: float
    visit_alpha: float
    raw_between: float
    n_cycles: int


def cycle_variation(count: np.ndarray, mean: np.ndarray, alpha: float, cycle: np.ndarray) -> CycleVariation:
    """Variation between cycles from counts and their fitted means.

    count, mean, cycle   one value a visit
    alpha                dispersion of the fit that knows no cycles, 0 for Poisson

    The means come from the same counts, so that ω is a little too small with few cycles. Raises NotEstimable with fewer
    than `FEWEST_CYCLES` cycles of two visits or more, or without a dispersion.
    """
    if not alpha >= 0.0:
        raise NotEstimable("the fit of the counts knows no dispersion: too few visits have count, effort and flow")
    _, member, size = np.unique(cycle, return_inverse=True, return_counts=True)
    n = int((size >= 2).sum())
    if n < FEWEST_CYCLES:
        raise NotEstimable(
            f"{n} flow cycles have two visits or more; how much cycles differ is told from at least {FEWEST_CYCLES}"
        )
    weight = 1.0 / (1.0 + alpha * mean)
    residual, part = weight * (count - mean), weight * mean
    pairs = np.bincount(member, residual) ** 2 - np.bincount(member, residual**2)
    scale = np.bincount(member, part) ** 2 - np.bincount(member, part**2)
    raw = float(pairs.sum() / scale.sum())
    between = min(max(raw, 0.0), alpha if alpha > 0.0 else max(raw, 0.0))
    return CycleVariation(
        between=between, visit_alpha=max((1.0 + alpha) / (1.0 + between) - 1.0, 0.0), raw_between=raw, n_cycles=n
    )
