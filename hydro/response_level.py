"""The x at which a fitted logistic curve passes a probability (a level, a lethal dose), and how sure it is.

The profile interval writes logit P = logit p + slope (x - level) and maximises over the slope at each level; it
stays honest where the first-order (delta) interval does not, and says so where the data bound no side.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

from hydro.firth_likelihood import log_likelihood_at, maximise
from hydro.firth_logistic import LogisticFit, refit_reweighted
from hydro.profile_interval import Interval, chi2_quantile, crossings, why_unbounded

Floats = npt.NDArray[np.float64]


#: Slopes from which the profile of a level is climbed, as shares of the fitted one.
_START_SHARES = (1.0, 0.125)


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
    # The penalised profile can have two maxima in the slope. Fixed starts, steep and shallow, and the better end
    # keep it one function of the level: started from the slope at the last level, it gave two values at one place.
    starts = tuple(slope * share for share in _START_SHARES)

    def drop(at: float) -> float:
        offset = np.full(len(x), target)
        ends = [
            maximise((x - at)[:, None], offset, fit.share, fit.weights, fit.design, np.array([start]), fit.penalised)
            for start in starts
        ]
        allowed = [best for best_slope, best in ends if best_slope[0] * sign > 0]
        if not allowed:  # past the limit of a flat curve: the best allowed slope is 0
            allowed = [log_likelihood_at(offset, fit.share, fit.weights, fit.design, fit.penalised)]
        return 2.0 * (fit.log_likelihood - max(allowed)) / inflation

    # As the level runs away the slope tends to 0 and the curve to a constant, on the side of p that the level's
    # direction allows.
    ones = fit.design[:, :1]
    constant, flat = maximise(ones, np.zeros(len(x)), fit.share, fit.weights, fit.design, np.zeros(1), fit.penalised)
    at_p = log_likelihood_at(np.full(len(x), target), fit.share, fit.weights, fit.design, fit.penalised)
    above = (constant[0] - target) * sign > 0
    limits = (flat if above else at_p, at_p if above else flat)
    step = delta_interval(fit, probability=probability, level=level)
    width = max((step.high or value) - value, 1e-12) / NormalDist().inv_cdf(0.5 + level / 2)
    drops = tuple(2.0 * (fit.log_likelihood - limit) / inflation for limit in limits)
    low, high = crossings(drop, value, width, chi2_quantile(level), (drops[0], drops[1]))
    return Interval(value=value, low=low, high=high, level=level, why=why_unbounded(low, high))


def cluster_inflation(fit: LogisticFit, groups: npt.NDArray[np.int64], *, probability: float = 0.5) -> float:
    """How much wider the level's variance is when rows of one group err together; 1 where it is not wider.

    The ratio of the group-robust (sandwich) variance of the level to the model's, by which a likelihood ratio
    statistic is divided (Rotnitzky & Jewell 1990, Biometrika 77:485–497, cited from memory). `groups` [n] numbers the
    groups from 0. Never below 1: few groups make the robust variance come out too small.
    """
    count = int(groups.max()) + 1
    if count < 2:
        return 1.0
    at = np.array([1.0, level_of(fit, probability)])
    direction = fit.covariance @ at
    by_row = (fit.scores * fit.design.T).T @ direction
    by_group = np.bincount(groups, weights=by_row, minlength=count)
    return max(1.0, float(by_group @ by_group) * count / (count - 1) / float(at @ direction))


def bootstrap_level(
    fit: LogisticFit,
    groups: npt.NDArray[np.int64],
    *,
    level: float,
    draws: int,
    generator: np.random.Generator,
    probability: float = 0.5,
) -> tuple[float | None, float | None, int]:
    """Percentile interval of the level from drawing whole groups, and the number of draws without a level.

    `groups` [n] numbers from 0 the groups of rows, each of one outcome (share 0 or 1). Groups of either outcome are
    drawn apart, so that no draw lacks one. A draw has no level where its slope does not keep the fitted sign.
    """
    if draws == 0:
        return None, None, 0
    state = np.zeros(int(groups.max()) + 1, np.bool_)
    state[groups] = fit.share > 0.5
    times = np.zeros((draws, len(state)))
    for members in (np.flatnonzero(state), np.flatnonzero(~state)):
        even = np.full(len(members), 1.0 / len(members))
        times[:, members] = generator.multinomial(len(members), even, size=draws)
    beta = refit_reweighted(fit, times[:, groups])
    kept = beta[:, 1] * fit.coefficients[1] > 0
    if not kept.any():
        return None, None, draws
    at = (math.log(probability / (1.0 - probability)) - beta[kept, 0]) / beta[kept, 1]
    low, high = np.quantile(at, [(1 - level) / 2, (1 + level) / 2])
    return float(low), float(high), int((~kept).sum())


def delta_interval(fit: LogisticFit, *, probability: float = 0.5, level: float = 0.95) -> Interval:
    """First-order interval of the level, for a design with the columns [1, x]: symmetric, always finite."""
    value, variance = _delta(fit.coefficients, fit.covariance, probability)
    reach = NormalDist().inv_cdf(0.5 + level / 2) * math.sqrt(variance)
    return Interval(value=value, low=value - reach, high=value + reach, level=level)


def level_from(coefficients: Floats, covariance: Floats, *, probability: float = 0.5) -> tuple[float, float]:
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
        return Interval(value=value, low=None, high=None, level=level, why=why_unbounded(None, None))
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
