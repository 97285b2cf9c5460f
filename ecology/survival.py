"""Apparent survival and recapture by maximum likelihood, with what the data cannot say marked as such."""

from __future__ import annotations

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from scipy.special import expit

from ecology.bounded_ascent import ascend
from ecology.not_estimable import NotEstimable
from ecology.release_counts import ReleaseCounts
from ecology.survival_likelihood import SurvivalModel, log_likelihood

#: Logits are searched within these bounds; beyond, a rate is 0 or 1 to eight digits.
_FURTHEST = 18.0
#: A logit beyond this is a rate at its boundary: the likelihood has no peak inside (0, 1).
_BOUNDARY = 9.0
#: Directions with less information than this share of the greatest are flat.
_FLAT = 1e-7
_STEP = 1e-4
#: Profile intervals are worked out in models of at most so many rates: each takes dozens of fits of all others.
_MOST_PROFILED = 24
#: The end of a profile interval is found to so many logits.
_PROFILE_STEP = 1e-4


@dataclass(frozen=True, kw_only=True)
class Rate:
    """One estimated rate: yearly survival, or the chance of being met.

    `standard_error`, `low`, `high` are None where the data do not determine them. `boundary` is True for an estimate
    of 0 or 1: the likelihood rises up to the edge, and the interval is one-sided. `why` says why `value`, `low` or
    `high` is None.
    """

    name: str
    value: float | None
    standard_error: float | None
    low: float | None
    high: float | None
    boundary: bool
    why: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class SurvivalFit:
    """A fitted model. `theta` are logits, `covariance` of `theta` with 0 rows for what has no peak; `n_estimable`
    counts the parameters, or combinations of them, that the data determine."""

    model: SurvivalModel
    counts: ReleaseCounts
    theta: np.ndarray
    covariance: np.ndarray
    rates: tuple[Rate, ...]
    log_likelihood: float
    n_estimable: int
    gradient: float
    level: float

    @property
    def minus_two_log_likelihood(self) -> float:
        return -2.0 * self.log_likelihood

    @property
    def aic(self) -> float:
        """Akaike's criterion over the parameters that can be estimated."""
        return self.minus_two_log_likelihood + 2.0 * self.n_estimable

    def rate(self, name: str) -> Rate:
        return self.rates[self.model.names.index(name)]


def fit_survival(counts: ReleaseCounts, model: SurvivalModel, *, level: float = 0.95) -> SurvivalFit:
    """Maximum likelihood of `model`; intervals on the logit scale, from the observed information.

    A rate at its boundary gets the interval of its profile likelihood. Raises NotEstimable where no animal was met
    again.
    """
    if counts.met.sum() == 0:
        raise NotEstimable("no animal was met again at the outlet where it was released")
    k = len(model.names)
    start = np.zeros(k)
    start[model.n_survival :] = -0.5
    theta = _maximise(counts, model, start, np.arange(k))
    value, slope = log_likelihood(counts, model, theta)
    information = _information(counts, model, theta)
    inside = np.abs(theta) < _BOUNDARY
    covariance, flat, rank = _inverse(information, inside)
    # Where two rates are only known as a product one of them may run off: neither is at a boundary then.
    z = NormalDist().inv_cdf(0.5 * (1.0 + level))
    rates = []
    for i, name in enumerate(model.names):
        if flat[i]:
            why = "only a combination of it with others can be told from these data"
            rates.append(Rate(name=name, value=None, standard_error=None, low=None, high=None, boundary=False, why=why))
        elif not inside[i]:
            rates.append(_at_boundary(counts, model, theta, value, i, level))
        else:
            rate, error = float(expit(theta[i])), float(np.sqrt(covariance[i, i]))
            low, high = expit(theta[i] - z * error), expit(theta[i] + z * error)
            rates.append(
                Rate(name=name, value=rate, standard_error=error * rate * (1 - rate), low=float(low),
                     high=float(high), boundary=False)
            )  # fmt: skip
    return SurvivalFit(
        model=model,
        counts=counts,
        theta=theta,
        covariance=covariance,
        rates=tuple(rates),
        log_likelihood=value,
        n_estimable=rank + int((~inside).sum()),
        gradient=float(np.abs(slope).max()),
        level=level,
    )


def profile_interval(fit: SurvivalFit, name: str, level: float | None = None) -> tuple[float, float]:
    """Interval of a rate by its profile likelihood: the values that a likelihood ratio test does not reject."""
    i = fit.model.names.index(name)
    level = fit.level if level is None else level
    bounds = [_profile_end(fit.counts, fit.model, fit.theta, fit.log_likelihood, i, level, side) for side in (-1, 1)]
    return bounds[0], bounds[1]


