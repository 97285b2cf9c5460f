"""Sentences about how far ahead a stop can be announced, and at what price."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from dashboard.answers.alert_levels_json import LEVEL
from dashboard.wording.numbers import count_of, days_only, discharge, figures, interval
from hydro.count_limits import rate_limits, share_limits

if TYPE_CHECKING:
    from dashboard.answers.alert_levels import OutletAlerts
    from dashboard.answers.answer import Header
    from hydro.alert_choice import AlertNeeds
    from hydro.alert_level import AlertTable

ORIGINS = {"grid": "", "set": "set so far", "tried": "tried"}
WHAT_EACH_DID = "What each level would have done is shown."


def answer(o: OutletAlerts, header: Header) -> str:
    """The first sentence: the level, how sure, and what it rests on."""
    title, t = o.outlet.title, o.levels
    if t is None:
        return f"There is no alert level for {title}: {o.why}."
    r, needs = t.recommended, t.needs
    if r.candidate is None or r.held_out is None:
        return f"No alert level can be recommended for {title}: {judged_in_words(t)}, and 5 are needed. {WHAT_EACH_DID}"
    at = discharge(float(t.at[r.candidate]), header.unit)
    if r.reached is False:
        start = (
            f"No level announces {hundred(needs.hit_rate)} stops of {title} {days_only(needs.lead_days)} ahead; the "
            f"one that comes nearest is {at}"
        )
    else:
        start = f"To hear of a stop of {title} {days_only(needs.lead_days)} ahead, set the alert at {at}"
    return f"{start}: {held_out_in_words(t)}."


def hundred(share: float) -> str:
    """A share that was asked for: “90 in 100”."""
    return f"{100 * share:.3g} in 100"


def held_out_in_words(t: AlertTable) -> str:
    """What the recommendation did on years that had no part in choosing it."""
    h = t.recommended.held_out
    if h is None:
        return "nothing could be judged"
    hits, judged = int(h["hits"]), int(h["hits"] + h["late"] + h["misses"])
    limits = interval(*share_limits(hits, judged, LEVEL), lambda v: f"{100 * v:.0f}")
    low, high = rate_limits(int(h["false_alerts"]), h["years"], LEVEL)
    return (
        f"judged on years that had no part in choosing it, that came in time before {hits} of {count_of(judged, 'stop')} "
        f"({100 * LEVEL:g} % interval {limits} in 100), with {count_of(int(h['false_alerts']), 'false alert')} in "
        f"{figures(h['years'])} years ({figures(low, 2)}–{figures(high, 2)} a year)"
    )


def judged_in_words(t: AlertTable) -> str:
    """How many stops can be judged."""
    c = t.by_year
    n = int((c.hits + c.late + c.misses).sum(axis=1).max(initial=0))
    return f"only {count_of(n, 'stop')} can be judged" if n else "no stop can be judged"


def details(o: OutletAlerts, header: Header) -> list[str]:
    """What stands behind the first sentence."""
    t = o.levels
    if t is None:
        return []
    r, found = t.recommended, []
    if r.candidate is not None:
        row = t.table.iloc[r.candidate]
        found.append(f"On the whole record, which chose it, {level_in_words(row, t, header.unit)}.")
        found += lead_in_words(row)
        if r.chosen:
            found.append(steadiness(t, header.unit))
    found.append(set_in_words(o, header))
    found += _tried(o, header)
    if o.chances is not None:
        found.append(chance_in_words(o))
    found += left_out_in_words(t, r.candidate)
    found.append(how_judged(t.needs))
    return found


def level_in_words(row: pd.Series, t: AlertTable, unit: str) -> str:
    """One level's record; ratio and rate of false alarms by their full names."""
    judged = int(row["hits"] + row["late"] + row["misses"])
    at = discharge(float(row["at"]), unit)
    parts = [
        f"{at} announced {int(row['hits'])} of {count_of(judged, 'stop')} in time, {int(row['late'])} late, and missed "
        f"{int(row['misses'])}"
    ]
    if not row["alerts"]:
        parts.append("no alerts")
    elif np.isnan(row["alerts_per_year"]):
        alerts, known = count_of(int(row["alerts"]), "alert"), days_only(round(365.25 * t.years))
        parts.append(f"{alerts} in {known}, too short a record to say how many a year")
    else:
        parts.append(f"{figures(row['alerts_per_year'], 2)} alerts a year")
    if not np.isnan(row["false_alarm_ratio"]):
        parts.append(f"{100 * row['false_alarm_ratio']:.0f} in 100 of what it said false (false-alarm ratio)")
    if not np.isnan(row["false_alarm_rate"]):
        parts.append(
            f"a false alert in {100 * row['false_alarm_rate']:.0f} of 100 quiet stretches of "
            f"{days_only(t.needs.horizon_days)} (false-alarm rate)"
        )
    if not np.isnan(row["value_at_cost"]):
        parts.append(f"worth {100 * row['value_at_cost']:.0f} in 100 of what perfect knowledge would save")
    return "; ".join(parts)


