"""Twenty invented years of spring discharge: rain, two reservoirs, three gauges and their errors.

Every number here is invented. The shape is that of a karst spring: rain is likelier and soaks in better from
November to May, wet and dry years come in runs, a small quick reservoir answers storms within days and a large
slow one drains by −dQ/dt = a·Q^b with b = 1.375, so that recession slows down as the spring falls.
Discharge is in cubic feet per second [ft³/s] inside this module, as the invented agency publishes it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]

FIRST_DAY = pd.Timestamp("2005-10-01")
LAST_DAY = pd.Timestamp("2025-10-19")
GAUGES = ("north", "mill", "lower")

#: What the simulation starts from; the years before the record let the reservoirs forget it.
SPIN_UP_FROM = pd.Timestamp("1999-10-01")

RECESSION_EXPONENT = 1.375  # b in −dQ/dt = a·Q^b [1]
RECESSION_FACTOR = 0.00155  # a [(ft³/s)^(1−b)/day]
QUICK_DAYS = 5.0  # e-folding time of the quick reservoir [days]
QUICK_SHARE = 0.05  # share of the recharge that takes the quick way [1]
DELAY_DAYS = 4.0  # e-folding time of the way down to the slow reservoir [days]

GAUGE_SHARES = {"north": 0.43, "mill": 0.33, "lower": 0.24}  # mean shares of the sum [1]
SHARE_WANDER = 0.03  # sd of the logarithm of a share's slow wander [1]
RATING_ERROR_SD = 0.05  # sd of the logarithm of published ÷ true discharge: 95 % within about 10 % [1]
RATING_ERROR_DAYS = 200.0  # e-folding time of the wander of the rating error [days]


@dataclass(frozen=True, eq=False, kw_only=True)
class Water:
    """True and published daily discharge [ft³/s].

    `true_system` starts before the record so that means over the 30 days before the first visit exist;
    `true_gauges` and `published` have one column a gauge and one row a day of the record, `published` without
    the holes that the files have.
    """

    true_system: pd.Series
    true_gauges: pd.DataFrame
    published: pd.DataFrame


def wandering(rng: np.random.Generator, n: int, sd: float, days: float) -> Floats:
    """`n` daily values of a stationary first-order autoregression: standard deviation `sd`, e-folding `days`."""
    keep = np.exp(-1.0 / days)
    steps = rng.standard_normal(n) * sd * np.sqrt(1 - keep**2)
    out = np.empty(n)
    value = rng.standard_normal() * sd
    for i in range(n):
        value = keep * value + steps[i]
        out[i] = value
    return out


def recharge(rng: np.random.Generator, days: pd.DatetimeIndex) -> Floats:
    """Water that soaks in each day [ft³/s·day]: storms by season, and years that are wet or dry in runs."""
    phase = 2 * np.pi * (days.day_of_year.to_numpy() - 46) / 365.2425  # wettest in mid-February
    storm = rng.random(len(days)) < 0.12 + 0.06 * np.cos(phase)
    amount = rng.gamma(0.7, 1 / 0.7, len(days)) * storm
    soaks_in = 0.80 + 0.55 * np.cos(phase)
    water_year = days.year.to_numpy() + (days.month.to_numpy() >= 10)
    years = np.arange(water_year.min(), water_year.max() + 1)
    wetness = np.empty(len(years))
    value = 0.0
    for i, shock in enumerate(rng.standard_normal(len(years))):
        value = 0.5 * value + 0.30 * shock
        wetness[i] = np.exp(value)
    return 560.0 * amount * soaks_in * wetness[water_year - years[0]]


def spring_flow(rng: np.random.Generator, days: pd.DatetimeIndex) -> Floats:
    """True discharge of the whole spring group [ft³/s], one value a day."""
    water = recharge(rng, days)
    m = 1 / (2 - RECESSION_EXPONENT)  # Q = c·S^m is the storage law that drains by −dQ/dt = a·Q^b
    c = (RECESSION_FACTOR / m) ** m
    storage = (60.0 / c) ** (1 / m)
    quick = on_its_way = 0.0
    total = np.empty(len(days))
    for i, arriving in enumerate(water):
        quick += QUICK_SHARE * arriving
        on_its_way += (1 - QUICK_SHARE) * arriving
        down = on_its_way * (1 - np.exp(-1 / DELAY_DAYS))
        on_its_way -= down
        slow = c * storage**m
        storage += down - slow
        from_quick = quick * (1 - np.exp(-1 / QUICK_DAYS))
        quick -= from_quick
        total[i] = slow + from_quick
    return total * np.exp(wandering(rng, len(days), 0.004, 2.0))


def invent_water(seed: int) -> Water:
    """The whole water side of the demo for one seed."""
    rng = np.random.default_rng([seed, 1])
    days = pd.date_range(SPIN_UP_FROM, LAST_DAY, freq="D")
    system = pd.Series(spring_flow(rng, days), index=days, name="discharge_cfs")
    record = pd.date_range(FIRST_DAY, LAST_DAY, freq="D")
    weights = np.column_stack(
        [GAUGE_SHARES[g] * np.exp(wandering(rng, len(record), SHARE_WANDER, 400.0)) for g in GAUGES]
    )
    shares = weights / weights.sum(axis=1, keepdims=True)
    true_gauges = pd.DataFrame(shares * system[record].to_numpy()[:, None], index=record, columns=list(GAUGES))
    error = np.column_stack([wandering(rng, len(record), RATING_ERROR_SD, RATING_ERROR_DAYS) for _ in GAUGES])
    error -= error.mean(axis=0)  # ratings are fitted to measurements: over the whole record they are right on average
    return Water(true_system=system, true_gauges=true_gauges, published=true_gauges * np.exp(error))
