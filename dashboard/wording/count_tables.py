"""Column names of the tables about the count regression, as in `tables`."""

from __future__ import annotations

from dashboard.wording.tables import Columns

#: Which visit it is.
VISIT: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
}
#: What a visit in the regression counted, and what is expected of it.
COUNTED: Columns = {"count": ("Count", "count"), "expected": ("Expected", "number")}
#: What stood behind its count.
BEHIND: Columns = {
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
#: What is wanted most of them where there is little room: the interval to read where there is one.
TERMS_FIRST = ("term", "estimate", "cluster_low", "cluster_high")
COUNT_ROWS: Columns = {
    **VISIT,
    **COUNTED,
    **BEHIND,
}
INFLUENCE: Columns = {
    **VISIT,
    **COUNTED,
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
    **VISIT,
    "water_temp_c": ("Water, °C", "number"),
    "apart_c": ("From usual, °C", "number"),
}
LEFT_OUT: Columns = {
    **VISIT,
    "reason": ("Left out because", "text"),
}
