"""What has been read and worked out is kept until a file or the day changes.

Big frames are never hashed (Streamlit samples them and can return an old answer): every key is a digest of the names,
times of change and sizes of the files, of the day, and of the choices made. What is kept is shared by all sessions and
is read only. Only this file and `cache_start.py` use st.cache_*.
"""

from __future__ import annotations

import datetime
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.first_page import keep_first_page, kept_first_page
from dashboard.loaded import Loaded, revision
from dashboard.trip_check import TripCheck, first_open, trip_check
from hydro.problems import InputError, SourceError

if TYPE_CHECKING:
    from dashboard.answers.alert_levels import AlertLevelsAnswer
    from dashboard.answers.check import CheckAnswer
    from dashboard.answers.count_choices import CountChoices
    from dashboard.answers.counts_answer import CountsAnswer
    from dashboard.answers.explain import ExplainAnswer
    from dashboard.answers.individuals import IndividualsAnswer
    from dashboard.answers.outlook import OutlookAnswer
    from dashboard.answers.plan_answer import PlanAnswer
    from dashboard.answers.plan_request import PlanRequest
    from dashboard.answers.returns import ReturnsAnswer
    from dashboard.answers.spells import SpellsAnswer
    from dashboard.answers.status import OutletStatus, StatusAnswer
    from dashboard.answers.threshold import ThresholdAnswer
    from dashboard.figures.drawing import Drawing
    from dashboard.workspace import Workspace
    from hydro.alert_choice import AlertNeeds
    from hydro.units import Quantity

#: Answers of one kind kept at a time.
KEPT = 24
_DRAWINGS = 120  # pictures kept, about 0.2 MB each at most


def load(folder: Path) -> Loaded:
    """The workspace of a folder, read again only when something about it changed."""
    return _load(str(folder), revision(folder))


@st.cache_resource(max_entries=4, show_spinner="Reading the files …")
def _load(folder: str, revision: str) -> Loaded:
    from dashboard.workspace import load_workspace

    now = time.time()
    # What is wrong is kept too: a broken file is not read again on every click.
    try:
        return Loaded(revision=revision, read_from=now, workspace=load_workspace(Path(folder)))
    except InputError as error:
        return Loaded(revision=revision, read_from=now, problems=error.problems)
    except SourceError as error:
        return Loaded(revision=revision, read_from=now, message=str(error))


def first_page(folder: Path) -> TripCheck | None:
    """The trip check as kept by an earlier run, where nothing has changed since; else None."""
    return _first_page(str(folder), revision(folder))


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


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def _trip_check(_workspace: Workspace, revision: str, unit: str, trip: datetime.date | None) -> TripCheck:
    found = status_of(_workspace, revision, trip)
    return trip_check(_workspace, found, unit, lambda o: picture_of(_workspace, revision, unit, trip, o.outlet))


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def trip_check_at_once(_workspace: Workspace, revision: str, unit: str, trip: datetime.date | None) -> TripCheck:
    """The trip check with no more pictures than stand open at first: the others are drawn when they are asked for."""
    found = status_of(_workspace, revision, trip)
    opened = first_open((id, o.perennial) for id, o in _workspace.outlets.items())

    def picture(o: OutletStatus) -> str | None:
        return picture_of(_workspace, revision, unit, trip, o.outlet) if o.outlet == opened else None

    return trip_check(_workspace, found, unit, picture)


@st.cache_resource(max_entries=_DRAWINGS, show_spinner=False)
def picture_of(_workspace: Workspace, revision: str, unit: str, trip: datetime.date | None, outlet: str) -> str:
    """The last days of one outlet as HTML around an SVG."""
    from dashboard.figures.outlet_pictures import last_days_still

    found = status_of(_workspace, revision, trip)
    return last_days_still(_workspace, next(o for o in found.outlets if o.outlet == outlet), unit)


@st.cache_resource(max_entries=4, show_spinner=False)
def _keep(_loaded: Loaded, revision: str, _page: TripCheck) -> bool:
    """Tried once for each state of the files."""
    workspace = _loaded.workspace
    return workspace is not None and keep_first_page(workspace.folder, _loaded, _page)


def strip_of(workspace: Workspace, revision: str, unit: str, o: OutletStatus) -> Drawing:
    """The picture of the last days of an outlet."""
    from dashboard.figures.outlet_pictures import last_days

    return drawing_of(partial(last_days, workspace, o, unit), revision, f"strip-{o.outlet}", (unit, f"{o.trip}"))


@st.cache_resource(max_entries=KEPT, show_spinner="Working out the days ahead …")
def _status_today(_workspace: Workspace, revision: str) -> StatusAnswer:
    from dashboard.answers.status import status

    return status(_workspace)


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def status_of(_workspace: Workspace, revision: str, trip: datetime.date | None) -> StatusAnswer:
    """The status, with the day of a trip read off the outlook that was issued once: another day costs nothing."""
    found = _status_today(_workspace, revision)
    if trip is None:
        return found
    import pandas as pd

    day = pd.Timestamp(trip)
    lead = (day - _workspace.as_of).days
    if lead < 0:
        raise ValueError("a trip lies on the day asked or after it")
    outlets = [
        replace(
            o,
            trip=day,
            trip_chance=o.chance if lead == 0 and o.chance is not None else o.ahead.probability_running(lead),
        )
        for o in found.outlets
    ]
    return replace(found, outlets=tuple(outlets))


