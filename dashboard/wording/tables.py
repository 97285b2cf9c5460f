"""Column names of the tables on the pages: column of the answer -> (name for people, kind of value).

Kinds: text, day, count, number, chance (a share shown with two digits), discharge (m³/s in, display unit out), volume.
"""

from __future__ import annotations

from collections.abc import Mapping

Columns = Mapping[str, tuple[str, str]]

SPELLS: Columns = {
    "first": ("First dry day", "day"),
    "last": ("Last dry day", "day"),
    "days": ("Days", "count"),
    "status": ("What is known of it", "text"),
    "minimum_m3s": ("Lowest", "discharge"),
    "deficit_m3": ("Short by, m³", "volume"),
    "parts": ("Spells in it", "count"),
    "unknown_days": ("Unknown days beside it", "count"),
    "provisional_days": ("Provisional days", "count"),
    "bridged_days": ("Bridged days", "count"),
    "seen_dry": ("Times seen dry", "count"),
    "seen_running": ("Times seen running", "count"),
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
LAGS: Columns = {
    "spell_last": ("Last dry day", "day"),
    "dry_days": ("Dry days before", "count"),
    "restart": ("Water back", "day"),
    "searches": ("Searches", "count"),
    "last_none_found": ("Last search without a find", "day"),
    "first_found": ("First find", "day"),
    "low_days": ("After, days", "count"),
    "high_days": ("By, days", "count"),
    "censoring": ("Kind", "text"),
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
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
    "count": ("Count", "count"),
    "expected": ("Expected", "number"),
    "effort": ("Effort", "number"),
    "discharge_m3s": ("Discharge that day", "discharge"),
    "cycle": ("Group", "count"),
}
TERMS: Columns = {
    "term": ("Term", "text"),
    "estimate": ("Estimate", "number"),
    "se": ("Error, observed information", "number"),
    "low": ("From", "number"),
    "high": ("To", "number"),
    "p": ("p", "p"),
    "cluster_se": ("Error by group", "number"),
    "cluster_low": ("From, by group", "number"),
    "cluster_high": ("To, by group", "number"),
    "cluster_p": ("p, by group", "p"),
}
COUNT_ROWS: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
    "count": ("Count", "count"),
    "expected": ("Expected", "number"),
    "effort": ("Effort", "number"),
    "discharge_m3s": ("Discharge that day", "discharge"),
    "cycle": ("Group", "count"),
}
INFLUENCE: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
    "count": ("Count", "count"),
    "expected": ("Expected", "number"),
    "moved": ("Moves the effect by, standard errors", "number"),
}
COUNT_WINDOWS: Columns = {
    "window": ("Days before", "count"),
    "score": ("Mean log score", "number"),
    "behind": ("Less than the best by", "number"),
    "behind_se": ("Error of that", "number"),
    "covered_80": ("Inside 80 % interval", "number"),
    "covered_95": ("Inside 95 % interval", "number"),
}
FLOW_EFFECTS: Columns = {
    "outlet": ("Outlet", "text"),
    "value": ("Factor per doubling of discharge", "number"),
    "low": ("From", "number"),
    "high": ("To", "number"),
}
TEMPERATURES: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
    "water_temp_c": ("Water, °C", "number"),
    "apart_c": ("From usual, °C", "number"),
}
LEFT_OUT: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
    "reason": ("Left out because", "text"),
}
SIGHTINGS: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "surface": ("Surface seen", "text"),
    "discharge_m3s": ("Discharge that day", "discharge"),
    "expected": ("Expected", "text"),
    "against": ("By the", "text"),
    "probability": ("Chance of what was seen", "number"),
    "source": ("Written down by a", "text"),
    "reason": ("Not used because", "text"),
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
ALERTS: Columns = {
    "alert": ("Alert", "text"),
    "outlet": ("Outlet", "text"),
    "kind": ("What was told", "text"),
    "since": ("Since", "day"),
    "raised_at": ("Raised (UTC)", "text"),
    "level_m3s": ("Level", "discharge"),
    "discharge_m3s": ("Discharge", "discharge"),
    "reading_day": ("Reading of", "day"),
    "outcome": ("What came after", "text"),
    "stopped": ("First dry day", "day"),
    "lead_days": ("Days ahead, from its beginning", "count"),
    "notice_days": ("Days ahead, from its raising", "count"),
    "over_on": ("Over on", "day"),
    "sent_to": ("Sent to", "text"),
    "waiting_for": ("Waiting for", "text"),
    "acknowledged_by": ("Seen to by", "text"),
}
_ALERTS: Columns = {
    "hits": ("In time", "count"),
    "late": ("Late", "count"),
    "misses": ("Missed", "count"),
    "hit_rate": ("Share in time", "number"),
    "false_alerts": ("False alerts", "count"),
    "false_per_year": ("False a year", "number"),
    "alerts_per_year": ("Alerts a year", "number"),
    "lead_p10": ("Lead, days: 1 in 10 below", "number"),
    "lead_median": ("half below", "number"),
    "lead_p90": ("9 in 10 below", "number"),
    "false_alarm_ratio": ("False-alarm ratio (of alerts)", "number"),
    "false_alarm_rate": ("False-alarm rate (of quiet times)", "number"),
    "value_at_cost": ("Worth, of perfect knowledge", "number"),
    "too_early": ("Missed as too early", "count"),
    "too_soon": ("Too soon after the last", "count"),
    "not_judged": ("Stops not judged", "count"),
    "open_alerts": ("Alerts not judged", "count"),
}
ALERT_LEVELS: Columns = {"level_m3s": ("Alert at", "discharge"), "note": ("Which one it is", "text"), **_ALERTS}
ALERT_CHANCES: Columns = {"at": ("Alert at a chance of", "number"), "note": ("Which one it is", "text"), **_ALERTS}
ALERT_STOPS: Columns = {
    "stop": ("First dry day", "day"),
    "last": ("Last dry day", "day"),
    "alert": ("Alert from", "day"),
    "lead_days": ("Lead, days", "count"),
    "outcome": ("Announced", "text"),
    "carried": ("Standing since before", "yes"),
}
ALERTS_RAISED: Columns = {
    "raised": ("Raised", "day"),
    "over": ("Over", "day"),
    "outcome": ("What came of it", "text"),
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
    "days": ("Days", "count"),
    "days_missing": ("Without a value", "count"),
    "gaps": ("Gaps", "count"),
    "provisional_days": ("Provisional days", "count"),
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
    "outlet": ("Outlet", "text"),
    "title": ("Name", "text"),
    "flow": ("Depends on", "text"),
    "stops_below": ("Stops below", "text"),
    "restarts_above": ("Restarts at", "text"),
    "dry_spells": ("Dry spells", "count"),
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
    "file": ("File", "text"),
    "mark": ("Mark of the agency", "text"),
    "rows": ("Rows", "count"),
}
PROBLEMS: Columns = {
    "file": ("File", "text"),
    "row": ("Row or key", "text"),
    "column": ("Column", "text"),
    "value": ("Found", "text"),
    "expected": ("Expected", "text"),
}
JOURNAL: Columns = {
    "made": ("Sent (UTC)", "text"),
    "who": ("By", "text"),
    "what": ("What", "text"),
    "state": ("State", "text"),
    "why": ("Why", "text"),
    "changed_by": ("Changed by", "text"),
}
CENSORINGS = {
    "left": "found by the first search",
    "interval": "found between two searches",
    "right": "not found",
}
