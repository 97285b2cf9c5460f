"""How long after water returned animals were seen again: one interval a dry spell, known only between visits.

Lags count days from the first running day (day 0). The return lies after the last search that found none and not
after the first find: (low, high]. Never found before the next dry spell, or so far: (low, never seen]. A search that
finds none does not prove absence; these are times to the first find, taken at face value.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.missed_animals_searches import SpellSearches
from hydro.dry_spells import DrySpells

CENSORINGS = ("left", "interval", "right")
#: Below this number of usable spells the lags are listed and no curve is drawn.
FEWEST_SPELLS = 5


@dataclass(frozen=True, eq=False, kw_only=True)
class ReturnLags:
    """Lags of one outlet.

    `lags` has a row a dry spell (short interruptions joined) whose end is known or bracketed: spell_first,
    spell_last, dry_days (NaN where the spell's start is hidden), restart, restart_latest (later than `restart` where
    the restart lies in a gap of the record), follow_up_end (last day before the next spell or the day asked),
    searches, last_none_found, first_found (NaT where none), low_days (0 where nothing is known from below),
    high_days (NaN = never seen), censoring, from_start (left-censored: the lag can be 0), informative (False where
    no search was made). `searches` has a row a day of search behind them. `still_dry` is the number of spells that
    were running on at the end, `unseen` those that ended in a gap in which water may have come and gone.
    """

    lags: pd.DataFrame
    searches: pd.DataFrame
    still_dry: int
    unseen: int

    def intervals(self) -> tuple[np.ndarray, np.ndarray]:
        """(low, high] of the informative lags for an interval-censored fit; low is -1 where day 0 is possible."""
        used = self.lags[self.lags["informative"]]
        low = np.where(used["from_start"], -1.0, used["low_days"].to_numpy(np.float64))
        return low, used["high_days"].fillna(np.inf).to_numpy(np.float64)

    def histories(self) -> list[SpellSearches]:
        """Every search after each dry spell, for fits that allow for missed animals."""
        found = []
        for i, lag in enumerate(self.lags.itertuples(index=False)):
            made = self.searches[self.searches["spell"] == i]
            found.append(
                SpellSearches(
                    days=made["days"].to_numpy(np.int64),
                    found=(made["count"] > 0).to_numpy(),
                    effort=made["effort"].to_numpy(np.float64),
                    restart_slack=float((lag.restart_latest - lag.restart).days),
                )
            )
        return found


def return_lags(dry: DrySpells, visits: pd.DataFrame, today: pd.Timestamp) -> ReturnLags:
    """Intervals for the return after each joined dry spell.

    visits  the outlet's rows (columns date, kind, count, effort, row); only visits that counted, at a surface that
            was not dry, are searches; rows of one day are one search
    today   nothing later is used
    """
    counted = visits[(visits["kind"] == "counted") & (visits["date"] <= today)]
    by_day = counted.groupby("date", as_index=False).agg(
        count=("count", "sum"), row=("row", "min"), effort=("effort", lambda e: e.sum(skipna=False))
    )
    by_day["date"] = pd.to_datetime(by_day["date"])  # a table without rows carries no type of its own
    joined, rows, searches, still_dry, unseen = dry.joined, [], [], 0, 0
    for i in range(len(joined)):
        spell = joined.iloc[i]
        if spell["status"] == "ongoing":
            still_dry += 1
            continue
        earliest = spell["last"] + pd.Timedelta(days=1)
        latest = earliest if spell["end_certain"] else _first_running(dry, spell["last"])
        following = joined["first"].iloc[i + 1] if i + 1 < len(joined) else None
        end = today if following is None else following - pd.Timedelta(days=1)
        if latest is None or latest > end:
            unseen += 1
            continue
        made = by_day[(by_day["date"] >= earliest) & (by_day["date"] <= end)]
        rows.append(_one_lag(spell, earliest, latest, end, made))
        searches.append(made.assign(spell=len(rows) - 1, days=(made["date"] - earliest).dt.days))
    # A table without rows carries no types of its own, and an untyped mask would select columns.
    lags = pd.DataFrame(rows, columns=_LAG_COLUMNS).astype({"from_start": bool, "informative": bool})
    tried = pd.concat(searches, ignore_index=True) if searches else by_day.iloc[:0].assign(spell=0, days=0)
    return ReturnLags(lags=lags, searches=tried, still_dry=still_dry, unseen=unseen)


_LAG_COLUMNS = ["spell_first", "spell_last", "dry_days", "restart", "restart_latest", "follow_up_end", "searches",
                "last_none_found", "first_found", "low_days", "high_days", "censoring", "from_start",
                "informative"]  # fmt: skip


def _one_lag(
    spell: pd.Series, earliest: pd.Timestamp, latest: pd.Timestamp, end: pd.Timestamp, made: pd.DataFrame
) -> dict[str, object]:
    """The interval of one spell from the searches made after it."""
    finds = made.loc[made["count"] > 0, "date"]
    found = finds.iloc[0] if len(finds) else pd.NaT
    before = made[made["date"] < found] if len(finds) else made
    none = before["date"].iloc[-1] if len(before) else pd.NaT
    # The restart may have been as late as `latest`: counted from there, a search without a find says least.
    low = max((none - latest).days, 0) if len(before) else 0
    from_start = not len(before) or none < latest
    return {
        "spell_first": spell["first"],
        "spell_last": spell["last"],
        "dry_days": float(spell["days"]) if spell["start_certain"] and spell["end_certain"] else np.nan,
        "restart": earliest,
        "restart_latest": latest,
        "follow_up_end": end,
        "searches": len(before) + (1 if len(finds) else 0),
        "last_none_found": none,
        "first_found": found,
        "low_days": low,
        "high_days": float((found - earliest).days) if len(finds) else np.nan,
        "censoring": ("left" if from_start else "interval") if len(finds) else "right",
        "from_start": from_start,
        "informative": len(made) > 0,
    }


def _first_running(dry: DrySpells, after: pd.Timestamp) -> pd.Timestamp | None:
    """The first day known to be running after `after`, where nothing dry was seen before it; else None."""
    later = dry.states[dry.states.index > after]
    known = later[later != "unknown"]
    return known.index[0] if len(known) and known.iloc[0] == "running" else None
