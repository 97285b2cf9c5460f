"""Words of the exports."""

from __future__ import annotations

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


def visit(title: str) -> str:
    return f"Planned visit to {title}"


def may_stop(outlet: str) -> str:
    return f"{outlet} may stop running"


def stop_window(outlet: str, first: pd.Timestamp, last: pd.Timestamp | None, as_of: pd.Timestamp) -> str:
    """What the marked days mean."""
    end = "90 in 100 lies beyond the outlook" if last is None else f"90 in 100 on {long_date(last)}"
    return (
        f"By the outlook of {long_date(as_of)} the chance that {outlet} has stopped reaches 10 in 100 on {long_date(first)} "
        f"and {end}. {cautions.NOT_A_WARNING} {cautions.PROVISIONAL}"
    )


def read_me(title: str, day: str, places: str) -> str:
    """The text beside the files."""
    return f"""{title}, as of {day}

event.csv, occurrence.csv, measurement.csv, humboldt.csv and meta.xml are a Darwin Core archive of visits and captures.
A visit that searched and found none is an occurrence that was not detected; a visit to a dry outlet is an event with a
measurement and no occurrence, because nothing could be searched.
datapackage.json describes every CSV file (Frictionless Data Package). discharge-*.wml2.xml holds combined discharge as OGC
WaterML 2.0: daily means, each stamped with the end of its day. visits-and-stops.ics is a calendar.

{_POSITIONS[places]} Names of places and notes are as the biologist wrote them: read them before passing files on.
Counts are of animals seen, not of animals present. {cautions.PROVISIONAL}
"""


def as_text(e: Export) -> str:
    """What was written, for a terminal."""
    n = f"{count_of(e.n_events, 'event')}, {count_of(e.n_occurrences, 'occurrence')}"
    return "\n".join([f"{e.folder}: {n}", *(f"  {name}" for name in e.files), _POSITIONS[e.places]])
