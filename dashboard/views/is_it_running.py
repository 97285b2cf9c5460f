"""Is it running? One row an outlet, a day ahead to ask about, the last days, and what the answer rests on.

The page itself shows texts and pictures that may have been kept by an earlier run (`dashboard/first_page.py`); only its
closed sections ask for the workspace.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboard import cache
from dashboard.serving import warming_up
from dashboard.trip_check import OutletCheck, TripCheck, first_open
from dashboard.views.by_title import by_title
from dashboard.views.parts import answer, caution, key_to, plain, row, say, say_all, still, table
from dashboard.views.shown import Shown, chosen_unit, loaded_workspace, served_folder, shown, trip_day
from dashboard.views.take_away import take_away_later
from dashboard.wording import cautions, tables
from dashboard.wording import pages as words

if TYPE_CHECKING:
    from dashboard.views.take_away import Takings

_LINKS = (
    ("views/where_does_it_stop.py", words.WHERE_DOES_IT_STOP),
    ("views/days_ahead.py", words.DAYS_AHEAD),
    ("views/when_was_it_dry.py", words.WHEN_WAS_IT_DRY),
)


def _page() -> None:
    page = _content()
    answer(page.answer)
    opened = first_open((o.outlet, o.perennial) for o in page.outlets)
    for o in page.outlets:
        row(*o.line)
    caution(cautions.NOT_A_WARNING, cautions.WADING, cautions.PROVISIONAL, short=cautions.SHORT_TRIP)
    for o in page.outlets:
        section = st.expander(
            plain(words.last_days_of(o.title)), expanded=o.outlet == opened, key=f"outlet-{o.outlet}", on_change="rerun"
        )
        if section.open:  # a browser draws what is in a closed section too, and the first page would wait for it
            with section:
                _outlet(o)
    _record([o for o in page.outlets if o.has_outlook])
    _rows_behind()
    take_away_later("status", _takings)
    _keep()


def _content() -> TripCheck:
    """As an earlier run kept it, where that is what is asked for and nothing has changed since; else worked out."""
    folder, trip = served_folder(), trip_day()
    if folder is not None and trip is None:
        kept = cache.first_page(folder)
        if kept is not None and chosen_unit(kept.unit) == kept.unit:
            return kept
    loaded, workspace = loaded_workspace()
    return cache.trip_check_at_once(workspace, loaded.revision, chosen_unit(workspace.unit), trip)


def _keep() -> None:
    """Have the usual page kept for the next start, now that this one has been sent; a server that warms up does so."""
    folder = served_folder()
    if folder is not None and not warming_up() and cache.first_page(folder) is None:
        loaded, workspace = loaded_workspace()
        cache.trip_check_of(loaded, workspace.unit, None)


def _outlet(o: OutletCheck) -> None:
    if not o.has_picture:
        say(words.never_known(o.title))
    else:
        still(_drawn(o.outlet) if o.picture is None else o.picture)
        key_to(o.key)
    say_all(o.reasons)
    with st.container(horizontal=True):
        for view, question in _LINKS:
            st.page_link(view, label=words.link(question), query_params={"outlet": o.label})


def _drawn(outlet: str) -> str:
    """A picture that was not drawn with the page."""
    s = shown()
    return cache.picture_of(s.workspace, s.revision, s.unit, trip_day(), outlet)


def _record(outlets: list[OutletCheck]) -> None:
    """How good earlier outlooks were, worked out when asked for."""
    if not outlets:
        return
    section = st.expander(words.RECORD, key="record-status", on_change="rerun")
    if not section.open:
        return
    from dashboard.wording.outlook import record_sentence

    s = shown()
    with section:
        for o in outlets:
            skill = cache.outlook_of(s.workspace, s.revision, o.outlet).outlets[0].skill
            st.markdown(f"**{plain(o.title)}.** {plain(record_sentence(skill))}")


def _rows_behind() -> None:
    """The days and the visits that the answer rests on."""
    section = st.expander(words.ROWS_BEHIND, key="rows-status", on_change="rerun")
    if section.open:
        with section:
            _rows(shown())


def _rows(s: Shown) -> None:
    import pandas as pd

    from dashboard.figures.recent_days import BACK_DAYS

    first = s.workspace.as_of - pd.Timedelta(days=BACK_DAYS)
    for flow in dict.fromkeys(o.flow for o in s.workspace.outlets.values()):
        frame = s.workspace.flows[flow].frame.loc[first:].reset_index()
        say(s.workspace.flows[flow].title)
        table(frame.iloc[::-1], tables.DAILY, s.unit, alt=words.ROWS_BEHIND)
    if s.workspace.visits is None:
        say(words.no_visits())
    else:
        visits = s.workspace.visits.frame
        table(by_title(s, visits[visits["date"] >= first].iloc[::-1]), tables.VISITS, s.unit, alt=words.ROWS_BEHIND)


def _takings() -> Takings:
    s = shown()
    found = cache.status_of(s.workspace, s.revision, trip_day())
    drawings = [cache.strip_of(s.workspace, s.revision, s.unit, o) for o in found.outlets]
    return [found.table()], drawings, found.as_json


_page()
