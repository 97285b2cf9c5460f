"""Maximum and profile intervals of the likelihood in `ecology.missed_animals_likelihood`.

With few spells the likelihood can have several maxima, among them a spike at a single return time after which every
wait is put down to missed animals. So it is climbed from narrow and wide spreads, and where searches can miss the
spread has a least value, at which the spike stays comparable with the rest.

The profile interval holds every value whose likelihood, with the other parameters free, is within a stated distance
of the maximum. It needs no symmetry, which few spells do not give.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ecology.interval_likelihood import Distribution
from ecology.missed_animals_likelihood import log_likelihood
from ecology.missed_animals_searches import Histories
from ecology.not_estimable import NotEstimable

_SIGMA = 1  # its place in θ
_MOST_STEPS = 100
#: Least σ of ln T where searches can miss: nearly all lags then lie within a fifth of their median.
LEAST_SIGMA = 0.1
HIGHEST_LOG_RATE = 4.0  # e^4 = 55 expected finds a search
#: (ln median [ln days], ln σ, ln rate): beyond these the likelihood rises towards a limit, not to a maximum.
_LOWEST = np.array([-12.0, -6.0, -12.0])
_HIGHEST = np.array([20.0, 4.0, HIGHEST_LOG_RATE])
_START_SIGMAS = (0.3, 1.0)
_FARTHEST = 12.0  # a profile interval with no end within a factor e^12 has none


@dataclass(frozen=True, eq=False, kw_only=True)
class Maximum:
    """θ, the log likelihood, and the observed information of `free`: without ln σ where σ is LEAST_SIGMA."""

    theta: np.ndarray
    value: float
    information: np.ndarray
    free: tuple[int, ...]


class EdgeReached(NotEstimable):
    """The likelihood rises towards the edge of what is sensible: `which` of θ, `theta` where the climb stopped."""

    def __init__(self, which: int, theta: np.ndarray, value: float) -> None:
        super().__init__(_EDGES[which][int(theta[which] > 0.0)])
        self.which, self.theta, self.value = which, theta, value


def highest(
    histories: Histories,
    start: np.ndarray,
    free: Sequence[int],
    distribution: Distribution,
    *,
    sigmas: Sequence[float] = _START_SIGMAS,
    weights: np.ndarray | None = None,
) -> Maximum:
    """The highest of the maxima over `free` climbed to from `start` and, where ln σ is free, from each of `sigmas`.

    Raises as `maximise` does where no climb ends in a maximum, with the reason of the first.
    """
    found: list[Maximum] = []
    refused: list[NotEstimable] = []
    starts = [start]
    if _SIGMA in free:
        starts += [np.array([start[0], np.log(sigma), start[2]]) for sigma in sigmas]
    for at in starts:
        try:
            found.append(_on_or_above_least_sigma(histories, at, free, distribution, weights))
        except NotEstimable as reason:
            refused.append(reason)
    if not found:
        raise refused[0]
    return max(found, key=lambda maximum: maximum.value)


def _on_or_above_least_sigma(
    histories: Histories,
    start: np.ndarray,
    free: Sequence[int],
    distribution: Distribution,
    weights: np.ndarray | None,
) -> Maximum:
    try:
        return maximise(histories, start, free, distribution, weights)
    except EdgeReached as edge:
        if edge.which != _SIGMA or edge.theta[_SIGMA] > 0.0 or np.isinf(start[2]):
            raise
        least = edge.theta.copy()
        least[_SIGMA] = np.log(LEAST_SIGMA)
        return maximise(histories, least, [j for j in free if j != _SIGMA], distribution, weights)


def maximise(
    histories: Histories,
    start: np.ndarray,
    free: Sequence[int],
    distribution: Distribution,
    weights: np.ndarray | None = None,
) -> Maximum:
    """The maximum over `free` climbed to from `start`.

    Newton's method; where the surface does not curve down the curvatures are made positive, and steps are halved until
    the likelihood rises. Raises EdgeReached where it rises to the edge, NotEstimable where no maximum is found.
    """
    index = np.array(free, dtype=np.intp)
    lowest = _LOWEST.copy()
    if np.isfinite(start[2]):
        lowest[_SIGMA] = np.log(LEAST_SIGMA)
    theta = start.copy()
    value, score, information = log_likelihood(histories, theta, distribution, weights)
    while not np.isfinite(value) and _SIGMA in free and theta[_SIGMA] < 3.0:
        theta[_SIGMA] += 0.7  # a spell far in the tail underflows: begin with a wider spread
        value, score, information = log_likelihood(histories, theta, distribution, weights)
    if not np.isfinite(value):
        raise NotEstimable("The likelihood is 0 wherever the search began: the searches contradict one another.")
    if not index.size:
        return Maximum(theta=theta, value=value, information=np.empty((0, 0)), free=())
    for _ in range(_MOST_STEPS):
        slope, curvature = score[index], information[np.ix_(index, index)]
        values, vectors = np.linalg.eigh(curvature)
        change = vectors @ ((vectors.T @ slope) / np.maximum(np.abs(values), 1e-8 * max(np.abs(values).max(), 1e-300)))
        gain = float(slope @ change)
        if gain < 1e-10 * (1.0 + abs(value)):
            return Maximum(theta=theta, value=value, information=curvature, free=tuple(free))
        change = change * min(1.0, 1.5 / float(np.abs(change).max()))
        size = 1.0
        while True:
            trial = theta.copy()
            trial[index] += size * change
            new, new_score, new_information = log_likelihood(histories, trial, distribution, weights)
            if new >= value - 1e-13 * abs(value):
                break
            size *= 0.5
            if size < 1e-10:
                raise NotEstimable("The likelihood could not be climbed from any nearby value: the data are too few.")
        theta, value, score, information = trial, new, new_score, new_information
        for j in free:
            if not lowest[j] <= theta[j] <= _HIGHEST[j]:
                raise EdgeReached(j, theta, value)
    raise NotEstimable("The likelihood has no maximum that can be found: it is flat or rises for ever.")


_EDGES = {
    0: (
        "The likelihood rises for ever as the return moves towards the restart: only an upper bound is known.",
        "The likelihood rises for ever as the return moves away: the times cannot be placed.",
    ),
    1: (
        "The likelihood rises for ever towards a single return time: the searches do not say how the times spread.",
        "The likelihood rises for ever towards an ever wider spread of return times.",
    ),
    2: (
        "The likelihood rises for ever as the probability of finding animals falls to 0.",
        "The likelihood rises for ever as the probability of finding animals rises to 1.",
    ),
}


def profile_interval(
    histories: Histories,
    theta: np.ndarray,
    value: float,
    which: int,
    others: Sequence[int],
    standard_error: float,
    reach: float,
    distribution: Distribution,
) -> tuple[float, float]:
    """Ends of the interval of θ[which]: where the likelihood ratio statistic, twice the fall of the log likelihood, is
    reach²; ∓inf where it does not fall so far.
    """

    def end(sign: float) -> float:
        warm = theta.copy()

        def root(distance: float) -> float:
            """Signed root of the deviance less `reach`: nearly a straight line in the distance."""
            nonlocal warm
            at = warm.copy()
            at[which] = theta[which] + sign * distance
            try:
                reached = highest(histories, at, others, distribution, sigmas=())
            except EdgeReached as edge:
                best = edge.value  # the supremum over the others lies at the edge
            else:
                best, warm = reached.value, reached.theta
            return float(np.sqrt(max(2.0 * (value - best), 0.0))) - reach

        near, at_near = 0.0, -reach
        far = min(reach * standard_error, _FARTHEST)
        at_far = root(far)
        while at_far < 0.0:
            if far >= _FARTHEST:
                return sign * np.inf
            near, at_near = far, at_far
            far = min(_FARTHEST, far * min(2.0, max(1.2, 1.05 * reach / max(at_far + reach, 1e-3))))
            at_far = root(far)
        for _ in range(30):  # Illinois: the false position, never stuck at one end
            middle = far - at_far * (far - near) / (at_far - at_near)
            at_middle = root(middle)
            if abs(at_middle) < 1e-4:
                break
            if at_middle * at_far < 0.0:
                near, at_near = far, at_far
            else:
                at_near *= 0.5
            far, at_far = middle, at_middle
        return float(theta[which] + sign * middle)

    return end(-1.0), end(1.0)
