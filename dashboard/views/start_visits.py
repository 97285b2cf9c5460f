"""Second step of the page “Start”: the table of visits, which column is what, and everything wrong by row."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass

import pandas as pd
import streamlit as st

from dashboard import cache_start
from dashboard.start.dropped import MOST_VISITS_MB
from dashboard.start.staging import Staged, Staging
from dashboard.start.survey_draft import SurveyDraft
from dashboard.start.zones import today_in
from dashboard.views.parts import plain, say
from dashboard.views.start_state import drop_field, leave_out, problem_table
from dashboard.wording import start as words
from ecology.visits import KNOWN

_ROWS = 6


@dataclass(frozen=True, eq=False, kw_only=True)
class Survey:
    """`draft` is None where no table was handed over; `settled` = nothing of it is open or wrong."""

    draft: SurveyDraft | None
    settled: bool
    effort_unit: str | None
    revision: str


def visits_step(staged: Staging, zone: str) -> Survey:
    def take(name: str, data: bytes) -> str | None:
        staged.set_visits(name, data)
        return None

    drop_field(words.DROP_VISITS, ("csv", "txt", "tsv", "xlsx"), MOST_VISITS_MB, take, "visits", several=False)
    file = staged.visits
    if file is None:
        say(words.NONE_NEEDED)
        return Survey(draft=None, settled=True, effort_unit=None, revision="")
    today = f"{today_in(zone):%Y-%m-%d}"
    with st.container(border=True):
        opening = st.empty()
        draft = cache_start.survey_draft_of(file.path, file.revision, (), "", today)
        columns: tuple[str, ...] = ()
        order = ""
        effort = None
        if draft.table is not None:
            columns = _columns(draft)
            draft = cache_start.survey_draft_of(file.path, file.revision, columns, "", today)
            if draft.asks_day_first:
                order = _order(file)
                draft = cache_start.survey_draft_of(file.path, file.revision, columns, order, today)
            if "effort" in draft.columns:
                effort = st.text_input(
                    words.EFFORT_UNIT, value=words.EFFORT_UNIT_DEFAULT, key="start-effort", width=200,
                    persist_state="session",
                )  # fmt: skip
            _preview(draft)
        opening.markdown(f"**{plain(words.survey_understood(draft))}**")
        # What the field above asks is no mistake of the table.
        wrong = [p for p in draft.problems if not (draft.asks_day_first and not order and words.is_order(p))]
        if wrong:
            st.subheader(words.PROBLEM_ROWS, anchor=False)
            problem_table(wrong, "start-visits-wrong")
            say(words.MEND)
        leave_out(file)
    return Survey(
        draft=draft,
        settled=draft.visits is not None,
        effort_unit=effort if effort and effort != words.EFFORT_UNIT_DEFAULT else None,
        revision=" ".join((file.revision, *columns, order, today)),
    )


def _columns(draft: SurveyDraft) -> tuple[str, ...]:
    """One choice for each of our columns, as suggested until a person says otherwise."""
    chosen = []
    # By the headers, not the file: a mended table finds the choices made for the one before.
    named = hashlib.sha256("|".join(draft.headers).encode()).hexdigest()[:12]
    with st.expander(words.COLUMNS_HEAD, expanded=True), st.container(horizontal=True, gap="small"):
        for ours in KNOWN:
            # Where the table has a column of our own name, that one is read: leaving it out cannot be written down.
            options = [*draft.headers] if ours in draft.headers else [words.NOT_THERE, *draft.headers]
            suggested = draft.columns.get(ours, words.NOT_THERE)
            theirs = st.selectbox(
                words.FIELDS.get(ours, ours), options, index=options.index(suggested) if suggested in options else 0,
                key=f"start-column-{ours}-{named}", width=220,
                persist_state="session",
            )  # fmt: skip
            if theirs != words.NOT_THERE:
                chosen.append(f"{ours}={theirs}")
    return tuple(chosen)


def _order(file: Staged) -> str:
    chosen = st.selectbox(
        words.DAY_FIRST, list(words.ORDERS), index=None, format_func=words.ORDERS.__getitem__,
        key=f"start-order-{file.key}", placeholder=words.CHOOSE, persist_state="session",
    )  # fmt: skip
    return chosen or ""


def _preview(draft: SurveyDraft) -> None:
    """The first rows under the meanings of their columns, and what has none."""
    if draft.table is None:
        return
    st.markdown(f"**{words.PREVIEW}**")
    cells = draft.table.cells.head(_ROWS)
    shown = pd.DataFrame(
        {f"{ours} ← {theirs}" if ours != theirs else ours: cells[theirs] for ours, theirs in draft.columns.items()
         if theirs in cells}
    )  # fmt: skip
    shown.insert(0, "row", draft.table.rows[: len(cells)], allow_duplicates=True)
    st.dataframe(shown, hide_index=True, height="content", alt=words.PREVIEW, lazy=False, placeholder="")
    say(words.other_columns([h for h in draft.headers if h not in draft.columns.values()]))
