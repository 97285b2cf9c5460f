"""On which occasions an animal could have been met at all, and how often people looked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.encounters import YEAR_DAYS, Encounters, Occasion
from hydro.dry_spells import DrySpells

#: Why the chance of being met is fixed at 0.
DRY, NOBODY = "dry", "nobody searched"
_PERIODS: Mapping[Occasion, str] = {"visit": "%Y-%m-%d", "month": "%Y-%m", "year": "%Y"}


@dataclass(frozen=True, eq=False, kw_only=True)
class CaptureChances:
    """By outlet of the encounters and occasion, shape (O, T); by interval between occasions, shape (O, T - 1).

    available   animals there could be met; where not, `fixed` says why ("" where they could)
    looks       days of search in the occasion, at least 1 where an animal was met
    dry_days    dry days by flow in the interval after its first occasion's date up to the next one's
    unknown_days   days whose state is not known
    """

    available: np.ndarray
    fixed: np.ndarray
    looks: np.ndarray
    dry_days: np.ndarray
    unknown_days: np.ndarray

    @property
    def dry_years(self) -> np.ndarray:
        return self.dry_days / YEAR_DAYS


def capture_chances(
    found: Encounters, occasion: Occasion, dry: Mapping[str, DrySpells | None], visits: pd.DataFrame | None
) -> CaptureChances:
    """Where and when animals could be met.

    dry      dry spells by outlet, None for an outlet that always runs
    visits   the visits table (columns date, outlet, kind), None where there is none

    An outlet at which an animal was met was there to be searched. Else, where visits to the outlet are written down, it
    counts as searched in a period with a search; where none are, unless it was dry by flow on the occasion's date.
    """
    n_outlets, n = len(found.outlets), found.n_occasions
    labels = pd.Index(found.occasions["label"])
    day = np.floor(found.occasions["mean_day"].to_numpy()).astype(np.int64)
    met = np.zeros((n_outlets, n), bool)
    met[found.meetings["outlet"], found.meetings["occasion"]] = True
    looks = np.zeros((n_outlets, n))
    fixed = np.full((n_outlets, n), "", dtype=object)
    dry_days = np.zeros((n_outlets, max(n - 1, 0)))
    unknown_days = np.zeros_like(dry_days)
    for o, id in enumerate(found.outlets):
        is_dry = np.zeros(n, bool)
        spells = dry.get(id)
        if spells is not None:
            is_dry, dry_days[o], unknown_days[o] = _days(spells, day)
        here = None if visits is None else visits[visits["outlet"] == id]
        if here is None or here.empty:
            looks[o] = ~is_dry
            fixed[o] = np.where(is_dry, DRY, "")
        else:
            searched = _by_period(here[here["kind"].isin(("counted", "searched-uncounted"))], occasion, labels)
            seen_dry = _by_period(here[here["kind"] == "dry"], occasion, labels) > 0
            looks[o] = searched
            fixed[o] = np.where(searched > 0, "", np.where(is_dry | seen_dry, DRY, NOBODY))
    looks = np.where(met, np.maximum(looks, 1), looks)
    fixed = np.where(met, "", fixed)
    return CaptureChances(available=fixed == "", fixed=fixed, looks=looks, dry_days=dry_days, unknown_days=unknown_days)


def _by_period(visits: pd.DataFrame, occasion: Occasion, labels: pd.Index) -> np.ndarray:
    """Days with a visit in the period of each occasion."""
    days = pd.DatetimeIndex(visits["date"].drop_duplicates())
    at = labels.get_indexer(days.strftime(_PERIODS[occasion]))
    return np.bincount(at[at >= 0], minlength=len(labels)).astype(np.float64)


def _days(spells: DrySpells, day: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Whether it was dry on each day; dry and unknown days in each interval (after one day, up to the next)."""
    first = int(spells.index[0].to_datetime64().astype("M8[D]").astype(np.int64))
    states = spells.states.astype(object).to_numpy()
    at = day - first
    inside = (at >= 0) & (at < len(states))
    dry_now = inside & (states[np.clip(at, 0, len(states) - 1)] == "dry")

    def between(which: str) -> np.ndarray:
        total = np.concatenate(([0], np.cumsum(states == which)))
        return np.diff(total[np.clip(at + 1, 0, len(states))]).astype(np.float64)

    known = np.diff(np.clip(at + 1, 0, len(states)))
    return dry_now, between("dry"), between("unknown") + (np.diff(day) - known)
