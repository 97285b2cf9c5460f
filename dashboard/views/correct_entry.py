"""Correcting an entry: its fields as they were, and a question where somebody changed its row in the file meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import pandas as pd
import streamlit as st

from dashboard.records.entry import entry_problems
from dashboard.records.journal import NotKeptError
from dashboard.records.kept import CORRECTING, SAVED, WAITING, Kept
from dashboard.records.place import Place
from dashboard.records.row_now import Difference, RowNow, differences, entry_like
from dashboard.records.write_down import correct
from dashboard.views.entry_fields import Fields
from dashboard.views.entry_forms import entry_form, kind_of
from dashboard.views.parts import plain, say, table
from dashboard.views.said_beside import keep_said, say_beside
from dashboard.wording import records as words
from dashboard.workspace import Workspace

#: Which entry is being corrected, in the session and in the address: a connection that was cut finds it again.
CORRECT = "correct"


def correcting(place: Place) -> Kept | None:
    """The entry that is being corrected, if any."""
    id = st.session_state.get(CORRECT) or st.query_params.get(CORRECT)
    kept = place.journal.read().get(str(id)) if id else None
    if kept is None or kept.state not in (SAVED, WAITING):
        close()
        return None
    st.session_state[CORRECT] = kept.entry.id
    if st.query_params.get(CORRECT) != kept.entry.id:
        st.query_params[CORRECT] = kept.entry.id
    return kept


def close() -> None:
    st.session_state.pop(CORRECT, None)
    if CORRECT in st.query_params:
        del st.query_params[CORRECT]


def correct_form(workspace: Workspace, place: Place, kept: Kept, who: str) -> bool:
    """The fields of an entry as it is; whether anything in them would be lost with the tab."""
    e = kept.entry
    st.subheader(words.CORRECT_HEAD, anchor=False)
    say(words.as_written(kept, place.titles))
    # Every correction has fields of its own: one that was given up leaves nothing behind.
    fields = Fields(workspace, f"{e.id}-{len(kept.versions)}", first=e.values)
    entry_form(workspace, fields, kind_of(e.table), e.values["outlet"])
    wanted = entry_like(kept, fields.values)
    wrong = entry_problems(wanted, outlets=place.outlets, today=place.today, spans=place.spans)
    changed = dict(wanted.values) != dict(e.values)
    if changed and wrong:
        st.markdown("\n".join(f"- {plain(words.problem(p))}" for p in wrong))
    with st.container(horizontal=True):
        send = st.button(words.SEND_CORRECTION, type="primary", key="entry-correct-send", disabled=not changed)
        if st.button(words.NO_CORRECTION, key="entry-correct-leave"):
            close()
            st.rerun()
    if send and wrong:
        say_beside(st.error, " ".join(words.problem(p) for p in wrong))
    elif send:
        try:
            after = correct(place, e.id, wanted.values, who)
        except NotKeptError as reason:
            say_beside(st.error, words.not_kept(f"{reason}"))
            return changed
        if after.state != CORRECTING:
            keep_said(after, place)
        close()
        st.rerun()
    return changed


def three_columns(kept: Kept, now: RowNow) -> list[Difference]:
    """As it was written, as the file says now and, in a correction, as a person wants it."""
    found = differences(kept.entry.values, now.values, kept.wanted or kept.entry.values)
    frame = pd.DataFrame(
        [
            (words.LABELS.get(d.column, d.column), *(words.cell(d.column, v) for v in (d.was, d.in_file, d.yours)))
            for d in found
        ],
        columns=["what", "was", "in_file", "yours"],
    )
    columns = words.CONFLICT if kept.wanted is not None else words.CHANGED_ROW
    table(frame, columns, "m3/s", alt=words.THREE, key=f"entry-three-{kept.entry.id}")
    return found


def ask_about(place: Place, kept: Kept, now: RowNow, who: str, do: Callable[[Callable[[], object]], None]) -> None:
    """The question: what shall the row say, field by field where the two changed the same thing."""
    id = kept.entry.id
    say(words.changed_on(now.line, place.file_of(kept.entry.table) or ""))
    chosen = {**now.values}
    for d in three_columns(kept, now):
        value = d.settled
        if value is None:
            options = {"file": words.from_file(d.column, d.in_file), "yours": words.from_you(d.column, d.yours)}
            picked = st.segmented_control(
                words.LABELS.get(d.column, d.column), list(options), format_func=options.__getitem__,
                key=f"entry-choose-{d.column}-{id}", wrap=True,
            )  # fmt: skip
            if picked is None:
                say(words.CHOOSE_FIRST)
                return
            value = d.in_file if picked == "file" else d.yours
        chosen[d.column] = value
    wanted = entry_like(kept, chosen)
    wrong = entry_problems(wanted, outlets=place.outlets, today=place.today, spans=place.spans)
    if wrong:
        st.markdown("\n".join(f"- {plain(words.problem(p))}" for p in wrong))
        return
    say(words.would_say(wanted.values))
    if st.button(words.WRITE_CHOICE, type="primary", key=f"entry-merge-{id}"):
        do(partial(correct, place, id, wanted.values, who, row=now.record))
