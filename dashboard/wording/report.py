"""Words of the meeting report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording.numbers import long_date

if TYPE_CHECKING:
    from dashboard.report.saved import Saved

IN_SHORT = "In short"
UNKNOWN = "What is not known"
NOTHING_UNKNOWN = "Every question above could be answered from the files, each within the uncertainty stated beside it."
CAUTIONS = "Cautions"
SOURCES = "Sources"
WARNINGS = "Doubtful in the files"
NOT_THE_CAUSE = (
    "Relations are shown as they are in the records. Where flow, season and counts change together, that is consistent with "
    "an effect; it does not show one."
)
PRINT_HINT = "To print or to save as PDF, use the browser's print command: the pages are laid out for paper."
NO_SCRIPT = "The pictures of this report need a browser with JavaScript; every number in them is in the tables."
FILES, OUTLETS, GAUGES = "Files", "Outlets", "Gauges"


def rows_left_out(shown: int, of: int) -> str:
    return f"The newest {shown} of {of} rows are shown here; the report shows them all."


def title(name: str) -> str:
    return f"{name}: report"


def period(first: pd.Timestamp, last: pd.Timestamp, as_of: pd.Timestamp) -> str:
    return f"{long_date(first)} to {long_date(last)}, by what was on record on {long_date(as_of)}"


def covers(first: pd.Timestamp, last: pd.Timestamp, as_of: pd.Timestamp) -> str:
    """The first sentence of the page."""
    return f"The report covers {period(first, last, as_of)}."


def method(version: str) -> str:
    return f"Method version {version}. The same files, settings and version give the same report, byte for byte."


def as_text(saved: Saved) -> str:
    """What was written, and what was not."""
    lines = [f"Report: {saved.html}"]
    lines += [f"{what}: {path}" for what, path in (("PDF", saved.pdf), ("Slides", saved.slides)) if path is not None]
    if saved.tables:
        lines.append(f"Tables and pictures: {saved.tables[0].parent}")
    return "\n".join([*lines, *saved.left_out])


def no_pdf(reason: str) -> str:
    return f"No PDF: {reason}. {PRINT_HINT}"


def no_pictures(reason: str) -> str:
    return f"No pictures and slides as files: {reason}."


#: What is being worked out, said while it is.
STEPS = {
    "state": "state",
    "spells": "dry spells",
    "levels": "levels",
    "warn": "levels that warn",
    "ahead": "days ahead",
    "returns": "return lags",
    "counts": "counts and flow",
    "drop": "the drop",
    "individuals": "individuals",
    "plan": "planned visits",
    "page": "page",
    "pictures": "pictures and slides",
    "pdf": "PDF",
}
NO_BROWSER = "no Chromium, Chrome or Edge was found on this computer"


EXPLAIN = "Explain the counts of these days"
EXPLAIN_OF, ALL_TOGETHER = "Counts of", "all outlets together"
AGAINST_FROM, AGAINST_TO = "Against the days from", "to"
AGAINST_HELP = "Left empty: the same days a year before."
CANNOT_EXPLAIN = "The counts of these days cannot be explained: "
MAKE = "Make the report"
MAKING = "Working out the report: {} …"
SAVE_HTML, SAVE_PDF, SAVE_SLIDES = "Report (HTML)", "Report (PDF)", "Slides (PPTX)"
WHAT_IT_HOLDS = (
    "One file with the answers, pictures and tables of all pages for the days chosen above, with what is not known, cautions "
    "and sources. It opens without a network, and prints well in grey."
)
