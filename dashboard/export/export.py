"""A workspace into a folder of open files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from dashboard.answers.answer import Header, header
from dashboard.answers.csv_file import csv_bytes
from dashboard.answers.spells import spells
from dashboard.answers.status import status
from dashboard.export.archive_description import meta_xml, term
from dashboard.export.calendar_file import DayEvent, calendar_file
from dashboard.export.darwin_core import darwin_core
from dashboard.export.data_package import data_package
from dashboard.export.water_ml import water_ml
from dashboard.wording import cautions
from dashboard.wording import export as words
from dashboard.workspace import Workspace
from hydro.outlook_result import date_reached
from hydro.problems import InputError, Problem

#: Chances of having stopped between which the calendar marks the days.
_WINDOW = (0.1, 0.9)


@dataclass(frozen=True, eq=False, kw_only=True)
class Export:
    """What was written."""

    header: Header
    folder: Path
    files: tuple[str, ...]
    places: str
    n_events: int
    n_occurrences: int

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {
            "folder": str(self.folder),
            "files": list(self.files),
            "positions": self.places,
            "n_events": self.n_events,
            "n_occurrences": self.n_occurrences,
        }


def export(
    workspace: Workspace, folder: Path, *, places: str, old_status: bool = False, planned: Sequence[pd.Timestamp] = ()
) -> Export:
    """Write everything to `folder`, which is new or empty.

    places    how far positions are told: "withheld", "grid" or "exact"
    planned   days of visits to come, for the calendar

    Raises InputError where the folder holds something or cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise InputError([Problem(row="--out", value=str(folder), expected="a new or empty folder")])
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
    files["visits-and-stops.ics"] = calendar_file(_days(workspace, planned), workspace.as_of).encode()
    files["READ-ME.txt"] = words.read_me(workspace.settings.title, day, places).encode()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            (folder / name).write_bytes(data)
    except OSError as error:
        raise InputError(
            [Problem(row="--out", value=str(folder), expected=f"a folder that can be written to ({error.strerror})")]
        ) from None
    return Export(
        header=header(workspace), folder=folder, files=tuple(files), places=places, n_events=len(tables["event"]),
        n_occurrences=len(tables["occurrence"]),
    )  # fmt: skip


def _days(workspace: Workspace, planned: Sequence[pd.Timestamp]) -> list[DayEvent]:
    """Planned visits, and for each outlet the days between small and large chances of having stopped."""
    events = [
        DayEvent(
            id=f"visit-{day:%Y%m%d}", first=day, last=day, title=words.visit(workspace.settings.title),
            text=f"{cautions.WADING} {cautions.DISTURBANCE}",
        )
        for day in planned
    ]  # fmt: skip
    for o in status(workspace).outlets:
        passages = o.ahead.stops_by
        if o.ahead.why_none is not None or passages is None:
            continue
        first, last = (date_reached(passages, p) for p in _WINDOW)
        if first is None:
            continue
        end = pd.Timestamp(passages["date"].iloc[-1]) if last is None else last
        events.append(
            DayEvent(
                id=f"stop-{o.outlet}", first=first, last=end, title=words.may_stop(o.title),
                text=words.stop_window(o.title, first, last, workspace.as_of),
            )
        )  # fmt: skip
    return events
