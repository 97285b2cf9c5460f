"""The maximum of the likelihood of interval-censored times, refused where there is none or it is flat."""

from __future__ import annotations

import numpy as np

from ecology.interval_likelihood import Distribution, LogIntervals, interval_likelihood
from ecology.not_estimable import NotEstimable

_MOST_STEPS = 200
_LOG_SIGMA_EDGE = 6.0  # σ beyond e^±6 is a point mass, or spread over more than any record can show
_FLAT_LOG_SIGMA = 3.0  # a standard error of ln σ above this: the likelihood has flattened, not peaked (3 rows give < 1)
_FLAT_COEFFICIENT = 15.0  # the same for coefficients of ln T, e^15 being a factor of three million


def maximise_intervals(data: LogIntervals, distribution: Distribution) -> np.ndarray:
    """θ at the maximum: Newton's method with the step halved until the likelihood rises."""
    k = data.X.shape[1]
    low, high = np.where(np.isfinite(data.low), data.low, np.nan), np.where(np.isfinite(data.high), data.high, np.nan)
    # The middle on the log scale; half or double the only end that is known; the mean where a row says nothing.
    start = 0.5 * (
        np.where(np.isnan(low), high - 2 * np.log(2.0), low) + np.where(np.isnan(high), low + 2 * np.log(2.0), high)
    )
    start = np.where(np.isnan(start), np.nanmean(start), start)
    beta = np.linalg.lstsq(data.X, start, rcond=None)[0]
    spread = float(np.std(start - data.X @ beta))
    theta = np.append(beta, np.log(min(max(spread, 0.2), 2.0)))
    if distribution == "exponential":
        theta = theta[:k]
    value, score, information = interval_likelihood(data, theta, distribution)
    while not np.isfinite(value) and theta.size > k and theta[k] < _LOG_SIGMA_EDGE:
        # A row far in the tail has probability 0 to the last digit: begin with a wider spread.
        theta[k] += 0.7
        value, score, information = interval_likelihood(data, theta, distribution)
    for _ in range(_MOST_STEPS):
        change = _ascent(information, score)
        gain = float(score @ change)
        change = change * min(1.0, 3.0 / max(float(np.abs(change).max()), 1e-300))
        size = 1.0
        while True:
            trial = theta + size * change
            new, new_score, new_information = interval_likelihood(data, trial, distribution)
            if new >= value - 1e-13 * abs(value):
                break
            size *= 0.5
            if size < 1e-12:
                raise NotEstimable("The likelihood could not be climbed from any nearby value: the data are too few.")
        theta, value, score, information = trial, new, new_score, new_information
        if theta.size > k and abs(theta[k]) > _LOG_SIGMA_EDGE:
            way = "a single time" if theta[k] < 0.0 else "ever wider spread"
            raise NotEstimable(f"The likelihood rises for ever towards {way}: the shape cannot be estimated.")
        if np.abs(theta[:k]).max() > 1e4:
            raise NotEstimable("The likelihood rises for ever as the median runs off: the times cannot be placed.")
        if gain < 1e-13 * (1.0 + abs(value)):
            return theta
    raise NotEstimable("The likelihood has no maximum that can be found: it is flat or rises for ever.")


def _ascent(information: np.ndarray, score: np.ndarray) -> np.ndarray:
    """The Newton step; where the surface does not curve down, the step with its curvatures made positive."""
    values, vectors = np.linalg.eigh(information)
    curvature = np.maximum(np.abs(values), 1e-10 * max(float(np.abs(values).max()), 1e-300))
    return vectors @ ((vectors.T @ score) / curvature)


def covariance_of(information: np.ndarray) -> np.ndarray:
    """The covariance; NotEstimable where the likelihood does not curve down clearly in every direction."""
    size = np.sqrt(np.abs(np.diag(information)))
    if np.any(size == 0.0) or np.linalg.eigvalsh(information / np.outer(size, size)).min() < 1e-8:
        raise NotEstimable("The likelihood is flat in some direction: the data do not determine all parameters.")
    inverse = np.linalg.inv(information)
    return 0.5 * (inverse + inverse.T)


def refuse_what_runs_off(covariance: np.ndarray, names: tuple[str, ...]) -> None:
    """A likelihood that approaches its bound only in the limit looks like a maximum with enormous errors."""
    error = np.sqrt(np.diag(covariance))
    running = [name for name, e in zip(names, error[1:], strict=False) if e > _FLAT_COEFFICIENT]
    if running:
        raise NotEstimable(f"The effect of “{running[0]}” runs off to infinity: the rows it marks have no upper bound.")
    if error.size > len(names) + 1 and error[-1] > _FLAT_LOG_SIGMA:
        raise NotEstimable("The likelihood is flat towards a single time: the data do not say how the times spread.")
    if error[0] > _FLAT_COEFFICIENT:
        raise NotEstimable("The likelihood is flat as the median runs off: the times cannot be placed.")
