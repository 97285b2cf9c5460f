"""Column names of the tables about alerts and the levels that raise them, as in `tables`."""

from __future__ import annotations

from dashboard.wording.tables import Columns

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
    "lead_p10": ("1 in 10 leads below, days", "number"),
    "lead_median": ("Half of the leads below, days", "number"),
    "lead_p90": ("9 in 10 leads below, days", "number"),
    "false_alarm_ratio": ("False-alarm ratio", "number"),
    "false_alarm_rate": ("False-alarm rate", "number"),
    "value_at_cost": ("Worth, of perfect knowledge", "number"),
    "too_early": ("Missed as too early", "count"),
    "too_soon": ("Too soon after the last", "count"),
    "not_judged": ("Stops not judged", "count"),
    "open_alerts": ("Alerts not judged", "count"),
}
ALERT_LEVELS: Columns = {"level_m3s": ("Alert at", "discharge"), "note": ("Which one it is", "text"), **_ALERTS}
#: What fits on paper; the rest is in the table beside the report.
ALERT_LEVELS_PRINTED: Columns = {
    name: ALERT_LEVELS[name]
    for name in (
        "level_m3s",
        "note",
        "hits",
        "late",
        "misses",
        "hit_rate",
        "false_alerts",
        "false_per_year",
        "lead_median",
    )
}
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
