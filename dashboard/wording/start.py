"""Sentences of the page “Start” and of `resurgence new`."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.wording.numbers import count_of, discharge, short_date, whole
from hydro.units import SYMBOLS

if TYPE_CHECKING:
    from dashboard.start.gauge_draft import GaugeDraft
    from dashboard.start.survey_draft import SurveyDraft
    from dashboard.workspace import Workspace
    from hydro.combine import Flow
    from hydro.problems import Problem

_KEY_HINT = re.compile(r" \((?:if the date is right, write )?[a-z_]+ = [^)]*\)")
NOTHING_YET = "There is no workspace here yet: it is made on the page “Start”."
FIRST = (
    "Hand over a gauge file and your table of visits, say where each outlet stops, and save. Nothing is written before "
    "you do; your own files are copied and never changed."
)
ANOTHER = (
    "To make another workspace in a folder beside this one, hand over its files here. Nothing is written before you "
    "save, and this workspace stays as it is."
)
ONLY_KEEPERS = "Only people named as keepers may make a workspace here. Ask whoever started this dashboard."

GAUGES_HEAD, VISITS_HEAD, OUTLETS_HEAD, SAVE_HEAD = "1. The water", "2. The visits", "3. The outlets", "4. Save"
DROP_GAUGES, DROP_VISITS = "Gauge files", "Table of visits, CSV or XLSX"
ZONE = "Time zone of the springs"
ZONE_HELP = (
    "Dates of visits and daily discharge are days of this zone. It was taken from this browser where it says so."
)
TAKE_AWAY = "Leave this file out"
BELONGS = "This file holds"
OWN_GAUGE = "a gauge of its own: added to the others"
QUESTIONS = {
    "date_column": "Which column dates the rows?",
    "column": "Which column is discharge?",
    "day_first": "In dates like 03/04, which is the day?",
    "time_zone": "Which clock did the logger keep?",
    "unit": "In which unit is the discharge?",
    "series": "Which series is it?",
}
ORDERS = {"true": "03/04 is 3 April", "false": "03/04 is 4 March"}
CLOCK_HELP = "Empty: local time with summer time. A logger that keeps one time all year: its offset, such as UTC-06:00."
CHOOSE = "choose"
NONE_NEEDED = "No table of visits yet? Go on without one; it can be added to the folder later."
COLUMNS_HEAD = "Which column is what"
NOT_THERE = "not in the table"
FIELDS = {
    "date": "Day of the visit (needed)",
    "outlet": "Outlet (needed)",
    "surface": "Surface: running, pooled, dry",
    "searched": "Searched: yes, no",
    "count": "Animals counted",
    "effort": "Effort",
    "adults": "Adults",
    "juveniles": "Juveniles",
    "gravid": "Carrying eggs",
    "taxon": "Kind of animal",
    "water_temp_c": "Water temperature, °C",
    "time": "Time of day",
    "observers": "Observers",
    "note": "Note",
    "pass": "Which pass of the day",
}
EFFORT_UNIT, EFFORT_UNIT_DEFAULT = "Unit of effort", "person-min"
DAY_FIRST = "In dates like 03/04, which is the day?"
PREVIEW = "The first rows, as they are understood"
PROBLEM_ROWS = "To put right in the table"
MEND = "Put these right in your own table and hand it over again; what you chose here stays."
KEEP_OUTSIDE = "The dates are right: keep visits outside the discharge record"
FIRST_SETTLE = "The outlets come when the water is understood and the table of visits, if there is one, is in order."
OUTLET_NAMES = "Names of the outlets, separated by commas"
UNIT = "Unit of discharge"
OUTLET_TITLE = "Name shown"
CAN_STOP = "Does it ever stop?"
STOPS = {"stops": "It stops at low flow", "runs": "It always runs"}
LEVEL, SLIDER = "Stops below", "Stops below, by sliding"
USE_LEARNT = "Use the learnt level"
SHOWN_DAYS = "Days shown"
TITLE, FOLDER = "Title of the workspace", "Name of the new folder"
WILL_WRITE = "What will be written"
SAVE = "Save the workspace"
MISSING_GAUGE = "a gauge file that is understood"
MISSING_VISITS = "a table of visits without problems, or none"
MISSING_OUTLET = "at least one outlet"
MISSING_FOLDER = "a name for the new folder that nothing has yet"


def is_order(problem: Problem) -> bool:
    """Whether a problem is only the open order of day and month."""
    return "day_first = true or false" in problem.expected


def without_keys(text: str) -> str:
    """A problem without its hint at a key of workspace.toml: on a page there is a field for it."""
    return _KEY_HINT.sub("", text)


def answer_first(questions: Sequence[str]) -> str:
    return f"Still open: {' '.join(questions)}"


def nothing_there(folder: Path) -> str:
    """What `serve` says on a new or empty folder."""
    return f"{folder} holds no workspace yet: the page “Start” opens, where you make one from your files."


def what_is_there(workspace: Workspace) -> str:
    """The first sentence where there is a workspace already."""
    visits = 0 if workspace.visits is None else len(workspace.visits.frame)
    parts = [
        count_of(len(workspace.gauges), "gauge"),
        count_of(len(workspace.outlets), "outlet"),
        count_of(visits, "visit"),
    ]
    return f"{workspace.settings.title} is here already: {parts[0]}, {parts[1]} and {parts[2]}."


def limit(megabytes: int) -> str:
    return f"At most {megabytes} MB each."


def too_big(name: str, megabytes: int) -> str:
    return f"{name} is larger than {megabytes} MB and was not taken. Make the workspace with “resurgence new” instead."


def taken_already(name: str) -> str:
    return f"{name} holds exactly what another of these files holds, and was not taken twice."


def part_of(name: str) -> str:
    return f"more of the gauge in {name}"


def gauge_understood(draft: GaugeDraft) -> str:
    """One gauge file in a sentence, before its details."""
    name = draft.path.name
    if draft.series is None:
        open_still = len(draft.problems)
        form = f" as {draft.file.format}" if draft.file.format else ""
        return f"{name} was read{form}, and {count_of(open_still, 'thing')} must be settled before it can be used."
    origin, frame = draft.series.origins[0], draft.series.frame
    step = "daily values" if draft.series.daily else "values within the day"
    if not len(frame):
        return f"{name} holds no rows of discharge."
    span = f"{short_date(frame.index[0])} to {short_date(frame.index[-1])}"
    what = " ".join(t for t in (origin.station, origin.series) if t)
    named = f" of “{what}”" if what else ""
    return f"{name}: {step}{named}, {span}, {whole(len(frame))} rows in {SYMBOLS[origin.unit]}."


def flow_understood(flow: Flow, n: int, unit: str) -> str:
    """The combined discharge in a sentence."""
    if flow.empty:
        if n > 1:
            return "The gauges share no day, so their sum is never known. Are they parts of one gauge's record?"
        return "The discharge is never known in this file."
    known = flow.values.dropna()
    low, high = discharge(float(known.min()), unit), discharge(float(known.max()), unit)
    whose = "Discharge" if n == 1 else f"The sum of {n} gauges"
    span = f"{short_date(flow.frame.index[0])} to {short_date(flow.frame.index[-1])}"
    return f"{whose} is known on {count_of(len(known), 'day')}, {span}, from {low} to {high}."


def survey_understood(draft: SurveyDraft) -> str:
    """The table of visits in a sentence."""
    name = draft.path.name
    if draft.table is None:
        return f"{name} could not be read."
    rows = count_of(len(draft.table.cells), "row")
    if draft.visits is None:
        return f"{name} has {rows}, and {count_of(len(draft.problems), 'thing')} must be put right."
    frame = draft.visits.frame
    if not len(frame):
        return f"{name} has no visits in it yet."
    span = f"{short_date(frame['date'].min())} to {short_date(frame['date'].max())}"
    kinds = frame["kind"].value_counts()
    counted, dry = int(kinds.get("counted", 0)), int(kinds.get("dry", 0))
    return (
        f"{name}: {count_of(len(frame), 'visit')} to {count_of(len(draft.outlets), 'outlet')}, {span}; {whole(counted)} "
        f"counted animals, {whole(dry)} met a dry surface."
    )


def other_columns(names: Sequence[str]) -> str:
    if not names:
        return "Every column has a meaning."
    return f"Kept as they are, without a meaning here: {', '.join(names)}."


def goes_to(folder: Path) -> str:
    return f"It goes to {folder}."


def files_written(names: Sequence[str]) -> str:
    return f"Copied beside workspace.toml: {', '.join(names)}."


def not_yet(missing: Sequence[str]) -> str:
    return f"Before it can be saved: {'; '.join(missing)}."


def saved_beside(folder: Path) -> str:
    return f"Saved. Open it with: resurgence serve {folder}"
