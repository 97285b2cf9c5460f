"""The only file with st.cache_*: what has been read and worked out is kept until a file or the day changes.

Big frames are never hashed (Streamlit samples them and can return an old answer): every key is a digest of the names,
times of change and sizes of the files, of the day, and of the choices made. What is kept is shared by all sessions and
is read only.
"""

from __future__ import annotations

import datetime
import glob
import hashlib
import json
import tempfile
import zoneinfo
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.workspace import load_workspace
from dashboard.workspace_file import FILE_NAME, read_workspace_file
from hydro.problems import InputError, Problem, SourceError
from hydro.services.kept import STATE, VALUES, folder_of

if TYPE_CHECKING:
    from dashboard.answers.alert_levels import AlertLevelsAnswer
    from dashboard.answers.check import CheckAnswer
    from dashboard.answers.count_choices import CountChoices
    from dashboard.answers.counts import CountsAnswer
    from dashboard.answers.explain import ExplainAnswer
    from dashboard.answers.individuals import IndividualsAnswer
    from dashboard.answers.outlook import OutlookAnswer
    from dashboard.answers.plan_answer import PlanAnswer
    from dashboard.answers.plan_request import PlanRequest
    from dashboard.answers.returns import ReturnsAnswer
    from dashboard.answers.spells import SpellsAnswer
    from dashboard.answers.status import StatusAnswer
    from dashboard.answers.threshold import ThresholdAnswer
    from dashboard.figures.drawing import Drawing
    from dashboard.start.gauge_draft import GaugeDraft
    from dashboard.start.plan import NewWorkspace
    from dashboard.start.survey_draft import SurveyDraft
    from dashboard.workspace import Workspace
    from ecology.visits import Visits
    from hydro.alert_choice import AlertNeeds
    from hydro.combine import Flow
    from hydro.discharge import Discharge
    from hydro.level_estimate import LevelEstimate
    from hydro.units import Quantity

_KEPT = 24  # answers of one kind kept at a time
_DRAWINGS = 120  # pictures kept, about 0.2 MB each at most


@dataclass(frozen=True, eq=False, kw_only=True)
class Loaded:
    """A workspace, or what is wrong with it. `revision` names this state of its files and day."""

    revision: str
    workspace: Workspace | None = None
    problems: tuple[Problem, ...] = ()
    message: str | None = None


def revision(folder: Path) -> str:
    """A digest of the folder, the name, time of change and size of every file in use, and today's date there.

    Where the settings cannot be read they are the only file in use.
    """
    used, zone = [folder / FILE_NAME], "UTC"
    try:
        settings = read_workspace_file(folder)
    except InputError:
        settings = None
    if settings is not None:
        zone = settings.time_zone
        for gauge in settings.gauges.values():
            if gauge.file is not None:
                path = folder / gauge.file
                used += [path] if path.exists() else [Path(p) for p in sorted(glob.glob(str(path)))]  # noqa: PTH207
            else:
                copy = folder_of(folder, str(gauge.service), str(gauge.station))
                used += [copy / VALUES, copy / STATE]
        used += [folder / f for f in (settings.surveys.visits, settings.surveys.captures) if f is not None]
    facts: list[object] = [str(folder), f"{datetime.datetime.now(zoneinfo.ZoneInfo(zone)).date()}"]
    for path in used:
        try:
            found = path.stat()
        except OSError:
            facts.append([str(path), None])
            continue
        facts.append([str(path), found.st_mtime_ns, found.st_size])
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()


def load(folder: Path) -> Loaded:
    """The workspace of a folder, read again only when something about it changed."""
    return _load(str(folder), revision(folder))


@st.cache_resource(max_entries=4, show_spinner="Reading the files …")
def _load(folder: str, revision: str) -> Loaded:
    # What is wrong is kept too: a broken file is not read again on every click.
    try:
        return Loaded(revision=revision, workspace=load_workspace(Path(folder)))
    except InputError as error:
        return Loaded(revision=revision, problems=error.problems)
    except SourceError as error:
        return Loaded(revision=revision, message=str(error))


@st.cache_resource(max_entries=_KEPT, show_spinner="Working out the days ahead …")
def _status_today(_workspace: Workspace, revision: str) -> StatusAnswer:
    from dashboard.answers.status import status

    return status(_workspace)


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def status_of(_workspace: Workspace, revision: str, trip: datetime.date | None) -> StatusAnswer:
    """The status, with the day of a trip read off the outlook that was issued once: another day costs nothing."""
    found = _status_today(_workspace, revision)
    if trip is None:
        return found
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


