"""Is the outlet running today: what the gauge says, what a person last saw, and both together.

The model, on the log scale. The margin of a day is M = ln(true discharge / level). The gauge gives
M = ln(published / level) + S + e: S is the error that stays (of the level, and the lasting part of the rating error),
e the error of the day. A person who looked saw the sign of M on that day, but for a small chance of a mistaken note.
So a sighting teaches S: an outlet seen dry at a discharge above the level moves the level up.

What it taught fades. Between the sighting and the reading the margin may have moved by more than the gauge shows,
with a standard deviation of `fade` x √days and of `change_error` x |change of ln discharge|. On days without a
reading, ln discharge itself wanders by `wander` x √days. The margins then and now are jointly normal, so P(running
now | what was seen) is a ratio of bivariate normal probabilities; as the sighting ages their correlation goes to 0
and the answer to the gauge's own. A note that gauge and level did not expect also raises the chance that they are
broken, and so far the note is followed. The assumptions are constants below and arguments everywhere.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import pandas as pd

from hydro.discharge_error import DEFAULT_ERROR_PERCENT, log_sigma
from hydro.flow_variability import FlowVariability
from hydro.running_evidence import KnownLevel, Measured, RunningNow, Seen
from hydro.sighting_update import MarginPair, mean_shift, positive_now, surprise
from hydro.sightings import POOLED, RUNNING

#: Share of the variance of a reading's error that lasts (rating, sensor): "mostly systematic" (an assumption).
LASTING_SHARE = 0.8
#: Chance that a note of running or dry is wrong: another outlet, another day, a slip of the pen (an assumption).
MISTAKEN = 0.01
#: Chance that the gauge or the level no longer speaks for the outlet: a shifted rating, a moved sill, a blocked channel
#: (an assumption). It counts only so far as a note that was not to be expected raises it.
BROKEN = 0.05
#: Share of a measured change of ln discharge that may be wrong, as a standard deviation (an assumption).
CHANGE_ERROR = 0.1
#: A reading older than this yields to the outlook where one is given [days].
FRESH_DAYS = 7
_NORMAL = NormalDist()


def running_now(
    *,
    today: pd.Timestamp,
    level: KnownLevel,
    reading: Measured | None,
    seen: Seen | None,
    variability: FlowVariability,
    error_percent: float = DEFAULT_ERROR_PERCENT,
    outlook_probability: float | None = None,
    fresh_days: int = FRESH_DAYS,
    lasting_share: float = LASTING_SHARE,
    mistaken: float = MISTAKEN,
    change_error: float = CHANGE_ERROR,
    broken: float = BROKEN,
) -> RunningNow:
    """P(the outlet is running on `today`) from the last reading, the last sighting and, where stale, an outlook.

    level                the level that decides: the stop level of a running outlet, the restart level of a dry one
    variability          how the discharge moves (`flow_variability`)
    error_percent        95 % error of a published discharge [%]
    outlook_probability  P(running today) of a forecast; used in place of a reading older than `fresh_days`
    lasting_share        of the variance of that error, the part that is the same on every day
    mistaken             chance that a note of the surface is wrong (above 0, below 1/2)
    change_error         part of a measured change of ln discharge that may be wrong
    broken               chance that gauge or level no longer speak for the outlet

    A published discharge of 0 or below counts as below every level. Raises ValueError for a day after `today`, a
    share or probability out of range, or a discharge on the day of the sighting without a reading as new as it.
    """
    _check(today, reading, seen, outlook_probability, lasting_share, mistaken)
    ages = {
        "reading_age_days": None if reading is None else (today - reading.day).days,
        "sighting_age_days": None if seen is None else (today - seen.day).days,
    }
    error = log_sigma(error_percent) ** 2
    lasting, daily = level.log_sd**2 + lasting_share * error, (1.0 - lasting_share) * error
    measured = reading is not None and reading.discharge_m3s > 0
    change, unseen = _since(today, reading if measured else None, seen, variability, change_error)
    told = seen is not None and seen.surface != POOLED
    why_not_seen = None if told else "no sighting" if seen is None else "standing water is neither running nor dry"
    alone = None
    if seen is not None and told:
        free = MarginPair(
            mean_then=0.0,
            sd_then=variability.spread,
            mean_now=change or 0.0,
            sd_now=math.hypot(variability.spread, unseen or 0.0),
            covariance=variability.spread**2,
        )
        alone = positive_now(free, was_positive=seen.surface == RUNNING, mistaken=mistaken)
    if reading is None or not measured:
        combined, base, why = _without_margin(reading, seen, alone, outlook_probability)
        return RunningNow(
            from_measurement=None if reading is None else 0.0,
            from_sighting=alone,
            from_outlook=outlook_probability,
            combined=combined,
            base=base,
            why_no_measurement="no reading" if reading is None else None,
            why_no_sighting=why_not_seen,
            why_no_combined=why,
            fade_sd=unseen,
            **ages,
        )
    margin = math.log(reading.discharge_m3s / level.level_m3s)
    blind = variability.wander_per_root_day**2 * (today - reading.day).days
    margin_sd = math.sqrt(lasting + daily + blind)
    mean_now, base = margin, "measurement"
    if outlook_probability is not None and (today - reading.day).days > fresh_days:
        mean_now, base = margin_sd * _z(outlook_probability), "outlook"
    combined = _NORMAL.cdf(mean_now / margin_sd)
    weight = after = None
    if seen is not None and told:
        pair = _pair(level, reading, seen, mean_now, margin_sd, lasting, daily, variability, change_error)
        was_running = seen.surface == RUNNING
        combined = positive_now(pair, was_positive=was_running, mistaken=mistaken)
        weight = pair.correlation
        # A person on the spot goes before a model that did not expect what she saw, and the less the longer ago it was.
        doubt = surprise(pair, was_positive=was_running, mistaken=mistaken, broken=broken) * max(weight, 0.0)
        combined += doubt * ((combined if alone is None else alone) - combined)
        shift = mean_shift(pair, covariance=-(level.log_sd**2), was_positive=was_running, mistaken=mistaken)
        after = level.level_m3s * math.exp(shift)
    return RunningNow(
        from_measurement=_NORMAL.cdf(margin / margin_sd),
        from_sighting=alone,
        from_outlook=outlook_probability,
        combined=combined,
        base=base,
        why_no_sighting=why_not_seen,
        margin_log=margin,
        margin_sd=margin_sd,
        change_log=change,
        fade_sd=unseen,
        sighting_weight=weight,
        level_after_sighting_m3s=after,
        **ages,
    )


def _since(
    today: pd.Timestamp,
    reading: Measured | None,
    seen: Seen | None,
    variability: FlowVariability,
    change_error: float,
) -> tuple[float | None, float | None]:
    """Measured change of ln discharge since the sighting, and the standard deviation of what went unmeasured."""
    if seen is None:
        return None, None
    if reading is None or not _paired(reading, seen):
        return None, variability.wander_per_root_day * math.sqrt((today - seen.day).days)
    change = math.log(reading.discharge_m3s / (seen.discharge_m3s or math.nan))
    missed = _missed(reading, seen, change, variability, change_error)
    return change, math.sqrt(missed + variability.wander_per_root_day**2 * (today - reading.day).days)


def _paired(reading: Measured, seen: Seen) -> bool:
    """Whether a measured change leads from the sighting to the reading."""
    return seen.day <= reading.day and seen.discharge_m3s is not None and seen.discharge_m3s > 0


def _missed(reading: Measured, seen: Seen, change: float, variability: FlowVariability, change_error: float) -> float:
    """Variance of what a measured change may have missed."""
    return variability.fade_per_root_day**2 * (reading.day - seen.day).days + (change_error * change) ** 2


def _pair(
    level: KnownLevel,
    reading: Measured,
    seen: Seen,
    mean_now: float,
    sd_now: float,
    lasting: float,
    daily: float,
    variability: FlowVariability,
    change_error: float,
) -> MarginPair:
    """The margins on the day of the sighting and today."""
    blind = variability.wander_per_root_day**2 * abs((seen.day - reading.day).days)
    then, variance, shared = reading.discharge_m3s, lasting + daily + blind, lasting + daily
    if seen.day > reading.day:  # both lie after the reading, and what the flow did up to the sighting is shared
        shared = variance
    elif seen.discharge_m3s is not None and _paired(reading, seen):
        then = seen.discharge_m3s
        missed = _missed(reading, seen, math.log(reading.discharge_m3s / then), variability, change_error)
        variance = lasting + daily + missed
        shared = lasting + (daily if seen.day == reading.day else 0.0)
    return MarginPair(
        mean_then=math.log(then / level.level_m3s),
        sd_then=math.sqrt(variance),
        mean_now=mean_now,
        sd_now=sd_now,
        covariance=shared,
    )


def _without_margin(
    reading: Measured | None, seen: Seen | None, alone: float | None, outlook: float | None
) -> tuple[float | None, str | None, str | None]:
    """Combined probability, its base and the reason for none, where no reading has a logarithm."""
    if reading is not None:
        contrary = seen is not None and seen.surface == RUNNING and seen.day >= reading.day
        if contrary:
            return None, None, "the gauge gives no flow, and the outlet was seen running on that day or later"
        return 0.0, "measurement", None
    if outlook is not None:
        return outlook, "outlook", None
    return alone, None, None if alone is not None else "no reading, no outlook and no sighting of running or dry"


def _z(probability: float) -> float:
    """Normal quantile, kept finite for a probability of 0 or 1."""
    return _NORMAL.inv_cdf(min(max(probability, 1e-12), 1.0 - 1e-12))


def _check(
    today: pd.Timestamp,
    reading: Measured | None,
    seen: Seen | None,
    outlook: float | None,
    lasting_share: float,
    mistaken: float,
) -> None:
    for day in [dated.day for dated in (reading, seen) if dated is not None]:
        if day > today:
            raise ValueError(f"{day:%Y-%m-%d} lies after the day asked, {today:%Y-%m-%d}")
    if seen is not None and seen.discharge_m3s is not None and (reading is None or reading.day < seen.day):
        raise ValueError("the discharge on the day of the sighting is newer than the last reading")
    if outlook is not None and not 0 <= outlook <= 1:
        raise ValueError("a probability lies between 0 and 1")
    if not 0 <= lasting_share <= 1:
        raise ValueError("the lasting share of the error lies between 0 and 1")
    if not 0 < mistaken < 0.5:
        raise ValueError("the chance of a mistaken note lies above 0 and below 1/2")
