"""Profile likelihood intervals: where twice the loss of log likelihood passes the quantile of chi-square.

A side on which it never does is unbounded, and said to be: no large number stands in for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from hydro.firth_likelihood import maximise
from hydro.firth_logistic import LogisticFit

#: How far a profile is followed before a side counts as unbounded [standard errors].
_FARTHEST = 2.0**40


@dataclass(frozen=True, kw_only=True)
class Interval:
    """An estimate with its interval; a side that is None is unbounded and `why` says so."""

    value: float
    low: float | None
    high: float | None
    level: float
    why: str | None = None


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
