"""A workspace into a folder of open files."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from dashboard.answers.answer import Header, header
from dashboard.answers.csv_file import csv_bytes
from dashboard.answers.spells import spells
from dashboard.export.archive_description import meta_xml, term
from dashboard.export.calendar_file import calendar_file
from dashboard.export.darwin_core import darwin_core
from dashboard.export.data_package import data_package
from dashboard.export.planned_days import planned_days
from dashboard.export.water_ml import water_ml
from dashboard.wording import export as words
from dashboard.workspace import Workspace
from hydro.problems import InputError, Problem

CALENDAR = "visits-and-stops.ics"


@dataclass(frozen=True, eq=False, kw_only=True)
class Export:
    """What was written."""

    header: Header
    folder: Path
    files: tuple[str, ...]
    places: str
    n_events: int
    n_occurrences: int
    notes: tuple[str, ...] = ()

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {
            "folder": str(self.folder),
            "files": list(self.files),
            "positions": self.places,
            "n_events": self.n_events,
            "n_occurrences": self.n_occurrences,
            "not_in_the_calendar": list(self.notes),
        }


def export(
    workspace: Workspace, folder: Path, *, places: str, old_status: bool = False, planned: Sequence[pd.Timestamp] = ()
) -> Export:
    """Write everything to `folder`, which is new or empty; see `export_files` for the rest.

    Raises InputError where the folder holds something or cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError([Problem(row="--out", value=str(folder), expected="a new or empty folder")])
    made = export_files(workspace, places=places, old_status=old_status, planned=planned)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in made.data.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        raise InputError(
            [Problem(row="--out", value=str(folder), expected=f"a folder that can be written to ({error.strerror})")]
        ) from None
    return Export(
        header=header(workspace), folder=folder, files=tuple(made.data), places=places, n_events=made.n_events,
        n_occurrences=made.n_occurrences, notes=made.notes,
    )  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class ExportFiles:
    """The files by name, and why what one may look for is not in the calendar."""

    data: Mapping[str, bytes]
    n_events: int
    n_occurrences: int
    notes: tuple[str, ...]


def export_files(
    workspace: Workspace, *, places: str, old_status: bool = False, planned: Sequence[pd.Timestamp] = ()
) -> ExportFiles:
    """Everything as files.

    places    how far positions are told: "withheld", "grid" or "exact"
    planned   days of visits to come, for the calendar
    """
    tables = darwin_core(workspace, places=places, old_status=old_status)
    frames = {f"{name}.csv": frame for name, frame in tables.items()}
    for table in spells(workspace).tables():
        if table.name.startswith("dry-spells"):
            frames[f"{table.name}.csv"] = table.frame
    csv = {name: (frame, csv_bytes(frame)) for name, frame in frames.items()}
    terms = {f"{name}.csv": {c: term(name, c) for c in frame.columns} for name, frame in tables.items()}
    files: dict[str, bytes] = {name: data for name, (_, data) in csv.items()}
    files["meta.xml"] = meta_xml({name: list(frame.columns) for name, frame in tables.items()}).encode()
    day = f"{workspace.as_of:%Y-%m-%d}"
    files["datapackage.json"] = data_package(workspace.settings.title, csv, terms, day).encode()
    for id, flow in workspace.flows.items():
        if id in workspace.settings.flows and not flow.empty:
            files[f"discharge-{id}.wml2.xml"] = water_ml(flow, workspace.settings.time_zone).encode()
    days = planned_days(workspace, planned)
    files[CALENDAR] = calendar_file(days.events, workspace.as_of, workspace.settings.title).encode()
    files["READ-ME.txt"] = words.read_me(workspace.settings.title, day, places, days.notes).encode()
    return ExportFiles(
        data=files, n_events=len(tables["event"]), n_occurrences=len(tables["occurrence"]), notes=days.notes
    )
