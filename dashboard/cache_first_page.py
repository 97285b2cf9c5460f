"""The trip check, worked out or as an earlier run kept it; keys as in `cache.py`."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from dashboard import cache
from dashboard.first_page import keep_first_page, kept_first_page
from dashboard.first_page_apart import Apart
from dashboard.loaded import Loaded, revision
from dashboard.trip_check import TripCheck, trip_check
from dashboard.trip_check import trip_check_at_once as _at_once

if TYPE_CHECKING:
    from dashboard.workspace import Workspace


#: The process that works out the page of a server that has just been started.
_apart: Apart | None = None


def first_page(folder: Path) -> TripCheck | None:
    """The trip check as kept by an earlier run or worked out apart, where nothing has changed since; else None."""
    name = revision(folder)
    kept = _first_page(str(folder), name)
    return kept if kept is not None or _apart is None else _from_apart(_apart, str(folder), name)


def wait_for(apart: Apart) -> None:
    """Whoever asks for the page from now on waits for this process."""
    global _apart
    _apart = apart


@st.cache_resource(max_entries=4, show_spinner="Reading the files …")
def _from_apart(_process: Apart, folder: str, revision: str) -> TripCheck | None:
    return _process.page_of(Path(folder), revision)


@st.cache_resource(max_entries=4, show_spinner=False)
def _first_page(folder: str, revision: str) -> TripCheck | None:
    return kept_first_page(Path(folder))


def trip_check_of(loaded: Loaded, unit: str, trip: datetime.date | None) -> TripCheck:
    """The trip check worked out, and kept for the next start where nothing was chosen."""
    workspace = loaded.workspace
    if workspace is None:
        raise ValueError("a workspace that cannot be read has no trip check")
    page = _trip_check(workspace, loaded.revision, unit, trip)
    if unit == workspace.unit and trip is None:
        _keep(loaded, loaded.revision, page)
    return page


@st.cache_resource(max_entries=cache.KEPT, show_spinner=False)
def _trip_check(_workspace: Workspace, revision: str, unit: str, trip: datetime.date | None) -> TripCheck:
    found = cache.status_of(_workspace, revision, trip)
    return trip_check(_workspace, found, unit, lambda o: picture_of(_workspace, revision, unit, trip, o.outlet))


@st.cache_resource(max_entries=cache.KEPT, show_spinner=False)
def trip_check_at_once(_workspace: Workspace, revision: str, unit: str, trip: datetime.date | None) -> TripCheck:
    """The trip check with no more pictures than stand open at first: the others are drawn when they are asked for."""
    found = cache.status_of(_workspace, revision, trip)
    return _at_once(_workspace, found, unit, lambda o: picture_of(_workspace, revision, unit, trip, o.outlet))


@st.cache_resource(max_entries=cache.DRAWINGS, show_spinner=False)
def picture_of(_workspace: Workspace, revision: str, unit: str, trip: datetime.date | None, outlet: str) -> str:
    """The last days of one outlet as HTML around an SVG."""
    from dashboard.figures.outlet_pictures import last_days_still

    found = cache.status_of(_workspace, revision, trip)
    return last_days_still(_workspace, next(o for o in found.outlets if o.outlet == outlet), unit)


@st.cache_resource(max_entries=4, show_spinner=False)
def _keep(_loaded: Loaded, revision: str, _page: TripCheck) -> bool:
    """Tried once for each state of the files."""
    workspace = _loaded.workspace
    return workspace is not None and keep_first_page(workspace.folder, _loaded, _page)
