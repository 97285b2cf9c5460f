"""Start: a workspace from a gauge file and a table of visits. Nothing is written before the last button."""

from __future__ import annotations

import zoneinfo
from pathlib import Path

import streamlit as st

from dashboard import cache_start
from dashboard.people import may_change_levels, role_of
from dashboard.start.dropped import is_free, safe_name
from dashboard.start.plan import NewWorkspace, settings_text
from dashboard.start.save import save_workspace
from dashboard.start.zones import known_zone, machine_zone
from dashboard.views.parts import answer, caution, plain, say, say_all
from dashboard.views.shown import asks_for_sign_in, load, role, served_folder
from dashboard.views.start_gauges import water_step
from dashboard.views.start_more import More, more_step
from dashboard.views.start_outlets import outlets_step
from dashboard.views.start_state import forget, problem_table, staging
from dashboard.views.start_visits import visits_step
from dashboard.wording import cautions
from dashboard.wording import pages as page_words
from dashboard.wording import start as words
from dashboard.workspace import Workspace
from dashboard.workspace_settings import PeopleSettings
from hydro.problems import InputError

_SAID = "start-said"


def _page() -> None:
    served = served_folder()
    if served is None:
        return
    fresh = is_free(served)
    loaded = None if fresh else load()
    there = None if loaded is None else loaded.workspace
    if there is None:
        answer(words.FIRST)
        now = role_of(PeopleSettings(), sign_in=asks_for_sign_in(), user=st.user.to_dict())
    else:
        answer(words.what_is_there(there))
        if there.visits is None:
            say(page_words.no_visits())
        now = role()
    if not may_change_levels(now):
        say(words.ONLY_KEEPERS)
        return
    if there is not None:
        say(words.ANOTHER)
    said = st.session_state.pop(_SAID, None)
    if said is not None:
        st.success(plain(said))
    staged = staging()
    zone = _zone()
    st.header(words.GAUGES_HEAD, anchor=False)
    water = water_step(staged, zone)
    say(cautions.PROVISIONAL)
    st.header(words.VISITS_HEAD, anchor=False)
    survey = visits_step(staged, zone)
    st.header(words.OUTLETS_HEAD, anchor=False)
    unit, outlets = outlets_step(water, survey)
    if outlets:
        caution(cautions.NOT_A_WARNING, short=cautions.SHORT_TRIP)
    more = more_step(staged, zone, tuple(o.id for o in outlets)) if outlets else More()
    st.header(words.SAVE_HEAD, anchor=False)
    missing = []
    if not water.gauges:
        missing.append(words.MISSING_GAUGE)
    if not survey.settled:
        missing.append(words.MISSING_VISITS)
    if water.gauges and survey.settled and not outlets:
        missing.append(words.MISSING_OUTLET)
    if not more.settled:
        missing.append(words.MISSING_MORE)
    folder = _folder(served, there)
    title = st.text_input(words.TITLE, value=folder.name if folder else "", key="start-title", persist_state="session")
    if folder is None:
        missing.append(words.MISSING_FOLDER)
    if missing or folder is None:
        say(words.not_yet(missing))
        return
    draft = survey.draft
    plan = NewWorkspace(
        title=title or folder.name,
        time_zone=zone,
        display_unit=unit,
        gauges=water.gauges,
        outlets=outlets,
        visits=None if draft is None else draft.path,
        columns={} if draft is None else draft.mapping,
        day_first=None if draft is None else draft.day_first,
        effort_unit=survey.effort_unit,
        keep_outside_record=bool(st.session_state.get("start-keep-outside")),
        captures=None if more.captures is None else more.captures.path,
        capture_columns={} if more.captures is None else more.captures.mapping,
        capture_day_first=None if more.captures is None else more.captures.day_first,
        permit=more.permit,
    )
    _save(plan, folder, fresh=there is None, revision=f"{water.revision} {survey.revision} {more.revision} {zone}")


def _zone() -> str:
    """The time zone, as the browser has it until a person says otherwise."""
    asked = st.context.timezone or ""
    first = asked if known_zone(asked) else machine_zone()
    zones = sorted({*zoneinfo.available_timezones(), first})
    return st.selectbox(
        words.ZONE, zones, index=zones.index(first), key="start-zone", help=words.ZONE_HELP, width=320,
        persist_state="session",
    )  # fmt: skip


def _folder(served: Path, there: Workspace | None) -> Path | None:
    """Where the workspace goes: the folder that was named, or a new one beside the workspace that is there."""
    if there is None:
        return served
    name = st.text_input(words.FOLDER, key="start-folder", persist_state="session")
    if not name.strip():
        return None
    folder = served.parent / safe_name(name, otherwise="springs")
    return folder if is_free(folder) and folder != served else None


def _save(plan: NewWorkspace, folder: Path, *, fresh: bool, revision: str) -> None:
    # Names shown and levels can make nothing wrong: they do not have the whole read anew.
    ids = [o.id for o in plan.outlets]
    problems = cache_start.trial_of(plan, f"{revision} {plan.keep_outside_record} {ids}")
    if problems:
        problem_table(problems, "start-trial")
    if plan.keep_outside_record or any("outside_record = " in p.expected for p in problems):
        st.checkbox(words.KEEP_OUTSIDE, key="start-keep-outside", persist_state="session")
    if problems:
        return
    say_all((words.goes_to(folder), words.files_written(list(plan.copies))))
    with st.expander(words.WILL_WRITE):
        st.code(settings_text(plan), language="toml", wrap_lines=True)
    if not st.button(words.SAVE, type="primary", key="start-save"):
        return
    try:
        save_workspace(plan, folder)
    except InputError as error:
        problem_table(error.problems, "start-save-wrong")
        return
    forget()
    if fresh:
        st.switch_page("views/is_it_running.py")
    st.session_state[_SAID] = words.saved_beside(folder)
    st.rerun()


_page()
