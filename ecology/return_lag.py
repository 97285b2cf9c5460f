"""How long after water returned animals were seen again: one interval a dry spell, known only between visits.

Lags count days from the first running day (day 0). The return lies after the last search that found none and not
after the first find: (low, high]. Never found before the next dry spell, or so far: (low, never seen]. A search that
finds none does not prove absence; these are times to the first find, taken at face value.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ecology.missed_animals_searches import SpellSearches
from ecology.search_passes import search_passes
from hydro.dry_spells import DrySpells

CENSORINGS = ("left", "interval", "right")
#: Below this number of usable spells the lags are listed and no curve is drawn.
FEWEST_SPELLS = 5


@dataclass(frozen=True, eq=False, kw_only=True)
class ReturnLags:
    """Lags of one outlet.

    `lags` has a row a dry spell (short interruptions joined) whose end is known or bracketed: spell_first,
    spell_last, dry_days (NaN where the spell's start or end is hidden), restart, restart_latest (later than `restart`
    where the restart lies in a gap of the record), restart_narrowed (people who saw the surface inside the gap say
    more than the record), follow_up_end (last day before the next spell or the day asked), searches (days of search up
    to the first find), passes (on those days), last_none_found, first_found (NaT where none), low_days (0 where
    nothing is known from below), high_days (NaN = never seen), censoring, from_start (left-censored: the lag can be
    0), informative (False where no search was made). `searches` has a row a pass (date, pass, count, effort, row,
    spell = position in `lags`, days since the restart). `still_dry` is the number of spells that were running on at the
    end, `end_unknown` those after which the record says nothing more, `unseen` those that ended in a gap in which water
    may have come and gone.
    """

    lags: pd.DataFrame
    searches: pd.DataFrame
    still_dry: int
    unseen: int
    end_unknown: int = 0

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

    visits  the outlet's rows (columns date, kind, count, effort, row; where there, surface, time, taxon, pass); only
            visits that counted, at a surface that was not dry, are searches; passes of one day are kept apart
    today   nothing later is used
    """
    visits = visits[visits["date"] <= today]
    passes = search_passes(visits[visits["kind"] == "counted"])
    # Plain arrays: a frame sliced for every spell would cost most of the time of an answer.
    day, found = passes["date"].to_numpy().astype("M8[D]"), passes["count"].to_numpy(np.float64) > 0
    rows, behind, spell_of, days_of, still_dry, unseen, end_unknown = [], [], [], [], 0, 0, 0
    spells = dry.joined.to_dict("records")
    for i, spell in enumerate(spells):
        if spell["status"] == "ongoing":
            still_dry += 1
            continue
        following = spells[i + 1]["first"] if i + 1 < len(spells) else None
        end = today if following is None else following - pd.Timedelta(days=1)
        restart = _restart(dry, spell, visits, end)
        if restart is None:
            unseen += following is not None
            end_unknown += following is None
            continue
        earliest, last = restart.earliest.to_datetime64().astype("M8[D]"), end.to_datetime64().astype("M8[D]")
        made = np.arange(np.searchsorted(day, earliest), np.searchsorted(day, last, side="right"))
        rows.append(_one_lag(spell, restart, end, day[made], found[made]))
        behind.append(made)
        spell_of.append(np.full(made.size, len(rows) - 1))
        days_of.append((day[made] - earliest).astype(np.int64))
    # A table without rows carries no types of its own, and an untyped mask would select columns.
    flags = {"restart_narrowed": bool, "from_start": bool, "informative": bool}
    lags = pd.DataFrame(rows, columns=_LAG_COLUMNS).astype(flags)
    none = [np.zeros(0, np.int64)]
    tried = passes.iloc[np.concatenate(behind or none)].assign(
        spell=np.concatenate(spell_of or none), days=np.concatenate(days_of or none)
    )
    return ReturnLags(
        lags=lags,
        searches=tried.reset_index(drop=True),
        still_dry=still_dry,
        unseen=unseen,
        end_unknown=end_unknown,
    )


