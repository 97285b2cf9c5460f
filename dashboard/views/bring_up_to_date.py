"""A button that brings the gauges of services up to date, for those who may write, and what came of it."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from dashboard.answers.fetch import fetch
from dashboard.people import may_write, role_of
from dashboard.views.parts import plain, say, say_all
from dashboard.views.shown import asks_for_sign_in
from dashboard.wording import fetch as words
from dashboard.workspace_settings import WorkspaceFile
from hydro.problems import InputError

_SAID = "bring-up-to-date-said"


def bring_up_to_date(folder: Path, settings: WorkspaceFile) -> None:
    """The button, where the workspace has gauges of services."""
    if all(g.service is None for g in settings.gauges.values()):
        return
    if (earlier := st.session_state.pop(_SAID, None)) is not None:
        say(earlier[0])
        say_all(earlier[1:])
    if not may_write(role_of(settings.people, sign_in=asks_for_sign_in(), user=st.user.to_dict())):
        say(words.ONLY_RECORDERS)
        return
    if not st.button(words.BRING_UP_TO_DATE, key="bring-up-to-date"):
        return
    place = st.empty()
    place.markdown(plain(words.ASKING))

    def show(sentence: str) -> None:
        place.markdown(plain(f"{sentence} …"))

    try:
        answer = fetch(folder, progress=show)
    except InputError as error:
        place.empty()
        say_all([f"{error}"])
        return
    said = [words.headline(answer)]
    for g in answer.gauges:
        said += [f"{g.settings.title}: {words.sentence(g, answer.time_zone)}", *words.changed_lines(g)]
    st.session_state[_SAID] = said
    # Once more from the top: the pages rest on other values now.
    st.rerun()
