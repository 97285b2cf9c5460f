"""What was written down here lately: what waits, what was changed in the file since, and each with a way back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

import streamlit as st

from dashboard.records.entry import CAPTURES, VISITS
from dashboard.records.journal import NotKeptError
from dashboard.records.kept import CORRECTING, SAVED, UNDO_WAITING, WAITING, Kept
from dashboard.records.matching import missing_from_file
from dashboard.records.place import Place
from dashboard.records.row_now import RowNow, row_now
from dashboard.records.rows import CannotWriteError
from dashboard.records.write_down import give_up, put_back, settle, take_from_file, undo
from dashboard.views.correct_entry import CORRECT, ask_about, three_columns
from dashboard.views.parts import plain, say, table
from dashboard.wording import records as words
from dashboard.workspace import Workspace

#: Entries listed.
_LATELY = 20


def written_lately(workspace: Workspace, place: Place, who: str) -> None:
    all_kept = place.journal.read()
    if not all_kept:
        return
    waiting = [k for k in all_kept.values() if k.state in (WAITING, UNDO_WAITING, CORRECTING)]
    if waiting:
        st.subheader(words.WAITING_HEAD, anchor=False)
        for k in waiting:
            _waiting(place, k, all_kept, who)
        if st.button(words.TRY_AGAIN, key="entry-try"):
            do(lambda: settle(place))
    tables_now = {VISITS: workspace.visits, CAPTURES: workspace.captures}
    gone = [k for name, t in tables_now.items() if t is not None for k in missing_from_file(all_kept, name, t.frame)]
    if gone:
        st.subheader(words.MISSING_HEAD, anchor=False)
        say(words.MISSING)
        for k in gone:
            _gone(place, k, all_kept, who)
    st.subheader(words.LATELY, anchor=False)
    lately = list(all_kept.values())[-_LATELY:]
    settled = {k.entry.id: k for k in reversed(lately) if k.state == SAVED and k not in gone}
    if settled:
        _change_one(place, settled, who)
    table(words.history(lately, place.titles), words.JOURNAL, workspace.unit, alt=words.LATELY)


def _change_one(place: Place, settled: Mapping[str, Kept], who: str) -> None:
    """One of the newest entries, the newest first, to be corrected or taken out."""
    id = next(iter(settled))
    if len(settled) > 1:
        id = st.selectbox(
            words.WHICH, list(settled), format_func=lambda i: words.summary(settled[i], place.titles),
            key="entry-which", persist_state="session",
        )  # fmt: skip
    kept = settled.get(id) or next(iter(settled.values()))
    say(words.outcome(kept, place.file_of(kept.entry.table) or "", place.titles))
    with st.container(horizontal=True):
        if st.button(words.CORRECT, key=f"entry-correct-{kept.entry.id}"):
            st.session_state[CORRECT] = kept.entry.id
            st.rerun()
        if st.button(words.UNDO, key=f"entry-undo-{kept.entry.id}"):
            do(partial(undo, place, kept.entry.id, who))


def _waiting(place: Place, kept: Kept, all_kept: Mapping[str, Kept], who: str) -> None:
    """An entry that is not settled, with the question that it waits for, where it waits for one."""
    id = kept.entry.id
    say(words.outcome(kept, place.file_of(kept.entry.table) or "", place.titles))
    if kept.state == WAITING:
        with st.container(horizontal=True):
            if st.button(words.CORRECT, key=f"entry-correct-{id}"):
                st.session_state[CORRECT] = id
                st.rerun()
            if st.button(words.UNDO, key=f"entry-undo-{id}"):
                do(partial(undo, place, id, who))
        return
    now = _now(place, kept, all_kept)
    if kept.state == CORRECTING:
        if now is not None:
            ask_about(place, kept, now, who, do)
    elif now is not None:
        three_columns(kept, now)
        if st.button(words.REMOVE_ALL_THE_SAME, key=f"entry-remove-{id}"):
            do(partial(undo, place, id, who, row=now.record))
    if st.button(words.LEAVE, key=f"entry-leave-{id}"):
        do(partial(give_up, place, id, who))


def _gone(place: Place, kept: Kept, all_kept: Mapping[str, Kept], who: str) -> None:
    """An entry whose row is not in the file as written: changed there, where one is like it, or gone."""
    id, now = kept.entry.id, _now(place, kept, all_kept)
    say(words.summary(kept, place.titles))
    if now is None:
        if st.button(words.PUT_BACK, key=f"entry-back-{id}"):
            do(partial(put_back, place, id, who))
        return
    say(words.changed_on(now.line, place.file_of(kept.entry.table) or ""))
    three_columns(kept, now)
    with st.container(horizontal=True):
        if st.button(words.TAKE_FILE, key=f"entry-take-{id}"):
            do(partial(take_from_file, place, id, now.values, now.record, who))
        if st.button(words.CORRECT, key=f"entry-correct-{id}"):
            st.session_state[CORRECT] = id
            st.rerun()
        if st.button(words.ANOTHER_ROW, key=f"entry-back-{id}"):
            do(partial(put_back, place, id, who))


def _now(place: Place, kept: Kept, all_kept: Mapping[str, Kept]) -> RowNow | None:
    try:
        return row_now(place, kept, all_kept)
    except CannotWriteError:  # the file cannot be read: the entry's own sentence says so
        return None


def do(act: Callable[[], object]) -> None:
    """Do something to the journal and start the page over; say so where nothing could be kept."""
    try:
        act()
    except NotKeptError as reason:
        st.error(plain(words.not_kept(f"{reason}")))
        return
    st.rerun()
