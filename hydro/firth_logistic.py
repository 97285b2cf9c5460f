"""Logistic regression that stays finite when the two outcomes are separated, and intervals for a level.

Firth's penalty (Firth 1993, Biometrika 80:27–38; Heinze & Schemper 2002, Statistics in Medicine 21:2409–2419) adds
half the log determinant of the information to the log likelihood, which is Jeffreys' prior. Plain maximum likelihood
is here as well, because published worked examples use it. A level is the x at which the probability is p; its
profile interval comes from logit P = logit p + slope (x - level), maximised over the slope at each level.
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
    steps: int

    @property
    def standard_errors(self) -> Floats:
        return np.sqrt(np.diag(self.covariance))

    @property
    def probabilities(self) -> Floats:
        """Fitted probability of each row."""
        return _probability(self.design @ self.coefficients)

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
    beta, likelihood, steps = _maximise(X, np.zeros(len(y)), y, w, X, np.zeros(X.shape[1]), penalised)
    spread = w * _variance(X @ beta)
    if not penalised and np.abs(X @ beta)[w > 0].max() > _DIVERGED_LOGIT:
        raise NoMaximumError("the outcomes are separated: maximum likelihood has no finite estimate")
    return LogisticFit(
        design=X,
        share=y,
        weights=w,
        coefficients=beta,
        covariance=np.linalg.inv(X.T @ (spread[:, None] * X)),
        log_likelihood=likelihood,
        penalised=penalised,
        steps=steps,
    )


def coefficient_interval(fit: LogisticFit, position: int, *, level: float = 0.95) -> Interval:
    """Profile likelihood interval (penalised where the fit is) of one coefficient."""
    keep = np.arange(fit.design.shape[1]) != position
    rest, column = fit.design[:, keep], fit.design[:, position]
    start = fit.coefficients[keep]

    def drop(value: float) -> float:
        _, best, _ = _maximise(rest, column * value, fit.share, fit.weights, fit.design, start, fit.penalised)
        return 2.0 * (fit.log_likelihood - best)

    value, step = float(fit.coefficients[position]), float(fit.standard_errors[position])
    low, high = _crossings(drop, value, step, _chi2_1(level), (math.inf, math.inf))
    return Interval(value=value, low=low, high=high, level=level, why=_unbounded(low, high))


def level_of(fit: LogisticFit, probability: float = 0.5) -> float:
    """x at which the probability is `probability`, for a design with the columns [1, x] and a slope other than 0."""
    intercept, slope = _two(fit.coefficients)
    return (math.log(probability / (1.0 - probability)) - intercept) / slope


def level_interval(
    fit: LogisticFit, *, probability: float = 0.5, level: float = 0.95, inflation: float = 1.0
) -> Interval:
    """Profile likelihood interval of the level, for a design with the columns [1, x].

    The slope keeps the sign of the fitted one. `inflation` (>= 1 to widen) divides the likelihood ratio statistic,
    for rows that are less than independent. A side is unbounded where a slope of 0, at which every x or none is the
    level, is itself compatible with the data.
    """
    _, slope = _two(fit.coefficients)
    target, x = math.log(probability / (1.0 - probability)), fit.design[:, 1]
    sign = math.copysign(1.0, slope)
    value = level_of(fit, probability)
    last = np.array([slope])

    def drop(at: float) -> float:
        nonlocal last
        offset = np.full(len(x), target)
        start = last if last[0] * sign > 0 else np.array([slope])
        best_slope, best, _ = _maximise(
            (x - at)[:, None], offset, fit.share, fit.weights, fit.design, start, fit.penalised
        )
        if best_slope[0] * sign <= 0:  # past the limit of a flat curve: the best allowed slope is 0
            best = _log_likelihood(offset, fit.share, fit.weights, fit.design, fit.penalised)
        else:
            last = best_slope
        return 2.0 * (fit.log_likelihood - best) / inflation

    # As the level runs away the slope tends to 0 and the curve to a constant, on the side of p that the level's
    # direction allows.
    ones = fit.design[:, :1]
    constant, flat, _ = _maximise(
        ones, np.zeros(len(x)), fit.share, fit.weights, fit.design, np.zeros(1), fit.penalised
    )
    at_p = _log_likelihood(np.full(len(x), target), fit.share, fit.weights, fit.design, fit.penalised)
    above = (constant[0] - target) * sign > 0
    limits = (flat if above else at_p, at_p if above else flat)
    step = delta_interval(fit, probability=probability, level=level)
    width = max((step.high or value) - value, 1e-12) / NormalDist().inv_cdf(0.5 + level / 2)
    drops = tuple(2.0 * (fit.log_likelihood - limit) / inflation for limit in limits)
    low, high = _crossings(drop, value, width, _chi2_1(level), (drops[0], drops[1]))
    return Interval(value=value, low=low, high=high, level=level, why=_unbounded(low, high))


def delta_interval(fit: LogisticFit, *, probability: float = 0.5, level: float = 0.95) -> Interval:
    """First-order interval of the level, for a design with the columns [1, x]: symmetric, always finite."""
    value, variance = _delta(fit.coefficients, fit.covariance, probability)
    reach = NormalDist().inv_cdf(0.5 + level / 2) * math.sqrt(variance)
    return Interval(value=value, low=value - reach, high=value + reach, level=level)


def level_from(
    coefficients: Floats, covariance: Floats, *, probability: float = 0.5
) -> tuple[float, float]:
    """Level and its first-order standard error from an intercept and a slope [2] and their covariance [2, 2].

    For designs with further columns: hand in the intercept of the group in question.
    """
    value, variance = _delta(np.asarray(coefficients), np.asarray(covariance), probability)
    return value, math.sqrt(variance)


def fieller_interval(fit: LogisticFit, *, probability: float = 0.5, level: float = 0.95) -> Interval:
    """Fieller's interval of the level (Finney 1971, Probit Analysis), for a design with the columns [1, x].

    Unbounded on both sides where the slope does not differ from 0 at this confidence (g >= 1).
    """
    z = NormalDist().inv_cdf(0.5 + level / 2)
    (v11, v12), (_, v22) = fit.covariance.tolist()
    _, slope = _two(fit.coefficients)
    value = level_of(fit, probability)
    g = z * z * v22 / slope**2
    if g >= 1:
        return Interval(value=value, low=None, high=None, level=level, why=_unbounded(None, None))
    centre = value + g / (1 - g) * (value + v12 / v22)
    inside = v11 + 2 * value * v12 + value**2 * v22 - g * (v11 - v12**2 / v22)
    reach = z / (abs(slope) * (1 - g)) * math.sqrt(inside)
    return Interval(value=value, low=centre - reach, high=centre + reach, level=level)


def _two(coefficients: Floats) -> tuple[float, float]:
    if len(coefficients) != 2:
        raise ValueError("a level needs a design with the columns [1, x]")
    if coefficients[1] == 0:
        raise ValueError("a level needs a slope other than 0")
    return float(coefficients[0]), float(coefficients[1])


def _delta(coefficients: Floats, covariance: Floats, probability: float) -> tuple[float, float]:
    intercept, slope = _two(coefficients)
    value = (math.log(probability / (1.0 - probability)) - intercept) / slope
    (v11, v12), (_, v22) = covariance
    return value, float((v11 + 2 * value * v12 + value**2 * v22) / slope**2)


def _unbounded(low: float | None, high: float | None) -> str | None:
    if low is not None and high is not None:
        return None
    side = "both sides" if low is None and high is None else "below" if low is None else "above"
    return f"unbounded {side}: a curve without slope agrees with the data at this confidence"


def _chi2_1(level: float) -> float:
    """Quantile of chi-square with one degree of freedom."""
    return NormalDist().inv_cdf(0.5 + level / 2) ** 2


def _crossings(
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


def _log_likelihood(logit: Floats, y: Floats, w: Floats, X: Floats, penalised: bool) -> float:
    value = float(np.dot(w, y * logit - np.logaddexp(0.0, logit)))
    if not penalised:
        return value
    sign, log_determinant = np.linalg.slogdet(X.T @ ((w * _variance(logit))[:, None] * X))
    return value + 0.5 * float(log_determinant) if sign > 0 else -math.inf


def _maximise(
    Z: Floats, offset: Floats, y: Floats, w: Floats, X: Floats, start: Floats, penalised: bool
) -> tuple[Floats, float, int]:
    """Maximise the (penalised) log likelihood of logit = offset + Z gamma over gamma, by damped Newton steps.

    The penalty is that of the full design X, also where Z leaves some of its directions fixed. An undamped step can
    diverge, so a step that does not gain is halved.
    """
    gamma = np.array(start, np.float64)
    logit = offset + Z @ gamma
    value = _log_likelihood(logit, y, w, X, penalised)
    for steps in range(1, _MOST_STEPS + 1):
        fitted = _probability(logit)
        spread = w * _variance(logit)
        residual = w * (y - fitted)
        if penalised:
            hat = spread * np.einsum("ij,ij->i", X @ np.linalg.inv(X.T @ (spread[:, None] * X)), X)
            residual = residual + hat * (0.5 - fitted)
        score = Z.T @ residual
        try:
            move = np.linalg.solve(Z.T @ (spread[:, None] * Z), score)
        except np.linalg.LinAlgError:
            break
        decrement = float(score @ move) / 2.0
        if decrement < _SMALLEST_STEP:
            break
        for _ in range(_MOST_HALVINGS):
            trial = offset + Z @ (gamma + move)
            trial_value = _log_likelihood(trial, y, w, X, penalised)
            if trial_value >= value - _ROUNDING * (1.0 + abs(value)):
                break
            move = move / 2.0
        else:
            break
        gamma, logit, value = gamma + move, trial, trial_value
        if not penalised and np.abs(logit)[w > 0].max() > 2 * _DIVERGED_LOGIT:
            break
    return gamma, value, steps
