"""Where the entries of a workspace go: its tables, its outlets, and which days they may bear."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import pandas as pd

from dashboard.records.entry import VISITS
from dashboard.records.journal import Journal
from dashboard.workspace_settings import SurveySettings


@dataclass(frozen=True, eq=False, kw_only=True)
class Place:
    """Where entries of a workspace go.

    today     no row may be dated later
    spans     first and last day of discharge by outlet
    lag_days  how long after the end of its record a visit may lie; later ones wait
    titles    names of the outlets for people, by id
    """

    folder: Path
    surveys: SurveySettings
    outlets: Collection[str]
    today: pd.Timestamp
    spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]]
    lag_days: int
    titles: Mapping[str, str] = field(default_factory=dict)

    @property
    def journal(self) -> Journal:
        return Journal(self.folder)

    def file_of(self, table: str) -> str | None:
        return self.surveys.visits if table == VISITS else self.surveys.captures


def open_elsewhere(place: Place, table: str) -> bool:
    """Whether a spreadsheet seems to have the table open: saving there later would write over new rows."""
    file = place.file_of(table)
    if file is None:
        return False
    path = place.folder / file
    return any((path.parent / mark).exists() for mark in (f".~lock.{path.name}#", f"~${path.name}"))
