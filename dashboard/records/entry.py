"""One thing that a person wrote down: a visit or a capture, as plain text by column, and what is wrong with it."""

from __future__ import annotations

import csv
import tempfile
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from ecology.captures import read_captures
from ecology.visits import outside_record, read_visits
from hydro.problems import InputError, Problem

VISITS, CAPTURES = "visits", "captures"
#: Columns that the form fills, in the order in which a new column would be added.
COLUMNS = {
    VISITS: ("date", "time", "outlet", "surface", "searched", "count", "effort", "adults", "juveniles", "gravid",
             "taxon", "water_temp_c", "observers", "decon_product", "decon_dose", "decon_minutes", "note"),
    CAPTURES: ("date", "outlet", "individual", "stage", "gravid", "length_mm", "match_confidence", "held_minutes",
               "note"),
}  # fmt: skip
#: Columns of free text, in which a spreadsheet could take a first sign for a formula.
_FREE = ("taxon", "observers", "decon_product", "decon_dose", "note", "individual", "stage")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_LONGEST = 2000  # signs in one cell


def new_id() -> str:
    """A name for an entry, made when its form is shown: the same form sent twice is one entry."""
    return uuid.uuid4().hex


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A row to be: `values` by our column names (ISO dates, decimal points), blanks left out.

    `made` is when it was sent (UTC, ISO), `who` by whom as they named themselves.
    """

    id: str
    table: str
    made: str
    who: str
    values: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        unknown = [k for k in self.values if k not in COLUMNS[self.table]]
        if unknown:
            raise ValueError(f"{self.table} has no column {', '.join(unknown)}")
        kept = {k: " ".join(v.split()) for k, v in self.values.items() if v.strip()}
        object.__setattr__(self, "values", kept)


def entry_problems(
    entry: Entry,
    *,
    outlets: Collection[str],
    today: pd.Timestamp,
    spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]],
) -> list[Problem]:
    """What is wrong with an entry by itself, by our column names; nothing where it can be written.

    spans   first and last day of discharge by outlet: a visit before its record is taken for a mistyped year
    """
    formula = "text that begins with a letter or digit: a spreadsheet takes this for a formula"
    problems = [
        Problem(column=k, value=v, expected=formula)
        for k, v in entry.values.items()
        if k in _FREE and v.startswith(_FORMULA)
    ]
    problems += [
        Problem(column=k, value=v[:40] + "…", expected=f"at most {_LONGEST} signs")
        for k, v in entry.values.items()
        if len(v) > _LONGEST
    ]
    for name in ("decon_minutes", "held_minutes"):
        problems += _not_minutes(entry.values, name)
    try:
        frame = read_entry(entry, outlets=outlets, today=today)
    except InputError as error:
        return [*problems, *(_plain(p) for p in error.problems)]
    if entry.table == VISITS:
        early = {o: (first, today) for o, (first, _) in spans.items()}
        problems += [_plain(p) for p in outside_record(frame, "", early, 0)]
    return problems


def beyond_record(
    entry: Entry, spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]], lag_days: int
) -> pd.Timestamp | None:
    """The last day of discharge where a visit lies more than `lag_days` after it: such a row would be refused."""
    if entry.table != VISITS:
        return None
    span = spans.get(entry.values.get("outlet", ""))
    if span is None or pd.Timestamp(entry.values["date"]) <= span[1] + pd.Timedelta(days=lag_days):
        return None
    return span[1]


def read_entry(entry: Entry, *, outlets: Collection[str], today: pd.Timestamp) -> pd.DataFrame:
    """The entry as its table's reader understands it, one row. Raises InputError."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "entry.csv"
        with path.open("w", encoding="utf-8", newline="") as out:
            names = [c for c in COLUMNS[entry.table] if c in entry.values or c in ("date", "outlet", "individual")]
            writer = csv.writer(out)
            writer.writerow(names)
            writer.writerow([entry.values.get(c, "") for c in names])
        if entry.table == VISITS:
            return read_visits(path, outlets=outlets, today=today).frame
        return read_captures(path, outlets=outlets, today=today).frame


def _not_minutes(values: Mapping[str, str], name: str) -> list[Problem]:
    text = values.get(name)
    if text is None:
        return []
    try:
        fine = 0 <= float(text) < 100_000
    except ValueError:
        fine = False
    return [] if fine else [Problem(column=name, value=text, expected="a number of minutes, 0 or more")]


def _plain(problem: Problem) -> Problem:
    """Without the file and line of the trial table."""
    return Problem(column=problem.column, value=problem.value, expected=problem.expected)
