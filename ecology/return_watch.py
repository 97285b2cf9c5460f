"""How far apart visits may lie so that a return is known soon after it.

Animals return on some day, visits come every s days, and which day of the s the return falls on is chance. Of the days
0 … N after the return (N + 1 of them; a visit on the day of the return can find) each phase holds
m = ⌊(N + 1) ÷ s⌋ visits or one more, the shares of phases following from (N + 1) = m·s + r:

    P(known within N days) = 1 − [(s − r)·(1 − p)^m + r·(1 − p)^(m + 1)] ÷ s.

The phase that is worst for the person gets m visits. Elementary counting; no source beyond it. p is the chance that
one visit finds animals that are back.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
import pandas as pd

from ecology.survey_plan import DetectionRange

#: Longest watch and longest spacing considered [days].
LONGEST_DAYS = 1000


def known_within(detection: float, every_days: int, within_days: int) -> float:
    """Chance that a return is known at most `within_days` after it when a visit is made every `every_days`."""
    m, r = _counts(every_days, within_days)
    missed = 1.0 - detection
    return 1.0 - ((every_days - r) * missed**m + r * missed ** (m + 1)) / every_days


def known_within_at_worst(detection: float, every_days: int, within_days: int) -> float:
    """The same where the return falls right after a visit."""
    return float(1.0 - (1.0 - detection) ** _counts(every_days, within_days)[0])


def _counts(every_days: int, within_days: int) -> tuple[int, int]:
    if every_days < 1 or within_days < 0:
        raise ValueError(f"visits are at least a day apart and days are 0 or more, not {every_days} and {within_days}")
    return divmod(within_days + 1, every_days)


def widest_spacing(detection: float, within_days: int, sure: float) -> int | None:
    """The widest whole spacing [days] that knows a return within `within_days` with chance `sure`; None if even daily
    visits do not."""
    if not 0.0 < sure < 1.0:
        raise ValueError(f"sure lies between 0 and 1, not at {sure}")
    # The chance falls with the spacing (a convex function of (N + 1) ÷ s, interpolated), so bisection finds the edge.
    low, high = 0, (within_days + 1) * 2 + math.ceil((within_days + 1) / sure)
    while high - low > 1:
        middle = (low + high) // 2
        if known_within(detection, middle, within_days) >= sure * (1.0 - 1e-12):
            low = middle
        else:
            high = middle
    return low or None


@dataclass(frozen=True, kw_only=True)
class LagShape:
    """A fitted distribution of return lags, by the parameters that the fits of lags name."""

    distribution: str
    parameters: Mapping[str, float]

    def quantile(self, share: float) -> float:
        """The lag [days] within which `share` of returns come, 0 < share < 1."""
        p = self.parameters
        if self.distribution == "weibull":
            return float(p["scale"] * (-math.log1p(-share)) ** (1.0 / p["shape"]))
        if self.distribution == "lognormal":
            return float(math.exp(p["mu"] + p["sigma"] * NormalDist().inv_cdf(share)))
        if self.distribution == "loglogistic":
            return float(math.exp(p["mu"] + p["scale"] * (math.log(share) - math.log1p(-share))))
        raise ValueError(f"a lag is weibull, lognormal or loglogistic, not {self.distribution}")

    def share_by(self, days: float) -> float:
        """The share of returns within `days`."""
        if days <= 0.0:
            return 0.0
        p = self.parameters
        if self.distribution == "weibull":
            return float(-math.expm1(-((days / p["scale"]) ** p["shape"])))
        z = (math.log(days) - p["mu"]) / p["sigma" if self.distribution == "lognormal" else "scale"]
        if self.distribution == "lognormal":
            return float(NormalDist().cdf(z))
        if self.distribution == "loglogistic":
            return float(1.0 / (1.0 + math.exp(-z)))
        raise ValueError(f"a lag is weibull, lognormal or loglogistic, not {self.distribution}")


@dataclass(frozen=True, eq=False, kw_only=True)
class WatchPlan:
    """Visits after a restart that know a return soon.

    every_days      widest spacing for the low end of detection [days]; None where even daily visits are not enough
    every_at_estimate   the same for the estimate (None where a range alone is known)
    visits_needed   visits of the whole watch at that spacing, the first on the first running day
    watch_days      days after the restart for which the watch goes on
    start_day       first visit of a watch that spares the early days, None where the lags are not known
    share_before_start  share of returns before that day
    visits_from_start   visits of the watch that begins then
    curve           visits (of the whole watch), every_days, probability, low, high, at_worst (low end of detection,
                    return right after a visit)
    """

    detection: DetectionRange
    sure: float
    within_days: int
    watch_days: int
    every_days: int | None
    every_at_estimate: int | None
    visits_needed: int | None
    start_day: int | None
    share_before_start: float | None
    visits_from_start: int | None
    curve: pd.DataFrame


#: A watch that spares the early days begins when so small a share of returns has come.
EARLY_SHARE = 0.05


def plan_watch(
    detection: DetectionRange, *, sure: float, within_days: int, watch_days: int, lag: LagShape | None = None
) -> WatchPlan:
    """Spacing of visits after water is back, and the visits that a watch of `watch_days` takes at it."""
    if not 1 <= watch_days <= LONGEST_DAYS or not 0 <= within_days <= LONGEST_DAYS:
        raise ValueError(f"days lie within 0 to {LONGEST_DAYS}, not {within_days} and {watch_days}")
    every = widest_spacing(detection.low, within_days, sure)
    middle = detection.low if detection.value is None else detection.value
    start = None if lag is None else int(min(lag.quantile(EARLY_SHARE), watch_days))
    widest = max(2 * (within_days + 1), 28, 0 if every is None else 2 * every)
    spacing = np.arange(min(widest, watch_days), 0, -1)
    curve = pd.DataFrame(
        {
            "visits": watch_days // spacing + 1,
            "every_days": spacing,
            "probability": [known_within(middle, int(s), within_days) for s in spacing],
            "low": [known_within(detection.low, int(s), within_days) for s in spacing],
            "high": [known_within(detection.high, int(s), within_days) for s in spacing],
            "at_worst": [known_within_at_worst(detection.low, int(s), within_days) for s in spacing],
        }
    )
    return WatchPlan(
        detection=detection,
        sure=sure,
        within_days=within_days,
        watch_days=watch_days,
        every_days=every,
        every_at_estimate=None if detection.value is None else widest_spacing(detection.value, within_days, sure),
        visits_needed=None if every is None else watch_days // every + 1,
        start_day=start,
        share_before_start=None if lag is None or start is None else lag.share_by(start),
        visits_from_start=None if every is None or start is None else (watch_days - start) // every + 1,
        curve=curve,
    )
