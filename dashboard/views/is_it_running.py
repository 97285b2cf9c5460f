"""Is it running? One row an outlet, a day ahead to ask about, the last days, and what the answer rests on."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.status import OutletStatus
from dashboard.figures.drawing import Drawing
from dashboard.figures.recent_days import BACK_DAYS, recent_days
from dashboard.views.parts import answer, caution, key_to, picture, plain, row, say, say_all, table
from dashboard.views.shown import Shown, outlet_labels, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import status as status_words

TRIP = "trip"
#: How far ahead a trip can be asked about [days].
FURTHEST_TRIP = 180


def _page() -> None:
    s = shown()
    workspace = s.workspace
    trip = st.session_state.get(TRIP)
    found = cache.status_of(workspace, s.revision, trip)
    answer(words.status_summary(found, workspace.as_of))
    st.date_input(
        words.TRIP,
        value=None,
        min_value=workspace.as_of.date(),
        max_value=(workspace.as_of + pd.Timedelta(days=FURTHEST_TRIP)).date(),
        key=TRIP,
        bind="query-params",
        format="YYYY-MM-DD",
        width=190,
        help=words.TRIP_HELP,
    )
    header = replace(found.header, unit=s.unit)
    opened = next((o.outlet for o in found.outlets if not workspace.outlets[o.outlet].perennial), None)
    drawings, labels = [], outlet_labels(workspace)
    for o in found.outlets:
        _row(o)
    caution(cautions.NOT_A_WARNING, cautions.WADING, cautions.PROVISIONAL)
    for o in found.outlets:
        with st.expander(plain(words.last_days_of(o.title)), expanded=o.outlet == opened, key=f"outlet-{o.outlet}"):
            if o.trip is not None:
                say(status_words.trip_sentence(o))
            drawing = cache.drawing_of(partial(_strip, s, o), s.revision, f"strip-{o.outlet}", (s.unit, f"{o.trip}"))
            drawings.append(drawing)
            if workspace.flow_of(o.outlet).empty:
                say(words.never_known(o.title))
            else:
                picture(drawing, key=f"strip-{o.outlet}")
                key_to(figure_words.RECENT_KEY)
            say_all(status_words.reasons(o, header))
            st.page_link(
                "views/when_was_it_dry.py",
                label=words.link(words.WHEN_WAS_IT_DRY),
                query_params={"outlet": labels[o.outlet]},
            )
    _rows_behind(s)
    take_away("status", [found.table()], drawings, found.as_json)


def _row(o: OutletStatus) -> None:
    """The outlet's line of text; the word of its state stands out."""
    state, *rest = status_words.line(o).split("   ")
    if o.trip is not None:
        rest.append(words.trip_words(o))
    row(f"{o.title}: {state}", " · ".join(rest))


def _strip(s: Shown, o: OutletStatus) -> Drawing:
    workspace, outlet = s.workspace, s.workspace.outlets[o.outlet]
    return recent_days(
        id=o.outlet,
        title=o.title,
        flow=workspace.flow_of(o.outlet).frame,
        seen=_seen(s, o.outlet),
        today=workspace.as_of,
        unit=s.unit,
        stop_m3s=outlet.stop_m3s,
        restart_m3s=outlet.restart_m3s,
        source=words.level_source(outlet),
        trip=o.trip,
    )


def _seen(s: Shown, outlet: str) -> pd.DataFrame:
    if s.workspace.visits is None:
        return pd.DataFrame({"date": pd.DatetimeIndex([]), "surface": pd.Series([], dtype=str)})
    return s.workspace.visits.at(outlet)[["date", "surface"]]


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