@st.cache_resource(max_entries=_KEPT, show_spinner="Learning the level …")
def level_of(_workspace: Workspace, revision: str, outlet: str) -> ThresholdAnswer:
    """The learnt level of one outlet."""

    from dashboard.answers.threshold import threshold

    return threshold(_workspace, outlets=(outlet,))


@st.cache_resource(max_entries=_KEPT, show_spinner="Judging earlier forecasts …")
def outlook_of(_workspace: Workspace, revision: str, outlet: str) -> OutlookAnswer:
    """The outlook of one outlet with its record, half a second of work and more."""

    from dashboard.answers.outlook import outlook

    return outlook(_workspace, outlets=(outlet,))


@st.cache_resource(max_entries=_KEPT, show_spinner="Judging alert levels …")
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


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def spells_of(_workspace: Workspace, revision: str) -> SpellsAnswer:
    from dashboard.answers.spells import spells

    return spells(_workspace)


@st.cache_resource(max_entries=_KEPT, show_spinner="Working out the return lags …")
def returns_of(_workspace: Workspace, revision: str, animals: str = "all") -> ReturnsAnswer:
    from dashboard.answers.returns import returns

    # All outlets at once, so that choosing another outlet later is immediate.
    return returns(_workspace, animals=animals)


@st.cache_resource(max_entries=_KEPT, show_spinner="Fitting the counts …")
def counts_of(
    _workspace: Workspace, revision: str, window: int, _choices: CountChoices | None = None, choices: str = ""
) -> CountsAnswer:
    """The count regression; `choices` names what `_choices` asks for."""

    from dashboard.answers.counts import counts

    return counts(_workspace, window=window, choices=_choices)


@st.cache_resource(max_entries=_KEPT, show_spinner="Following the animals …")
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


@st.cache_resource(max_entries=_KEPT, show_spinner="Judging the period …")
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


@st.cache_resource(max_entries=_KEPT, show_spinner="Working out the visits …")
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


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def check_of(_workspace: Workspace, revision: str) -> CheckAnswer:
    from dashboard.answers.check import check

    return check(_workspace)


@st.cache_resource(max_entries=_KEPT, show_spinner="Reading the gauge file …")
def gauge_draft_of(_path: Path, revision: str, answers: tuple[str, ...], time_zone: str) -> GaugeDraft:
    """A gauge file that is in no workspace yet; `answers` are “key=answer”, `revision` names the file and its bytes."""

    from dashboard.start.gauge_draft import read_gauge_draft

    said = dict(a.split("=", 1) for a in answers)
    return read_gauge_draft(_path, said, time_zone=time_zone, shown_as=_path.name)


@st.cache_resource(max_entries=_KEPT, show_spinner="Reading the table …")
def survey_draft_of(
    _path: Path,
    revision: str,
    columns: tuple[str, ...],
    day_first: str,
    today: str,
    kind: str = "visits",
    outlets: tuple[str, ...] | None = None,
) -> SurveyDraft:
    """A table that is in no workspace yet; `columns` are “ours=theirs”, empty = as suggested."""

    from dashboard.start.survey_draft import read_survey_draft

    chosen = dict(c.split("=", 1) for c in columns) or None
    order = None if not day_first else day_first == "true"
    return read_survey_draft(
        _path, today=pd.Timestamp(today), columns=chosen, day_first=order, shown_as=_path.name, kind=kind,
        outlets=outlets,
    )  # fmt: skip


@st.cache_resource(max_entries=_KEPT, show_spinner=False)
def new_flow_of(_gauges: Mapping[str, Sequence[Discharge]], revision: str, time_zone: str) -> Flow:
    """The combined discharge of gauges that are in no workspace yet."""

    from dashboard.start.outlet_level import combined_flow

    return combined_flow(_gauges, time_zone)


@st.cache_resource(max_entries=_KEPT, show_spinner="Learning the level …")
def start_level_of(
    _visits: Visits | None, _flow: Flow, revision: str, outlet: str, unit: str
) -> tuple[LevelEstimate | None, str | None]:
    """The level that sightings suggest for an outlet that is in no workspace yet."""

    from dashboard.start.outlet_level import learn_start_level

    return learn_start_level(_visits, outlet, _flow, unit)


@st.cache_resource(max_entries=4, show_spinner="Looking through the whole …")
def trial_of(_plan: NewWorkspace, revision: str) -> tuple[Problem, ...]:
    """What reading the new workspace would find wrong."""

    from dashboard.start.save import try_workspace

    with tempfile.TemporaryDirectory(prefix="resurgence-trial-") as folder:
        try:
            try_workspace(_plan, Path(folder))
        except InputError as error:
            return error.problems
    return ()
