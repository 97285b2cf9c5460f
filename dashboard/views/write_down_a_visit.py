"""Write down a visit: at the spring, on a phone. What was sent is in the journal before anything is said of it."""

from __future__ import annotations

import datetime
import re

import pandas as pd
import streamlit as st

from dashboard.people import may_write
from dashboard.records.entry import CAPTURES, VISITS, Entry, entry_problems, new_id
from dashboard.records.journal import NotKeptError
from dashboard.records.place import Place, open_elsewhere
from dashboard.records.write_down import write_down
from dashboard.views.address import take_id
from dashboard.views.correct_entry import correct_form, correcting
from dashboard.views.entry_fields import Fields
from dashboard.views.entry_forms import entry_form
from dashboard.views.for_fingers import LARGE_FIELDS, LARGE_TARGETS
from dashboard.views.parts import answer, plain, say
from dashboard.views.said_beside import keep_said, last_said, say_beside
from dashboard.views.shown import OUTLET, outlet_labels, role, shown
from dashboard.views.written_lately import written_lately
from dashboard.wording import records as words
from dashboard.workspace import RECORD_LAG_DAYS, Workspace

_ID, _KEPT_ID, _WHO = "entry", "entry-id", "entry-who"
_ID_LAYOUT = re.compile(r"[0-9a-f]{32}")
#: Wet fingers need targets of 44 px and more, here on every screen.
_LARGE = f"<style>{LARGE_FIELDS} {LARGE_TARGETS}</style>"
#: A browser asks before it closes a tab in which something typed was not sent.
_ASK_BEFORE_LEAVING = """<script>window.onbeforeunload = %s;</script>"""


def _place(workspace: Workspace) -> Place:
    spans = {
        id: (flow.frame.index[0], flow.frame.index[-1])
        for id in workspace.outlets
        if not (flow := workspace.flow_of(id)).empty
    }
    return Place(
        folder=workspace.folder,
        surveys=workspace.settings.surveys,
        outlets=tuple(workspace.outlets),
        today=workspace.as_of,
        spans=spans,
        lag_days=RECORD_LAG_DAYS,
        titles=outlet_labels(workspace),
    )


def _page() -> None:
    st.html(_LARGE)
    workspace = shown().workspace
    labels = outlet_labels(workspace)
    visits = pd.DataFrame() if workspace.visits is None else workspace.visits.frame
    answer(words.answer(visits, labels))
    if workspace.visits is None:
        say(words.NO_TABLE)
        return
    if not may_write(role()):
        say(words.ONLY_RECORDERS)
        return
    place = _place(workspace)
    said = last_said()
    if open_elsewhere(place, VISITS):
        say(words.OPEN_ELSEWHERE)
    kept = correcting(place)
    if kept is not None:
        _ask_before_leaving(correct_form(workspace, place, kept, _who()))
    else:
        take_id("what", words.KINDS)
        kind = st.segmented_control(
            words.KIND, list(words.KINDS), format_func=words.KINDS.__getitem__, default="visit", required=True,
            key="what", bind="query-params", wrap=True,
        )  # fmt: skip
        _form(workspace, place, kind, said)
    written_lately(workspace, place, str(st.user.to_dict().get("email") or st.session_state.get(_WHO) or ""))


def _form(workspace: Workspace, place: Place, kind: str, said: tuple[str, bool] | None) -> None:
    """The fields and the button, under which stands what became of the entry sent last.

    Not a fragment: after a lost connection the first click of one would do nothing.
    """
    if kind == "animal" and workspace.captures is None:
        say(words.NO_CAPTURES)
        return
    id = _entry_id()
    fields = Fields(workspace, id)
    outlet = entry_form(workspace, fields, kind, str(st.session_state.get(OUTLET)))
    who = _who()
    _ask_before_leaving(fields.typed)
    entry = Entry(
        id=id,
        table=CAPTURES if kind == "animal" else VISITS,
        made=datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        who=who,
        values=fields.values,
    )
    wrong = entry_problems(entry, outlets=place.outlets, today=place.today, spans=place.spans)
    if fields.typed and wrong:
        st.markdown("\n".join(f"- {plain(words.problem(p))}" for p in wrong))
    if not st.button(words.SEND, type="primary", width="stretch", key="entry-send"):
        if said is not None:
            say_beside(st.success if said[1] else st.warning, said[0])
        return
    if wrong:
        say_beside(st.error, " ".join(words.problem(p) for p in wrong))
        return
    try:
        kept = write_down(place, entry)
    except NotKeptError as reason:
        say_beside(st.error, words.not_kept(f"{reason}"))
        return
    keep_said(kept, place)
    st.session_state[OUTLET] = outlet
    _name(new_id())
    st.rerun()


def _who() -> str:
    """Whom the journal names: who signed in, or what was typed."""
    known = str(st.user.to_dict().get("email") or "")
    return known or st.text_input(words.WHO, key=_WHO, help=words.WHO_HELP, persist_state="session") or ""


def _ask_before_leaving(unsent: bool) -> None:
    st.html(_ASK_BEFORE_LEAVING % ("(e) => e.preventDefault()" if unsent else "null"), unsafe_allow_javascript=True)


def _entry_id() -> str:
    """The name of the entry being typed. It stands in the address, so that a browser whose connection was cut finds its
    fields again, and what it may have sent already is not written twice."""
    asked = st.query_params.get(_ID, "")
    id = str(st.session_state.get(_KEPT_ID) or (asked if _ID_LAYOUT.fullmatch(asked) else new_id()))
    _name(id)
    return id


def _name(id: str) -> None:
    st.session_state[_KEPT_ID] = id
    if st.query_params.get(_ID) != id:
        st.query_params[_ID] = id


_page()
