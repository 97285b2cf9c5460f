"""What `resurgence new` asks and says in a terminal, beside the words that it shares with the page “Start”."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.wording.start import CLOCK_HELP, ORDERS, other_columns, without_keys

if TYPE_CHECKING:
    from dashboard.start.gauge_draft import Question

EXPECTED_ZONE = "an IANA time zone name such as CST6CDT"
EXPECTED_NUMBER = "one of these, by its number or as written"
EXPECTED_COLUMN = "OURS=THEIRS with a column of the table, such as count=Total"
ALWAYS = "always"
ASK_TITLE = "Title"
ASK_ZONE = "Time zone, an IANA name"
ASK_GAUGES = "Gauge files, separated by blanks (names with blanks in quotes)"
ASK_VISITS = "Table of visits (CSV or XLSX; empty = none yet)"
ASK_COLUMNS = "Empty = right; else changes such as count=Total (note= leaves one out)"
ASK_OUTLETS = "Outlets, separated by blanks"
ASK_DAY_FIRST = "In dates like 03/04, what stands first: day or month?"
ASK_KEEP_OUTSIDE = "Are these dates right (yes keeps the visits)? yes or no"


def written(path: Path, folder: Path) -> str:
    """What `resurgence new` says at the end."""
    return f"Wrote {path}; look through it, then try: resurgence check {folder}"


def expected(what: str) -> str:
    return f"expected {what}"


def terminal_question(name: str, question: Question) -> str:
    """What a file leaves open, with numbered answers."""
    lines = [f"{name} leaves this open: {without_keys(question.asked)}"]
    described = ORDERS if question.key == "day_first" else question.options
    lines += [f"  {i}  {described[option]}" for i, option in enumerate(question.options, start=1)]
    if question.key == "time_zone":
        lines.append(f"  {CLOCK_HELP}")
    return "\n".join(lines)


def columns_understood(columns: Mapping[str, str], headers: Sequence[str]) -> str:
    pairs = ", ".join(f"{ours} = “{theirs}”" for ours, theirs in columns.items()) or "none"
    rest = [h for h in headers if h not in columns.values()]
    return f"Columns: {pairs}. {other_columns(rest)}"


def columns_taken(columns: Mapping[str, str]) -> str:
    """Columns that were found by other names than ours."""
    return "Columns taken: " + ", ".join(f"{ours} from “{theirs}”" for ours, theirs in columns.items()) + "."


def title_of(outlet: str) -> str:
    return f"Name to show for {outlet}"


def level_of(outlet: str) -> str:
    return f"{outlet} stops below (such as “40 cfs”, or “{ALWAYS}” where it always runs)"
