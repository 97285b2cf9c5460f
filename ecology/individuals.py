"""Who was seen before a dry spell and again after it, and how long each animal was out of sight.

Not being seen again is never death: an animal can live on unseen, or elsewhere. Shares are of animals seen again, a
minimum of those that came through.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.exact_intervals import share_interval
from hydro.dry_spells import DrySpells

#: “Lately” is within so many days before the first dry day [days]: animals last seen long before may have died
#: before it.
LATELY_DAYS = 365
_DAY = pd.Timedelta(days=1)


@dataclass(frozen=True, eq=False, kw_only=True)
class SpellCrossings:
    """Animals of one outlet across its dry spells.

    `spells` has a row a dry spell (short interruptions joined): first, last, days, status, over (False while it is
    running on), seen_before (animals whose last sighting before it was here), seen_after (of those, seen anywhere after
    it), share, low, high (of seen after; NaN where seen_before is 0 or it is not over), lately, lately_after,
    lately_share, lately_low, lately_high (the same for animals seen here within `LATELY_DAYS` before), back_here (of
    seen_before, met at this outlet before its next dry spell), elsewhere_during (of seen_before, met at another outlet
    while it was dry), follow_up_end (last day before the next dry spell, or the day asked), and the effort from its end
    to there: searches (days, here), effort (sum where known), without_effort; searches_anywhere, effort_anywhere
    count all outlets up to the day asked.
    `absences` has a row a spell and animal that was out of sight from before it until after it: spell_first,
    spell_last, individual, last_before, last_before_outlet, first_after, first_after_outlet, least_days (the spell's
    length: nobody could have seen it here), most_days (between the two sightings), lately.
    """

    outlet: str
    spells: pd.DataFrame
    absences: pd.DataFrame


def spell_crossings(
    outlet: str,
    dry: DrySpells,
    captures: pd.DataFrame,
    visits: pd.DataFrame | None,
    today: pd.Timestamp,
    *,
    level: float = 0.95,
) -> SpellCrossings:
    """Crossings of each joined dry spell of `outlet`.

    captures   of all outlets, in date order (columns date, outlet, individual)
    visits     of all outlets (columns date, outlet, kind, effort), None where there are none
    today      nothing later is used
    """
    sightings = _Sightings.of(captures[captures["date"] <= today], outlet)
    searches = _searches(visits, today)
    joined = dry.joined
    rows, absences = [], []
    for i in range(len(joined)):
        spell = joined.iloc[i]
        following = joined["first"].iloc[i + 1] if i + 1 < len(joined) else None
        end = today if following is None else following - _DAY
        row, absent = _one_spell(spell, end, sightings, level)
        rows.append(row | _effort(outlet, spell["last"], end, today, searches))
        absences.append(absent)
    table = pd.DataFrame(rows, columns=_SPELL_COLUMNS)
    listed = [a for a in absences if len(a)]
    out = pd.concat(listed, ignore_index=True) if listed else pd.DataFrame(columns=_ABSENCE_COLUMNS)
    return SpellCrossings(outlet=outlet, spells=table, absences=out)


_ABSENCE_COLUMNS = ["spell_first", "spell_last", "individual", "last_before", "last_before_outlet", "first_after",
                    "first_after_outlet", "least_days", "most_days", "lately"]  # fmt: skip
_SPELL_COLUMNS = ["first", "last", "days", "status", "over", "seen_before", "seen_after", "share", "low", "high",
                  "lately", "lately_after", "lately_share", "lately_low", "lately_high", "back_here",
                  "elsewhere_during", "follow_up_end", "searches", "effort", "without_effort", "searches_anywhere",
                  "effort_anywhere"]  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class _Sightings:
    """All sightings in date order: dates, animals (as numbers), outlets, and which were at the outlet asked about."""

    dates: np.ndarray
    animals: np.ndarray
    names: np.ndarray
    outlets: np.ndarray
    here: np.ndarray

    @classmethod
    def of(cls, captures: pd.DataFrame, outlet: str) -> _Sightings:
        animals, names = pd.factorize(captures["individual"], use_na_sentinel=False)
        outlets = captures["outlet"].to_numpy()
        return cls(
            dates=captures["date"].to_numpy(), animals=animals, names=np.asarray(names), outlets=outlets,
            here=np.asarray(outlets == outlet, dtype=bool),
        )  # fmt: skip

    def among(self, which: slice | np.ndarray) -> np.ndarray:
        """Of each animal, whether it is in any of these sightings."""
        found = np.zeros(len(self.names), dtype=bool)
        found[self.animals[which]] = True
        return found


def _one_spell(
    spell: pd.Series, end: pd.Timestamp, seen: _Sightings, level: float
) -> tuple[dict[str, object], pd.DataFrame]:
    """The counts of one spell and the animals out of sight across it."""
    first, last = spell["first"], spell["last"]
    begins = int(np.searchsorted(seen.dates, first.to_datetime64(), side="left"))
    ended = int(np.searchsorted(seen.dates, last.to_datetime64(), side="right"))
    until = int(np.searchsorted(seen.dates, end.to_datetime64(), side="right"))
    # Row of each animal's last sighting before it, and of its first one after it; -1 where there is none.
    last_before, first_after = (np.full(len(seen.names), -1) for _ in range(2))
    np.maximum.at(last_before, seen.animals[:begins], np.arange(begins))
    first_after[seen.animals[ended:][::-1]] = np.arange(ended, len(seen.dates))[::-1]
    before = np.flatnonzero((last_before >= 0) & seen.here[last_before])
    at = last_before[before]
    again = first_after[before] >= 0
    lately = seen.dates[at] >= (first - LATELY_DAYS * _DAY).to_datetime64()
    during = np.arange(begins, ended)
    back = np.arange(ended, max(ended, until))
    over = spell["status"] != "ongoing"
    row: dict[str, object] = {
        "first": first, "last": last, "days": int(spell["days"]), "status": spell["status"], "over": bool(over),
        "seen_before": len(before), "seen_after": int(again.sum()), "lately": int(lately.sum()),
        "lately_after": int((again & lately).sum()),
        "back_here": int(seen.among(back[seen.here[back]])[before].sum()),
        "elsewhere_during": int(seen.among(during[~seen.here[during]])[before].sum()), "follow_up_end": end,
    }  # fmt: skip
    for name, number, of in (("", "seen_after", "seen_before"), ("lately_", "lately_after", "lately")):
        known = bool(over) and int(str(row[of])) > 0
        k, n = int(str(row[number])), int(str(row[of]))
        low, high = share_interval(k, n, level) if known else (np.nan, np.nan)
        row |= {f"{name}share": k / n if known else np.nan, f"{name}low": low, f"{name}high": high}
    unseen = again & ~seen.among(during)[before]
    gone, then = at[unseen], first_after[before[unseen]]
    absent = pd.DataFrame(
        {
            "spell_first": first,
            "spell_last": last,
            "individual": seen.names[before[unseen]],
            "last_before": seen.dates[gone],
            "last_before_outlet": seen.outlets[gone],
            "first_after": seen.dates[then],
            "first_after_outlet": seen.outlets[then],
            "least_days": int(spell["days"]),
            "most_days": (seen.dates[then] - seen.dates[gone]).astype("m8[D]").astype(np.int64),
            "lately": lately[unseen],
        }
    )
    return row, absent.sort_values(["first_after", "individual"], kind="stable")


def _searches(visits: pd.DataFrame | None, today: pd.Timestamp) -> pd.DataFrame:
    """Days of search by outlet with their effort (NaN where any of it is unknown)."""
    if visits is None or visits.empty:
        return pd.DataFrame({"outlet": pd.Series(dtype=object), "date": pd.Series(dtype="M8[ns]"),
                             "effort": pd.Series(dtype=float)})  # fmt: skip
    made = visits[visits["kind"].isin(("counted", "searched-uncounted")) & (visits["date"] <= today)]
    by = made.groupby(["outlet", "date"], as_index=False)
    days = by.agg(effort=("effort", "sum"), known=("effort", "count"), all=("effort", "size"))
    days["effort"] = days["effort"].where(days["known"] == days["all"])
    return days[["outlet", "date", "effort"]]


def _effort(
    outlet: str, last: pd.Timestamp, end: pd.Timestamp, today: pd.Timestamp, searches: pd.DataFrame
) -> dict[str, object]:
    """Effort after a spell: here until the next one, and anywhere until today. Unknown effort is counted, not
    guessed."""
    later = searches[searches["date"] > last]
    here = later[(later["outlet"] == outlet) & (later["date"] <= end)]
    return {
        "searches": len(here),
        "effort": float(here["effort"].sum()) if here["effort"].notna().any() else np.nan,
        "without_effort": int(here["effort"].isna().sum()),
        "searches_anywhere": len(later),
        "effort_anywhere": float(later["effort"].sum()) if later["effort"].notna().any() else np.nan,
    }
