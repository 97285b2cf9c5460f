"""Counts as a log-linear model: negative binomial (variance μ + α·μ²) or Poisson, with an offset.

Source: Lawless 1987, Canadian Journal of Statistics 15:209–225 (negative binomial regression, α = 0 included).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import chdtri, xlogy

from ecology.count_fit import CountFit
from ecology.count_likelihood import (
    CountData,
    checked_arrays,
    coefficient_information,
    joint_information,
    log_likelihood_of,
)
from ecology.count_maximum import (
    fit_coefficients,
    fit_with_alpha,
    mixture_quantile,
    profile_limit,
    starting_coefficients,
)
from ecology.count_separation import orthonormal_basis
from ecology.model_fit import NOT_CONVERGED
from ecology.not_estimable import NotEstimable

Family = Literal["auto", "negative-binomial", "poisson"]

FEWEST_ROWS_FOR_ALPHA = 25  # below this α is not estimated by default: common practice for small samples, no source


def fit_counts(
    count: np.ndarray,
    design: np.ndarray,
    *,
    terms: Sequence[str],
    offset: np.ndarray | None = None,
    family: Family = "auto",
    level: float = 0.95,
) -> CountFit:
    """Maximum likelihood fit of E[count] = exp(offset + design · coefficients).

    count    whole numbers ≥ 0, at most 10,000,000
    design   one column a term, the intercept among them; no missing values
    offset   logarithm of effort, or None for 0
    family   "auto": negative binomial; Poisson where the likelihood is largest at α = 0 and where there are fewer
             than 25 rows (then use robust standard errors). Naming a family fits that one; a negative binomial
             whose likelihood is largest at α = 0 is still reported as the Poisson model it is.
    level    of the interval for α

    Raises ValueError for arrays that do not fit together, NotEstimable where no finite estimate exists (only zeros,
    a term that repeats others, a term that separates zeros from counts, as many terms as rows).
    """
    if family not in ("auto", "negative-binomial", "poisson"):
        raise ValueError(f"family is auto, negative-binomial or poisson, not {family!r}")
    if not 0.0 < level < 1.0:
        raise ValueError(f"a level lies between 0 and 1, not at {level}")
    y, X, off, names = checked_arrays(count, design, offset, terms)
    basis, back = orthonormal_basis(y, X, names)
    data = CountData.of(y, basis, off)
    beta, poisson_steps, poisson_ok = fit_coefficients(data, starting_coefficients(data), 0.0)
    poisson_log_likelihood = log_likelihood_of(data, beta, 0.0)
    notes: list[str] = []
    few = family == "auto" and len(y) < FEWEST_ROWS_FOR_ALPHA
    if family == "poisson" or few:
        if few:
            notes.append(
                f"{len(y)} rows are fewer than {FEWEST_ROWS_FOR_ALPHA}: a Poisson model was fitted and α was not "
                "estimated; use the robust standard errors."
            )
        else:
            notes.append("A Poisson model was asked for: α was not estimated.")
        poisson = _Found(gamma=beta, alpha=np.nan, low=np.nan, high=np.nan, steps=poisson_steps, converged=poisson_ok)
        return _result(data, names, X, back, poisson, False, poisson_log_likelihood, level, notes)
    mean = np.exp(data.offset + basis @ beta)
    if float(np.sum((y - mean) ** 2 - y)) <= 0.0:
        notes.append("The counts vary no more than a Poisson model expects: the likelihood is largest at α = 0.")
        limit = profile_limit(data, beta, poisson_log_likelihood - 0.5 * mixture_quantile(level), None)
        edge = _Found(gamma=beta, alpha=0.0, low=0.0, high=limit, steps=poisson_steps, converged=poisson_ok)
        return _result(data, names, X, back, edge, True, poisson_log_likelihood, level, notes)
    beta, alpha, steps, converged = fit_with_alpha(data, beta, mean)
    best = log_likelihood_of(data, beta, alpha)
    target = best - 0.5 * float(chdtri(1.0, 1.0 - level))
    low = 0.0 if poisson_log_likelihood >= target else profile_limit(data, beta, target, (alpha, "below"))
    high = profile_limit(data, beta, target, (alpha, "above"))
    found = _Found(gamma=beta, alpha=alpha, low=low, high=high, steps=poisson_steps + steps, converged=converged)
    return _result(data, names, X, back, found, False, poisson_log_likelihood, level, notes)


def rate_ratio_per_doubling(estimate: np.ndarray | float) -> np.ndarray:
    """Factor on the expected count when a flow that enters as its natural logarithm doubles: 2 to the coefficient."""
    return np.exp2(np.asarray(estimate, dtype=float))


@dataclass(frozen=True, eq=False, kw_only=True)
class _Found:
    """What the maximisation found: coefficients in the orthogonal basis, α with its interval, steps taken."""

    gamma: np.ndarray
    alpha: float
    low: float
    high: float
    steps: int
    converged: bool


def _result(
    data: CountData,
    names: tuple[str, ...],
    design: np.ndarray,
    back: np.ndarray,
    found: _Found,
    boundary: bool,
    poisson_log_likelihood: float,
    level: float,
    notes: list[str],
) -> CountFit:
    """The fit in the design's own columns, with its covariance and its measures of fit."""
    k = found.gamma.size
    used = found.alpha if found.alpha > 0.0 else 0.0
    mean = np.exp(data.offset + data.X @ found.gamma)
    joint = np.linalg.inv(
        joint_information(data, mean, used) if used > 0.0 else coefficient_information(data, mean, 0.0)
    )
    joint[:k] = back @ joint[:k]
    joint[:, :k] = joint[:, :k] @ back.T
    joint = 0.5 * (joint + joint.T)
    if np.any(np.diag(joint) <= 0.0):
        raise NotEstimable("The likelihood does not curve down in every direction: the terms cannot be told apart.")
    value = log_likelihood_of(data, found.gamma, used)
    y = data.y
    part = (y + 1.0 / used) * np.log((1.0 + used * y) / (1.0 + used * mean)) if used > 0.0 else y - mean
    if not found.converged:
        notes.append(NOT_CONVERGED)
    return CountFit(
        model="negative-binomial" if used > 0.0 else "poisson",
        terms=names,
        estimate=back @ found.gamma,
        covariance=joint[:k, :k].copy(),
        joint_covariance=joint,
        n=y.size,
        log_likelihood=value,
        aic=2.0 * (k + (used > 0.0)) - 2.0 * value,
        alpha=found.alpha,
        alpha_low=found.low,
        alpha_high=found.high,
        alpha_se=float(np.sqrt(joint[k, k])) if used > 0.0 else float("nan"),
        mean=mean,
        deviance=float(2.0 * np.sum(xlogy(y, y / mean) - part)),
        pearson_chi2=float(np.sum((y - mean) ** 2 / (mean + used * mean**2))),
        boundary=boundary,
        poisson_log_likelihood=poisson_log_likelihood,
        level=level,
        notes=tuple(notes),
        iterations=found.steps,
        converged=found.converged,
        count=y,
        design=design,
        offset=data.offset,
    )
