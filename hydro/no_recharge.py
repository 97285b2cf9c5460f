"""When the water would reach a level if nothing recharged it.

A pure recession is not a forecast: rain may come any day. It is shown next to the outlook as "if no recharge".
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.recession import RecessionModel, RecessionRules, find_recessions, fit_recessions

SECONDS_PER_DAY = 86400.0
#: Recessions are looked for at or below so many times the present discharge or the level, whichever is higher:
#: quick flow after rain says little about the slow fall of spring water.
WITHIN_TIMES = 2.0
NO_READING = "no reading"
ALREADY_BELOW = "already below the level"
FEW_RECESSIONS = "fewer than 3 recessions in the record"
BEYOND_HORIZON = "beyond the horizon"


def time_to_level(q0_m3s: float, level_m3s: float, rate: float, exponent: float = 1.0) -> float:
    """Days until -dQ/dt = `rate` Q^`exponent` brings `q0_m3s` down to `level_m3s` [m³/s; rate in (m³/s)^(1-b)/day].

    t = (L^(1-b) - Q0^(1-b)) / (a (b-1)), for b = 1 ln(Q0/L) / a. 0 where the level is not below the start. Any
    consistent unit of discharge will do. Raises ValueError for a discharge, level or rate that is not above 0.
    """
    if not (q0_m3s > 0 and level_m3s > 0 and rate > 0):
        raise ValueError("discharge, level and rate are above 0")
    fall = max(math.log(q0_m3s / level_m3s), 0.0)
    curve = (exponent - 1.0) * fall
    # expm1 keeps the limit b -> 1 exact, where the plain formula is 0 / 0.
    stretched = fall if curve == 0 else fall * math.expm1(curve) / curve
    return q0_m3s ** (1.0 - exponent) * stretched / rate


def released_volume_m3(q0_m3s: float, level_m3s: float, rate: float, exponent: float = 1.0) -> float:
    """Water released on the way down [m³]: (Q0^(2-b) - L^(2-b)) / (a (2-b)), for b = 2 ln(Q0/L) / a, times a day."""
    if not (q0_m3s > 0 and level_m3s > 0 and rate > 0):
        raise ValueError("discharge, level and rate are above 0")
    fall = max(math.log(q0_m3s / level_m3s), 0.0)
    curve = (exponent - 2.0) * fall
    stretched = fall if curve == 0 else fall * math.expm1(curve) / curve
    return SECONDS_PER_DAY * q0_m3s ** (2.0 - exponent) * stretched / rate


def boussinesq_rate(alpha: float, q0_m3s: float) -> float:
    """The rate for exponent 1.5 that equals Boussinesq's Q = Q0 / (1 + alpha t)² from `q0_m3s` (alpha in 1/day)."""
    return 2.0 * alpha / math.sqrt(q0_m3s)


@dataclass(frozen=True, eq=False, kw_only=True)
class NoRechargeStop:
    """The day on which discharge falls below the level if nothing recharges it.

    stop_date is the median, earliest and latest bound the share `level` of recessions like those of the record; a
    date beyond the horizon is None. `why_none` says why there is no median. `at_most_m3s` is the limit below which
    the recessions were taken (None = none).
    """

    stop_date: pd.Timestamp | None
    earliest: pd.Timestamp | None
    latest: pd.Timestamp | None
    level: float
    model: RecessionModel | None
    at_most_m3s: float | None
    why_none: str | None = None


def no_recharge_stop(
    discharge_m3s: pd.Series,
    issued: pd.Timestamp,
    *,
    stop_level_m3s: float,
    unsure: pd.Series | None = None,
    level: float = 0.95,
    horizon: int = 365,
    rules: RecessionRules | None = None,
) -> NoRechargeStop:
    """When the level is reached without recharge, from the last reading on or before `issued`.

    discharge_m3s   daily, regular, NaN = not measured; nothing after `issued` is used
    unsure          marks estimated or bridged days (bool, same index): they take no part in recessions
    level           coverage of the interval: ln rate of the next recession by Student's t from the events' spread
    horizon         days after `issued` beyond which no date is given
    rules           see `RecessionRules`; by default its own, within `WITHIN_TIMES` of present discharge and level
    """
    if not 0 < level < 1 or horizon < 1 or not stop_level_m3s > 0:
        raise ValueError("level lies between 0 and 1, horizon is at least 1, the stop level above 0")
    issued = pd.Timestamp(issued).normalize()
    past = discharge_m3s.loc[:issued]
    last = past.last_valid_index()

    def none(why: str, model: RecessionModel | None = None, limit: float | None = None) -> NoRechargeStop:
        return NoRechargeStop(
            stop_date=None, earliest=None, latest=None, level=level, model=model, at_most_m3s=limit, why_none=why
        )

    if last is None:
        return none(NO_READING)
    q0 = float(past.loc[last])
    if q0 < stop_level_m3s:
        return none(ALREADY_BELOW)
    past = past.loc[:last]
    doubtful = None if unsure is None else unsure.loc[:last]
    limit = rules.at_most_m3s if rules is not None else WITHIN_TIMES * max(q0, stop_level_m3s)
    chosen = rules if rules is not None else RecessionRules(at_most_m3s=limit)
    model = fit_recessions(find_recessions(past, unsure=doubtful, rules=chosen))
    if model is None and rules is None:
        limit = None
        model = fit_recessions(find_recessions(past, unsure=doubtful))
    if model is None:
        return none(FEW_RECESSIONS, None, limit)
    low, median, high = _rate_range(model, level)

    def date(rate: float) -> pd.Timestamp | None:
        # The first whole day on which discharge lies below the level.
        days = time_to_level(q0, stop_level_m3s, rate, model.exponent)
        # A very slow rate puts the day beyond any calendar: compare before a date is made of it.
        if days >= (issued - last).days + horizon:
            return None
        return last + pd.Timedelta(days=math.floor(days) + 1)

    stop = date(median)
    return NoRechargeStop(
        stop_date=stop,
        earliest=date(high),
        latest=date(low),
        level=level,
        model=model,
        at_most_m3s=limit,
        why_none=None if stop is not None else BEYOND_HORIZON,
    )


def _rate_range(model: RecessionModel, level: float) -> tuple[float, float, float]:
    """Low, median and high rate of the next recession."""
    from scipy.special import stdtrit

    logs = np.log(model.rates)
    n = len(logs)
    reach = float(stdtrit(n - 1, (1.0 + level) / 2.0)) * float(logs.std(ddof=1)) * math.sqrt(1.0 + 1.0 / n)
    middle = float(np.median(logs))
    return math.exp(middle - reach), math.exp(middle), math.exp(middle + reach)
