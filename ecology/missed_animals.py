"""Return lags that allow for animals being there and missed.

After water returns, the first find comes late twice: between searches, and after searches that missed animals already
there. Searches after a first find show how often a search misses; with that, the likelihood runs over the unknown
return. Where the searches cannot tell the two apart that is said, and medians for several assumed detections stand
beside each other.

Times are days elapsed from the start of the first running day (day 0 of `ecology.return_lag`); day d covers
(d, d + 1], so that a median of 45.3 falls on day 45.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ecology.missed_animals_checks import (
    AfterFirstFind,
    after_first_find,
    doubts,
    refuse_what_tells_nothing_of_detection,
)
from ecology.missed_animals_peak import Estimate, Peak, ReturnDistribution, bootstrap_median, climb
from ecology.missed_animals_searches import Histories, SpellSearches, lay_out
from ecology.not_estimable import NotEstimable

__all__ = [
    "ASSUMED_DETECTIONS",
    "RETURN_DISTRIBUTIONS",
    "AssumedMedian",
    "Estimate",
    "MissedAnimalsFit",
    "SpellSearches",
    "fit_missed_animals",
]

RETURN_DISTRIBUTIONS: tuple[ReturnDistribution, ...] = ("weibull", "lognormal", "loglogistic")
#: Detections that the median is given for beside each other; 1 takes first finds at face value.
ASSUMED_DETECTIONS = (1.0, 0.7, 0.5, 0.3)


@dataclass(frozen=True, eq=False, kw_only=True)
class AssumedMedian:
    """The median lag [days] if every search of typical effort found with probability `detection`; None with `why`."""

    detection: float
    median_days: Estimate | None
    why: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class MissedAnimalsFit:
    """Return lags allowing for missed animals.

    distribution         of the lag
    detection            probability that a search of typical effort finds animals once they are back
    detection_assumed    it was given, not estimated
    median_days          median lag [days]; both intervals are profile likelihood intervals at `level`, the median's by
                         Student's t with spells − 2 degrees of freedom
    parameters           weibull {shape, scale}, lognormal {mu, sigma}, loglogistic {mu, scale}, as in `fit_intervals`
    log_likelihood, aic  with an assumed detection, those of the searches up to the first finds
    covariance           of (ln median, ln σ, logit detection); NaN for an assumed detection and for a least spread
    spread_is_least      the searches do not tell the spread of the lags from the least allowed (see the caveats)
    why                  why the fields above, `detection` to `covariance`, are None; else None
    medians_by_detection for each of ASSUMED_DETECTIONS; the first takes first finds at face value
    after                searches after first finds, from which detection is known
    typical_effort       the median known effort; NaN where none is known
    n_spells, n_found    spells with searches, and those with a find
    n_searches, n_effort_unknown   searches of these spells, and those without a known effort
    bootstrap_median_days, bootstrap_failed   interval from resampled spells (None without draws), draws that failed
    caveats              sentences to print beside the numbers
    """

    distribution: ReturnDistribution
    detection: Estimate | None
    detection_assumed: bool
    median_days: Estimate | None
    parameters: Mapping[str, float] | None
    log_likelihood: float | None
    aic: float | None
    covariance: np.ndarray | None
    spread_is_least: bool
    why: str | None
    medians_by_detection: tuple[AssumedMedian, ...]
    after: AfterFirstFind
    typical_effort: float
    n_spells: int
    n_found: int
    n_searches: int
    n_effort_unknown: int
    bootstrap_median_days: Estimate | None
    bootstrap_failed: int
    caveats: tuple[str, ...]
    level: float


def fit_missed_animals(
    spells: Sequence[SpellSearches],
    *,
    distribution: ReturnDistribution | Literal["lowest-aic"] = "weibull",
    level: float = 0.95,
    detection: float | None = None,
    within_days: float = 60.0,
    draws: int = 0,
    seed: int | np.random.Generator = 1,
    progress: Callable[[int, int], None] | None = None,
) -> MissedAnimalsFit:
    """Lag distribution and detection per search by maximum likelihood, from all spells together.

    A search of effort e after the return finds with probability 1 − (1 − p)^(e ÷ typical effort), independently of
    the others; an unknown effort counts as the typical one.

    spells        those without a search say nothing and are left out
    distribution  "lowest-aic" takes the best of the three
    detection     assume this p (0 < p ≤ 1) instead of estimating it
    within_days   searches later than this after a first find do not count for p, which may by then be higher than
                  soon after the return (inf: all count)
    draws         resamples of whole spells for a bootstrap interval of the median
    seed          of the resamples
    progress      told (done, draws) after each resample

    Valid where animals that are back stay as long as searches count. Where the searches do not determine detection or
    the lags, the result says why and has the medians by assumed detection. Raises NotEstimable where no search found
    anything, ValueError for options out of range.
    """
    _check_options(distribution, level, detection, within_days, draws)
    used = [s for s in spells if s.days.size]
    n_found = sum(bool(s.found.any()) for s in used)
    if not n_found:
        if not used:
            raise NotEstimable("No dry spell has searches after it.")
        raise NotEstimable(
            f"No search after any of the {len(used)} spells found animals: only a lower bound of the lags is known."
        )
    effort = np.concatenate([s.effort for s in used])
    known = effort[~np.isnan(effort)]
    typical = float(np.median(known)) if known.size else np.nan
    unit = typical if known.size else 1.0
    after = after_first_find(used, within_days)
    to_first_find = lay_out(used, unit, after=False)
    histories = lay_out(used, unit, within_days=within_days) if detection is None else to_first_find
    names = RETURN_DISTRIBUTIONS if distribution == "lowest-aic" else (distribution,)
    peak, median, found_with, why = None, None, None, None
    try:
        if detection is None:
            refuse_what_tells_nothing_of_detection(len(used), after)
        peak = _highest(histories, names, detection, after)
        median, found_with = peak.median_interval(histories, level), peak.detection_interval(histories, level)
    except NotEstimable as refused:
        peak, median, found_with, why = None, None, None, refused.reason
    shape = names[0] if peak is None else peak.distribution
    bootstrap, failed = None, 0
    if peak is not None and draws:
        rng = np.random.default_rng(seed)
        bootstrap, failed = bootstrap_median(histories, peak, level=level, draws=draws, rng=rng, progress=progress)
    caveats = doubts(
        used,
        after,
        within_days,
        estimated=peak is not None and detection is None,
        least_spread=peak is not None and peak.spread_is_least,
        median=None if median is None else median.value,
    )
    return MissedAnimalsFit(
        distribution=shape,
        detection=found_with,
        detection_assumed=detection is not None,
        median_days=median,
        parameters=None if peak is None else peak.parameters(),
        log_likelihood=None if peak is None else peak.value,
        aic=None if peak is None else 2.0 * len(peak.free) - 2.0 * peak.value,
        covariance=None if peak is None else peak.covariance_with_logit(),
        spread_is_least=peak is not None and peak.spread_is_least,
        why=why,
        medians_by_detection=tuple(_assumed(to_first_find, shape, p, after, level) for p in ASSUMED_DETECTIONS),
        after=after,
        typical_effort=typical,
        n_spells=len(used),
        n_found=n_found,
        n_searches=int(effort.size),
        n_effort_unknown=int(effort.size - known.size),
        bootstrap_median_days=bootstrap,
        bootstrap_failed=failed,
        caveats=caveats,
        level=level,
    )


def _check_options(distribution: str, level: float, detection: float | None, within_days: float, draws: int) -> None:
    if distribution not in (*RETURN_DISTRIBUTIONS, "lowest-aic"):
        raise ValueError(f"distribution is lowest-aic or one of {', '.join(RETURN_DISTRIBUTIONS)}, not {distribution}")
    if not 0.0 < level < 1.0:
        raise ValueError(f"level lies between 0 and 1, not {level}")
    if detection is not None and not 0.0 < detection <= 1.0:
        raise ValueError(f"detection lies above 0 and not above 1, not {detection}")
    if not within_days >= 0.0 or draws < 0:
        raise ValueError(f"within_days and draws are 0 or more, not {within_days} and {draws}")


def _highest(
    histories: Histories, names: Sequence[ReturnDistribution], detection: float | None, after: AfterFirstFind
) -> Peak:
    """The peak of the distribution with the highest likelihood (all have as many parameters: the lowest AIC)."""
    peaks, refused = [], []
    for name in names:
        try:
            peaks.append(climb(histories, name, detection=detection, after=after))
        except NotEstimable as reason:
            refused.append(reason)
    if not peaks:
        raise refused[0]
    return max(peaks, key=lambda peak: peak.value)


def _assumed(
    histories: Histories, distribution: ReturnDistribution, detection: float, after: AfterFirstFind, level: float
) -> AssumedMedian:
    try:
        peak = climb(histories, distribution, detection=detection, after=after)
        return AssumedMedian(detection=detection, median_days=peak.median_interval(histories, level))
    except NotEstimable as refused:
        return AssumedMedian(detection=detection, median_days=None, why=refused.reason)
