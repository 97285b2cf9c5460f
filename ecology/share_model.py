"""Shares and yes/no answers as a binomial model with the same covariates as the counts.

A share (of animals with eggs, of juveniles) has a logit link. “Any found” has a complementary log-log link with ln
effort as offset: then the chance of finding none is exp(−expected count), and a coefficient means what it means for
counts.
Animals of one visit are not independent of each other: use the errors by cluster.

Source: McCullagh and Nelder 1989, Generalized Linear Models, chapter 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import betainc, betaincc, betaln, expit, ndtri, xlog1py, xlogy

from ecology.count_separation import independent_columns, names_of
from ecology.not_estimable import SeparatedError

Link = Literal["logit", "log-log"]

_MOST_STEPS = 100
#: Bounds that keep exponentials finite; a chance is 0 or 1 to every digit long before them.
_LARGEST_ETA, _LARGEST_RATE = 30.0, 700.0
_MODERATE_ETA = 12.0


@dataclass(frozen=True, eq=False, kw_only=True)
class ShareFit:
    """A fitted binomial model; the fields that `CountFit` has too mean the same there.

    mean   expected successes; `probability` is their share of `trials`
    alpha  NaN: a binomial model has no such parameter
    """

    model: Literal["binomial"]
    link: Link
    terms: tuple[str, ...]
    estimate: np.ndarray
    covariance: np.ndarray
    joint_covariance: np.ndarray
    n: int
    log_likelihood: float
    aic: float
    probability: np.ndarray
    mean: np.ndarray
    deviance: float
    pearson_chi2: float
    level: float
    notes: tuple[str, ...]
    iterations: int
    converged: bool
    count: np.ndarray
    trials: np.ndarray
    design: np.ndarray
    offset: np.ndarray
    alpha: float = float("nan")

    @property
    def standard_error(self) -> np.ndarray:
        """Square roots of the diagonal of `covariance`."""
        return np.sqrt(np.diag(self.covariance))

    def probability_at(self, eta: np.ndarray) -> np.ndarray:
        """The chance at a linear predictor."""
        return _probability(self.link, eta)

    @property
    def eta_score(self) -> np.ndarray:
        """Each row's derivative of the log likelihood by its linear predictor."""
        return _derivatives(self.link, self.count, self.trials, self.offset + self.design @ self.estimate)[0]

    @property
    def eta_weight(self) -> np.ndarray:
        """Minus each row's second derivative by its linear predictor."""
        return _derivatives(self.link, self.count, self.trials, self.offset + self.design @ self.estimate)[1]

    @property
    def score_rows(self) -> np.ndarray:
        """Each row's derivative of the log likelihood, one column a coefficient."""
        return self.eta_score[:, None] * self.design

    def quantile_residuals_at(self, u: np.ndarray) -> np.ndarray:
        """Randomised quantile residuals, standard normal if the model is right and `u` uniform on (0, 1)."""
        below, at_least = share_tails(self.count, self.trials, self.probability)
        below_next, above = share_tails(self.count + 1.0, self.trials, self.probability)
        tiny = np.finfo(float).tiny
        lower = ndtri(np.maximum(below + u * (below_next - below), tiny))
        upper = -ndtri(np.maximum(above + (1.0 - u) * (at_least - above), tiny))
        return np.where(below < 0.5, lower, upper)


