"""Taking a level over in two steps: old and new value, then the line of the file before and after, then writing it.

Nothing is written unconfirmed, and only by those who may change levels. The change that was shown is the one that is
written: its digest tells a file that is another by now.
"""

from __future__ import annotations

import datetime
import zoneinfo
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import streamlit as st

from dashboard.people import may_change_levels
from dashboard.settings_edit import LevelChange, LevelNotTakenError, level_text, write_change
from dashboard.views.parts import caution, say
from dashboard.views.shown import Shown, role
from dashboard.wording import take_level as words
from hydro.units import Quantity


@dataclass(frozen=True, kw_only=True)
class TakeOver:
    """What is taken over, and how it is spoken of.

    name         of the buttons and of what is remembered between runs: one a page
    plan         (text of the new level, today) -> the change; raises LevelNotTakenError
    old_and_new, taken   sentences of (old value or None, new) before, and of those and the file's name after
    """

    name: str
    ask: str
    same: str
    what_changes: str
    plan: Callable[[str, datetime.date], LevelChange]
    old_and_new: Callable[[str | None, str], str]
    taken: Callable[[str | None, str, str], str]


def last_writing(name: str, outlet: str) -> None:
    """What the last writing came to, said once on the run after it."""
    said = st.session_state.pop(f"{name}-said", None)
    if said is not None and said[0] == outlet:
        say(said[1])


def take_over(s: Shown, how: TakeOver, *, was: Quantity | None, value_m3s: float) -> None:
    """The steps for one level [m³/s] of the outlet shown, written in the unit of the level that `was` set."""
    outlet, asked = s.outlet.id, f"{how.name}-asked"
    new = level_text(value_m3s, was.unit if was else s.workspace.unit)
    if was is not None and new == level_text(was.m3s, was.unit):
        say(how.same)
        return
    today = datetime.datetime.now(zoneinfo.ZoneInfo(s.workspace.settings.time_zone)).date()
    try:
        change = how.plan(new, today)
    except LevelNotTakenError as why:
        say(how.old_and_new(str(was) if was else None, new))
        say(f"{why}")
        return
    say(how.old_and_new(change.old, new))
    if not may_change_levels(role()):
        say(words.ONLY_KEEPERS)
        return
    if st.session_state.get(asked) != outlet:
        st.button(how.ask, key=f"use-{how.name}", on_click=partial(_ask, asked, outlet))
        return
    if change.line_before is not None:
        say(words.THE_LINE_IS)
        st.code(change.line_before.strip(), language=None, wrap_lines=True)
    say(words.THE_LINE_BECOMES if change.line_before is not None else words.THE_LINE_ADDED)
    st.code(change.line_after.strip(), language=None, wrap_lines=True)
    caution(how.what_changes)
    with st.container(horizontal=True):
        st.button(words.WRITE_IT, key=f"write-{how.name}", type="primary", on_click=partial(_write, how, change))
        st.button(words.LEAVE_IT, key=f"leave-{how.name}", on_click=partial(_ask, asked, None))


def _ask(asked: str, outlet: str | None) -> None:
    st.session_state[asked] = outlet


def _write(how: TakeOver, change: LevelChange) -> None:
    st.session_state[f"{how.name}-asked"] = None
    if not may_change_levels(role()):  # the settings may have changed since the button was shown
        return
    try:
        write_change(change)
    except LevelNotTakenError as why:
        st.session_state[f"{how.name}-said"] = (change.outlet, f"{why}")
        return
    st.session_state[f"{how.name}-said"] = (change.outlet, how.taken(change.old, change.new, change.path.name))
