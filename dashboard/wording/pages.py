"""Page titles, labels, buttons and the sentences that only the pages say."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from dashboard.wording.numbers import count_of, long_date, short_date
from hydro.problems import describe

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.check import CheckAnswer
    from dashboard.answers.counts_answer import CountsAnswer
    from hydro.outlet import Outlet
    from hydro.problems import Problem

IS_IT_RUNNING = "Is it running?"
WHEN_WAS_IT_DRY = "When was it dry?"
WHERE_DOES_IT_STOP = "Where does it stop?"
HOW_FAR_AHEAD = "How far ahead can we warn?"
DAYS_AHEAD = "What is ahead?"
ALERTS = "Were the alerts right?"
RETURN_LAGS = "When do they come back?"
COUNTS_AND_FLOW = "Do counts follow flow?"
IS_THE_DROP_EXPECTED = "Is this drop more than expected?"
WHO_CAME_THROUGH = "Who came through the dry spell?"
HOW_MANY_VISITS = "How many visits?"
WRITE_DOWN = "Write down a visit"
MEETING_REPORT = "What do we tell the meeting?"
DATA_AND_SOURCES = "What does this rest on?"
START = "Start"

OUTLET, UNIT, PERIOD = "Outlet", "Unit of discharge", "Period shown"
FROM, TO = "From", "To"
PERIODS = {"all": "All", "10y": "10 years", "3y": "3 years", "1y": "1 year", "own": "Dates"}
TRIP = "Trip on"
TRIP_HELP = "Choose a day ahead: each row then says what is known about that day."
SPELLS_SHOWN = {"unjoined": "Each spell by itself", "joined": "Short interruptions joined"}
SPELLS_SHOWN_LABEL = "Dry spells listed as"
WINDOW = "Discharge averaged over"
WINDOWS = {7: "7 days before", 30: "30 days before", 90: "90 days before", 0: "Whichever predicts best"}

SIGN_IN, SIGN_OUT = "Sign in", "Sign out"
SIGN_IN_FIRST = "Nothing is shown before you have signed in."
GO_ON = "Other questions"
DOWNLOADS = "Take it with you: tables and pictures"
ROWS_BEHIND = "The rows behind"
REASONS = "What this rests on"
CAUTIONS_IN_FULL = "All cautions"
TABLE_FILES = "Tables: every digit, discharge in m³/s, open in any spreadsheet"
PICTURE_FILES = "Pictures, and the numbers drawn in them"
ANSWER_FILE = "The whole answer for a program (JSON)"
AS_CSV, AS_PNG, AS_SVG, AS_JSON = "CSV", "PNG", "SVG", "JSON"
NO_PICTURE_FILES = (
    "Pictures cannot be saved as PNG or SVG here: that needs a Chromium, Chrome or Edge on this computer. The numbers "
    "drawn in each picture are below."
)
NO_WORKSPACE = (
    "No workspace was named. Start the dashboard with “resurgence serve FOLDER”, or with “resurgence demo” to look at "
    "an invented one."
)
CANNOT_BE_READ = "The workspace cannot be read yet"
READ_AGAIN = "Nothing is shown until every file is understood. Put these right and load the page again."
BY_YEAR, BY_MONTH, THE_SPELLS = "Dry days by year", "Dry days by month and year", "The dry spells"
RETURNED_BY, THE_LAGS, NOBODY_SEARCHED = "Seen again by", "The lags", "no search that tells"
ANIMALS = "Animals"
HALF_BACK, LONGER_LAGS = "Back to half of the expected count", "Longer and shorter lags"
CHOOSE_A_SPELL = "Choose a mark in the picture with a mouse, or a row of the table of lags below, to see every visit behind that lag."
OVER_TIME, THE_CHECKS, THE_TERMS = "Over time", "Checks of the fit", "Terms of the fit"
DOUBTFUL, FILES, GAUGES, FLOWS = "Doubtful", "Files", "Gauges", "Combined discharge"
OUTLETS, VISIT_KINDS, GAPS, MARKS = "Outlets", "Visits", "Gaps of the gauges", "Marks of the agencies"
VISITS_READ, CAPTURES_READ = "All visits as read", "All captures as read"
SETTINGS = "Settings as written in workspace.toml"
RECORD = "How good have such forecasts been?"
LEADS_LABEL = "Days ahead"
CHANCE_OF_RUNNING, DISCHARGE_EXPECTED = "Chance of running", "Discharge to be expected"
SCORES_READ = (
    "A score of 0 is no better than the simpler guess, 1 is a forecast that is never wrong. Each year was judged by a "
    "forecast made without it; the range comes from resampling whole years."
)
LEVEL_TAKEN_AS_EXACT = (
    "Sightings do not tell how uncertain the stop level is: it is taken as exact, so the chances are surer than they "
    "should be."
)
NOTHING_JUDGED = "No forecast so many days ahead could be judged."
RANGE_SHOWN = "Discharges shown"
RANGES = {"near": "Near the level", "all": "All sightings"}
DISAGREEING, SIGHTINGS_LISTED, SCORES = "Sightings that disagree", "All sightings", "Scores by days ahead"
CHOOSE_A_MARK = (
    "Choose a mark in the picture with a mouse, or a row of a table below, to see that visit as it stands in the file."
)


WARN_DAYS, WARN_SHARE, WARN_COST, WARN_TRY = (
    "Days of warning",
    "Stops to announce, in 100",
    "A miss costs",
    "Try a level",
)
WARN_BY_LABEL = "Choose the level by"
WARN_BY = {"share": "Share of stops announced", "cost": "Cost of a miss"}
WARN_DAYS_HELP = "How long you need between hearing of it and the first dry day."
WARN_COST_HELP = "How many false alerts you would put up with rather than have one stop that was not announced in time."
WARN_TRY_HELP = "Any discharge with its unit, such as 55 cfs: it is judged beside the others."
RECOMMENDED = "recommended"
LEVELS_JUDGED, CHANCES_JUDGED = "The levels", "Alerts on the chance of stopping"
STOPS_BEHIND, ALERTS_BEHIND, LEVEL_SHOWN = (
    "Every stop, and whether it was announced",
    "Every alert",
    "Behind which level",
)


def visits_behind(restart: pd.Timestamp, n: int) -> str:
    """The heading of the visits behind one lag."""
    return f"Visits after the water came back on {short_date(restart)}: {count_of(n, 'search', 'searches')}"


def headline(title: str, as_of: pd.Timestamp, as_of_from: str) -> str:
    """Which workspace, and what day it takes for today."""
    day = long_date(as_of)
    return f"{title}, {day}" if as_of_from == "today" else f"{title}, as of {day} ({_origin(as_of_from)})"


def _origin(as_of_from: str) -> str:
    return "the day asked for" if as_of_from == "asked for" else f"the day set in {as_of_from}"


def outlet_labels(outlets: Mapping[str, Outlet]) -> dict[str, str]:
    """Outlet names by id, told apart by the id where two are the same."""
    titles = [o.title for o in outlets.values()]
    return {id: o.title if titles.count(o.title) == 1 else f"{o.title} ({id})" for id, o in outlets.items()}


def no_such_outlet(asked: str, shown: str) -> str:
    """The address names an outlet that the workspace does not."""
    return f"There is no outlet “{asked}” in this workspace. Shown instead: {shown}."


def level_source(outlet: Outlet) -> str:
    """Where an outlet's levels come from."""
    return "learnt" if outlet.level_is_learnt else "set"


