"""What the page “Start” has read and worked out, kept as `cache.py` keeps it: of files that are in no workspace yet."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from dashboard.cache import KEPT
from hydro.problems import InputError, Problem

if TYPE_CHECKING:
    from dashboard.start.gauge_draft import GaugeDraft
    from dashboard.start.plan import NewWorkspace
    from dashboard.start.survey_draft import SurveyDraft
    from ecology.visits import Visits
    from hydro.combine import Flow
    from hydro.discharge import Discharge
    from hydro.level_estimate import LevelEstimate


@st.cache_resource(max_entries=KEPT, show_spinner="Reading the gauge file …")
def gauge_draft_of(_path: Path, revision: str, answers: tuple[str, ...], time_zone: str) -> GaugeDraft:
    """A gauge file that is in no workspace yet; `answers` are “key=answer”, `revision` names the file and its bytes."""

    from dashboard.start.gauge_draft import read_gauge_draft

    said = dict(a.split("=", 1) for a in answers)
    return read_gauge_draft(_path, said, time_zone=time_zone, shown_as=_path.name)


@st.cache_resource(max_entries=KEPT, show_spinner="Reading the table …")
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


@st.cache_resource(max_entries=KEPT, show_spinner=False)
def new_flow_of(_gauges: Mapping[str, Sequence[Discharge]], revision: str, time_zone: str) -> Flow:
    """The combined discharge of gauges that are in no workspace yet."""

    from dashboard.start.outlet_level import combined_flow

    return combined_flow(_gauges, time_zone)


@st.cache_resource(max_entries=KEPT, show_spinner="Learning the level …")
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
