"""What pictures say: axis names, keys to the marks, and one sentence of each for people who do not see it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.numbers import count_of, days, discharge, figures, short_date
from hydro.units import from_m3s

if TYPE_CHECKING:
    import pandas as pd

DISCHARGE, SEEN, VISITS, DRY, ZERO = "discharge", "seen", "visits", "dry", "zero"
UNKNOWN_SIGN = "?"
SINCE_RESTART = "days since the water came back"
SHARE_BACK = "share of dry spells after which animals were seen again"
NO_VALUE = "no value"
FOUND, NONE_FOUND = "animals found", "searched, none found"
EXPECTED = "expected"
NOT_COUNTED, NOT_SEARCHED = "searched, not counted", "not searched"
SEEN_WORDS = {"running": "seen running", "pooled": "seen pooled", "dry": "seen dry"}
DRY_DAYS, UNKNOWN_DAYS, RECORD_DAYS = "dry days", "days not known", "days on record"
CHANCE_CURVE, NO_CURVE = "chance of running, in 100", "no curve: see the sentences below"
IN_HUNDRED = "chance, in 100"
RUNS_THAT_DAY, STOPPED_BY, RUNNING_BY = "runs that day", "has stopped by then", "has run again by then"
CHANCE_GIVEN, SHARE_THAT_RAN = "chance of running given, in 100", "share that ran, in 100; above: forecasts"
ANNOUNCED_IN_TIME, FALSE_A_YEAR = "stops announced in time, in 100", "false alerts a year"
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")

HYDROGRAPH_KEY = (
    "Line: combined discharge (dashed = provisional, dotted = bridged over a gap, nothing drawn = not known). "
    "Seen: ▲ running, ■ pooled, ✕ dry. Visits: ◆ animals found, ◇ searched and none found, ◈ searched and not counted, | not searched. "
    "Hatched: dry by discharge; empty with “?”: not known."
)
RECENT_KEY = "Line: discharge, dashed where provisional. Marks above: ▲ seen running, ■ pooled, ✕ dry."
_LEVEL_KEY = (
    "Each mark is one visit: ▲ seen running, ■ pooled, ✕ dry; those that disagree with the level stand in a ring. "
    "Curve and band: chance of running with its interval. Bar across: bracket between the highest discharge seen dry "
    "and the lowest seen running. Upright: learnt level (solid, with its interval), set level (dashed)"
)
#: In a report no level is tried.
LEVEL_KEY_IN_REPORT, LEVEL_KEY = f"{_LEVEL_KEY}.", f"{_LEVEL_KEY}, a level tried (dotted)."
CHANCE_KEY = (
    "Solid: chance of running on that day, dots where the record of such forecasts is known (1 to 90 days ahead). "
    "Dashed: chance of a first change by then."
)
FAN_KEY = (
    "Fan: middle and range of the outlook. Level across: stop level, its band where it is uncertain. Dotted: the course "
    "without any recharge, its dot the day it reaches the level, the thick bar the span of that day."
)
CAME_TRUE_KEY = (
    "◆ share of the forecasts that came true. Bars: where ◆ should lie if the forecasts are right, by chance alone. "
    "Dotted: chance and share the same. Numbers above: how many forecasts."
)
TRADEOFF_KEY = (
    "● one discharge level each, joined from low to high, with the level and the lead that half of its announcements "
    "reached. Ring: recommended. ◆ and bars: the recommendation on years that had no part in choosing it, with 95 % "
    "limits. Square: set in the workspace. △ alerts on the chance of stopping. Dashed: the share asked for."
)
YEARS_KEY = "Hatched: dry days. Empty with “?”: days on which the state is not known, neither dry nor running."
CALENDAR_KEY = (
    "Number: dry days in the month or year, darker = more of the month. “?” and hatching, in bars an empty part: some or "
    "all days are not known, neither dry nor running. Dot: no dry day. Empty: no record."
)
LAGS_KEY = (
    "One row a dry spell, named by the day the water came back. ◇ search that found none, ◆ search that found animals. Thick bar: the time in which the "
    "return lies. Arrow: not found by the last search. ✕: no search that tells of a return."
)
CURVE_KEY = (
    "Level lines: the share is known. Boxes: between two visits only its bounds are known. Bars: interval from "
    "resampled spells. Uprights: by then animals were back after half of the spells, at face value (dashed) and allowing "
    "for searches that missed them (solid, with its interval across)."
)
HALF_KEY = (
    "One row a dry spell. ◆ the count reached half of what is expected of that visit, ◇ it did not. Thick bar: the time "
    "in which half was reached. Arrow: not by the last visit."
)
NO_SEARCH = "no search that tells of a return"
REACHED_HALF, BELOW_HALF = "half or more of what is expected", "less than half"
COUNTS_KEY = (
    "◆ visit that found animals, ◇ visit that found none. Band: the fitted mean with its interval at this outlet, "
    "thin lines: the other outlets, all at mean season and long after a restart."
)
COUNTS_TIME_KEY = (
    "◆ found, ◇ none found, ✕ visit to a dry outlet (a state, not a count of zero), – what the fit expects of that "
    "visit. Hatched: dry by discharge."
)


def per_effort(effort: float, unit: str) -> str:
    """The name of a count for a stated effort."""
    return f"animals per {effort:g} {unit}"


def share_axis(share_of: str) -> str:
    return f"share of the {share_of}"


def mean_discharge(window: int, unit_symbol: str) -> str:
    span = "on the day before" if window == 1 else f"over the {window} days before"
    return f"mean discharge {span}, {unit_symbol}"


def level(kind: str, value_m3s: float, unit: str, source: str) -> str:
    """The label at the end of a level line."""
    verb = {"stop": "stops below", "restart": "restarts at"}[kind]
    return f"{verb} {discharge(value_m3s, unit)}, {source}"


def hydrograph(
    title: str, first: pd.Timestamp, last: pd.Timestamp, low: str | None, high: str | None, n: int | None
) -> str:
    """The hydrograph for people who do not see it."""
    span = f"{short_date(first)} to {short_date(last)}"
    known = f"between {low} and {high}" if low and high else "never known"
    spells = "no stop level set" if n is None else count_of(n, "dry spell")
    return f"Discharge at {title}, {span}: {known}; {spells} in the period."


def recent(title: str, first: pd.Timestamp, last: pd.Timestamp, value: str | None) -> str:
    newest = f"last value {value}" if value else "no value"
    return f"Discharge at {title} from {short_date(first)} to {short_date(last)}: {newest}."


def years(title: str, most_year: int | None, most: int) -> str:
    if most_year is None or most == 0:
        return f"Dry days by year at {title}: none in any year."
    return f"Dry days by year at {title}: most in {most_year}, {days(most)}."


def calendar(title: str, month: str | None) -> str:
    where = "no month had a dry day" if month is None else f"{month} was dry most often"
    return f"Dry days by month and year at {title}: {where}."


def lags(title: str, n: int, found: int, animals: str) -> str:
    return f"Searches after {count_of(n, 'dry spell')} at {title}: {animals} were found again after {found} of them."


def counts(title: str, n: int, ratio: float | None) -> str:
    trend = "no curve could be fitted" if ratio is None else f"twice the flow goes with {ratio:.2g} times the count"
    return f"Counts for equal effort against discharge at {title}, {count_of(n, 'visit')}: {trend}."


def counts_over_time(title: str, n: int, first: pd.Timestamp, last: pd.Timestamp) -> str:
    return f"Counts for equal effort at {title}, {count_of(n, 'visit')} between {short_date(first)} and {short_date(last)}."


def half_back(days_said: str, *, corrected: bool) -> str:
    """The label of a half-way line."""
    line, kind = ("│", "corrected") if corrected else ("┆", "at face value")
    return f"{line} half by {days_said},<br>{line} {kind}"


def half_rows(title: str, n: int, reached: int) -> str:
    return f"Counts after {count_of(n, 'dry spell')} at {title}: half of what is expected was reached after {reached} of them."


def covariate_over_time(name: str, title: str, n: int) -> str:
    return f"{name} over time at {title}, {count_of(n, 'visit')}."


def covariate_over_flow(name: str, title: str, n: int, related: float | None) -> str:
    tail = "" if related is None else f"; correlation with ln discharge {related:.2f}"
    return f"{name} against discharge at {title}, {count_of(n, 'visit')}{tail}."


def discharge_that_day(unit_symbol: str) -> str:
    return f"discharge on the day, {unit_symbol}"


def learnt_level(value_m3s: float, unit: str) -> str:
    return f"learnt {discharge(value_m3s, unit)}"


def level_and_lead(value_m3s: float, lead_days: float, unit: str) -> str:
    """The label of an alert level: the level, and the lead that half of its announcements reached."""
    lead = "" if lead_days != lead_days else f", {lead_days:.0f} d"
    return f"{figures(from_m3s(value_m3s, unit))}{lead}"


def set_level(value_m3s: float, unit: str) -> str:
    return f"set {discharge(value_m3s, unit)}"


def tried_level(value_m3s: float, unit: str) -> str:
    return f"tried {discharge(value_m3s, unit)}"


def trip(day: str) -> str:
    return f"trip {day}"


def without_recharge(day: str) -> str:
    return f"without recharge it stops about {day}"


def recent_fan_key(level: float) -> str:
    """The key to the days ahead of the strip."""
    return f"Fan: the outlook, its middle and the range that {100 * level:g} in 100 courses should keep to."


def fan(title: str, first: pd.Timestamp, last: pd.Timestamp) -> str:
    return (
        f"Discharge to be expected at {title} from {short_date(first)} to {short_date(last)}, against the stop level."
    )


def came_true(title: str, lead: int, forecasts: str, inside: int, bins: int, level: float) -> str:
    return (
        f"{forecasts} {days(lead)} ahead at {title}: in {inside} of {count_of(bins, 'group')} the share that ran lies "
        f"where {100 * level:g} in 100 groups of right forecasts would."
    )


PLAN_AXES = {
    "absence": "visits",
    "present": "visits, all without a find",
    "return": "days between two visits",
    "trend": "visits in each flow cycle",
}
PLAN_CURVES = {
    "absence": "chance of finding animals that are there, in 100",
    "present": "chance that animals are there all the same, in 100",
    "return": "chance that a return is known in time, in 100",
    "trend": "chance that the decline is shown, in 100",
}
PLAN_KEYS = {
    "absence": "Curve and band: over the range of how often a visit finds animals that are there. ◆ the plan, ◇ fewer visits. Dotted: as sure as asked for.",
    "return": "Curve and band: over the range of how often a visit finds animals that are back. ◆ the plan, ◇ fewer visits. Dotted: as sure as asked for.",
    "trend": "Curve: simulated, bars: what chance in the simulation leaves open (95 %). Dashed: closed formula, an upper bound. ◆ the plan, ◇ fewer visits. Dotted: as sure as asked for.",
}
PLAN_ASSUMED_KEY = "Nothing is known of how often a visit finds animals that are there: one line for each chance assumed. Dotted: as sure as asked for."


def plan_assumed(detection: float) -> str:
    """The name of the curve of an assumed detection."""
    return f"if {100 * detection:.0f} in 100"


def plan_point(purpose: str, x: int, visits: int) -> str:
    """The label of the plan in its picture."""
    if purpose == "return":
        return f"every {count_of(x, 'day')}, {count_of(visits, 'visit')}"
    return f"{count_of(x, 'visit')} a cycle" if purpose == "trend" else count_of(x, "visit")
