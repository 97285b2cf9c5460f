"""What does this rest on? Files, gauges, units, gaps, marks, settings, method version, cautions."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.answer import Table
from dashboard.views.bring_up_to_date import bring_up_to_date
from dashboard.views.parts import answer, caution, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.views.take_further import take_further
from dashboard.wording import cautions, source_tables, tables
from dashboard.wording import fetch as fetch_words
from dashboard.wording import pages as words
from dashboard.wording.check import copy_sentences
from dashboard.workspace import Workspace
from dashboard.workspace_file import FILE_NAME


def _page() -> None:
    s = shown()
    found = cache.check_of(s.workspace, s.revision)
    answer(words.rests_on(found))
    if found.copies:
        st.subheader(fetch_words.FROM_SERVICES)
        say_all(copy_sentences(found))
        bring_up_to_date(s.workspace.folder, s.workspace.settings)
    told = copy_sentences(found)
    if doubtful := [w for w in found.header.warnings if w not in told]:
        st.subheader(words.DOUBTFUL)
        say_all(doubtful)
    gaps, marks = gaps_of(s.workspace), marks_of(s.workspace)
    for title, frame, columns in (
        (words.FILES, found.files, source_tables.FILES),
        (words.GAUGES, found.gauges, source_tables.GAUGES),
        (words.FLOWS, found.flows, source_tables.FLOWS),
        (words.OUTLETS, found.outlets, source_tables.OUTLETS),
        (words.VISIT_KINDS, found.visits, source_tables.VISIT_KINDS),
        (words.GAPS, gaps, source_tables.GAPS),
        (words.MARKS, marks, source_tables.MARKS),
    ):
        if frame is not None and len(frame):
            st.subheader(title)
            table(frame, columns, s.unit, alt=title)
    if s.workspace.visits is None:
        say(words.no_visits())
    say(words.method(found.header.method_version))
    st.subheader(words.SETTINGS)
    st.code((s.workspace.folder / FILE_NAME).read_text("utf-8-sig"), language="toml", wrap_lines=True)
    st.subheader(words.CAUTIONS_IN_FULL, anchor="cautions")
    caution(cautions.NOT_A_WARNING, cautions.WADING, cautions.HANDLING, cautions.DISTURBANCE, cautions.PROVISIONAL)
    _rows_behind(s)
    more = [
        Table(name="gaps", title=words.GAPS, frame=gaps),
        Table(name="marks", title=words.MARKS, frame=marks),
        *_whole_files(s.workspace),
    ]
    take_further(s)
    take_away("check", [*found.tables(), *more], [], found.as_json)


def gaps_of(workspace: Workspace) -> pd.DataFrame:
    """Stretches without a value inside each gauge's daily record."""
    found = []
    for id, gauge in workspace.gauges.items():
        gaps = gauge.daily.gaps()
        if len(gaps):
            days = (gaps["last"] - gaps["first"]).dt.days + 1
            found.append(gaps.assign(gauge=id, days=days)[["gauge", "first", "last", "days"]])
    return pd.concat(found, ignore_index=True) if found else pd.DataFrame(columns=["gauge", "first", "last", "days"])


def marks_of(workspace: Workspace) -> pd.DataFrame:
    """How many rows of each file carry which mark of the agency."""
    found = []
    for id, gauge in workspace.gauges.items():
        for part in gauge.parts:
            for text, rows in part.frame["flags"].value_counts().items():
                found += [(id, part.origins[0].file, mark, rows) for mark in str(text).split() if rows]
    frame = pd.DataFrame(found, columns=["gauge", "file", "mark", "rows"])
    return frame.groupby(["gauge", "file", "mark"], as_index=False, sort=False)["rows"].sum()


def _whole_files(workspace: Workspace) -> list[Table]:
    """Visits and captures as read, with their rows in the file."""
    named = ((workspace.visits, "visits", words.VISITS_READ), (workspace.captures, "captures", words.CAPTURES_READ))
    return [Table(name=name, title=title, frame=t.frame) for t, name, title in named if t is not None]


def _rows_behind(s: Shown) -> None:
    section = st.expander(words.ROWS_BEHIND, key="rows-check", on_change="rerun")
    if section.open and s.workspace.visits is not None:
        with section:
            table(s.workspace.visits.frame.iloc[::-1], tables.VISITS, s.unit, alt=words.ROWS_BEHIND)


_page()
