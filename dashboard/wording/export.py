"""Words of the exports."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, long_date

if TYPE_CHECKING:
    from dashboard.export.export import Export

_POSITIONS = {
    "withheld": "Positions are withheld.",
    "grid": "Positions are given as the middle of a grid cell of 0.1 degrees, and said to be.",
    "exact": "Positions are EXACT: do not pass these files on without asking those who protect the site.",
}


TAKE_OUT, MAKE_CALENDAR, MAKE_EXPORT = "Take it further", "Make the calendar", "Make the export"
SAVE_CALENDAR, SAVE_EXPORT, MAKING = "Save the calendar (ICS)", "Save the export (ZIP)", "Working it out …"
WHAT_CALENDAR = (
    "A calendar of the visits that the plan asks for after a dry spell and of the days on which an outlet may stop or run "
    "again, for any calendar program."
)
WHAT_EXPORT = (
    "All visits, captures, dry spells and the combined discharge in open standards: Darwin Core, a data package, WaterML 2.0 "
    "and the calendar. Names of places and notes are as they were written: read them before passing files on."
)
POSITIONS_LABEL = "Positions"
POSITIONS_CHOICE = {"withheld": "Withheld", "grid": "A grid cell of 0.1 degrees"}
NOTHING_IN_CALENDAR = "The calendar would be empty."


def in_calendar(n: int) -> str:
    return NOTHING_IN_CALENDAR if not n else f"The calendar holds {count_of(n, 'entry', 'entries')}."


def positions(choice: str) -> str:
    return _POSITIONS[choice]


def visit(title: str) -> str:
    return f"Planned visit to {title}"


def may_stop(outlet: str) -> str:
    return f"{outlet} may stop running"


def may_restart(outlet: str) -> str:
    return f"{outlet} may run again"


def visit_due(outlet: str) -> str:
    return f"Visit to {outlet} is due"


def window(what: str, outlet: str, first: pd.Timestamp, last: pd.Timestamp | None, as_of: pd.Timestamp) -> str:
    """What the marked days of a “stop” or a “restart” mean."""
    end = "90 in 100 lies beyond the outlook" if last is None else f"90 in 100 on {long_date(last)}"
    has = "has stopped" if what == "stop" else "has run again"
    return (
        f"By the outlook of {long_date(as_of)} the chance that {outlet} {has} reaches 10 in 100 on {long_date(first)} "
        f"and {end}. {cautions.NOT_A_WARNING} {cautions.PROVISIONAL}"
    )


def watch_visit(outlet: str, every: int, within: int, sure: float, start: pd.Timestamp, expected: bool) -> str:
    """Why a visit stands in the calendar."""
    since = (
        f"is expected to run again about {long_date(start)}" if expected else f"has run again since {long_date(start)}"
    )
    when = " Go only once water is back: the day moves with the water." if expected else ""
    return (
        f"{outlet} {since}. A visit every {count_of(every, 'day')} knows a return within {count_of(within, 'day')} with a "
        f"chance of {round(100 * sure)} in 100 or more, at the low end of how often a visit finds animals that are there.{when}"
    )


def due(outlet: str, restart: pd.Timestamp, days: int) -> str:
    return (
        f"{outlet} has run again since {long_date(restart)} and nobody has searched it; workspace.toml asks for a search "
        f"within {count_of(days, 'day')}."
    )


def no_start(outlet: str, state: str) -> str:
    why = {
        "running": "no dry spell has ended for certain",
        "dry": "when it runs again lies beyond the outlook",
    }.get(state, "whether it runs is not known")
    return f"No visits to {outlet} are planned: {why}."


def found_again(outlet: str, restart: pd.Timestamp) -> str:
    return f"No visits to {outlet} are planned: animals were found there after it ran again on {long_date(restart)}."


def watch_over(outlet: str, end: pd.Timestamp) -> str:
    return f"No visits to {outlet} are planned: the watch after its last dry spell was over on {long_date(end)}."


def no_spacing(outlet: str, why: str) -> str:
    return f"No visits to {outlet} are planned, because how far apart they may lie is not known: {why}."


def read_me(title: str, day: str, places: str, notes: Sequence[str] = ()) -> str:
    """The text beside the files; `notes` say what is not in the calendar, and why."""
    left_out = "".join(f"{note}\n" for note in notes)
    return f"""{title}, as of {day}

event.csv, occurrence.csv, measurement.csv, humboldt.csv and meta.xml are a Darwin Core archive of visits and captures.
A visit that searched and found none is an occurrence that was not detected; a visit to a dry outlet is an event with a
measurement and no occurrence, because nothing could be searched.
datapackage.json describes every CSV file (Frictionless Data Package). discharge-*.wml2.xml holds combined discharge as OGC
WaterML 2.0: daily means, each stamped with the end of its day. visits-and-stops.ics is a calendar of planned visits and of
days on which an outlet may stop or run again; import it anew now and then, and it brings itself up to date.
{left_out}
{_POSITIONS[places]} Names of places and notes are as the biologist wrote them: read them before passing files on.
Counts are of animals seen, not of animals present. {cautions.PROVISIONAL}
"""


def as_text(e: Export) -> str:
    """What was written, for a terminal."""
    n = f"{count_of(e.n_events, 'event')}, {count_of(e.n_occurrences, 'occurrence')}"
    return "\n".join([f"{e.folder}: {n}", *(f"  {name}" for name in e.files), _POSITIONS[e.places], *e.notes])
