"""Counts as a log-linear model: negative binomial (variance μ + α·μ²) or Poisson, with an offset.

Sources: Lawless 1987, Canadian Journal of Statistics 15:209–225 (negative binomial regression, α = 0 included);
Self and Liang 1987, JASA 82:605–610 (likelihood ratio on the edge).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import chdtrc, chdtri, xlogy

from ecology.count_likelihood import (
    CountData,
    alpha_scores,
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
from ecology.count_residuals import quantile_residuals_at
from ecology.count_separation import orthonormal_basis
from ecology.not_estimable import NotEstimable

Family = Literal["auto", "negative-binomial", "poisson"]

FEWEST_ROWS_FOR_ALPHA = 25  # below this α is not estimated by default: common practice for small samples, no source


@dataclass(frozen=True, eq=False, kw_only=True)
class CountFit:
    """A fitted count model.

    model            "negative-binomial" or "poisson"
    terms            names of the design's columns
    estimate         coefficients on the log scale, one a term
    covariance       of the estimates, from the observed information; for the negative binomial the block for the
                     coefficients of the inverse of the joint information of (coefficients, α)
    joint_covariance the same with α as last row and column (Poisson: equal to `covariance`)
    n                rows
    log_likelihood   with all constants; `aic` counts α as a parameter of the negative binomial
    alpha            dispersion; 0 for a Poisson model at the edge; NaN where a Poisson model was asked for or
                     chosen because of few rows (then `notes` says so)
    alpha_low, alpha_high   profile likelihood interval at `level`; alpha_low is 0 where the Poisson model lies
                     inside it. At the edge alpha_high is the one-sided limit with the ½χ²₀ + ½χ²₁ mixture.
    alpha_se         from the joint observed information; NaN at the edge and for Poisson
    mean             fitted means, offset included
    deviance, pearson_chi2   at the fitted α
    boundary         the likelihood is largest at α = 0
    poisson_log_likelihood   of the Poisson model with the same terms
    notes            sentences about choices made
    iterations       Newton steps, Poisson start included
    converged        the last step changed no number beyond rounding
    count, design, offset    what was fitted (copies)
    """

    model: Literal["negative-binomial", "poisson"]
    terms: tuple[str, ...]
    estimate: np.ndarray
    covariance: np.ndarray
    joint_covariance: np.ndarray
    n: int
    log_likelihood: float
    aic: float
    alpha: float
    alpha_low: float
    alpha_high: float
    alpha_se: float
    mean: np.ndarray
    deviance: float
    pearson_chi2: float
    boundary: bool
    poisson_log_likelihood: float
    level: float
    notes: tuple[str, ...]
    iterations: int
    converged: bool
    count: np.ndarray
    design: np.ndarray
    offset: np.ndarray

    @property
    def standard_error(self) -> np.ndarray:
        """Square roots of the diagonal of `covariance`."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def eta_score(self) -> np.ndarray:
        """Each row's derivative of the log likelihood by its linear predictor."""
        return (self.count - self.mean) / (1.0 + max(np.nan_to_num(self.alpha), 0.0) * self.mean)

    @property
    def eta_weight(self) -> np.ndarray:
        """Minus each row's second derivative by its linear predictor."""
        alpha = max(np.nan_to_num(self.alpha), 0.0)
        return self.mean * (1.0 + alpha * self.count) / (1.0 + alpha * self.mean) ** 2

    @property
    def score_rows(self) -> np.ndarray:
        """Each row's derivative of the log likelihood, one column a coefficient and, where α > 0, one for α."""
        return score_contributions(self)

    def quantile_residuals_at(self, u: np.ndarray) -> np.ndarray:
        """Randomised quantile residuals, standard normal if the model is right and `u` uniform on (0, 1)."""
        return quantile_residuals_at(self.count, self.mean, max(np.nan_to_num(self.alpha), 0.0), u)


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


def likelihood_ratio_alpha(fit: CountFit) -> tuple[float, float]:
    """(2·log likelihood ratio, p) of the negative binomial against the Poisson model with the same terms.

    α = 0 lies on the edge of what is possible: p is half the χ² tail (mixture of ½χ²₀ and ½χ²₁); a ratio of 0 has
    p = 1. Raises NotEstimable where α was not estimated.
    """
    if np.isnan(fit.alpha):
        raise NotEstimable("α was not estimated, so that there is nothing to compare the Poisson model with.")
    ratio = max(0.0, 2.0 * (fit.log_likelihood - fit.poisson_log_likelihood))
    return ratio, (1.0 if ratio == 0.0 else 0.5 * float(chdtrc(1.0, ratio)))


def score_contributions(fit: CountFit) -> np.ndarray:
    """Each row's derivative of the log likelihood, one column a coefficient and, where α > 0, a last one for α."""
    data = CountData.of(fit.count, fit.design, fit.offset)
    alpha = fit.alpha if fit.alpha > 0.0 else 0.0
    by_eta = (data.y - fit.mean) / (1.0 + alpha * fit.mean)
    by_beta = by_eta[:, None] * data.X
    if alpha == 0.0:
        return by_beta
    return np.column_stack((by_beta, alpha_scores(data, fit.mean, alpha)))


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
        notes.append("The fit stopped before its steps became negligible: do not rely on it.")
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
