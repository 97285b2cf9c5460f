"""Scores of forecasts: Brier and its parts, CRPS, and what a table of hits and misses is worth.

Sources: Murphy 1973, J. Appl. Meteorol. 12:595-600 (parts of the Brier score); Gneiting & Raftery 2007, J. Am. Stat.
Assoc. 102:359-378 (CRPS); Ferro 2014, Q. J. R. Meteorol. Soc. 140:1917-1923 (fair scores); Richardson 2000, Q. J. R.
Meteorol. Soc. 126:649-667 (value in a cost-loss situation). Cited from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from hydro.state_runs import Floats


def _judged(chance: Floats, happened: Floats) -> tuple[Floats, Floats]:
    """Chances and outcomes as they can be judged.

    Raises ValueError unless there are as many chances in [0, 1] as outcomes of 0 or 1, and at least one. An unknown
    outcome (NaN) is neither: leave such forecasts out before.
    """
    p, o = np.asarray(chance, np.float64), np.asarray(happened, np.float64)
    if p.ndim != 1 or p.shape != o.shape or len(p) == 0:
        raise ValueError("a score needs one outcome a forecast, and at least one")
    if not ((p >= 0) & (p <= 1)).all() or not ((o == 0) | (o == 1)).all():
        raise ValueError("chances lie between 0 and 1, outcomes are 0 or 1")
    return p, o


def brier(chance: Floats, happened: Floats) -> float:
    """Mean squared difference between the chance given and what happened (0 or 1); 0 is perfect.

    Raises ValueError for a chance outside [0, 1] or an outcome other than 0 or 1, as do the scores below.
    """
    p, o = _judged(chance, happened)
    return float(np.mean((p - o) ** 2))


def skill_score(score: float, reference: float, *, perfect: float = 0.0) -> float | None:
    """Share of the way from the reference's score to the perfect one: 1 perfect, 0 no better, below 0 worse.

    None where the reference is perfect already.
    """
    return _ratio(reference - score, reference - perfect)


def fair_ensemble_brier(n_yes: Floats, n_members: Floats, happened: Floats) -> float:
    """Brier score that an infinite ensemble would be expected to have, from counts of members (formula from memory).

    For comparing ensembles of different sizes, each of at least 2 members; users saw the plain score.
    """
    k, m = np.asarray(n_yes, np.float64), np.asarray(n_members, np.float64)
    if k.shape != m.shape or not (m >= 2).all():
        raise ValueError("a fair score needs at least 2 members in each ensemble")
    _, o = _judged(k / m, happened)
    return float(np.mean((k / m - o) ** 2 - k * (m - k) / (m**2 * (m - 1))))


@dataclass(frozen=True, kw_only=True)
class BrierParts:
    """brier = reliability - resolution + uncertainty + within_bins.

    `within_bins` is what binning leaves over; it is 0 where all chances in a bin are equal.
    """

    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    within_bins: float


def brier_parts(chance: Floats, happened: Floats, edges: Floats | None = None) -> BrierParts:
    """Murphy's three parts, over equal chances or over the bins between `edges`.

    Edges increase and span the chances; a bin holds its lower edge, the last one both.
    """
    p, o = _judged(chance, happened)
    if edges is not None and not ((np.diff(edges) > 0).all() and edges[0] <= p.min() and p.max() <= edges[-1]):
        raise ValueError("edges increase and span the chances")
    if edges is None:
        _, group = np.unique(p, return_inverse=True)
    else:
        group = np.clip(np.searchsorted(edges, p, side="right") - 1, 0, len(edges) - 2)
    n = np.bincount(group)
    some = n > 0
    n = n[some]
    mean_p, mean_o = (np.bincount(group, weights=v)[some] / n for v in (p, o))
    share, base = n / n.sum(), o.mean()
    score = brier(p, o)
    reliability = float(np.sum(share * (mean_p - mean_o) ** 2))
    resolution = float(np.sum(share * (mean_o - base) ** 2))
    uncertainty = float(base * (1.0 - base))
    return BrierParts(
        brier=score,
        reliability=reliability,
        resolution=resolution,
        uncertainty=uncertainty,
        within_bins=score - (reliability - resolution + uncertainty),
    )


def area_under_roc(chance: Floats, happened: Floats) -> float | None:
    """Chance that a case that happened was given the higher chance, ties counting half; None without both kinds."""
    p, o = _judged(chance, happened)
    yes = o == 1
    if yes.all() or not yes.any():
        return None
    values, group = np.unique(p, return_inverse=True)
    no_at = np.bincount(group[~yes], minlength=len(values))
    below = np.cumsum(no_at) - no_at
    return float(np.mean((below + 0.5 * no_at)[group[yes]]) / (~yes).sum())


def ensemble_crps(members: Floats, observed: Floats, *, fair: bool = False) -> Floats:
    """Continuous ranked probability score of ensembles (last axis; 2 members at least where `fair`), in their unit."""
    x = np.sort(np.asarray(members, np.float64), axis=-1)
    m = x.shape[-1]
    if m < (2 if fair else 1):
        raise ValueError("an ensemble has at least 1 member, for a fair score at least 2")
    error = np.mean(np.abs(x - np.asarray(observed, np.float64)[..., None]), axis=-1)
    # The sum of |xi - xj| over all ordered pairs, from the sorted members.
    spread = 2.0 * np.sum((2 * np.arange(1, m + 1) - m - 1) * x, axis=-1)
    return np.asarray(error - spread / (2.0 * m * ((m - 1) if fair else m)))


def normal_crps(mean: float, sd: float, observed: float) -> float:
    """CRPS of a normal distribution, in the unit of the observation. Raises ValueError unless `sd` is above 0."""
    if not sd > 0:
        raise ValueError("sd lies above 0")
    z, normal = (observed - mean) / sd, NormalDist()
    return sd * (z * (2.0 * normal.cdf(z) - 1.0) + 2.0 * normal.pdf(z) - 1.0 / math.sqrt(math.pi))


@dataclass(frozen=True, kw_only=True)
class Contingency:
    """Yes-no forecasts against what happened: counts of hits, false alarms, misses and correct negatives.

    Every score is None where it is undefined (nothing to divide by), never 0. The false-alarm *ratio* is the share
    of alarms that were false; the probability of false detection (false-alarm *rate*) is the share of quiet cases
    that got an alarm: with rare events the first can be large while the second is tiny.
    """

    hits: int
    false_alarms: int
    misses: int
    correct_negatives: int

    def __post_init__(self) -> None:
        if min(self.hits, self.false_alarms, self.misses, self.correct_negatives) < 0:
            raise ValueError("counts are at least 0")

    @property
    def n(self) -> int:
        return self.hits + self.false_alarms + self.misses + self.correct_negatives

    @property
    def proportion_correct(self) -> float | None:
        return _ratio(self.hits + self.correct_negatives, self.n)

    @property
    def frequency_bias(self) -> float | None:
        return _ratio(self.hits + self.false_alarms, self.hits + self.misses)

    @property
    def probability_of_detection(self) -> float | None:
        return _ratio(self.hits, self.hits + self.misses)

    @property
    def probability_of_false_detection(self) -> float | None:
        return _ratio(self.false_alarms, self.false_alarms + self.correct_negatives)

    @property
    def false_alarm_ratio(self) -> float | None:
        return _ratio(self.false_alarms, self.hits + self.false_alarms)

    @property
    def critical_success_index(self) -> float | None:
        return _ratio(self.hits, self.hits + self.false_alarms + self.misses)

    @property
    def hits_by_luck(self) -> float | None:
        return _ratio((self.hits + self.misses) * (self.hits + self.false_alarms), self.n)

    @property
    def equitable_threat_score(self) -> float | None:
        lucky = self.hits_by_luck
        if lucky is None:
            return None
        return _ratio(self.hits - lucky, self.hits + self.false_alarms + self.misses - lucky)

    @property
    def peirce_skill_score(self) -> float | None:
        h, f = self.probability_of_detection, self.probability_of_false_detection
        return None if h is None or f is None else h - f

    @property
    def heidke_skill_score(self) -> float | None:
        a, b, c, d = self.hits, self.false_alarms, self.misses, self.correct_negatives
        return _ratio(2 * (a * d - b * c), (a + c) * (c + d) + (a + b) * (b + d))

    @property
    def odds_ratio(self) -> float | None:
        return _ratio(self.hits * self.correct_negatives, self.false_alarms * self.misses)

    @property
    def odds_ratio_skill_score(self) -> float | None:
        right, wrong = self.hits * self.correct_negatives, self.false_alarms * self.misses
        return _ratio(right - wrong, right + wrong)

    @property
    def extremal_dependence_index(self) -> float | None:
        h, f = self.probability_of_detection, self.probability_of_false_detection
        if h is None or f is None or h <= 0 or f <= 0:
            return None
        return _ratio(math.log(f) - math.log(h), math.log(f) + math.log(h))

    @property
    def symmetric_extremal_dependence_index(self) -> float | None:
        h, f = self.probability_of_detection, self.probability_of_false_detection
        if h is None or f is None or not (0 < h < 1 and 0 < f < 1):
            return None
        lh, lf, lmh, lmf = math.log(h), math.log(f), math.log(1 - h), math.log(1 - f)
        return _ratio(lf - lh - lmf + lmh, lf + lh + lmf + lmh)

    def relative_value(self, cost_over_loss: float) -> float | None:
        """Saving by acting on the alarms, as a share of the saving by perfect knowledge.

        `cost_over_loss`, in (0, 1), is what acting costs over what it saves where the event comes. None where the
        event always or never came. Raises ValueError for a ratio out of range.
        """
        if not 0 < cost_over_loss < 1:
            raise ValueError("cost_over_loss lies between 0 and 1")
        h, f, base = (
            self.probability_of_detection,
            self.probability_of_false_detection,
            _ratio(self.hits + self.misses, self.n),
        )
        if h is None or f is None or base is None:
            return None
        a = cost_over_loss
        always_or_never = min(a, base)
        return _ratio(always_or_never - f * (1 - base) * a + h * base * (1 - a) - base, always_or_never - base * a)


def _ratio(above: float, below: float) -> float | None:
    return None if below == 0 else above / below