_LAG_COLUMNS = ["spell_first", "spell_last", "dry_days", "restart", "restart_latest", "restart_narrowed",
                "follow_up_end", "searches", "passes", "last_none_found", "first_found", "low_days", "high_days",
                "censoring", "from_start", "informative"]  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Restart:
    """The first and the last day that can be the first running day; equal where the record shows it."""

    earliest: pd.Timestamp
    latest: pd.Timestamp
    narrowed: bool = False


def _restart(dry: DrySpells, spell: Mapping[Hashable, Any], visits: pd.DataFrame, end: pd.Timestamp) -> _Restart | None:
    """When water came back; None where it may have come and gone unseen.

    Inside a gap of the record, days on which a person saw the surface run or found it dry narrow the time, as long as
    they do not contradict one another (dry, then running).
    """
    earliest = spell["last"] + pd.Timedelta(days=1)
    if spell["end_certain"]:
        return _Restart(earliest=earliest, latest=earliest)
    latest = _first_running(dry, spell["last"])
    if latest is not None and latest > end:
        latest = None
    last_of_gap = end if latest is None else latest
    seen_at = visits[(visits["date"] >= earliest) & (visits["date"] <= last_of_gap)]
    surface = seen_at["surface"] if "surface" in seen_at else pd.Series("", index=seen_at.index)
    # Animals found where nothing was written of the surface stood in water.
    water = (surface == "running") | ((surface == "") & (seen_at["kind"] == "counted") & (seen_at["count"] > 0))
    running = seen_at.loc[water, "date"]
    dry_seen = seen_at.loc[(seen_at["kind"] == "dry") | (surface == "dry"), "date"]
    if latest is None and running.empty:
        return None
    if not running.empty and not dry_seen.empty and dry_seen.max() >= running.min():
        return None if latest is None else _Restart(earliest=earliest, latest=latest)
    first = earliest if dry_seen.empty else dry_seen.max() + pd.Timedelta(days=1)
    last = running.min() if latest is None else min([latest, *running])
    if first > last:
        return _Restart(earliest=earliest, latest=last)
    return _Restart(earliest=first, latest=last, narrowed=first > earliest or latest is None or last < latest)


def _one_lag(
    spell: Mapping[Hashable, Any], restart: _Restart, end: pd.Timestamp, day: np.ndarray, found: np.ndarray
) -> dict[str, object]:
    """The interval of one spell from the passes made after it (their days and whether they found); passes of one day
    are one time."""
    first = day[np.argmax(found)] if found.any() else None
    before = day if first is None else day[day < first]
    tried = day if first is None else day[day <= first]
    none = pd.Timestamp(before[-1]) if before.size else pd.NaT
    find = pd.NaT if first is None else pd.Timestamp(first)
    # The restart may have been as late as `latest`: counted from there, a search without a find says least.
    low = max((none - restart.latest).days, 0) if before.size else 0
    from_start = not before.size or none < restart.latest
    return {
        "spell_first": spell["first"],
        "spell_last": spell["last"],
        "dry_days": float(spell["days"]) if spell["start_certain"] and spell["end_certain"] else np.nan,
        "restart": restart.earliest,
        "restart_latest": restart.latest,
        "restart_narrowed": restart.narrowed,
        "follow_up_end": end,
        "searches": int(np.unique(tried).size),
        "passes": int(tried.size),
        "last_none_found": none,
        "first_found": find,
        "low_days": low,
        "high_days": np.nan if first is None else float((find - restart.earliest).days),
        "censoring": "right" if first is None else ("left" if from_start else "interval"),
        "from_start": from_start,
        "informative": day.size > 0,
    }


def _first_running(dry: DrySpells, after: pd.Timestamp) -> pd.Timestamp | None:
    """The first day known to be running after `after`, where nothing dry was seen before it; else None."""
    later = dry.states[dry.states.index > after]
    known = later[later != "unknown"]
    return known.index[0] if len(known) and known.iloc[0] == "running" else None