def share_tails(successes: np.ndarray, trials: np.ndarray, probability: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(P(Y < successes), P(Y ≥ successes)) of a binomial variable; successes from 0 to trials + 1."""
    y, n = np.asarray(successes, dtype=float), np.asarray(trials, dtype=float)
    a, b = np.maximum(y, 1.0), np.maximum(n - y + 1.0, 1e-300)
    below = np.where(y <= 0.0, 0.0, np.where(y > n, 1.0, betaincc(a, b, probability)))
    return below, np.where(y <= 0.0, 1.0, np.where(y > n, 0.0, betainc(a, b, probability)))


def share_log_pmf(successes: np.ndarray, trials: np.ndarray, probability: np.ndarray) -> np.ndarray:
    """Log probability of successes out of trials."""
    y, n = np.asarray(successes, dtype=float), np.asarray(trials, dtype=float)
    choose = -np.log1p(n) - betaln(n - y + 1.0, y + 1.0)
    return choose + xlogy(y, probability) + xlog1py(n - y, -probability)


def fit_shares(
    successes: np.ndarray,
    trials: np.ndarray,
    design: np.ndarray,
    *,
    terms: Sequence[str],
    link: Link = "logit",
    offset: np.ndarray | None = None,
    level: float = 0.95,
) -> ShareFit:
    """Maximum likelihood fit of successes ~ Binomial(trials, link⁻¹(offset + design · coefficients)).

    successes  whole numbers from 0 to `trials`
    trials     whole numbers ≥ 1

    Raises ValueError for arrays that do not fit together, NotEstimable where no finite estimate exists.
    """
    y, n, X = (np.array(v, dtype=float) for v in (successes, trials, design))
    off = np.zeros(y.shape) if offset is None else np.array(offset, dtype=float)
    names = tuple(terms)
    if y.ndim != 1 or n.shape != y.shape or X.shape != (y.size, len(names)) or off.shape != y.shape:
        raise ValueError("successes, trials, design, terms and offset do not fit together")
    if not all(np.all(np.isfinite(v)) for v in (y, n, X, off)):
        raise ValueError("missing or infinite values: leave such rows out first")
    if np.any((y < 0) | (y > n) | (n < 1) | (y != np.floor(y)) | (n != np.floor(n))):
        raise ValueError("successes are whole numbers from 0 to the trials, trials whole numbers from 1")
    if not np.any(y > 0) or not np.any(y < n):
        every = "No" if not np.any(y > 0) else "Every"
        raise SeparatedError(f"{every} answer is yes: there is no finite chance to estimate.")
    basis, back = independent_columns(X, names)
    gamma, steps, converged = _maximum(link, y, n, basis, off)
    # Where the maximum was reached at moderate chances it exists; a runaway one is asked about in earnest.
    moderate = converged and float(np.abs(off + basis @ gamma).max()) < _MODERATE_ETA
    direction = None if moderate else _separating(y, n, basis)
    if direction is not None:
        involved = names_of(X, back @ direction, names)
        several = "s" if "”, “" in involved else ""
        raise SeparatedError(
            f"The term{several} {involved} can part the rows into those that are all yes and those that are all "
            "no: the estimate runs off to infinity. Leave the term out and report these rows as they are."
        )
    eta = off + basis @ gamma
    _, weight = _derivatives(link, y, n, eta)
    covariance = back @ np.linalg.inv(basis.T @ (weight[:, None] * basis)) @ back.T
    covariance = 0.5 * (covariance + covariance.T)
    p = _probability(link, eta)
    choose = -np.log1p(n) - betaln(n - y + 1.0, y + 1.0)
    value = _log_likelihood(link, y, n, eta) + float(choose.sum())
    with np.errstate(divide="ignore", invalid="ignore"):
        saturated = float((xlogy(y, y / n) + xlogy(n - y, (n - y) / n) + choose).sum())
    return ShareFit(
        model="binomial",
        link=link,
        terms=names,
        estimate=back @ gamma,
        covariance=covariance,
        joint_covariance=covariance,
        n=y.size,
        log_likelihood=value,
        aic=2.0 * len(names) - 2.0 * value,
        probability=p,
        mean=n * p,
        deviance=2.0 * (saturated - value),
        pearson_chi2=float(np.sum((y - n * p) ** 2 / (n * p * (1.0 - p)))),
        level=level,
        notes=() if converged else ("The fit stopped before its steps became negligible: do not rely on it.",),
        iterations=steps,
        converged=converged,
        count=y,
        trials=n,
        design=X,
        offset=off,
    )


def _maximum(
    link: Link, y: np.ndarray, n: np.ndarray, X: np.ndarray, offset: np.ndarray
) -> tuple[np.ndarray, int, bool]:
    """Newton's method with step halving; both log likelihoods are concave."""
    share = (y + 0.5) / (n + 1.0)
    first = np.log(share / (1.0 - share)) if link == "logit" else np.log(-np.log1p(-share))
    gamma = np.linalg.lstsq(X, first - offset, rcond=None)[0]
    value = _log_likelihood(link, y, n, offset + X @ gamma)
    for step in range(1, _MOST_STEPS + 1):
        score, weight = _derivatives(link, y, n, offset + X @ gamma)
        try:
            change = np.linalg.solve(X.T @ (weight[:, None] * X), X.T @ score)
        except np.linalg.LinAlgError:  # all chances are 0 or 1 along some direction: the caller asks why
            return gamma, step, False
        gain = float((X.T @ score) @ change)
        size = 1.0
        while True:
            trial = gamma + size * change
            new = _log_likelihood(link, y, n, offset + X @ trial)
            if new >= value - 1e-12 * abs(value):
                break
            size *= 0.5
            if size < 1e-10:
                return gamma, step, False
        gamma, value = trial, new
        if gain < 1e-14 * (1.0 + abs(value)):
            return gamma, step, True
    return gamma, _MOST_STEPS, False


def _probability(link: Link, eta: np.ndarray) -> np.ndarray:
    return expit(eta) if link == "logit" else -np.expm1(-np.exp(np.minimum(eta, _LARGEST_ETA)))


def _log_likelihood(link: Link, y: np.ndarray, n: np.ndarray, eta: np.ndarray) -> float:
    """Without the binomial coefficient."""
    if link == "logit":
        return float((y * eta - n * np.logaddexp(0.0, eta)).sum())
    rate = np.exp(np.minimum(eta, _LARGEST_ETA))
    return float((xlogy(y, -np.expm1(-rate)) - (n - y) * rate).sum())


def _derivatives(link: Link, y: np.ndarray, n: np.ndarray, eta: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """First and minus second derivative of each row's log likelihood by its linear predictor."""
    if link == "logit":
        p = expit(eta)
        return y - n * p, n * p * (1.0 - p)
    rate = np.exp(np.minimum(eta, _LARGEST_ETA))
    found = rate / np.expm1(np.minimum(rate, _LARGEST_RATE))  # of the log of the chance of finding any
    return y * found - (n - y) * rate, (n - y) * rate + y * found * (rate / -np.expm1(-rate) - 1.0)


def _separating(y: np.ndarray, n: np.ndarray, basis: np.ndarray) -> np.ndarray | None:
    """A direction that raises no all-no row, lowers no all-yes row and moves no mixed one; or None.

    Source: Albert and Anderson 1984, Biometrika 71:1–10.
    """
    from scipy.optimize import linprog

    sign = np.where(y == n, -1.0, 1.0)
    mixed = (y > 0) & (y < n)
    moved = sign[:, None] * basis
    moved[np.abs(moved) < 1e-12] = 0.0
    answer = linprog(
        moved[~mixed].sum(axis=0),
        A_ub=moved[~mixed],
        b_ub=np.zeros(int((~mixed).sum())),
        A_eq=basis[mixed] if mixed.any() else None,
        b_eq=np.zeros(int(mixed.sum())) if mixed.any() else None,
        bounds=(-1.0, 1.0),
    )
    return answer.x if answer.success and answer.fun < -1e-7 else None
