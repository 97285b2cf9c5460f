"""Whether counts and a design determine finite coefficients, and an orthonormal basis to fit them in.

Source: Correia, Guimarães and Zylkin 2019, arXiv:1903.01633 (when no finite estimate exists).
"""

from __future__ import annotations

import numpy as np

from ecology.not_estimable import DependentTermsError, NotEstimable, SeparatedError


def orthonormal_basis(y: np.ndarray, X: np.ndarray, names: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
    """(orthonormal columns that span the design, matrix that turns their coefficients into the design's).

    Fitting in the orthonormal basis makes the result independent of the units of the terms. Raises NotEstimable,
    naming the term, where the likelihood has no single finite maximum.
    """
    if not np.any(y > 0):
        raise SeparatedError("All counts are 0: there is no finite rate to estimate.")
    basis, back = independent_columns(X, names)
    direction = _separating(y, basis)
    if direction is not None:
        involved = names_of(X, back @ direction, names)
        one = "”, “" not in involved
        raise SeparatedError(
            f"The term{'' if one else 's'} {involved} single{'s' if one else ''} out rows whose counts are "
            "all 0: the estimate runs off to infinity. Leave out these rows or the term and report the zeros as they "
            "are."
        )
    return basis, back


def independent_columns(X: np.ndarray, names: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
    """The same basis without a look at the counts; DependentTermsError where a term repeats others."""
    if X.shape[0] <= X.shape[1]:
        rows = "1 row" if X.shape[0] == 1 else f"{X.shape[0]} rows"
        raise NotEstimable(f"{rows} cannot determine {X.shape[1]} terms: more rows than terms are needed.")
    size = np.sqrt(np.einsum("ij,ij->j", X, X))
    if np.any(size == 0.0):
        raise DependentTermsError(f"The term “{names[int(np.argmin(size))]}” is 0 in every row: leave it out.")
    basis, triangle = np.linalg.qr(X / size)
    dependent = np.flatnonzero(np.abs(np.diag(triangle)) < 1e-9)
    if dependent.size:
        j = int(dependent[0])
        if np.ptp(X[:, j]) == 0.0:
            raise DependentTermsError(
                f"The term “{names[j]}” is the same in every row: nothing shows its effect. Leave it out."
            )
        share = np.linalg.lstsq(X[:, :j] / size[:j], X[:, j] / size[j], rcond=None)[0]
        others = " and ".join(f"“{names[int(i)]}”" for i in np.flatnonzero(np.abs(share) > 1e-7))
        raise DependentTermsError(
            f"The term “{names[j]}” is determined by {others}: their effects cannot be told apart. Leave one out."
        )
    return basis, np.linalg.inv(triangle) / size[:, None]


def names_of(X: np.ndarray, direction: np.ndarray, names: tuple[str, ...]) -> str:
    """The terms that a direction moves, quoted."""
    # In the units of each column, so that the parts can be compared.
    part = np.abs(np.sqrt(np.einsum("ij,ij->j", X, X)) * direction)
    return ", ".join(f"“{names[int(j)]}”" for j in np.flatnonzero(part > 1e-6 * part.max()))


def _separating(y: np.ndarray, basis: np.ndarray) -> np.ndarray | None:
    """A direction that changes no row with a count, lowers some rows without one and raises none; or None.

    Along it the likelihood of both models rises for ever (Correia, Guimarães and Zylkin 2019).
    """
    seen, none = basis[y > 0], basis[y == 0]
    if none.shape[0] == 0:
        return None
    _, values, right = np.linalg.svd(np.linalg.qr(seen, mode="r"), full_matrices=True)
    idle = right[int(np.count_nonzero(values > 1e-9)) :].T
    if idle.shape[1] == 0:
        return None
    moved = none @ idle
    moved[np.abs(moved) < 1e-9] = 0.0
    if idle.shape[1] == 1:
        one_way = bool(np.all(moved <= 0.0) or np.all(moved >= 0.0))
        return idle[:, 0] if one_way else None
    from scipy.optimize import linprog

    answer = linprog(moved.sum(axis=0), A_ub=moved, b_ub=np.zeros(moved.shape[0]), bounds=(-1.0, 1.0))
    return idle @ answer.x if answer.success and answer.fun < -1e-7 else None
