"""One gauge file on its way into a new workspace: what was understood, and what it leaves for a person to say."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from hydro.discharge import Discharge
from hydro.problems import InputError, Problem
from hydro.sources.gauge_file import GaugeFile, ReadChoices, describe_series
from hydro.sources.recognise import read_gauge_file
from hydro.sources.text_table import read_text_table
from hydro.units import FACTORS, UnitError, parse_unit

#: What a file may leave open, by the name that the readers and workspace.toml give it.
KEYS = ("date_column", "column", "day_first", "time_zone", "unit", "series")
#: The readers end every such problem with how to settle it: “unit = …”.
_SETTLES = re.compile(rf"\b({'|'.join(KEYS)}) = ")
NO_ANSWERS: Mapping[str, str] = {}


@dataclass(frozen=True, kw_only=True)
class Question:
    """Something that a gauge file leaves open.

    key      the name of the setting          asked    what the reader said
    options  answer -> how it is described; empty where any text may be an answer
    """

    key: str
    asked: str
    options: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, eq=False, kw_only=True)
class GaugeDraft:
    """A gauge file as it stands: `series` is None until nothing is open and nothing wrong.

    choices    the answers that the file asked for, to be written into the settings
    questions  everything that it asked, answered or not, in the order in which it came up
    problems   what is still wrong, open questions included
    """

    path: Path
    file: GaugeFile
    choices: ReadChoices
    questions: tuple[Question, ...]
    series: Discharge | None
    problems: tuple[Problem, ...]


def read_gauge_draft(
    path: Path, answers: Mapping[str, str] = NO_ANSWERS, *, time_zone: str, shown_as: str | None = None
) -> GaugeDraft:
    """Read a gauge file, using an answer only where the file asks for it: what a file says itself is never overruled.

    answers    by key of `KEYS`, as text (day_first: “true” or “false”)
    time_zone  the workspace's, taken for a clock that names none unless an answer says otherwise
    """
    asked: dict[str, Question] = {}
    written, used = ReadChoices(), ReadChoices()
    while True:
        file = read_gauge_file(path, used, shown_as=shown_as)
        series, problems = _only(file, used)
        new = [key for key in _open(problems) if key not in asked]
        said: dict[str, Any] = {}
        for key in new:
            asked[key] = _question(key, problems, file, path)
            if answers.get(key):
                said[key] = answers[key] == "true" if key == "day_first" else answers[key]
        written = replace(written, **said)
        used = replace(written, time_zone=written.time_zone or (time_zone if "time_zone" in asked else None))
        if not said and "time_zone" not in new:
            return GaugeDraft(
                path=path,
                file=file,
                choices=written,
                questions=tuple(asked.values()),
                series=series,
                problems=problems,
            )


def _only(file: GaugeFile, choices: ReadChoices) -> tuple[Discharge | None, tuple[Problem, ...]]:
    try:
        return file.only_series(choices), ()
    except InputError as error:
        return None, error.problems


def _open(problems: tuple[Problem, ...]) -> list[str]:
    """Keys that would settle something, in the order in which they are best asked."""
    found = {match[1] for p in problems for match in _SETTLES.finditer(p.expected)}
    return [key for key in KEYS if key in found]


def _question(key: str, problems: tuple[Problem, ...], file: GaugeFile, path: Path) -> Question:
    asked = next(p.expected for p in problems if any(m[1] == key for m in _SETTLES.finditer(p.expected)))
    options: dict[str, str] = {}
    if key == "series":
        for s in file.series:
            origin = s.origins[0]
            options[f"{origin.station} {origin.series}".strip()] = describe_series(s)
    elif key in ("column", "date_column"):
        columns = _columns(path)
        named = [c for c in columns if f"“{c}”" in asked]  # those that the reader holds possible
        options = {name: name for name in named or columns}
    elif key == "unit":
        # A file that says half of it (“MGD”) leaves fewer units to choose from.
        meant = [u for u in FACTORS if re.search(rf"(?<![\w/]){re.escape(u)}(?![\w/])", asked.split("): ", 1)[-1])]
        narrow = "can only mean one thing" in asked and meant
        options = {u: u for u in (meant if narrow else FACTORS)}
    elif key == "day_first":
        options = {"true": "true", "false": "false"}
    return Question(key=key, asked=asked, options=options)


def _columns(path: Path) -> list[str]:
    try:
        return read_text_table(path).columns
    except InputError:
        return []


def canonical_unit(text: str) -> str | None:
    """A unit as a person types it, by its canonical name; None where it is not known."""
    try:
        return parse_unit(text)
    except UnitError:
        return None
