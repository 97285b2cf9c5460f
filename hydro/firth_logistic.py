"""Logistic regression that stays finite when the two outcomes are separated, with profile intervals.

Firth's penalty (Firth 1993, Biometrika 80:27–38; Heinze & Schemper 2002, Statistics in Medicine 21:2409–2419) adds
half the log determinant of the information to the log likelihood, which is Jeffreys' prior. Plain maximum likelihood
is here as well, because published worked examples use it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_MOST_STEPS = 200
_SMALLEST_STEP = 1e-15  # Newton decrement (the expected gain in log likelihood) at which to stop
_SMALLEST_STEP_OF_MANY = 1e-7  # the same for bootstrap draws
_ROUNDING = 1e-13  # losses of log likelihood this small, relative, are rounding and not a step too far
_MOST_HALVINGS = 40
#: A fitted logit this large where plain maximum likelihood is asked for means that it has no maximum.
_DIVERGED_LOGIT = 30.0
#: How far a profile is followed before a side counts as unbounded [standard errors].
_FARTHEST = 2.0**40


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
        return _probability(self.design @ self.coefficients)

    @property
    def scores(self) -> Floats:
        """Residual of each row in the (penalised) score equation, which X' scores = 0 solves."""
        fitted = self.probabilities
        plain = self.weights * (self.share - fitted)
        if not self.penalised:
            return plain
        return plain + _pull(self.design, self.design @ self.coefficients, self.weights)

    @property
    def deviance(self) -> float:
        """Twice the gap in log likelihood (without penalty) to a model with one parameter a row."""
        fitted, seen = self.probabilities, self.share
        with np.errstate(divide="ignore", invalid="ignore"):
            up = np.where(seen > 0, seen * np.log(seen / fitted), 0.0)
            down = np.where(seen < 1, (1 - seen) * np.log((1 - seen) / (1 - fitted)), 0.0)
        return float(2.0 * np.sum(self.weights * (up + down)))


@dataclass(frozen=True, kw_only=True)
class Interval:
    """An estimate with its interval; a side that is None is unbounded and `why` says so."""

    value: float
    low: float | None
    high: float | None
    level: float
    why: str | None = None


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
    spread = w * _variance(X @ beta)
    if not penalised and np.abs(X @ beta)[w > 0].max() > _DIVERGED_LOGIT:
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
    for _step in range(_MOST_STEPS):
        w, logit = weights[going], beta[going] @ X.T
        spread = w * _variance(logit)
        information = np.einsum("bi,ij,ik->bjk", spread, X, X, optimize=True)
        fine = np.linalg.cond(information) < 1.0 / np.finfo(np.float64).eps
        solvable[going[~fine]] = False
        going, w, logit, spread, information = (part[fine] for part in (going, w, logit, spread, information))
        if not len(going):
            break
        inverse = np.linalg.inv(information)
        leverage = spread * np.einsum("ij,bij->bi", X, X @ inverse, optimize=True)
        fitted = _probability(logit)
        score = (w * (y - fitted) + leverage * (0.5 - fitted)) @ X
        move = np.einsum("bij,bj->bi", inverse, score)
        decrement = np.einsum("bi,bi->b", score, move) / 2.0
        for _ in range(_MOST_HALVINGS):
            trial = _values(beta[going] + move, w, X, y)
            worse = trial < value[going] - _ROUNDING * (1.0 + np.abs(value[going]))
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
    information = np.einsum("bi,ij,ik->bjk", w * _variance(logit), X, X, optimize=True)
    with np.errstate(divide="ignore"):
        penalty = 0.5 * np.linalg.slogdet(information)[1]
    return np.asarray(np.einsum("bi,bi->b", w, y * logit - np.logaddexp(0.0, logit)) + penalty, np.float64)


def coefficient_interval(fit: LogisticFit, position: int, *, level: float = 0.95) -> Interval:
    """Profile likelihood interval (penalised where the fit is) of one coefficient."""
    keep = np.arange(fit.design.shape[1]) != position
    rest, column = fit.design[:, keep], fit.design[:, position]
    start = fit.coefficients[keep]

    def drop(value: float) -> float:
        _, best = maximise(rest, column * value, fit.share, fit.weights, fit.design, start, fit.penalised)
        return 2.0 * (fit.log_likelihood - best)

    value, step = float(fit.coefficients[position]), float(fit.standard_errors[position])
    low, high = crossings(drop, value, step, chi2_quantile(level), (math.inf, math.inf))
    return Interval(value=value, low=low, high=high, level=level, why=why_unbounded(low, high))


def why_unbounded(low: float | None, high: float | None) -> str | None:
    if low is not None and high is not None:
        return None
    side = "both sides" if low is None and high is None else "below" if low is None else "above"
    return f"unbounded {side}: a curve without slope agrees with the data at this confidence"


def chi2_quantile(level: float) -> float:
    """Quantile of chi-square with one degree of freedom."""
    return NormalDist().inv_cdf(0.5 + level / 2) ** 2


