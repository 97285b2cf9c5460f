"""A level estimated from sightings, with all that a reader needs to judge it: what `estimate_level` returns."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pandas as pd

from hydro.profile_interval import Interval

METHOD = "Firth logistic in ln discharge; profile interval, widened for sightings that err together"


@dataclass(frozen=True, kw_only=True)
class Level:
    """A level [m³/s] with its interval; None = cannot be said (no value) or unbounded (no low or high), see `why`.

    `inflation` is the factor by which the variance was widened; `boot_low_m3s` and `boot_high_m3s` are the
    percentile interval of a bootstrap of whole episodes, a check on gross errors and too narrow to report (simulated
    coverage 0.70 to 0.94 for 0.95); `boot_failed` counts its draws without a level.
    """

    value_m3s: float | None
    low_m3s: float | None
    high_m3s: float | None
    level: float
    method: str = METHOD
    why: str | None = None
    inflation: float = 1.0
    boot_low_m3s: float | None = None
    boot_high_m3s: float | None = None
    boot_failed: int = 0


@dataclass(frozen=True, kw_only=True)
class Bracket:
    """Highest discharge seen dry and lowest seen running [m³/s]; `overlap` = the former is not below the latter."""

    highest_dry_m3s: float | None
    lowest_running_m3s: float | None
    overlap: bool

    @property
    def apart(self) -> bool:
        """Whether both states were seen, and every dry sighting had less water than every running one."""
        return self.highest_dry_m3s is not None and self.lowest_running_m3s is not None and not self.overlap

    @property
    def log_sides(self) -> tuple[float, float]:
        """ln of both sides; ValueError where one was never seen."""
        if self.highest_dry_m3s is None or self.lowest_running_m3s is None:
            raise ValueError("one of the two states was never seen")
        return math.log(self.highest_dry_m3s), math.log(self.lowest_running_m3s)


@dataclass(frozen=True, eq=False, kw_only=True)
class LevelEstimate:
    """Stop and restart levels of an outlet with what they rest on.

    one_sided       "below": only running was seen, so the level is below the bracket's lowest running; "above": only
                    dry was seen, so it is above the highest dry; None: both or none were seen
    slope           change of the log odds of running with ln discharge; None where the level comes from the bracket
    n_spells        independent groups: episodes of sightings of one state
    limb_shift      change of the log odds of running on a rising limb after a dry sighting; below 0 where the outlet
                    restarts at more water than it stops at. None where it cannot be told
    pooled_low_m3s, pooled_high_m3s   range of discharge at which standing water was seen
    left_out        rows that could not be used, with the column `reason`
    contradictions  date, surface, discharge_m3s, expected, row, probability (of what was seen, by the fitted curve)
                    and against ("set level" or "fitted curve")
    curve           discharge_m3s, probability_running, low, high: points for a figure; empty where `slope` is None
    notes           code words for what a screen should say: "stop-level-without-rising-limb",
                    "separated-width-from-penalty", "separated-and-rarely-dry", "few-groups"
    """

    stop_level: Level
    restart_level: Level
    bracket: Bracket
    n_running: int
    n_dry: int
    n_pooled: int
    n_spells: int
    separated: bool
    one_sided: str | None
    slope: float | None
    limb_shift: Interval | None
    pooled_low_m3s: float | None
    pooled_high_m3s: float | None
    left_out: pd.DataFrame
    contradictions: pd.DataFrame
    curve: pd.DataFrame
    notes: tuple[str, ...]
