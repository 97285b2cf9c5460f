"""What a record of dry spells adds up to: days dry and unknown by year, longest and median spell."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.dry_spells import DrySpells


@dataclass(frozen=True, eq=False, kw_only=True)
class DrySummary:
    """Totals of one outlet's record [days].

    `by_year` is indexed by calendar year with dry_days, unknown_days and record_days. `median_days` rests on
    spells seen from start to end alone and is None where there are none; `longest_is_at_least` tells that the
    longest spell is censored.
    """

    record_days: int
    dry_days: int
    unknown_days: int
    n_spells: int
    n_whole: int
    longest_days: int | None
    longest_is_at_least: bool
    median_days: float | None
    by_year: pd.DataFrame


def summarise(dry: DrySpells) -> DrySummary:
    """Totals over the whole record of a daily series."""
    states = dry.states
    year = pd.DatetimeIndex(states.index).year
    is_dry, is_unknown = (states == "dry").to_numpy(), (states == "unknown").to_numpy()
    by_year = pd.DataFrame(
        {"dry_days": is_dry, "unknown_days": is_unknown, "record_days": np.ones(len(states), bool)}, index=year
    )
    by_year = by_year.groupby(level=0).sum().astype(int)
    by_year.index.name = "year"
    spells = dry.spells
    whole = spells[spells["start_certain"] & spells["end_certain"]]
    longest = None if spells.empty else int(spells["days"].max())
    at_longest = spells[spells["days"] == longest]
    return DrySummary(
        record_days=len(states),
        dry_days=int(is_dry.sum()),
        unknown_days=int(is_unknown.sum()),
        n_spells=len(spells),
        n_whole=len(whole),
        longest_days=longest,
        longest_is_at_least=bool((~(at_longest["start_certain"] & at_longest["end_certain"])).any()),
        median_days=None if whole.empty else float(whole["days"].median()),
        by_year=by_year,
    )
