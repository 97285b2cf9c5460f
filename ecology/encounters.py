"""Captures grouped into occasions: which animal was met on which occasion, and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
import pandas as pd

Occasion = Literal["visit", "month", "year"]
OCCASIONS: tuple[Occasion, ...] = get_args(Occasion)
#: Rates are per year of so many days.
YEAR_DAYS = 365.25


@dataclass(frozen=True, eq=False, kw_only=True)
class Encounters:
    """Animals by occasion.

    `occasions` has a row an occasion in which any animal was captured: label, first, last (civil days of its first
    and last capture), mean_day (mean over its captures, days since 1970, fractional), captures.
    `meetings` has a row an animal and occasion, by animal and occasion: animal (position in `animals`), occasion,
    outlet (position in `outlets`; where the animal was last met in the occasion).
    """

    occasions: pd.DataFrame
    meetings: pd.DataFrame
    animals: pd.Index
    outlets: tuple[str, ...]

    @property
    def n_occasions(self) -> int:
        return len(self.occasions)

    @property
    def gap_years(self) -> np.ndarray:
        """Time between occasions [years of 365.25 days]."""
        return np.diff(self.occasions["mean_day"].to_numpy(np.float64)) / YEAR_DAYS


def encounters(captures: pd.DataFrame, occasion: Occasion = "month") -> Encounters:
    """Captures (columns date, outlet, individual; in date order) grouped by day of visit, calendar month or year.

    Only periods with a capture are occasions; they are dated by the mean date of their captures.
    """
    days = pd.DatetimeIndex(captures["date"])
    key = {"visit": "%Y-%m-%d", "month": "%Y-%m", "year": "%Y"}[occasion]
    label = days.strftime(key)
    number = days.to_numpy().astype("M8[D]").astype(np.int64)
    codes, labels = pd.factorize(label, sort=True)
    rows = pd.DataFrame({"occasion": codes, "day": number})
    by = rows.groupby("occasion")["day"]
    table = pd.DataFrame(
        {
            "label": labels,
            "first": by.min().to_numpy().astype("M8[D]").astype("M8[ns]"),
            "last": by.max().to_numpy().astype("M8[D]").astype("M8[ns]"),
            "mean_day": by.mean().to_numpy(),
            "captures": by.size().to_numpy(),
        }
    )
    animal, animals = pd.factorize(captures["individual"], sort=True)
    outlet, outlets = pd.factorize(captures["outlet"], sort=True)
    met = pd.DataFrame({"animal": animal, "occasion": codes, "outlet": outlet, "day": number})
    met = met.sort_values(["animal", "occasion", "day"], kind="stable")
    met = met.drop_duplicates(["animal", "occasion"], keep="last").drop(columns="day").reset_index(drop=True)
    return Encounters(occasions=table, meetings=met, animals=pd.Index(animals), outlets=tuple(str(o) for o in outlets))