@st.cache_resource(max_entries=KEPT, show_spinner="Learning the level …")
def level_of(_workspace: Workspace, revision: str, outlet: str) -> ThresholdAnswer:
    """The learnt level of one outlet."""

    from dashboard.answers.threshold import threshold

    return threshold(_workspace, outlets=(outlet,))


@st.cache_resource(max_entries=KEPT, show_spinner="Judging earlier forecasts …")
def outlook_of(_workspace: Workspace, revision: str, outlet: str) -> OutlookAnswer:
    """The outlook of one outlet with its record, half a second of work and more."""

    from dashboard.answers.outlook import outlook

    return outlook(_workspace, outlets=(outlet,))


@st.cache_resource(max_entries=KEPT, show_spinner="Judging alert levels …")
def alert_levels_of(
    _workspace: Workspace,
    revision: str,
    outlet: str,
    _needs: AlertNeeds,
    _tries: tuple[Quantity, ...],
    asked: tuple[str, ...],
) -> AlertLevelsAnswer:
    """The alert levels of one outlet; `asked` holds everything that the needs and the levels tried say."""

    from dashboard.answers.alert_levels import alert_levels

    return alert_levels(_workspace, outlets=(outlet,), needs=_needs, tries=_tries)


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def spells_of(_workspace: Workspace, revision: str) -> SpellsAnswer:
    from dashboard.answers.spells import spells

    return spells(_workspace)


@st.cache_resource(max_entries=KEPT, show_spinner="Working out the return lags …")
def returns_of(_workspace: Workspace, revision: str, animals: str = "all") -> ReturnsAnswer:
    from dashboard.answers.returns import returns

    # All outlets at once, so that choosing another outlet later is immediate.
    return returns(_workspace, animals=animals)


@st.cache_resource(max_entries=KEPT, show_spinner="Fitting the counts …")
def counts_of(
    _workspace: Workspace, revision: str, window: int, _choices: CountChoices | None = None, choices: str = ""
) -> CountsAnswer:
    """The count regression; `choices` names what `_choices` asks for."""

    from dashboard.answers.counts import counts

    return counts(_workspace, window=window, choices=_choices)


@st.cache_resource(max_entries=KEPT, show_spinner="Following the animals …")
def individuals_of(
    _workspace: Workspace,
    revision: str,
    outlets: tuple[str, ...],
    occasion: str,
    window: tuple[str, ...],
    least_percent: int,
) -> IndividualsAnswer:
    """Outlets, none for all; `occasion` groups captures for survival, the samples of a window (first and last day, or
    nothing) are days; 0 for no second run without unsure matches."""

    import pandas as pd

    from dashboard.answers.individuals import individuals
    from ecology.encounters import OCCASIONS

    grouped = next(o for o in OCCASIONS if o == occasion)
    return individuals(
        _workspace,
        outlets=outlets,
        occasion=grouped,
        sample="visit",
        window=(pd.Timestamp(window[0]), pd.Timestamp(window[1])) if window else None,
        least_confidence=least_percent / 100 if least_percent else None,
    )


@st.cache_resource(max_entries=KEPT, show_spinner="Judging the period …")
def explain_of(
    _workspace: Workspace,
    revision: str,
    outlets: tuple[str, ...],
    control: str,
    change: datetime.date | None,
    judged_from: datetime.date | None,
    judged_to: datetime.date | None,
    baseline_from: datetime.date | None,
    baseline_to: datetime.date | None,
) -> ExplainAnswer:
    """Days of a period are given both or neither; an empty `control` is none."""

    from dashboard.answers.explain import explain

    return explain(
        _workspace,
        judged=None if judged_from is None or judged_to is None else (judged_from, judged_to),
        baseline=None if baseline_from is None or baseline_to is None else (baseline_from, baseline_to),
        outlets=outlets,
        control=control or None,
        change=change,
    )


@st.cache_resource(max_entries=KEPT, show_spinner="Working out the visits …")
def plan_of(
    _workspace: Workspace, revision: str, outlet: str, _request: PlanRequest, choices: tuple[str, ...]
) -> PlanAnswer:
    """The plan for one outlet; `choices` names everything in `_request`."""

    from dashboard.answers.plan import plan

    return plan(_workspace, _request, outlets=(outlet,))


@st.cache_resource(max_entries=_DRAWINGS, show_spinner=False)
def drawing_of(_draw: Callable[[], Drawing], revision: str, name: str, choices: tuple[str, ...] = ()) -> Drawing:
    """A picture, drawn once for each state of the files and each set of choices that it depends on.

    `name` tells pictures of one page and outlet apart; `choices` holds everything else that `_draw` reads.
    """
    return _draw()


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def check_of(_workspace: Workspace, revision: str) -> CheckAnswer:
    from dashboard.answers.check import check

    return check(_workspace)
