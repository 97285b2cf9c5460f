"""Write down a visit: at the spring, on a phone. What was sent is in the journal before anything is said of it."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable
from functools import partial

import pandas as pd
import streamlit as st

from dashboard.people import may_write
from dashboard.records.entry import CAPTURES, VISITS, Entry, entry_problems, new_id
from dashboard.records.journal import SAVED, UNDO_WAITING, WAITING, Kept, NotKeptError
from dashboard.records.matching import missing_from_file
from dashboard.records.write_down import (
    Place,
    give_up_undo,
    open_elsewhere,
    put_back,
    settle,
    undo,
    write_down,
)
from dashboard.views.address import take_id
from dashboard.views.entry_fields import Fields
from dashboard.views.parts import answer, caution, plain, say, table
from dashboard.views.shown import OUTLET, outlet_labels, role, shown
from dashboard.wording import cautions, source_tables
from dashboard.wording import records as words
from dashboard.workspace import RECORD_LAG_DAYS, Workspace

_ID, _KEPT_ID, _WHO, _SAID = "entry", "entry-id", "entry-who", "entry-said"
_ID_LAYOUT = re.compile(r"[0-9a-f]{32}")
#: Entries listed.
_LATELY = 20
#: Wet fingers need targets of 44 px and more.
_LARGE = """<style>[data-testid="stMain"] :is([data-testid="stButtonGroup"] button, [data-testid="stButton"] button,
[data-testid="stNumberInput"] :is(input, button), [data-testid="stTextInput"] input, [data-testid="stDateInput"] input)
{ min-height: 2.9rem; min-width: 2.9rem; }</style>"""
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
    said = st.session_state.pop(_SAID, None)
    if said is not None:
        st.success(plain(said))
    if open_elsewhere(place, VISITS):
        say(words.OPEN_ELSEWHERE)
    take_id("what", words.KINDS)
    kind = st.segmented_control(
        words.KIND, list(words.KINDS), format_func=words.KINDS.__getitem__, default="visit", required=True,
        key="what", bind="query-params", wrap=True,
    )  # fmt: skip
    _form(workspace, place, kind)
    _lately(workspace, place)


def _form(workspace: Workspace, place: Place, kind: str) -> None:
    """The fields and the button. Not a fragment: after a lost connection the first click of one would do nothing."""
    if kind == "animal" and workspace.captures is None:
        say(words.NO_CAPTURES)
        return
    id = _entry_id()
    fields = Fields(workspace, id)
    today = workspace.as_of.date()
    caution(cautions.HANDLING if kind == "animal" else cautions.WADING, cautions.DISTURBANCE)
    day = fields.day(today)
    if day is not None:
        _permit(workspace, day)
    labels = outlet_labels(workspace)
    first = str(st.session_state.get(OUTLET))
    outlet = fields.outlet(labels, first if first in labels else next(iter(labels)))
    if kind == "animal":
        _animal(workspace, fields)
    else:
        _visit(workspace, fields, kind)
    fields.text("note", long=True)
    known = str(st.user.to_dict().get("email") or "")
    who = known or st.text_input(words.WHO, key=_WHO, help=words.WHO_HELP, persist_state="session")
    unsent = "(e) => e.preventDefault()" if fields.typed else "null"
    st.html(_ASK_BEFORE_LEAVING % unsent, unsafe_allow_javascript=True)
    entry = Entry(
        id=id,
        table=CAPTURES if kind == "animal" else VISITS,
        made=datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds"),
        who=who or "",
        values=fields.values,
    )
    wrong = entry_problems(entry, outlets=place.outlets, today=place.today, spans=place.spans)
    if fields.typed and wrong:
        st.markdown("\n".join(f"- {plain(words.problem(p))}" for p in wrong))
    if not st.button(words.SEND, type="primary", width="stretch", key="entry-send"):
        return
    if wrong:
        st.error(plain(" ".join(words.problem(p) for p in wrong)))
        return
    try:
        kept = write_down(place, entry)
    except NotKeptError as reason:
        st.error(plain(words.not_kept(f"{reason}")))
        return
    st.session_state[_SAID] = words.outcome(kept, place.file_of(entry.table) or "")
    st.session_state[OUTLET] = outlet
    _name(new_id())
    st.rerun()


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


def _permit(workspace: Workspace, day: datetime.date) -> None:
    sentence, in_order = words.permit(workspace.settings.permit, pd.Timestamp(day))
    if in_order:
        say(sentence)
    else:
        st.error(plain(sentence))


def _visit(workspace: Workspace, fields: Fields, kind: str) -> None:
    fields.values["surface"] = fields.choice("surface", words.SURFACES)
    if kind == "look":
        fields.values["searched"] = "no"
        return
    done = fields.choice("searched", words.DONE, required=True, first="counted")
    fields.values["searched"] = "no" if done == "not" else "yes"
    if done == "counted":
        fields.number("count", whole=True)
    if done != "not":
        fields.number("effort", label=words.effort_label(workspace.settings.surveys.effort_unit))
    if done == "counted" and workspace.visits is not None and workspace.visits.frame["taxon"].astype(bool).any():
        fields.text("taxon")
    with st.expander(words.STAGES):
        if done == "counted":
            for name in ("adults", "juveniles", "gravid"):
                fields.number(name, whole=True)
        fields.temperature()
        fields.time()
        fields.text("observers")
    _cleaning(fields)


def _animal(workspace: Workspace, fields: Fields) -> None:
    fields.text("individual")
    fields.text("stage")
    fields.values["gravid"] = fields.choice("gravid", words.CARRYING_EGGS, first="")
    fields.number("length_mm")
    fields.number("match_confidence", most=1.0)
    fields.number("held_minutes")
    most, held = workspace.settings.permit.holding_minutes, fields.values["held_minutes"]
    say(words.HOLDING)
    if most is not None and held and float(held) > most:
        st.error(plain(words.held_too_long(float(held), most)))


def _cleaning(fields: Fields) -> None:
    with st.expander(words.CLEANING):
        fields.text("decon_product")
        fields.text("decon_dose")
        fields.number("decon_minutes")


def _lately(workspace: Workspace, place: Place) -> None:
    """What was written down here: what waits, what has gone, and the latest with a way back."""
    all_kept = place.journal.read()
    if not all_kept:
        return
    who = str(st.user.to_dict().get("email") or st.session_state.get(_WHO) or "")
    waiting = [k for k in all_kept.values() if k.state in (WAITING, UNDO_WAITING)]
    if waiting:
        st.subheader(words.WAITING_HEAD, anchor=False)
        for k in waiting:
            _row(place, k, who)
        if st.button(words.TRY_AGAIN, key="entry-try"):
            _do(lambda: settle(place))
    tables_now = {VISITS: workspace.visits, CAPTURES: workspace.captures}
    gone = [k for name, t in tables_now.items() if t is not None for k in missing_from_file(all_kept, name, t.frame)]
    if gone:
        st.subheader(words.MISSING_HEAD, anchor=False)
        say(words.MISSING)
        for k in gone:
            say(words.summary(k))
            if st.button(words.PUT_BACK, key=f"entry-back-{k.entry.id}"):
                _do(partial(put_back, place, k.entry.id, who))
    st.subheader(words.LATELY, anchor=False)
    lately = list(all_kept.values())[-_LATELY:]
    newest = next((k for k in reversed(lately) if k.state == SAVED and k not in gone), None)
    if newest is not None:
        _row(place, newest, who)
    table(words.history(lately), source_tables.JOURNAL, workspace.unit, alt=words.LATELY)


def _row(place: Place, kept: Kept, who: str) -> None:
    """One entry with what can be done about it."""
    say(words.outcome(kept, place.file_of(kept.entry.table) or ""))
    if kept.state == UNDO_WAITING:
        if st.button(words.LEAVE, key=f"entry-leave-{kept.entry.id}"):
            _do(lambda: give_up_undo(place, kept.entry.id, who))
    elif st.button(words.UNDO, key=f"entry-undo-{kept.entry.id}"):
        _do(lambda: undo(place, kept.entry.id, who))


def _do(act: Callable[[], object]) -> None:
    try:
        act()
    except NotKeptError as reason:
        st.error(plain(words.not_kept(f"{reason}")))
        return
    st.rerun()


_page()
