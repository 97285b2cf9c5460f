"""Labels and columns of the page on individuals."""

from __future__ import annotations

from dashboard.wording.tables import Columns

HOW_TO_BEGIN = (
    "If you recognise individuals, keep a table with one row an animal handled (date, outlet, individual) and name it under "
    '[surveys] in workspace.toml: captures = "captures.csv".'
)
ANIMALS_SHOWN, ANIMALS_OF = "Animals shown", "Animals of"
OF_ALL, OF_HERE = "All outlets", "This outlet"
ANIMALS = {"through": "Out of sight across a dry spell here", "twice": "Met here, and met twice or more"}
OCCASIONS = {"visit": "Days", "month": "Months", "year": "Years"}
GROUPED_BY = "Captures taken together by"
SEEN_AGAIN = "Seen again after each dry spell"
BY_SPELL, OUT_OF_SIGHT = "Before and after each dry spell", "Out of sight across a dry spell"
SURVIVAL, ABUNDANCE, UNSURE = "Survival", "How many there were", "Without unsure matches"
LEAST_CONFIDENCE = "Leave out matches with a confidence below"
CLOSED = (
    "Choose a time so short that hardly any animal died, came or left, in which animals were captured on several days."
)
CHOOSE_WINDOW = "No time is chosen yet, so no number is estimated."

_CROSSINGS: Columns = {
    "first": ("First dry day", "day"),
    "last": ("Last dry day", "day"),
    "days": ("Days", "count"),
    "lately": ("Seen in the year before", "count"),
    "lately_after": ("of those, again", "count"),
    "lately_low": ("Share from", "number"),
    "lately_high": ("Share to", "number"),
    "seen_before": ("Ever last seen here", "count"),
    "seen_after": ("of all those, again", "count"),
    "back_here": ("back here before the next", "count"),
    "elsewhere_during": ("elsewhere meanwhile", "count"),
    "searches": ("Search days after", "count"),
    "effort": ("Effort after", "number"),
    "without_effort": ("Days without effort", "count"),
    "follow_up_end": ("Looked until", "day"),
}
#: What is wanted most of them where there is little room.
CROSSINGS_FIRST = ("first", "lately", "lately_after", "lately_low", "lately_high", "days")
#: What does not fit on paper: it is in the table beside the report.
_NOT_PRINTED = ("elsewhere_during", "seen_before", "seen_after", "without_effort")
ABSENCES: Columns = {
    "individual": ("Animal", "text"),
    "last_before": ("Last seen before", "day"),
    "first_after": ("First seen after", "day"),
    "first_after_outlet": ("at", "text"),
    "least_days": ("Out of sight at least, days", "count"),
    "most_days": ("at most, days", "count"),
    "spell_first": ("First dry day", "day"),
    "spell_last": ("Last dry day", "day"),
}
MODELS: Columns = {
    "model": ("Model", "text"),
    "parameters": ("Parameters", "count"),
    "minus_two_log_likelihood": ("−2 ln L", "text"),
    "above_least_aic": ("AIC above the least", "number"),
    "at_boundary": ("Rates at a boundary", "count"),
}
ESTIMATES: Columns = {
    "estimator": ("Estimate", "text"),
    "value": ("Animals", "number"),
    "low": ("From", "number"),
    "high": ("To", "number"),
    "interval_by": ("Interval by", "text"),
    "why": ("Not known because", "text"),
}
CAPTURES: Columns = {
    "row": ("Row of the file", "count"),
    "date": ("Day", "day"),
    "outlet": ("Outlet", "text"),
    "individual": ("Animal", "text"),
    "stage": ("Stage", "text"),
    "gravid": ("With eggs", "text"),
    "length_mm": ("Length, mm", "number"),
    "match_confidence": ("Confidence of the match", "number"),
    "note": ("Note", "text"),
}


def crossings(effort_unit: str) -> Columns:
    """Columns of what came before and after each dry spell, with effort in its unit."""
    return {**_CROSSINGS, "effort": (f"Effort after, {effort_unit}", "number")}


def crossings_printed(effort_unit: str) -> Columns:
    """Those of them that fit on paper."""
    return {name: column for name, column in crossings(effort_unit).items() if name not in _NOT_PRINTED}


def nobody(title: str) -> str:
    return f"No animal was met at {title} and met twice: there is nothing to draw."