def lead_in_words(row: pd.Series) -> list[str]:
    if np.isnan(row["lead_median"]):
        return []
    return [
        f"Half of its announcements came {days_only(row['lead_median'])} ahead or more, one in ten less than "
        f"{days_only(row['lead_p10'])}, one in ten more than {days_only(row['lead_p90'])}."
    ]


def steadiness(t: AlertTable, unit: str) -> str:
    """How often the other years chose the same level."""
    chosen = t.recommended.chosen
    parts = [f"{discharge(at, unit)} {count_of(n, 'time')}" for at, n in chosen.items()]
    return f"Leaving out one year at a time, the others chose {', '.join(parts)}."


def set_in_words(o: OutletAlerts, header: Header) -> str:
    """The level that the workspace sets against the one recommended."""
    t, k = o.levels, o.candidate_of("set")
    if t is None or k is None:
        return "No alert level is set in the workspace."
    row = t.table.iloc[k]
    if t.recommended.candidate == k:
        return "The alert level set in the workspace is the one recommended."
    return f"The alert level set in the workspace: {level_in_words(row, t, header.unit)}."


def _tried(o: OutletAlerts, header: Header) -> list[str]:
    t = o.levels
    if t is None:
        return []
    rows = [t.table.iloc[k] for k, origin in enumerate(o.origin) if origin == "tried"]
    return [f"As tried: {level_in_words(row, t, header.unit)}." for row in rows]


def chance_in_words(o: OutletAlerts) -> str:
    """What an alert on the outlook's chance does, on the same scale."""
    t = o.chances
    if t is None or t.recommended.candidate is None or t.recommended.held_out is None:
        return "An alert on the outlook's chance of stopping cannot be recommended: too few stops can be judged."
    at = float(t.at[t.recommended.candidate])
    short = " It does not reach the share asked for." if t.recommended.reached is False else ""
    return (
        f"An alert when the outlook's chance of stopping within {days_only(o.within_days)} comes to {hundred(at)}, "
        f"{held_out_in_words(t)}. Its forecasts were made without the year judged, every fifth day.{short}"
    )


def left_out_in_words(t: AlertTable, candidate: int | None) -> list[str]:
    """Stops and alerts that are not in the shares."""
    row = t.table.iloc[candidate if candidate is not None else 0]
    found = []
    if n := int(row["too_soon"]):
        found.append(
            f"{count_of(n, 'more stop')} came sooner than {days_only(t.needs.lead_days)} after the water was back: "
            "nothing can announce those so early, and they are not in the shares."
        )
    if n := int(row["not_judged"]):
        found.append(
            f"{count_of(n, 'stop')} could not be judged, because days without a value leave open when the outlet stopped "
            "or the alert came."
        )
    if n := int(row["open_alerts"]):
        found.append(
            f"{count_of(n, 'alert')} could not be judged: the record ends, or days without a value leave open whether "
            "the outlet stopped. They are neither hits nor false."
        )
    if n := int(row["too_early"]):
        found.append(
            f"{count_of(n, 'stop')} came more than {days_only(t.needs.horizon_days)} after the alert: that counts as "
            "missed, and the alert as false."
        )
    return found


def how_judged(needs: AlertNeeds) -> str:
    """The rules in a sentence."""
    chosen = (
        f"the fewest false alerts among those that announce {hundred(needs.hit_rate)} stops"
        if needs.miss_cost is None
        else f"the least cost, a stop not announced in time costing as much as {needs.miss_cost:g} false alerts"
    )
    return (
        f"An alert is raised on the first day at or below its level and is over once discharge is a tenth above it; "
        f"alerts within 14 days of one another are one. In time: raised {needs.lead_days} to "
        f"{days_only(needs.horizon_days)} before the first dry day. Chosen: {chosen}."
    )


def too_few_in_words() -> str:
    return "With fewer than 5 stops any level would be chosen by chance: the table is shown, and none is recommended."


def taken_because(t: AlertTable) -> str:
    """The comment beside a level that was taken over."""
    h = t.recommended.held_out
    if h is None:
        return "chosen by hand"
    judged = int(h["hits"] + h["late"] + h["misses"])
    return f"recommended: in time before {int(h['hits'])} of {judged} stops in years held out"
