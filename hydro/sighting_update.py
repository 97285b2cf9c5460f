"""What seeing the sign of one normal margin says about another: the closed forms behind `running_now`."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import numpy.typing as npt

_NORMAL = NormalDist()
_PANELS, _NODES = 24, 12


def _panels() -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """Nodes and weights on (0, 1), panels halving towards 1."""
    node, weight = np.polynomial.legendre.leggauss(_NODES)
    edge = np.append(1.0 - 0.5 ** np.arange(_PANELS), 1.0)
    half = np.diff(edge)[:, None] / 2.0
    return (edge[:-1, None] + half * (1.0 + node)).ravel(), (half * weight).ravel()


_ANGLE, _WEIGHT = _panels()


@dataclass(frozen=True, kw_only=True)
class MarginPair:
    """Margins (ln discharge over level) then and now, jointly normal.

    mean_then, sd_then, mean_now, sd_now (sd > 0) and their covariance (0 up to the product of the sds).
    """

    mean_then: float
    sd_then: float
    mean_now: float
    sd_now: float
    covariance: float

    @property
    def correlation(self) -> float:
        return min(1.0, self.covariance / (self.sd_then * self.sd_now))


def both_positive(h: float, k: float, correlation: float) -> float:
    """P(X > -h and Y > -k) = Phi2(h, k; correlation) of a standard bivariate normal.

    Integral over the angle arcsin(correlation) (Drezner and Wesolowsky 1990, J. Statist. Comput. Simul. 35:101–107,
    cited from memory), by Gauss–Legendre on panels that halve towards the angle, where the integrand can be steep.
    """
    if correlation >= 1.0:
        return _NORMAL.cdf(min(h, k))
    if correlation <= -1.0:
        return max(0.0, _NORMAL.cdf(h) + _NORMAL.cdf(k) - 1.0)
    theta = math.asin(correlation) * _ANGLE
    with np.errstate(under="ignore"):
        density = np.exp(-(h * h + k * k - 2.0 * h * k * np.sin(theta)) / (2.0 * np.cos(theta) ** 2))
    integral = math.asin(correlation) * float(_WEIGHT @ density)
    return min(max(_NORMAL.cdf(h) * _NORMAL.cdf(k) + integral / (2.0 * math.pi), 0.0), 1.0)


def positive_now(pair: MarginPair, *, was_positive: bool, mistaken: float) -> float:
    """P(margin now > 0 | it was noted as positive or negative then), where a note is wrong with chance `mistaken`."""
    h, k = pair.mean_then / pair.sd_then, pair.mean_now / pair.sd_now
    both, now = both_positive(h, k, pair.correlation), _NORMAL.cdf(k)
    then_and_now = both if was_positive else now - both
    return min(1.0, (mistaken * now + (1 - 2 * mistaken) * then_and_now) / _chance_of_note(h, was_positive, mistaken))


def mean_shift(pair: MarginPair, *, covariance: float, was_positive: bool, mistaken: float) -> float:
    """By how much the mean of a third normal moves, given its covariance with the margin then, once it was noted."""
    h = pair.mean_then / pair.sd_then
    pull = (1 - 2 * mistaken) * _NORMAL.pdf(h) / _chance_of_note(h, was_positive, mistaken)
    return covariance / pair.sd_then * (pull if was_positive else -pull)


def surprise(pair: MarginPair, *, was_positive: bool, mistaken: float, broken: float) -> float:
    """By how much a note raises the chance `broken` that the gauge or the level no longer speaks for the outlet.

    If they do not, a note of either kind is as likely as the other. 0 where the note was to be expected.
    """
    expected = (1.0 - broken) * _chance_of_note(pair.mean_then / pair.sd_then, was_positive, mistaken)
    return max(0.0, 0.5 * broken / (0.5 * broken + expected) - broken)


def _chance_of_note(h: float, was_positive: bool, mistaken: float) -> float:
    return mistaken + (1 - 2 * mistaken) * _NORMAL.cdf(h if was_positive else -h)
