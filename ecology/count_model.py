"""Counts as a log-linear model: negative binomial (variance μ + α·μ²) or Poisson, with an offset.

The log likelihood is written in sums of log(1 + α·j), which stay exact down to α = 0, so that the Poisson model is
the edge of the negative binomial one and not another formula.

Sources: Lawless 1987, Canadian Journal of Statistics 15:209–225 (negative binomial regression, α = 0 included);
Self and Liang 1987, JASA 82:605–610 (likelihood ratio on the edge); Correia, Guimarães and Zylkin 2019,
arXiv:1903.01633 (when no finite estimate exists); Dunn and Smyth 1996, J. Comput. Graph. Statist. 5:236–244
(randomised quantile residuals); van den Broek 1995, Biometrics 51:738–743 (score test for extra zeros).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import betainc, chdtrc, chdtri, gammainc, gammaincc, gammaln, ndtri, xlogy

Family = Literal["auto", "negative-binomial", "poisson"]

FEWEST_ROWS_FOR_ALPHA = 25  # below this α is not estimated by default: common practice for small samples, no source
LARGEST_COUNT = 10_000_000  # the sums over j run to the largest count
_MOST_STEPS = 100


class NotEstimable(Exception):  # noqa: N818 - an answer about the data, not a fault
    """The data do not determine the number asked for. `reason` is a sentence a person can act on."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


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
    y, X, off, names = _checked(count, design, offset, terms)
    basis, back = _basis(y, X, names)
    data = _Data.of(y, basis, off)
    beta, poisson_steps, poisson_ok = _fit_beta(data, _start(data), 0.0)
    poisson_log_likelihood = _log_likelihood(data, beta, 0.0)
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
        limit = _profile_limit(data, beta, poisson_log_likelihood - 0.5 * _mixture_quantile(level), None)
        edge = _Found(gamma=beta, alpha=0.0, low=0.0, high=limit, steps=poisson_steps, converged=poisson_ok)
        return _result(data, names, X, back, edge, True, poisson_log_likelihood, level, notes)
    beta, alpha, steps, converged = _fit_joint(data, beta, mean)
    best = _log_likelihood(data, beta, alpha)
    target = best - 0.5 * float(chdtri(1.0, 1.0 - level))
    low = 0.0 if poisson_log_likelihood >= target else _profile_limit(data, beta, target, (alpha, "below"))
    high = _profile_limit(data, beta, target, (alpha, "above"))
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
    data = _Data.of(fit.count, fit.design, fit.offset)
    alpha = fit.alpha if fit.alpha > 0.0 else 0.0
    by_eta = (data.y - fit.mean) / (1.0 + alpha * fit.mean)
    by_beta = by_eta[:, None] * data.X
    if alpha == 0.0:
        return by_beta
    return np.column_stack((by_beta, _by_alpha(data, fit.mean, alpha)))


def rate_ratio_per_doubling(estimate: np.ndarray | float) -> np.ndarray:
    """Factor on the expected count when a flow that enters as its natural logarithm doubles: 2 to the coefficient."""
    return np.exp2(np.asarray(estimate, dtype=float))


def negative_binomial_log_pmf(
    count: np.ndarray | float, mean: np.ndarray | float, alpha: np.ndarray | float
) -> np.ndarray:
    """Log probability of a count under mean μ > 0 and variance μ + α·μ²; α = 0 is Poisson. Arguments broadcast."""
    y, mean, alpha = np.broadcast_arrays(*(np.asarray(v, dtype=float) for v in (count, mean, alpha)))
    x = alpha * mean
    return _log_rising(y, alpha) - gammaln(y + 1.0) + xlogy(y, mean) - mean * _log1p_over(x) - y * np.log1p(x)


def randomised_quantile_residuals(
    count: np.ndarray, mean: np.ndarray, alpha: float, *, seed: int | np.random.Generator
) -> np.ndarray:
    """Residuals that are standard normal if the model is right: Φ⁻¹(u), u uniform on (P(Y < y), P(Y ≤ y)).

    They depend on the seed: look at several before believing a pattern.
    """
    y, mean = np.asarray(count, dtype=float), np.asarray(mean, dtype=float)
    u = np.random.default_rng(seed).uniform(size=y.shape)
    below, above = count_tails(y, mean, alpha)
    below_next, above_next = count_tails(y + 1.0, mean, alpha)
    smallest = np.finfo(float).tiny
    # In the upper half the tail keeps the digits that the cumulative probability has lost.
    lower = ndtri(np.maximum(below + u * (below_next - below), smallest))
    upper = -ndtri(np.maximum(above_next + (1.0 - u) * (above - above_next), smallest))
    return np.where(below < 0.5, lower, upper)


