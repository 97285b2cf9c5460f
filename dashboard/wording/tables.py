"""Column names of the tables on the pages: column of the answer -> (name for people, kind of value).

Kinds: text, day, count, number, chance (a share shown with two digits), discharge (m³/s in, display unit out), volume.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

Columns = Mapping[str, tuple[str, str]]

#: Columns that are asked for least often: where there is no room they go first, in this order from the end. None says how
#: sure another column is.
LEAST_WANTED = (
    "time",
    "hit_rate",
    "false_alerts",
    "lead_p10",
    "lead_p90",
    "members",
    "deficit_m3",
    "parts",
    "bridged_days",
    "n",
    "n_years",
    "n_events",
    "base_rate",
    "brier",
    "brier_conditional_climatology",
    "brier_climatology",
    "brier_persistence",
    "alerts_per_year",
    "false_alarm_ratio",
    "false_alarm_rate",
    "value_at_cost",
    "too_early",
    "too_soon",
    "not_judged",
    "open_alerts",
    "seen_before",
    "seen_after",
    "back_here",
    "elsewhere_during",
    "without_effort",
    "follow_up_end",
    "station",
    "series",
    "step",
    "unit_from",
    "clock",
    "sha256",
    "at_boundary",
    "minus_two_log_likelihood",
)
#: Two columns that are only understood together.
TOGETHER = (
    ("low", "high"),
    ("cluster_low", "cluster_high"),
    ("low_days", "high_days"),
    ("lately_low", "lately_high"),
    ("lead_p10", "lead_p90"),
    ("present_low", "present_high"),
    ("minimum_m3s", "maximum_m3s"),
)
#: What opens the columns that do not fit; their names follow.
MORE_COLUMNS = "More columns:"


def by_want(names: Iterable[str], first: Sequence[str] = ()) -> list[list[str]]:
    """Columns in groups that come and go together, the most wanted first.

    That is from left to right, `first` before all others and the least wanted after them.
    """
    order = list(names)
    order.sort(key=lambda n: first.index(n) - len(first) if n in first else _want(n))
    groups: list[list[str]] = []
    for name in order:
        pair = next((p for p in TOGETHER if name in p and set(p) <= set(order)), (name,))
        if not any(name in g for g in groups):
            groups.append(list(pair))
    return groups


def _want(name: str) -> int:
    return LEAST_WANTED.index(name) + 1 if name in LEAST_WANTED else 0


SPELLS: Columns = {
    "first": ("First dry day", "day"),
    "last": ("Last dry day", "day"),
    "days": ("Days", "count"),
    "status": ("What is known of it", "text"),
    "minimum_m3s": ("Lowest", "discharge"),
    "deficit_m3": ("Short by, m³", "volume"),
    "parts": ("Spells in it", "count"),
    "unknown_days": ("Unknown beside it", "count"),
    "provisional_days": ("Provisional", "count"),
    "bridged_days": ("Bridged", "count"),
    "seen_dry": ("Seen dry", "count"),
    "seen_running": ("Seen running", "count"),
}
YEARS: Columns = {
    "year": ("Year", "year"),
    "dry_days": ("Dry days", "count"),
    "unknown_days": ("Days not known", "count"),
    "record_days": ("Days on record", "count"),
}
DAILY: Columns = {
    "day": ("Day", "day"),
    "discharge_m3s": ("Discharge", "discharge"),
    "state": ("By flow", "text"),
    "provisional": ("Provisional", "yes"),
    "estimated": ("Estimated", "yes"),
    "bridged": ("Bridged", "yes"),
    "missing": ("Gauges without a value", "text"),
    "error_percent": ("Error, % in 95 of 100", "number"),
}
VISITS: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "time": ("Time", "text"),
    "outlet": ("Outlet", "text"),
    "surface": ("Surface seen", "text"),
    "kind": ("Kind of visit", "text"),
    "count": ("Count", "count"),
    "effort": ("Effort", "number"),
    "water_temp_c": ("Water, °C", "number"),
    "observers": ("Observers", "text"),
    "note": ("Note", "text"),
}
SIGHTINGS: Columns = {
    "date": ("Day", "day"),
    "surface": ("Surface seen", "text"),
    "discharge_m3s": ("Discharge that day", "discharge"),
    "expected": ("Expected", "text"),
    "against": ("By", "text"),
    "probability": ("Chance of what was seen", "number"),
    "source": ("Written down by a", "text"),
    "reason": ("Not used because", "text"),
    "row": ("Row of the file", "count"),
}
TRIED_LEVELS: Columns = {
    "name": ("Level", "text"),
    "stop_m3s": ("Stops below", "discharge"),
    "disagreeing": ("Sightings that disagree", "count"),
    "judged": ("of sightings", "count"),
    "dry_days_a_year": ("Dry days a year", "number"),
    "dry_spells": ("Dry spells", "count"),
}
SCORES: Columns = {
    "lead": ("Days ahead", "count"),
    "skill_vs_conditional_climatology": ("Better than season and state by", "number"),
    "low": ("From", "number"),
    "high": ("To", "number"),
    "skill_vs_climatology": ("than season alone by", "number"),
    "skill_vs_persistence": ("than “stays as it is” by", "number"),
    "why_no_skill": ("No score because", "text"),
    "n": ("Forecasts", "count"),
    "n_years": ("Years", "count"),
    "n_events": ("Dry spells", "count"),
    "base_rate": ("Share of days running", "number"),
    "brier": ("Brier score", "number"),
    "brier_conditional_climatology": ("of season and state", "number"),
    "brier_climatology": ("of season alone", "number"),
    "brier_persistence": ("of “stays as it is”", "number"),
}
OUTLOOK_DAYS: Columns = {
    "date": ("Day", "day"),
    "lead": ("Days ahead", "count"),
    "probability_running": ("Chance of running", "number"),
    "discharge_low_m3s": ("Discharge from", "discharge"),
    "discharge_median_m3s": ("middle", "discharge"),
    "discharge_high_m3s": ("to", "discharge"),
    "members": ("Courses behind it", "count"),
}
