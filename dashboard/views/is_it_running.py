"""Is it running? One row an outlet, a day ahead to ask about, the last days, and what the answer rests on."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.status import OutletStatus
from dashboard.figures.outlet_pictures import last_days, last_days_key
from dashboard.figures.recent_days import BACK_DAYS
from dashboard.views.parts import answer, caution, key_to, picture, plain, row, say, say_all, table
from dashboard.views.shown import Shown, outlet_labels, shown, trip_day
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import outlook as outlook_words
from dashboard.wording import pages as words
from dashboard.wording import status as status_words
from dashboard.wording.status_page import status_summary, trip_words

_LINKS = (
    ("views/where_does_it_stop.py", words.WHERE_DOES_IT_STOP),
    ("views/days_ahead.py", words.DAYS_AHEAD),
    ("views/when_was_it_dry.py", words.WHEN_WAS_IT_DRY),
)


def _page() -> None:
    s = shown()
    workspace = s.workspace
    found = cache.status_of(workspace, s.revision, trip_day())
    answer(status_summary(found, workspace.as_of))
    header = replace(found.header, unit=s.unit)
    opened = next((o.outlet for o in found.outlets if not workspace.outlets[o.outlet].perennial), None)
    drawings, labels = [], outlet_labels(workspace)
    for o in found.outlets:
        _row(o)
    caution(cautions.NOT_A_WARNING, cautions.WADING, cautions.PROVISIONAL)
    for o in found.outlets:
        with st.expander(plain(words.last_days_of(o.title)), expanded=o.outlet == opened, key=f"outlet-{o.outlet}"):
            draw = partial(last_days, workspace, o, s.unit)
            drawing = cache.drawing_of(draw, s.revision, f"strip-{o.outlet}", (s.unit, f"{o.trip}"))
            drawings.append(drawing)
            if workspace.flow_of(o.outlet).empty:
                say(words.never_known(o.title))
            else:
                picture(drawing, key=f"strip-{o.outlet}")
                key_to(last_days_key(o))
            say_all(status_words.reasons(o, header))
            with st.container(horizontal=True):
                for view, question in _LINKS:
                    st.page_link(view, label=words.link(question), query_params={"outlet": labels[o.outlet]})
    _record(s, [o for o in found.outlets if o.ahead.why_none is None])
    _rows_behind(s)
    take_away("status", [found.table()], drawings, found.as_json)


def _row(o: OutletStatus) -> None:
    """The outlet's line of text; the word of its state stands out."""
    # The trip has words of its own here, with the day of the week.
    state, *rest = status_words.line(replace(o, trip=None)).split("   ")
    if o.trip is not None:
        rest.append(trip_words(o))
    row(f"{o.title}: {state}", " · ".join(rest))


def _record(s: Shown, outlets: list[OutletStatus]) -> None:
    """How good earlier outlooks were, worked out when asked for."""
    if not outlets:
        return
    section = st.expander(words.RECORD, key="record-status", on_change="rerun")
    if not section.open:
        return
    with section:
        for o in outlets:
            skill = cache.outlook_of(s.workspace, s.revision, o.outlet).outlets[0].skill
            st.markdown(f"**{plain(o.title)}.** {plain(outlook_words.record_sentence(skill))}")


def _rows_behind(s: Shown) -> None:
    """The days and the visits that the answer rests on."""
    section = st.expander(words.ROWS_BEHIND, key="rows-status", on_change="rerun")
    if not section.open:
        return
    with section:
        first = s.workspace.as_of - pd.Timedelta(days=BACK_DAYS)
        for flow in dict.fromkeys(o.flow for o in s.workspace.outlets.values()):
            frame = s.workspace.flows[flow].frame.loc[first:].reset_index()
            say(s.workspace.flows[flow].title)
            table(frame.iloc[::-1], tables.DAILY, s.unit, alt=words.ROWS_BEHIND)
        if s.workspace.visits is None:
            say(words.no_visits())
        else:
            visits = s.workspace.visits.frame
            table(visits[visits["date"] >= first].iloc[::-1], tables.VISITS, s.unit, alt=words.ROWS_BEHIND)


_page()