def count_tails(count: np.ndarray, mean: np.ndarray, alpha: float) -> tuple[np.ndarray, np.ndarray]:
    """(P(Y < count), P(Y ≥ count)) under mean μ and variance μ + α·μ²; α = 0 is Poisson."""
    y = np.asarray(count, dtype=float)
    positive = np.maximum(y, 1.0)
    if alpha > 0.0:
        size = 1.0 / alpha
        at_most = betainc(size, positive, 1.0 / (1.0 + alpha * mean))
        at_least = betainc(positive, size, alpha * mean / (1.0 + alpha * mean))
    else:
        at_most = gammaincc(positive, mean)
        at_least = gammainc(positive, mean)
    return np.where(y <= 0.0, 0.0, at_most), np.where(y <= 0.0, 1.0, at_least)


def extra_zeros_score(
    count: np.ndarray, mean: np.ndarray | None = None, design: np.ndarray | None = None
) -> tuple[float, float]:
    """(score statistic, p) of more or fewer zeros than a Poisson model expects; χ² on one degree of freedom.

    With neither `mean` nor `design` all rows share one mean. Otherwise give the fitted Poisson means and the
    design they were fitted with. Zeros of a dry outlet are not counts and must not be among the rows.
    """
    y = np.asarray(count, dtype=float)
    if (mean is None) != (design is None):
        raise ValueError("the fitted means and their design come together")
    if mean is None or design is None:
        mean, design = np.full(y.shape, y.mean()), np.ones((y.size, 1))
    if not np.any(y > 0):
        raise NotEstimable("All counts are 0: a Poisson model expects nothing else.")
    zero = np.exp(-mean)
    weighted = design.T @ mean
    information = float(np.sum((1.0 - zero) / zero)) - float(
        weighted @ np.linalg.solve(design.T @ (mean[:, None] * design), weighted)
    )
    statistic = float(np.sum(((y == 0) - zero) / zero)) ** 2 / information
    return statistic, float(chdtrc(1.0, statistic))


# ---- the data, checked -------------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False, kw_only=True)
class _Data:
    """Arrays of a fit, with the counts as positions in the tables of sums over j = 0 … count − 1."""

    y: np.ndarray
    X: np.ndarray
    offset: np.ndarray
    position: np.ndarray
    steps: np.ndarray
    constant: float

    @classmethod
    def of(cls, y: np.ndarray, X: np.ndarray, offset: np.ndarray) -> _Data:
        position = y.astype(np.int64)
        return cls(
            y=y,
            X=X,
            offset=offset,
            position=position,
            steps=np.arange(float(position.max())),
            constant=float(gammaln(y + 1.0).sum()),
        )


def _checked(
    count: np.ndarray, design: np.ndarray, offset: np.ndarray | None, terms: Sequence[str]
) -> tuple[np.ndarray, np.ndarray, np.ndarray, tuple[str, ...]]:
    y, X = np.array(count, dtype=float), np.array(design, dtype=float)
    off = np.zeros(y.shape) if offset is None else np.array(offset, dtype=float)
    names = tuple(terms)
    if y.ndim != 1 or y.size == 0 or X.ndim != 2 or X.shape[0] != y.size or off.shape != y.shape:
        raise ValueError(f"{y.shape} counts, a design of shape {X.shape} and {off.shape} offsets do not fit together")
    if len(names) != X.shape[1] or len(set(names)) != len(names):
        raise ValueError(f"{len(names)} names {names} for {X.shape[1]} columns; each column needs its own")
    if not (np.all(np.isfinite(y)) and np.all(np.isfinite(X)) and np.all(np.isfinite(off))):
        raise ValueError("counts, design and offset have no missing or infinite values: leave such rows out first")
    if np.any(y < 0) or np.any(y != np.floor(y)) or np.any(y > LARGEST_COUNT):
        raise ValueError(f"counts are whole numbers from 0 to {LARGEST_COUNT:,}")
    return y, X, off, names