def crossings(
    drop: Callable[[float], float], centre: float, step: float, limit: float, far: tuple[float, float]
) -> tuple[float | None, float | None]:
    """Where `drop` first exceeds `limit` on each side of `centre`; None where it never does."""
    from scipy.optimize import brentq  # here: half of all callers never need a root

    found: list[float | None] = []
    for direction, limit_far in zip((-1.0, 1.0), far, strict=True):
        if limit_far <= limit:
            found.append(None)
            continue
        inner, reach = centre, step
        while reach < _FARTHEST * step and drop(centre + direction * reach) <= limit:
            inner, reach = centre + direction * reach, reach * 2.0
        outer = centre + direction * reach
        if reach >= _FARTHEST * step:
            found.append(None)
            continue
        found.append(float(brentq(lambda v: drop(v) - limit, inner, outer, xtol=1e-8 * step, rtol=1e-12)))
    return found[0], found[1]


def _probability(logit: Floats) -> Floats:
    return 1.0 / (1.0 + np.exp(-np.clip(logit, -700.0, 700.0)))


def _variance(logit: Floats) -> Floats:
    """P (1 - P) without cancellation far out."""
    small = np.exp(-np.minimum(np.abs(logit), 700.0))
    return small / (1.0 + small) ** 2


def _pull(X: Floats, logit: Floats, w: Floats) -> Floats:
    """What the penalty adds to each row's residual: its leverage, times (1/2 - P)."""
    spread = w * _variance(logit)
    leverage = spread * np.einsum("ij,ij->i", X @ np.linalg.inv(X.T @ (spread[:, None] * X)), X)
    return leverage * (0.5 - _probability(logit))


def log_likelihood_at(logit: Floats, y: Floats, w: Floats, X: Floats, penalised: bool) -> float:
    value = float(np.dot(w, y * logit - np.logaddexp(0.0, logit)))
    if not penalised:
        return value
    # Through QR rather than X'VX: rounding grows with the condition number and not with its square, so that x far from
    # 0 costs nothing.
    diagonal = np.abs(np.diag(np.linalg.qr(np.sqrt(w * _variance(logit))[:, None] * X, mode="r")))
    return value + float(np.log(diagonal).sum()) if diagonal.min() > 0 else -math.inf


def maximise(
    Z: Floats, offset: Floats, y: Floats, w: Floats, X: Floats, start: Floats, penalised: bool
) -> tuple[Floats, float]:
    """Maximise the (penalised) log likelihood of logit = offset + Z gamma over gamma, by damped Newton steps.

    The penalty is that of the full design X, also where Z leaves some of its directions fixed. An undamped step can
    diverge, so a step that does not gain is halved.
    """
    gamma = np.array(start, np.float64)
    logit = offset + Z @ gamma
    value = log_likelihood_at(logit, y, w, X, penalised)
    for _step in range(_MOST_STEPS):
        residual = w * (y - _probability(logit))
        if penalised:
            residual = residual + _pull(X, logit, w)
        score = Z.T @ residual
        try:
            move = _newton_move(Z, logit, w, X, score, penalised)
        except np.linalg.LinAlgError:
            break
        decrement = float(score @ move) / 2.0
        if decrement < _SMALLEST_STEP:
            break
        for _ in range(_MOST_HALVINGS):
            trial = offset + Z @ (gamma + move)
            trial_value = log_likelihood_at(trial, y, w, X, penalised)
            if trial_value >= value - _ROUNDING * (1.0 + abs(value)):
                break
            move = move / 2.0
        else:
            break
        gamma, logit, value = gamma + move, trial, trial_value
        if not penalised and np.abs(logit)[w > 0].max() > 2 * _DIVERGED_LOGIT:
            break
    return gamma, value


def _newton_move(Z: Floats, logit: Floats, w: Floats, X: Floats, score: Floats, penalised: bool) -> Floats:
    """Newton's step with the curvature of the penalty; without it where the two together are not concave.

    Leaving the penalty's curvature out (Fisher scoring) overshoots by turns where the outcomes are separated.
    """
    spread = w * _variance(logit)
    expected = Z.T @ (spread[:, None] * Z)
    if not penalised:
        return np.asarray(np.linalg.solve(expected, score), np.float64)
    inverse = np.linalg.inv(X.T @ (spread[:, None] * X))
    # d spread / d logit = spread (1 - 2 P); d2 spread / d logit2 = spread (1 - 6 P (1 - P))
    slope, bend = spread * (1.0 - 2.0 * _probability(logit)), spread * (1.0 - 6.0 * _variance(logit))
    leverage = np.einsum("ij,ij->i", X @ inverse, X)
    turned = np.array([inverse @ (X.T @ ((slope * column)[:, None] * X)) for column in Z.T])
    penalty = 0.5 * Z.T @ ((leverage * bend)[:, None] * Z) - 0.5 * np.einsum("jab,kba->jk", turned, turned)
    observed = expected - penalty
    if np.linalg.eigvalsh(observed)[0] <= 1e-8 * np.linalg.eigvalsh(expected)[0]:
        observed = expected
    return np.asarray(np.linalg.solve(observed, score), np.float64)
