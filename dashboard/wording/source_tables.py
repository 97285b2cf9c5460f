"""Column names of the tables about files, gauges, outlets and what people wrote down, as in `tables`."""

from __future__ import annotations

from dashboard.wording.tables import Columns

FILES: Columns = {
    "file": ("File", "text"),
    "used_for": ("Used for", "text"),
    "format": ("Format", "text"),
    "station": ("Station", "text"),
    "series": ("Series", "text"),
    "step": ("Step", "text"),
    "unit": ("Unit", "text"),
    "unit_from": ("Unit known from", "text"),
    "clock": ("Clock", "text"),
    "retrieved": ("Retrieved", "text"),
    "sha256": ("SHA-256 of the file", "text"),
}
GAUGES: Columns = {
    "gauge": ("Gauge", "text"),
    "first": ("First day", "day"),
    "last": ("Last day", "day"),
    "days_missing": ("Without a value", "count"),
    "provisional_days": ("Provisional days", "count"),
    "days": ("Days", "count"),
    "gaps": ("Gaps", "count"),
    "minimum_m3s": ("Lowest", "discharge"),
    "maximum_m3s": ("Highest", "discharge"),
    "error_percent": ("Error, % in 95 of 100", "number"),
    "service": ("Service", "text"),
    "station": ("Station", "text"),
    "retrieved": ("Retrieved (UTC)", "text"),
    "out_of_date_because": ("Kept copy, because", "text"),
    "values_changed": ("Values that changed last", "count"),
}
FLOWS: Columns = {
    "flow": ("Combined discharge", "text"),
    "members": ("Sum of", "text"),
    "first": ("First day", "day"),
    "last": ("Last day", "day"),
    "days_missing": ("Days not known", "count"),
    "days_bridged": ("Days bridged", "count"),
    "bridge_gaps_days": ("Bridges gaps up to, days", "count"),
}
OUTLETS: Columns = {
    "title": ("Outlet", "text"),
    "stops_below": ("Stops below", "text"),
    "restarts_above": ("Restarts at", "text"),
    "dry_spells": ("Dry spells", "count"),
    "flow": ("Depends on", "text"),
    "outlet": ("Its id", "text"),
}
VISIT_KINDS: Columns = {
    "outlet": ("Outlet", "text"),
    "counted": ("Counted", "count"),
    "searched-uncounted": ("Searched, not counted", "count"),
    "not-searched": ("Not searched", "count"),
    "dry": ("Dry", "count"),
    "first": ("First visit", "day"),
    "last": ("Last visit", "day"),
}
GAPS: Columns = {
    "gauge": ("Gauge", "text"),
    "first": ("First day without a value", "day"),
    "last": ("Last day without a value", "day"),
    "days": ("Days", "count"),
}
MARKS: Columns = {
    "gauge": ("Gauge", "text"),
    "mark": ("Mark of the agency", "text"),
    "rows": ("Rows", "count"),
    "file": ("File", "text"),
}
#: What is wanted most of it where there is little room.
PROBLEMS_FIRST = ("row", "column", "value", "expected")
PROBLEMS: Columns = {
    "file": ("File", "text"),
    "row": ("Row or key", "text"),
    "column": ("Column", "text"),
    "value": ("Found", "text"),
    "expected": ("Expected", "text"),
}
