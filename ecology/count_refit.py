"""A count fit again on other rows or columns: the estimates alone, from a start that is already near.

Cross-validation and simulations need hundreds of fits of which only the estimates are used; intervals are left to
`count_model.fit_counts`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.count_likelihood import CountData
from ecology.count_maximum import fit_coefficients, fit_with_alpha, starting_coefficients
from ecology.count_separation import orthonormal_basis


@dataclass(frozen=True, eq=False, kw_only=True)
class Estimates:
    """Coefficients of the design's columns and α (0 = Poisson)."""

    beta: np.ndarray
    alpha: float
    converged: bool


def refit(
    count: np.ndarray,
    design: np.ndarray,
    offset: np.ndarray,
    *,
    terms: tuple[str, ...],
    start: np.ndarray | None = None,
    alpha: float | None = None,
) -> Estimates:
    """Maximum likelihood estimates of the model of `fit_counts`.

    design columns of similar size and not nearly dependent are fitted as they are, which is fast; others in an
           orthonormal basis of their own
    start  coefficients to begin at
    alpha  held at this value; None estimates it

    Raises NotEstimable where no finite estimate exists.
    """
    if _well_conditioned(design[count > 0]):
        basis, back = design, None
        gamma = start
    else:
        basis, back = orthonormal_basis(count, design, terms)
        gamma = None if start is None else basis.T @ (design @ start)
    data = CountData.of(count, basis, offset)
    if gamma is None:
        gamma = starting_coefficients(data)
    if alpha is not None:
        gamma, _, ok = fit_coefficients(data, gamma, alpha)
        return Estimates(beta=_turned(back, gamma), alpha=alpha, converged=ok)
    gamma, _, ok = fit_coefficients(data, gamma, 0.0)
    mean = np.exp(offset + basis @ gamma)
    # The likelihood of α rises from the edge exactly where the counts scatter more than a Poisson model's.
    if float(np.sum((count - mean) ** 2 - count)) <= 0.0:
        return Estimates(beta=_turned(back, gamma), alpha=0.0, converged=ok)
    gamma, found, _, ok = fit_with_alpha(data, gamma, mean)
    return Estimates(beta=_turned(back, gamma), alpha=found, converged=ok)


def _turned(back: np.ndarray | None, gamma: np.ndarray) -> np.ndarray:
    return gamma if back is None else back @ gamma


def _well_conditioned(seen: np.ndarray) -> bool:
    """Whether the rows with animals alone determine every coefficient well: then nothing can separate the zeros."""
    if seen.shape[0] < 2 * seen.shape[1]:
        return False
    values = np.linalg.eigvalsh(seen.T @ seen)
    return bool(values[0] > 1e-6 * values[-1])
