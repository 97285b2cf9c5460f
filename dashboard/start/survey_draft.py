"""A table of visits or captures on its way into a new workspace: which column is what, and all that is wrong by row."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from ecology.captures import KNOWN as CAPTURE_COLUMNS
from ecology.captures import Captures, read_captures
from ecology.visits import KNOWN, Visits, read_visits
from hydro.problems import InputError, Problem
from hydro.sources.text_table import TextTable, read_text_table

VISITS, CAPTURES = "visits", "captures"
REQUIRED = {VISITS: ("date", "outlet"), CAPTURES: ("date", "outlet", "individual")}
COLUMNS = {VISITS: KNOWN, CAPTURES: CAPTURE_COLUMNS}
#: More different words than this in the column of outlets are hardly outlets: it is probably another column.
MOST_OUTLETS = 60
#: Headers that field sheets use (common practice, no source), squeezed to letters and digits; ours come first.
_HEADERS: Mapping[str, tuple[str, ...]] = {
    "date": ("date", "surveydate", "visitdate", "day", "datum", "dateofvisit", "dateofsurvey", "sampledate"),
    "time": ("time", "starttime", "timestart", "hour"),
    "outlet": ("outlet", "site", "spring", "location", "outletid", "siteid", "station", "place", "outletname",
               "sitename"),
    "surface": ("surface", "state", "flowing", "flowstate", "condition", "waterstate", "surfaceflow", "surfacestate"),
    "searched": ("searched", "surveyed", "search"),
    "count": ("count", "total", "number", "n", "counted", "totalcount", "animals", "individuals", "abundance"),
    "effort": ("effort", "minutes", "searchminutes", "personmin", "personminutes", "effortmin", "duration", "hours"),
    "adults": ("adults", "adult", "nadults"),
    "juveniles": ("juveniles", "juvenile", "juv", "young", "njuveniles"),
    "gravid": ("gravid", "eggbearing", "witheggs", "femaleswitheggs", "ovigerous", "gravidfemales"),
    "taxon": ("taxon", "species"),
    "water_temp_c": ("watertempc", "watertemp", "watertemperature", "tempc", "temp", "temperature", "wtemp"),
    "observers": ("observers", "observer", "surveyors", "surveyor", "who", "crew", "names"),
    "pass": ("pass", "passnumber"),
    "individual": ("individual", "individualid", "animal", "animalid", "mark", "markid", "id", "name", "tag"),
    "stage": ("stage", "lifestage", "age"),
    "length_mm": ("lengthmm", "length", "bodylength", "totallength", "tl", "size"),
    "match_confidence": ("matchconfidence", "confidence", "matchscore"),
    "note": ("note", "notes", "comment", "comments", "remarks", "remark"),
}  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class SurveyDraft:
    """A table of visits, or of captures, as it stands: `visits` (`captures`) is None until nothing is wrong.

    headers          the table's own columns          columns   ours -> theirs, every one that has a column
    table            cells as typed; None where the file is no table
    outlets          different entries of the outlet column, in the order of the file
    asks_day_first   whether the order of day and month is open
    """

    path: Path
    headers: tuple[str, ...]
    columns: Mapping[str, str]
    table: TextTable | None
    outlets: tuple[str, ...]
    visits: Visits | None
    problems: tuple[Problem, ...]
    asks_day_first: bool
    day_first: bool | None = None
    captures: Captures | None = None
    kind: str = VISITS

    @property
    def settled(self) -> bool:
        return self.visits is not None or self.captures is not None

    @property
    def mapping(self) -> dict[str, str]:
        """What the settings have to say: only columns that are named otherwise than ours."""
        return {ours: theirs for ours, theirs in self.columns.items() if ours != theirs}


def suggest_columns(headers: Sequence[str], kind: str = VISITS) -> dict[str, str]:
    """Which of the headers is which of our columns, by their names alone; a person confirms it."""
    left, known = list(headers), COLUMNS[kind]
    found: dict[str, str] = {}
    for ours in known:  # our own names first: nobody's “count” is to be taken for something else
        if ours in left:
            found[ours] = ours
            left.remove(ours)
    for ours in known:
        for word in _HEADERS.get(ours, (ours,)) if ours not in found else ():
            match = next((h for h in left if _squeezed(h) == _squeezed(word)), None)
            if match is not None:
                found[ours] = match
                left.remove(match)
                break
    return {ours: found[ours] for ours in known if ours in found}


def _squeezed(text: str) -> str:
    plain = unicodedata.normalize("NFKD", text.casefold())
    return re.sub(r"[^a-z0-9]+", "", plain)


def read_survey_draft(
    path: Path,
    *,
    today: pd.Timestamp,
    columns: Mapping[str, str] | None = None,
    day_first: bool | None = None,
    shown_as: str | None = None,
    kind: str = VISITS,
    outlets: Sequence[str] | None = None,
) -> SurveyDraft:
    """Read a table by a mapping of columns (None = as suggested); nothing in it makes this raise.

    kind      “visits” or “captures”
    outlets   those that there are; None = those that the table names
    """
    name = shown_as or path.name
    try:
        table = read_text_table(path, shown_as=name)
    except InputError as error:
        return SurveyDraft(
            path=path, headers=(), columns={}, table=None, outlets=(), visits=None, problems=error.problems,
            asks_day_first=False, kind=kind,
        )  # fmt: skip
    chosen = suggest_columns(table.columns, kind) if columns is None else dict(columns)
    problems = _mapping_problems(chosen, table.columns, name, REQUIRED[kind])
    found = tuple(outlets or ())
    if outlets is None and "outlet" in chosen and not problems:
        found = tuple(o for o in dict.fromkeys(table.cells[chosen["outlet"]].str.strip()) if o)
        if len(found) > MOST_OUTLETS:
            expected = f"at most {MOST_OUTLETS} different outlets; this column has {len(found)}. Is it another one?"
            problems.append(Problem(file=name, column=chosen["outlet"], expected=expected))
            found = ()
    visits, captures, asks = None, None, False
    if not problems:
        try:
            if kind == VISITS:
                visits = read_visits(
                    path, outlets=found, today=today, columns=chosen, day_first=day_first, shown_as=name
                )  # fmt: skip
            else:
                captures = read_captures(
                    path, outlets=found, today=today, columns=chosen, day_first=day_first, shown_as=name
                )  # fmt: skip
        except InputError as error:
            problems = list(error.problems)
            asks = any("day_first = " in p.expected for p in problems)
    return SurveyDraft(
        path=path,
        headers=tuple(table.columns),
        columns=chosen,
        table=table,
        outlets=found,
        visits=visits,
        captures=captures,
        kind=kind,
        problems=tuple(problems),
        asks_day_first=asks,
        day_first=day_first,
    )


def _mapping_problems(
    chosen: Mapping[str, str], headers: Sequence[str], file: str, required: Sequence[str]
) -> list[Problem]:
    problems = []
    listed = ", ".join(f"“{h}”" for h in headers)
    for ours in required:
        if ours not in chosen:
            problems.append(Problem(file=file, expected=f"a column that is the {ours}; the file has: {listed}"))
    for ours, theirs in chosen.items():
        if theirs not in headers:
            problems.append(Problem(file=file, row=ours, value=theirs, expected=f"a column of the file: {listed}"))
        elif (first := next(o for o, t in chosen.items() if t == theirs)) != ours:
            expected = f"one meaning; it is taken both as {first} and as {ours}"
            problems.append(Problem(file=file, column=theirs, expected=expected))
    return problems
