"""How many visits to conclude that animals are absent, and what visits without a find leave of the chance that they
are there.

A visit finds animals that are there with probability p, independently of the other visits. Then k visits all miss them
with probability (1 − p)^k, and by Bayes' rule a prior probability ψ that they are there becomes
ψ(1 − p)^k ÷ (1 − ψ + ψ(1 − p)^k). p is seldom known well: everything is given over a range of it, and the number of
visits that is planned with is the one for the low end.

Sources: McArdle 1990, Oikos 57:276–277, and Kéry 2002, Journal of Wildlife Management 66:330–338 (number of visits);
Wintle and others 2012, Diversity and Distributions 18:417–424 (with a prior); MacKenzie and Royle 2005, Journal of
Applied Ecology 42:1105–1114 (visits a site).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

#: Two chances that differ by less than this share count as equal: 0.8⁶ and 0.262144 differ by rounding alone.
_ROUNDING = 1e-9
#: No plan is longer than this many visits.
MOST_VISITS = 1000
#: Detections for which numbers are shown where nothing is known of it.
ASSUMED_DETECTIONS = (0.3, 0.5, 0.7)


@dataclass(frozen=True, eq=False, kw_only=True)
class DetectionRange:
    """Chance that one planned visit finds animals that are there: `value` and the range `low` to `high`.

    `searches` is the number of searches that it was estimated from, None where a person gave it; `value` is None where
    only a range was given. `typical_effort` is the effort it holds for (NaN = not known).
    """

    low: float
    high: float
    value: float | None = None
    searches: int | None = None
    typical_effort: float = math.nan
    caveats: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        middle = self.low if self.value is None else self.value
        if not 0.0 <= self.low <= middle <= self.high <= 1.0:
            raise ValueError(f"detection is a range within 0 to 1, not {self.low} to {self.high} around {self.value}")

    def for_effort(self, effort: float) -> DetectionRange:
        """The same for visits of another effort: 1 − (1 − p)^(effort ÷ typical effort).

        Raises ValueError where the typical effort is not known or an effort is not above 0.
        """
        if not (effort > 0.0 and self.typical_effort > 0.0):
            raise ValueError(f"efforts are above 0, not {effort} and {self.typical_effort}")
        times = effort / self.typical_effort
        return DetectionRange(
            low=float(probability_found(self.low, times)),
            high=float(probability_found(self.high, times)),
            value=None if self.value is None else float(probability_found(self.value, times)),
            searches=self.searches,
            typical_effort=effort,
            caveats=self.caveats,
        )


def probability_found(detection: float, visits: np.ndarray | float) -> np.ndarray:
    """Chance that at least one of `visits` finds animals that are there, 1 − (1 − p)^visits."""
    visits = np.asarray(visits, dtype=float)
    if not 0.0 <= detection <= 1.0 or np.any(visits < 0.0):
        raise ValueError(f"detection lies within 0 to 1 and visits are 0 or more, not {detection} and {visits}")
    if detection == 1.0:
        return np.where(visits > 0.0, 1.0, 0.0)
    return -np.expm1(visits * math.log1p(-detection))


def probability_present(prior: float, detection: float, visits: np.ndarray | float) -> np.ndarray:
    """Chance that animals are there after `visits` without a find, from the chance before them."""
    if not 0.0 <= prior <= 1.0:
        raise ValueError(f"a prior probability lies within 0 to 1, not {prior}")
    missed = prior * (1.0 - probability_found(detection, visits))
    return np.divide(missed, missed + (1.0 - prior), out=np.zeros_like(missed), where=missed > 0.0)


def visits_for_absence(detection: float, alpha: float) -> float:
    """The smallest number of visits that would all miss animals that are there with a chance of at most `alpha`.

    The least whole n with (1 − p)^n ≤ alpha, 0 < alpha < 1; infinite for p = 0. Where (1 − p)^n equals alpha, n is
    enough although the rounded logarithms may say n + 1.
    """
    _inside("alpha", alpha)
    return _least_power(detection, math.log(alpha))


def visits_for_posterior(prior: float, detection: float, alpha: float) -> float:
    """The smallest number of visits without a find after which animals are there with a chance of at most `alpha`.

    0 where the prior is that low already; infinite where detection is 0 or the prior is 1.
    """
    _inside("alpha", alpha)
    if not 0.0 <= prior <= 1.0:
        raise ValueError(f"a prior probability lies within 0 to 1, not {prior}")
    if prior <= alpha * (1.0 + _ROUNDING):
        return 0.0
    if prior == 1.0:
        return math.inf
    return _least_power(detection, math.log(alpha) - math.log1p(-alpha) + math.log1p(-prior) - math.log(prior))


def _least_power(detection: float, log_target: float) -> float:
    """The least whole n ≥ 1 with n · ln(1 − p) ≤ log_target, up to rounding."""
    if not 0.0 <= detection <= 1.0:
        raise ValueError(f"detection lies within 0 to 1, not {detection}")
    if detection == 0.0:
        return math.inf
    if detection == 1.0:
        return 1.0
    ratio = log_target / math.log1p(-detection)
    return float(max(math.ceil(ratio - _ROUNDING * max(ratio, 1.0)), 1))


def _inside(name: str, value: float) -> None:
    if not 0.0 < value < 1.0:
        raise ValueError(f"{name} lies between 0 and 1, not at {value}")


def best_visits_per_site(occupied: float, detection: float, most: int = 200) -> int:
    """Visits to each of many sites that tell the share of occupied sites best for a fixed total number of visits.

    occupied   share of sites with animals, above 0 and below 1
    detection  chance of a find by one visit to an occupied site, above 0 and at most 1

    The least asymptotic variance of the share in a design where each site gets K visits (MacKenzie and Royle 2005).
    At least 2: with one visit, animals that are rare and animals that are missed look alike.
    """
    _inside("occupied", occupied)
    if not 0.0 < detection <= 1.0:
        raise ValueError(f"detection lies above 0 and not above 1, not at {detection}")
    k = np.arange(2, most + 1, dtype=float)
    found = probability_found(detection, k)
    spare = found - k * detection * (1.0 - detection) ** (k - 1.0)
    with np.errstate(divide="ignore"):
        cost = k * (1.0 - occupied + np.where(spare > 0.0, (1.0 - found) / spare, np.inf))
    return int(k[np.argmin(cost)])


@dataclass(frozen=True, eq=False, kw_only=True)
class AbsencePlan:
    """Visits to conclude absence.

    visits_needed     for the low end of detection: None where no number up to `MOST_VISITS` is enough
    at_estimate       for the estimate of detection (None where a range alone is known, or none is enough)
    curve             visits, probability (of a find if animals are there), low, high; with a prior also
                      present, present_low, present_high (chance that they are there after visits without a find).
                      `probability` is for the low end where a range alone is known.
    """

    detection: DetectionRange
    sure: float
    prior: float | None
    visits_needed: int | None
    at_estimate: int | None
    curve: pd.DataFrame


def plan_absence(
    detection: DetectionRange, *, sure: float, prior: float | None = None, curve_to: int | None = None
) -> AbsencePlan:
    """Visits after which none found means absence.

    sure    without a prior: the chance that the visits would have found animals that are there; with a prior: the
            chance that animals are absent after as many visits without a find
    prior   chance that animals are there before the first visit
    curve_to   visits up to which the curve goes; None = half as far again as needed
    """
    _inside("sure", sure)

    def needed(p: float) -> int | None:
        n = visits_for_absence(p, 1.0 - sure) if prior is None else visits_for_posterior(prior, p, 1.0 - sure)
        return int(n) if n <= MOST_VISITS else None

    most = needed(detection.low)
    shown = most if most is not None else needed(detection.high if detection.value is None else detection.value)
    if curve_to is None:
        curve_to = min(max(6, math.ceil(1.5 * (20 if shown is None else shown))), MOST_VISITS)
    visits = np.arange(curve_to + 1)
    middle = detection.low if detection.value is None else detection.value
    curve = pd.DataFrame(
        {
            "visits": visits,
            "probability": probability_found(middle, visits),
            "low": probability_found(detection.low, visits),
            "high": probability_found(detection.high, visits),
        }
    )
    if prior is not None:
        curve["present"] = probability_present(prior, middle, visits)
        curve["present_low"] = probability_present(prior, detection.high, visits)
        curve["present_high"] = probability_present(prior, detection.low, visits)
    return AbsencePlan(
        detection=detection,
        sure=sure,
        prior=prior,
        visits_needed=most,
        at_estimate=None if detection.value is None else needed(detection.value),
        curve=curve,
    )


def fewer_than(needed: int) -> list[int]:
    """Three quarters, half and a quarter of the visits needed, rounded up, as far as they are fewer; at least 1."""
    found = {math.ceil(share * needed) for share in (0.75, 0.5, 0.25)}
    return sorted((n for n in found if 1 <= n < needed), reverse=True)
