"""The columns of a count regression beside flow: season, recovery, dry-spell length, trend, factors, covariates.

Every column is a function of its own row alone, so that rows can be added or left out without changing the others.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

YEAR_DAYS = 365.2425
RECOVERY_TERM = "log_days_since_restart"
DRY_LENGTH_TERM = "recovery_by_log_dry_days"
YEAR_TERM = "year"
#: After so many days since a restart an outlet counts as recovered [days].
RECOVERED_DAYS = 180
#: Dry-spell length at which the recovery term alone holds [days]; a choice of scale, no source.
USUAL_DRY_DAYS = 90
#: Years are counted from here, so that a row's column does not depend on the other rows.
YEAR_ZERO = pd.Timestamp(2000, 1, 1)
#: Knots of the cyclic spline; one fewer columns.
SEASON_KNOTS = 6

Season = Literal["harmonic", "spline"]
Factor = Literal["taxon", "stage"]


@dataclass(frozen=True, kw_only=True)
class ModelTerms:
    """Which terms stand beside flow, outlet and recovery.

    season          "harmonic": one sine and cosine of the year; "spline": a cyclic cubic spline with 6 knots
    dry_length      whether the recovery after a restart depends on how long the outlet was dry before
    year_trend      a constant change a year
    flow_by_outlet  an effect of flow for each outlet
    factor          a level for each taxon, or for each stage (adults and juveniles then are rows of their own)
    covariates      further columns of the visits, by name
    """

    season: Season = "harmonic"
    dry_length: bool = False
    year_trend: bool = False
    flow_by_outlet: bool = False
    factor: Factor | None = None
    covariates: tuple[str, ...] = ()


def season_columns(dates: pd.Series, season: Season) -> dict[str, np.ndarray]:
    """Columns of the season; each has mean 0 over the year, so that 0 in all of them is the mean season."""
    turn = dates.dt.day_of_year.to_numpy() / YEAR_DAYS
    if season == "harmonic":
        return {"season_sin": np.sin(2 * np.pi * turn), "season_cos": np.cos(2 * np.pi * turn)}
    basis = cyclic_spline(turn, SEASON_KNOTS)
    # The functions of the basis sum to 1, the intercept: each is taken against the last one.
    return {f"season_spline_{j + 1}": basis[:, j] - basis[:, -1] for j in range(SEASON_KNOTS - 1)}


def cyclic_spline(turn: np.ndarray, knots: int) -> np.ndarray:
    """Cubic B-splines on a circle with evenly spaced knots, one column a knot; `turn` counts turns (1 = a year).

    Source: de Boor 1978, A Practical Guide to Splines (the uniform cubic B-spline piece by piece).
    """
    if knots < 4:
        raise ValueError("a cyclic cubic spline needs four knots")
    at = np.mod(turn, 1.0) * knots
    # Distance from each knot the short way round, in knot spacings.
    away = np.abs(at[:, None] - np.arange(knots)[None, :])
    away = np.minimum(away, knots - away)
    near = 2.0 / 3.0 - away**2 + 0.5 * away**3
    far = (2.0 - away) ** 3 / 6.0
    return np.where(away < 1.0, near, np.where(away < 2.0, far, 0.0))


def recovery_column(days_since_restart: np.ndarray) -> np.ndarray:
    """ln((days + 1) / 181), 0 from `RECOVERED_DAYS` on and where no restart was seen."""
    days = np.where(np.isnan(days_since_restart), RECOVERED_DAYS, np.minimum(days_since_restart, RECOVERED_DAYS))
    return np.log((days + 1.0) / (RECOVERED_DAYS + 1.0))


def dry_length_column(recovery: np.ndarray, dry_days_before: np.ndarray) -> np.ndarray:
    """Recovery times ln((dry days before + 1) / 91): 0 once recovered and where the spell's length is not known.

    A positive coefficient means that after longer dry spells counts start lower.
    """
    days = np.where(np.isnan(dry_days_before), USUAL_DRY_DAYS, dry_days_before)
    return recovery * np.log((days + 1.0) / (USUAL_DRY_DAYS + 1.0))


def year_column(dates: pd.Series) -> np.ndarray:
    """Years since 1 January 2000."""
    return ((dates - YEAR_ZERO) / pd.Timedelta(days=1)).to_numpy(np.float64) / YEAR_DAYS


def level_columns(values: pd.Series, name: str) -> dict[str, np.ndarray]:
    """A column for each level but the first one by name, `name[level]`."""
    levels = sorted(values.unique())
    return {f"{name}[{level}]": (values == level).to_numpy(np.float64) for level in levels[1:]}