def _maximise(
    counts: ReleaseCounts, model: SurvivalModel, theta: np.ndarray, free: np.ndarray, *, exactly: bool = True
) -> np.ndarray:
    """θ at the maximum over its `free` entries, the others held; not `exactly` is enough for a profile of ln L."""
    scale = max(1.0, float(counts.met.sum() + counts.lost.sum()))
    full = theta.copy()
    if not len(free):
        return full

    def mean(x: np.ndarray) -> tuple[float, np.ndarray]:
        full[free] = x
        value, slope = log_likelihood(counts, model, full)
        return value / scale, slope[free] / scale

    tight = {"slope": 1e-11, "gain": 1e-15} if exactly else {"slope": 1e-8, "gain": 1e-11}
    full[free] = ascend(mean, theta[free], bound=_FURTHEST, **tight)
    return full


def _information(counts: ReleaseCounts, model: SurvivalModel, theta: np.ndarray) -> np.ndarray:
    """Observed information: central differences of the exact gradient."""
    k = len(theta)
    out = np.zeros((k, k))
    for i in range(k):
        step = np.zeros(k)
        step[i] = _STEP
        up = log_likelihood(counts, model, theta + step)[1]
        down = log_likelihood(counts, model, theta - step)[1]
        out[i] = (down - up) / (2 * _STEP)
    return 0.5 * (out + out.T)


def _inverse(information: np.ndarray, inside: np.ndarray) -> tuple[np.ndarray, np.ndarray, int]:
    """Covariance of the entries inside their bounds, which entries lie in flat directions, and the rank."""
    k = len(inside)
    covariance, flat = np.zeros((k, k)), np.zeros(k, bool)
    at = np.flatnonzero(inside)
    if not len(at):
        return covariance, flat, 0
    values, vectors = np.linalg.eigh(information[np.ix_(at, at)])
    good = values > _FLAT * max(values.max(), 1e-12)
    rank = int(good.sum())
    if rank:
        v = vectors[:, good]
        covariance[np.ix_(at, at)] = (v / values[good]) @ v.T
    if rank < len(at):
        flat[at] = (np.abs(vectors[:, ~good]) > 1e-3).any(axis=1)
    return covariance, flat, rank


def _at_boundary(
    counts: ReleaseCounts, model: SurvivalModel, theta: np.ndarray, peak: float, i: int, level: float
) -> Rate:
    """A rate estimated as 0 or 1, with the other end of its interval from the profile likelihood."""
    upper = theta[i] > 0
    edge = 1.0 if upper else 0.0
    if len(theta) > _MOST_PROFILED:
        why = "it lies at its boundary, and no limit is worked out in a model of so many rates"
        return Rate(
            name=model.names[i], value=edge, standard_error=None, low=None, high=None, boundary=True, why=why
        )  # fmt: skip
    end = _profile_end(counts, model, theta, peak, i, level, -1 if upper else 1)
    low, high = (end, 1.0) if upper else (0.0, end)
    return Rate(name=model.names[i], value=edge, standard_error=None, low=low, high=high, boundary=True)


def _profile_end(
    counts: ReleaseCounts, model: SurvivalModel, theta: np.ndarray, peak: float, i: int, level: float, side: int
) -> float:
    """Where ln L, maximised over the other rates, has fallen by half the chi² quantile, on one side of the peak."""
    drop = 0.5 * NormalDist().inv_cdf(0.5 * (1.0 + level)) ** 2
    others = np.array([j for j in range(len(theta)) if j != i], int)
    inside = np.clip(theta, -_BOUNDARY, _BOUNDARY)

    def at(x: float) -> tuple[float, np.ndarray]:
        start = inside.copy()
        start[i] = x
        best = _maximise(counts, model, start, others, exactly=False)
        return log_likelihood(counts, model, best)[0] - (peak - drop), best

    near, far = float(theta[i]), float(theta[i]) + side * 0.5
    while True:
        above, best = at(far)
        if above <= 0:
            break
        if abs(far) >= _FURTHEST:
            return 0.0 if side < 0 else 1.0
        inside = np.clip(best, -_BOUNDARY, _BOUNDARY)
        near, far = far, float(np.clip(far + side * max(0.5, 0.5 * abs(far - theta[i])), -_FURTHEST, _FURTHEST))
    while abs(far - near) > _PROFILE_STEP:
        middle = 0.5 * (near + far)
        above, best = at(middle)
        if above > 0:
            near, inside = middle, np.clip(best, -_BOUNDARY, _BOUNDARY)
        else:
            far = middle
    return float(expit(0.5 * (near + far)))
