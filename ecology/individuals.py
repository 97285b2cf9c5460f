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
    seen = captures.loc[captures["date"] <= today, ["date", "outlet", "individual"]]
    searches = _searches(visits, today)
    joined = dry.joined
    rows, absences = [], []
    for i in range(len(joined)):
        spell = joined.iloc[i]
        following = joined["first"].iloc[i + 1] if i + 1 < len(joined) else None
        end = today if following is None else following - _DAY
        row, absent = _one_spell(outlet, spell, end, seen, level)
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


def _one_spell(
    outlet: str, spell: pd.Series, end: pd.Timestamp, seen: pd.DataFrame, level: float
) -> tuple[dict[str, object], pd.DataFrame]:
    """The counts of one spell and the animals out of sight across it."""
    first, last = spell["first"], spell["last"]
    before = seen[seen["date"] < first].drop_duplicates("individual", keep="last").set_index("individual")
    before = before[before["outlet"] == outlet]
    after = seen[seen["date"] > last].drop_duplicates("individual", keep="first").set_index("individual")
    during = seen[(seen["date"] >= first) & (seen["date"] <= last)]
    again = before.index.isin(after.index)
    lately = (before["date"] >= first - LATELY_DAYS * _DAY).to_numpy()
    here = seen[(seen["date"] > last) & (seen["date"] <= end) & (seen["outlet"] == outlet)]["individual"]
    over = spell["status"] != "ongoing"
    row: dict[str, object] = {
        "first": first, "last": last, "days": int(spell["days"]), "status": spell["status"], "over": bool(over),
        "seen_before": len(before), "seen_after": int(again.sum()), "lately": int(lately.sum()),
        "lately_after": int((again & lately).sum()), "back_here": int(before.index.isin(here).sum()),
        "elsewhere_during": int(before.index.isin(during.loc[during["outlet"] != outlet, "individual"]).sum()),
        "follow_up_end": end,
    }  # fmt: skip
    for name, number, of in (("", "seen_after", "seen_before"), ("lately_", "lately_after", "lately")):
        known = bool(over) and int(str(row[of])) > 0
        k, n = int(str(row[number])), int(str(row[of]))
        low, high = share_interval(k, n, level) if known else (np.nan, np.nan)
        row |= {f"{name}share": k / n if known else np.nan, f"{name}low": low, f"{name}high": high}
    unseen = again & ~before.index.isin(during["individual"])
    gone = before[unseen]
    back = after.loc[gone.index]
    absent = pd.DataFrame(
        {
            "spell_first": first,
            "spell_last": last,
            "individual": gone.index.to_numpy(),
            "last_before": gone["date"].to_numpy(),
            "last_before_outlet": gone["outlet"].to_numpy(),
            "first_after": back["date"].to_numpy(),
            "first_after_outlet": back["outlet"].to_numpy(),
            "least_days": int(spell["days"]),
            "most_days": (back["date"].to_numpy() - gone["date"].to_numpy()).astype("m8[D]").astype(np.int64),
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