def _basis(y: np.ndarray, X: np.ndarray, names: tuple[str, ...]) -> tuple[np.ndarray, np.ndarray]:
    """(orthonormal columns that span the design, matrix that turns their coefficients into the design's).

    Fitting in the orthonormal basis makes the result independent of the units of the terms. Raises NotEstimable,
    naming the term, where the likelihood has no single finite maximum.
    """
    if not np.any(y > 0):
        raise NotEstimable("All counts are 0: there is no finite rate to estimate.")
    size = np.sqrt(np.einsum("ij,ij->j", X, X))
    if np.any(size == 0.0):
        raise NotEstimable(f"The term “{names[int(np.argmin(size))]}” is 0 in every row: leave it out.")
    basis, triangle = np.linalg.qr(X / size)
    # With fewer rows than columns the triangle is wide: the columns beyond it depend on the others.
    diagonal = np.zeros(X.shape[1])
    diagonal[: triangle.shape[0]] = np.abs(np.diag(triangle))
    dependent = np.flatnonzero(diagonal < 1e-9)
    if dependent.size:
        j = int(dependent[0])
        share = np.linalg.lstsq(X[:, :j] / size[:j], X[:, j] / size[j], rcond=None)[0]
        others = " and ".join(f"“{names[int(i)]}”" for i in np.flatnonzero(np.abs(share) > 1e-7))
        raise NotEstimable(
            f"The term “{names[j]}” is determined by {others}: their effects cannot be told apart. Leave one out."
        )
    if len(y) <= X.shape[1]:
        raise NotEstimable(f"{len(y)} rows cannot determine {X.shape[1]} terms: more rows than terms are needed.")
    back = np.linalg.inv(triangle) / size[:, None]
    direction = _separating(y, basis)
    if direction is not None:
        # In the units of each column, so that the parts can be compared.
        part = np.abs(size * (back @ direction))
        involved = [f"“{names[int(j)]}”" for j in np.flatnonzero(part > 1e-6 * part.max())]
        one = len(involved) == 1
        raise NotEstimable(
            f"The term{'' if one else 's'} {', '.join(involved)} single{'s' if one else ''} out rows whose counts are "
            "all 0: the estimate runs off to infinity. Leave out these rows or the term and report the zeros as they "
            "are."
        )
    return basis, back


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


# ---- log likelihood and derivatives ------------------------------------------------------------------------------


def _log1p_over(x: np.ndarray) -> np.ndarray:
    """log(1 + x)/x, 1 at 0."""
    safe = np.where(x > 0.0, x, 1.0)
    return np.where(x > 0.0, np.log1p(safe) / safe, 1.0)


def _log_rising(y: np.ndarray, alpha: np.ndarray) -> np.ndarray:
    """Σ log(1 + α·j) over j < y, for arrays of α: gamma functions where they keep their digits, Stirling below."""
    size = 1.0 / np.where(alpha > 0.0, alpha, 1.0)
    large = size > 1e4
    ordinary = gammaln(y + size) - gammaln(size) - xlogy(y, size)
    correction = 1.0 / (12.0 * (size + y)) - 1.0 / (12.0 * size)
    stirling = (size + y - 0.5) * np.log1p(y / size) - y + correction
    return np.where(alpha > 0.0, np.where(large, stirling, ordinary), 0.0)


def _prefix(values: np.ndarray) -> np.ndarray:
    return np.concatenate(([0.0], np.cumsum(values)))


def _log_likelihood(data: _Data, beta: np.ndarray, alpha: float) -> float:
    eta = data.offset + data.X @ beta
    return _log_likelihood_at(data, eta, np.exp(eta), alpha)


def _log_likelihood_at(data: _Data, eta: np.ndarray, mean: np.ndarray, alpha: float) -> float:
    if alpha == 0.0:
        return float(data.y @ eta - mean.sum()) - data.constant
    rising = _prefix(np.log1p(alpha * data.steps))[data.position].sum()
    spread = (
        float((data.y + 1.0 / alpha) @ np.log1p(alpha * mean))
        if alpha > 1e-6
        else float((mean * _log1p_over(alpha * mean)).sum() + data.y @ np.log1p(alpha * mean))
    )
    return float(rising + data.y @ eta) - spread - data.constant


