"""What is known about an outlet on a day, and what it comes to: the values that `running_now` takes and returns."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import pandas as pd

from hydro.sightings import SURFACES


@dataclass(frozen=True, kw_only=True)
class KnownLevel:
    """The level that decides [m³/s] (> 0) and the standard deviation of its logarithm (0 = taken as exact)."""

    level_m3s: float
    log_sd: float = 0.0

    def __post_init__(self) -> None:
        if not (self.level_m3s > 0 and self.log_sd >= 0):
            raise ValueError("a level is above 0, its standard deviation 0 or above")


@dataclass(frozen=True, kw_only=True)
class Measured:
    """The last known reading: civil day, published discharge [m³/s]."""

    day: pd.Timestamp
    discharge_m3s: float


@dataclass(frozen=True, kw_only=True)
class Seen:
    """The last sighting: civil day, surface, and the published discharge of that day [m³/s] (None = not measured)."""

    day: pd.Timestamp
    surface: str
    discharge_m3s: float | None = None

    def __post_init__(self) -> None:
        if self.surface not in SURFACES:
            raise ValueError(f"a surface is one of {', '.join(SURFACES)}")


@dataclass(frozen=True, kw_only=True)
class RunningNow:
    """P(running today) by source and together; None with the reason where a source says nothing.

    from_measurement  the gauge against the level, both with their errors
    from_sighting     the sighting and the change of discharge since, without the level; tends to 1/2 as it ages
    from_outlook      as handed in
    combined          the gauge (or, for a stale reading, the outlook) and the sighting together
    base              "measurement" or "outlook": what the sighting was combined with; None where it stands alone
    margin_log        ln(published / level) of the reading, and margin_sd its standard deviation as of today
    change_log        ln(reading / discharge on the day of the sighting)
    fade_sd           standard deviation of what happened unseen between the sighting and today
    sighting_weight   correlation of the margin then with the margin now: 1 = it settles the state, 0 = it says nothing
    level_after_sighting_m3s   the level (geometric mean) once the sighting is taken in
    """

    from_measurement: float | None
    from_sighting: float | None
    from_outlook: float | None
    combined: float | None
    base: str | None = None
    why_no_measurement: str | None = None
    why_no_sighting: str | None = None
    why_no_combined: str | None = None
    reading_age_days: int | None = None
    sighting_age_days: int | None = None
    margin_log: float | None = None
    margin_sd: float | None = None
    change_log: float | None = None
    fade_sd: float | None = None
    sighting_weight: float | None = None
    level_after_sighting_m3s: float | None = None


def log_sd_of_interval(value: float, low: float | None, high: float | None, level: float) -> float | None:
    """Standard deviation of ln level from its interval: the mean of its sides, or the bounded one; None if neither."""
    z = NormalDist().inv_cdf(0.5 + level / 2)
    sides = [abs(math.log(side / value)) / z for side in (low, high) if side is not None]
    return sum(sides) / len(sides) if sides else None