def no_visits(said: str = "") -> str:
    """That there are none, and what follows; "" where a sentence that was `said` gives it as its reason."""
    if "the workspace names no visits" in said:
        return ""
    return "The workspace names no visits, so nothing is known here about what people saw or counted."


def never_known(title: str) -> str:
    return f"The discharge of {title} is never known: there is nothing to draw."


def nothing_in_period(first: pd.Timestamp, last: pd.Timestamp) -> str:
    return f"Nothing was recorded between {short_date(first)} and {short_date(last)}. Choose another period above."


def spells_in_period(n: int, total: int, first: pd.Timestamp, last: pd.Timestamp) -> str:
    """Which spells the table lists."""
    if not total:
        return "There is no dry spell in the record."
    if n == total:
        return "The only dry spell of the record." if n == 1 else f"All {total} dry spells of the record."
    touch = "touches" if n == 1 else "touch"
    return f"{n} of {count_of(total, 'dry spell')} {touch} the period {short_date(first)} to {short_date(last)}."


def visit_row(row: int) -> str:
    """The heading over one row of the visits file."""
    return f"Row {row} of the visits file, as read"


def lead_label(lead: int) -> str:
    """A number of days ahead on its button."""
    return count_of(lead, "day")


def beyond_picture(n: int) -> str:
    """How many sightings the near view leaves out."""
    verb = "lies" if n == 1 else "lie"
    return f"{count_of(n, 'sighting')} further from the level {verb} outside the picture: choose “{RANGES['all']}”."


def zero_sightings(n: int) -> str:
    return f"{count_of(n, 'sighting')} at a discharge of 0 stand at the left edge, beside the logarithmic axis."


def check_word(passed: bool | None) -> str:
    """A model check in a word."""
    return {True: "Pass", False: "Fail", None: "Does not apply"}[passed]


def left_out(answer: CountsAnswer) -> str:
    """How many visits the regression leaves out."""
    n = 0 if answer.design is None else len(answer.design.left_out_rows)
    return f"{count_of(n, 'visit')} left out of the regression, each with the first reason that applies"


def last_days_of(title: str) -> str:
    return f"{title}: the last days, and what this rests on"


def link(question: str) -> str:
    """A way to another page."""
    return f"→ {question}"


def p_value(p: float | None) -> str:
    """A p in words: three decimals, never 0."""
    if p is None or p != p:
        return ""
    return "< 0.001" if p < 0.001 else f"{p:.3f}"


def no_counts_at(title: str) -> str:
    return f"No visit to {title} has a count, an effort and a flow: there is nothing to draw for it."


def rests_on(answer: CheckAnswer) -> str:
    """The first sentence of the data page."""
    files = count_of(len(answer.files), "file")
    gauges = count_of(len(answer.gauges), "gauge")
    visits = 0 if answer.visits is None else int(answer.visits.select_dtypes("number").to_numpy().sum())
    missing = int(answer.gauges["days_missing"].sum())
    provisional = int(answer.gauges["provisional_days"].sum())
    return (
        f"On {files}, all understood: {gauges} and {count_of(visits, 'visit')}; {count_of(missing, 'gauge day')} without "
        f"a value and {count_of(provisional, 'gauge day')} still provisional."
    )


def method(version: str) -> str:
    return f"Method version {version}: it changes whenever an answer to the same data would change."


def problem_lines(problems: Sequence[Problem]) -> list[str]:
    """Every problem as a line, those that differ only in their row together."""
    return [line.strip() for line in describe(problems).splitlines()[1:]]
