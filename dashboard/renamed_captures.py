"""Captures written anew with the ids that a list of matches gives their animals; only where asked, never over a
file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.answers.csv_file import csv_bytes
from hydro.problems import InputError, Problem

if TYPE_CHECKING:
    from dashboard.answers.individuals import IndividualsAnswer
    from dashboard.workspace import Workspace


def can_write(path: Path, matches: Path | None, workspace: Workspace) -> None:
    """Raises InputError where the file cannot be written, before anything is worked out."""
    problems = []
    if matches is None:
        problems.append(Problem(row="--out", value=str(path), expected="--matches beside it: it says who is whom"))
    if workspace.captures is None:
        problems.append(Problem(row="--out", value=str(path), expected="a workspace that names captures"))
    if path.exists():
        problems.append(
            Problem(row="--out", value=str(path), expected="a file that does not exist yet: none is replaced")
        )
    elif not path.parent.is_dir():
        problems.append(Problem(row="--out", value=str(path), expected="a file in a folder that exists"))
    if problems:
        raise InputError(problems)


def write_renamed(answer: IndividualsAnswer, workspace: Workspace, path: Path) -> None:
    """The captures up to the day asked with every column, `individual` being the animal and `individual_as_read` what
    the file says. Columns bear the names that this tool knows them by."""
    if workspace.captures is None or answer.matched is None:
        raise ValueError("captures and matches are needed")
    ids = answer.matched.ids()
    read = workspace.captures.frame
    frame = read.assign(individual=read["individual"].map(lambda n: ids.get(n, n))).drop(columns="row")
    frame["individual_as_read"] = read["individual"]
    with path.open("xb") as file:
        file.write(csv_bytes(frame))
