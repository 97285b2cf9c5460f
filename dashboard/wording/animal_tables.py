"""Column names of the tables about returns, drops in counts and planned visits, as in `tables`."""

from __future__ import annotations

from dashboard.wording.count_tables import COUNT_ROWS
from dashboard.wording.tables import Columns

LAGS: Columns = {
    "restart": ("Water back", "day"),
    "low_days": ("After, days", "count"),
    "high_days": ("By, days", "count"),
    "censoring": ("Kind", "text"),
    "dry_days": ("Dry days before", "count"),
    "searches": ("Searches", "count"),
    "last_none_found": ("Last search without a find", "day"),
    "first_found": ("First find", "day"),
    "spell_last": ("Last dry day", "day"),
    "follow_up_end": ("Followed until", "day"),
}
SEARCHES: Columns = {
    "date": ("Day", "day"),
    "days": ("Days since the water came back", "count"),
    "pass": ("Pass", "count"),
    "count": ("Count", "count"),
    "effort": ("Effort", "number"),
    "surface": ("Surface seen", "text"),
    "observers": ("Observers", "text"),
    "note": ("Note", "text"),
    "row": ("Row of the file", "count"),
}
HALF_COUNTS: Columns = {
    "date": ("Day", "day"),
    "days": ("Days since the water came back", "count"),
    "counted": ("Count", "count"),
    "expected": ("Expected", "number"),
    "share": ("Count ÷ expected", "number"),
    "effort": ("Effort", "number"),
    "row": ("Row of the file", "count"),
}
CENSORINGS = {
    "left": "found by the first search",
    "interval": "found between two searches",
    "right": "not found",
}
DROP_FACTORS: Columns = {
    "part": ("Part", "text"),
    "factor": ("Factor", "number"),
    "low": ("From", "number"),
    "high": ("To", "number"),
    "animals": ("Animals", "number"),
    "meaning": ("What it is", "text"),
}
DROP_ROWS: Columns = {
    "period": ("Period", "text"),
    **COUNT_ROWS,
}
PLAN_CURVE: Columns = {
    "detection": ("If a visit finds with", "number"),
    "visits": ("Visits", "count"),
    "every_days": ("Days between two", "count"),
    "per_cycle": ("in each cycle", "count"),
    "probability": ("Chance", "number"),
    "low": ("From", "number"),
    "high": ("To", "number"),
    "present": ("Chance that animals are there", "number"),
    "present_low": ("there, from", "number"),
    "present_high": ("there, to", "number"),
    "at_worst": ("If they return right after a visit", "number"),
    "upper_bound": ("By the formula, at most", "number"),
    "detectable_decline": ("Decline shown as surely, about", "number"),
}