def _curve(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """h(x) = (log(1 + x) − x/(1 + x))/x² and its derivative; by series near 0, where h = ½."""
    safe = np.where(x > 1e-2, x, 1.0)
    numerator = np.log1p(safe) - safe / (1.0 + safe)
    h = numerator / safe**2
    slope = 1.0 / (safe * (1.0 + safe) ** 2) - 2.0 * numerator / safe**3
    near = x <= 1e-2
    if near.any():
        k = np.arange(2, 11)
        weight = (-1.0) ** k * (k - 1.0) / k
        t = x[near]
        h[near] = np.polynomial.polynomial.polyval(t, weight)
        slope[near] = np.polynomial.polynomial.polyval(t, weight[1:] * (k[1:] - 2.0))
    return h, slope


def _by_alpha(data: _Data, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Each row's derivative of the log likelihood by α."""
    rising = _prefix(data.steps / (1.0 + alpha * data.steps))[data.position]
    h, _ = _curve(alpha * mean)
    return rising + mean**2 * h - data.y * mean / (1.0 + alpha * mean)


def _alpha_derivatives(data: _Data, mean: np.ndarray, alpha: float) -> tuple[float, float]:
    """First and second derivative of the log likelihood by α, at fixed means."""
    share = data.steps / (1.0 + alpha * data.steps)
    h, slope = _curve(alpha * mean)
    ratio = mean / (1.0 + alpha * mean)
    first = _prefix(share)[data.position].sum() + float(mean**2 @ h) - float(data.y @ ratio)
    second = -_prefix(share**2)[data.position].sum() + float(mean**3 @ slope) + float(data.y @ ratio**2)
    return float(first), float(second)


def _information(data: _Data, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Observed information of the coefficients."""
    weight = mean * (1.0 + alpha * data.y) / (1.0 + alpha * mean) ** 2
    return data.X.T @ (weight[:, None] * data.X)


def _joint_information(data: _Data, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Observed information of (coefficients, α)."""
    k = data.X.shape[1]
    joint = np.empty((k + 1, k + 1))
    joint[:k, :k] = _information(data, mean, alpha)
    joint[:k, k] = joint[k, :k] = data.X.T @ ((data.y - mean) * mean / (1.0 + alpha * mean) ** 2)
    joint[k, k] = -_alpha_derivatives(data, mean, alpha)[1]
    return joint


# ---- maximisation ------------------------------------------------------------------------------------------------


def _start(data: _Data) -> np.ndarray:
    """Least squares on the logarithm of slightly raised counts."""
    return np.linalg.lstsq(data.X, np.log(np.maximum(data.y, 0.5)) - data.offset, rcond=None)[0]


def _fit_beta(data: _Data, beta: np.ndarray, alpha: float) -> tuple[np.ndarray, int, bool]:
    """Coefficients at a fixed α by Newton's method with step halving: (coefficients, steps, converged)."""
    eta = data.offset + data.X @ beta
    mean = np.exp(eta)
    value = _log_likelihood_at(data, eta, mean, alpha)
    for step in range(1, _MOST_STEPS + 1):
        score = data.X.T @ ((data.y - mean) / (1.0 + alpha * mean))
        change = np.linalg.solve(_information(data, mean, alpha), score)
        gain = float(score @ change)
        size = 1.0
        while True:
            trial = beta + size * change
            eta = data.offset + data.X @ trial
            mean = np.exp(np.minimum(eta, 700.0))
            new = _log_likelihood_at(data, eta, mean, alpha)
            if new >= value - 1e-12 * abs(value):
                break
            size *= 0.5
            if size < 1e-10:
                return beta, step, False
        beta, value = trial, new
        # The last step was quadratic: a gain this small leaves an error near rounding.
        if gain < 1e-14 * (1.0 + abs(value)):
            return beta, step, True
    return beta, _MOST_STEPS, False


def _fit_joint(data: _Data, beta: np.ndarray, mean: np.ndarray) -> tuple[np.ndarray, float, int, bool]:
    """(coefficients, α, steps, converged): damped Newton on (coefficients, log α) from the Poisson fit."""
    k = beta.size
    alpha = max(float(np.sum((data.y - mean) ** 2 - data.y)) / float(np.sum(mean**2)), 1e-6)
    beta, steps, _ = _fit_beta(data, beta, alpha)
    eta = data.offset + data.X @ beta
    mean = np.exp(eta)
    value = _log_likelihood_at(data, eta, mean, alpha)
    for step in range(1, _MOST_STEPS + 1):
        joint = _joint_information(data, mean, alpha)
        by_alpha = _alpha_derivatives(data, mean, alpha)[0]
        score = np.append(data.X.T @ ((data.y - mean) / (1.0 + alpha * mean)), alpha * by_alpha)
        joint[k] *= alpha
        joint[:, k] *= alpha
        joint[k, k] -= alpha * by_alpha
        change = _ascent(joint, score)
        gain = float(score @ change)
        # e² is as far as α should move on one quadratic approximation.
        size = min(1.0, 2.0 / max(abs(float(change[k])), 1e-300))
        while True:
            trial = beta + size * change[:k]
            trial_alpha = alpha * float(np.exp(size * change[k]))
            eta = data.offset + data.X @ trial
            mean = np.exp(np.minimum(eta, 700.0))
            new = _log_likelihood_at(data, eta, mean, trial_alpha)
            if new >= value - 1e-12 * abs(value):
                break
            size *= 0.5
            if size < 1e-10:
                return beta, alpha, steps + step, False
        beta, alpha, value = trial, trial_alpha, new
        if gain < 1e-14 * (1.0 + abs(value)):
            return beta, alpha, steps + step, True
    return beta, alpha, steps + _MOST_STEPS, False


def _ascent(information: np.ndarray, score: np.ndarray) -> np.ndarray:
    """The Newton step, or where the surface does not curve down the step with its curvatures made positive."""
    change = np.linalg.solve(information, score)
    try:
        np.linalg.cholesky(information)
    except np.linalg.LinAlgError:
        values, vectors = np.linalg.eigh(information)
        change = vectors @ ((vectors.T @ score) / np.maximum(np.abs(values), 1e-8 * np.abs(values).max()))
    return change


def _mixture_quantile(level: float) -> float:
    """The value that ½χ²₀ + ½χ²₁ exceeds with probability 1 − level."""
    return float(chdtri(1.0, 2.0 * (1.0 - level))) if level > 0.5 else 0.0


def _profile_limit(
    data: _Data, beta: np.ndarray, target: float, around: tuple[float, Literal["below", "above"]] | None
) -> float:
    """The α at which the log likelihood, maximised over the coefficients, falls to `target`.

    `around` is the estimate and the side to look on; None looks upwards from the edge α = 0. The derivative of the
    profile is the partial derivative by α, so that Newton's method needs no differences; a bracket keeps it safe.
    """
    if around is None:
        # From the edge the profile falls at least like its score; begin where a typical mean doubles its variance.
        alpha, low, high = 1.0 / max(float(np.mean(data.y)), 1e-3), 0.0, np.inf
        falls_to_the_right = True
    else:
        estimate, side = around
        falls_to_the_right = side == "above"
        low, high = (estimate, np.inf) if falls_to_the_right else (0.0, estimate)
        curvature = np.linalg.inv(_joint_information(data, np.exp(data.offset + data.X @ beta), estimate))[-1, -1]
        spread = np.sqrt(max(curvature, 0.0)) / estimate
        alpha = estimate * float(np.exp((2.0 if falls_to_the_right else -2.0) * min(max(spread, 1e-3), 1.0)))
    for _ in range(200):
        beta, _, _ = _fit_beta(data, beta, alpha)
        eta = data.offset + data.X @ beta
        mean = np.exp(eta)
        excess = _log_likelihood_at(data, eta, mean, alpha) - target
        if (excess > 0.0) == falls_to_the_right:
            low = alpha
        else:
            high = alpha
        slope = alpha * _alpha_derivatives(data, mean, alpha)[0]
        proposal = alpha * float(np.exp(np.clip(-excess / slope, -3.0, 3.0))) if slope != 0.0 else np.nan
        if not low < proposal < high:
            proposal = 4.0 * alpha if np.isinf(high) else (0.5 * high if low == 0.0 else float(np.sqrt(low * high)))
        if abs(proposal - alpha) <= 1e-9 * alpha:
            return float(proposal)
        if proposal > 1e8:
            return float("inf")
        alpha = proposal
    return float(alpha)


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
    data: _Data,
    names: tuple[str, ...],
    design: np.ndarray,
    back: np.ndarray,
    found: _Found,
    boundary: bool,
    poisson_log_likelihood: float,
    level: float,
    notes: list[str],
) -> CountFit:
    k = found.gamma.size
    used = found.alpha if found.alpha > 0.0 else 0.0
    mean = np.exp(data.offset + data.X @ found.gamma)
    joint = np.linalg.inv(_joint_information(data, mean, used) if used > 0.0 else _information(data, mean, 0.0))
    joint[:k] = back @ joint[:k]
    joint[:, :k] = joint[:, :k] @ back.T
    joint = 0.5 * (joint + joint.T)
    if np.any(np.diag(joint) <= 0.0):
        raise NotEstimable("The likelihood does not curve down in every direction: the terms cannot be told apart.")
    value = _log_likelihood(data, found.gamma, used)
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
