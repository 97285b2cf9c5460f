"""Logistic regression that stays finite when the two outcomes are separated.

Firth's penalty (Firth 1993, Biometrika 80:27–38; Heinze & Schemper 2002, Statistics in Medicine 21:2409–2419) adds
half the log determinant of the information to the log likelihood, which is Jeffreys' prior. Plain maximum likelihood
is here as well, because published worked examples use it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.firth_likelihood import (
    DIVERGED_LOGIT,
    MOST_HALVINGS,
    MOST_STEPS,
    ROUNDING,
    Floats,
    maximise,
    probability,
    pull,
    variance,
)

_SMALLEST_STEP_OF_MANY = 1e-7  # Newton decrement at which bootstrap draws stop


class NoMaximumError(ValueError):
    """Plain maximum likelihood has no finite estimate: the outcomes are separated by the design."""


@dataclass(frozen=True, eq=False, kw_only=True)
class LogisticFit:
    """A fitted logistic regression.

    design [n, p], share [n] of successes in each row (0 to 1), weights [n] (number of trials, or a weight >= 0);
    coefficients [p]; covariance [p, p], the inverse information at the estimate; log_likelihood without the binomial
    constants, with the penalty where `penalised`.
    """

    design: Floats
    share: Floats
    weights: Floats
    coefficients: Floats
    covariance: Floats
    log_likelihood: float
    penalised: bool

    @property
    def standard_errors(self) -> Floats:
        return np.sqrt(np.diag(self.covariance))

    @property
    def probabilities(self) -> Floats:
        """Fitted probability of each row."""
        return probability(self.design @ self.coefficients)

    @property
    def scores(self) -> Floats:
        """Residual of each row in the (penalised) score equation, which X' scores = 0 solves."""
        fitted = self.probabilities
        plain = self.weights * (self.share - fitted)
        if not self.penalised:
            return plain
        return plain + pull(self.design, self.design @ self.coefficients, self.weights)

    @property
    def deviance(self) -> float:
        """Twice the gap in log likelihood (without penalty) to a model with one parameter a row."""
        fitted, seen = self.probabilities, self.share
        with np.errstate(divide="ignore", invalid="ignore"):
            up = np.where(seen > 0, seen * np.log(seen / fitted), 0.0)
            down = np.where(seen < 1, (1 - seen) * np.log((1 - seen) / (1 - fitted)), 0.0)
        return float(2.0 * np.sum(self.weights * (up + down)))


def fit_logistic(
    design: Floats, share: Floats, *, weights: Floats | None = None, penalised: bool = True
) -> LogisticFit:
    """Fit logit P(success) = design @ coefficients by (penalised) maximum likelihood.

    design   [n, p] of full column rank, with its own column of ones where an intercept is wanted
    share    [n] successes / trials, or 0 and 1
    weights  [n] >= 0, trials or weights; default 1

    Raises ValueError for shapes and values out of range or a design of deficient rank, and NoMaximumError where
    plain maximum likelihood diverges.
    """
    X = np.asarray(design, np.float64)
    y = np.asarray(share, np.float64)
    w = np.ones(len(y)) if weights is None else np.asarray(weights, np.float64)
    if X.ndim != 2 or y.shape != (len(X),) or w.shape != y.shape:
        raise ValueError("design is [n, p], share and weights are [n]")
    if not (np.isfinite(X).all() and np.isfinite(w).all() and (w >= 0).all() and ((y >= 0) & (y <= 1)).all()):
        raise ValueError("design and weights are finite, weights at least 0, shares between 0 and 1")
    if np.linalg.matrix_rank(X[w > 0]) < X.shape[1]:
        raise ValueError("the rows with weight do not tell the coefficients apart (design of deficient rank)")
    beta, likelihood = maximise(X, np.zeros(len(y)), y, w, X, np.zeros(X.shape[1]), penalised)
    spread = w * variance(X @ beta)
    if not penalised and np.abs(X @ beta)[w > 0].max() > DIVERGED_LOGIT:
        raise NoMaximumError("the outcomes are separated: maximum likelihood has no finite estimate")
    return LogisticFit(
        design=X,
        share=y,
        weights=w,
        coefficients=beta,
        covariance=np.asarray(np.linalg.inv(X.T @ (spread[:, None] * X)), np.float64),
        log_likelihood=likelihood,
        penalised=penalised,
    )


def refit_reweighted(fit: LogisticFit, weights: Floats) -> Floats:
    """Penalised coefficients [draws, p] under other weights [draws, n] of the same rows, as a bootstrap needs them.

    All draws step together. Coarser than `fit_logistic` (to about 1e-3 standard errors); NaN where the rows left
    cannot tell the coefficients apart.
    """
    X, y = fit.design, fit.share
    beta = np.tile(fit.coefficients, (len(weights), 1))
    solvable = np.ones(len(weights), np.bool_)
    going = np.arange(len(weights))
    value = _values(beta, weights, X, y)
    for _step in range(MOST_STEPS):
        w, logit = weights[going], beta[going] @ X.T
        spread = w * variance(logit)
        information = np.einsum("bi,ij,ik->bjk", spread, X, X, optimize=True)
        fine = np.linalg.cond(information) < 1.0 / np.finfo(np.float64).eps
        solvable[going[~fine]] = False
        going, w, logit, spread, information = (part[fine] for part in (going, w, logit, spread, information))
        if not len(going):
            break
        inverse = np.linalg.inv(information)
        leverage = spread * np.einsum("ij,bij->bi", X, X @ inverse, optimize=True)
        fitted = probability(logit)
        score = (w * (y - fitted) + leverage * (0.5 - fitted)) @ X
        move = np.einsum("bij,bj->bi", inverse, score)
        decrement = np.einsum("bi,bi->b", score, move) / 2.0
        for _ in range(MOST_HALVINGS):
            trial = _values(beta[going] + move, w, X, y)
            worse = trial < value[going] - ROUNDING * (1.0 + np.abs(value[going]))
            if not worse.any():
                break
            move[worse] /= 2.0
        beta[going] += move
        value[going] = trial
        going = going[decrement > _SMALLEST_STEP_OF_MANY]
    beta[~solvable] = np.nan
    return beta


def _values(beta: Floats, w: Floats, X: Floats, y: Floats) -> Floats:
    """Penalised log likelihood of each draw: coefficients [draws, p] under weights [draws, n]."""
    logit = beta @ X.T
    information = np.einsum("bi,ij,ik->bjk", w * variance(logit), X, X, optimize=True)
    with np.errstate(divide="ignore"):
        penalty = 0.5 * np.linalg.slogdet(information)[1]
    return np.asarray(np.einsum("bi,bi->b", w, y * logit - np.logaddexp(0.0, logit)) + penalty, np.float64)
