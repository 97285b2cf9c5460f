"""The dashboard's entry: the pages, the controls they share, and what is said where a workspace cannot be read.

A page is one file in views/ and one line in PAGES.
"""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import streamlit as st

from dashboard import cache, cache_first_page
from dashboard.loaded import Loaded, about
from dashboard.serving import WORKSPACE_VARIABLE, first_page_shown
from dashboard.start.dropped import is_free
from dashboard.views.dry_months import STYLE as MONTHS_STYLE
from dashboard.views.for_fingers import STYLE as FOR_FINGERS
from dashboard.views.parts import plain, say, table
from dashboard.views.period import PERIOD
from dashboard.views.plain_table import STYLE
from dashboard.views.shown import OUTLET, TRIP, UNIT, asks_for_sign_in, controls, follow_link, served_folder
from dashboard.wording import pages as words
from dashboard.wording import source_tables
from dashboard.wording import start as start_words
from dashboard.workspace_file import read_workspace_file
from hydro.problems import InputError

ICON = Path(__file__).with_name("icon.svg")
#: Pages are read best at about this width [px].
WIDTH = 1080
#: Words in pictures in the page's own shade: the paler one that pictures get by default is hard to read in the sun. The
#: chosen word of a row of choices likewise: in the one blue of both themes it has too little contrast on a dark page.
#: Labels inside a picture keep an edge of the page's shade around their letters, so that lines behind them end there.
#: Who goes by keyboard sees where they are: links and buttons have no more than another shade by default. The anchors
#: that the library gives to headings would be stops on that way, without anything to see.
#: What holds a picture's place while the drawing library loads stands still: without a graphics card its shimmer takes
#: more of the processor than the library, which it keeps waiting.
_PAGE_STYLE = """<style>[data-testid="stPlotlyChart"] .main-svg g:not(.hovertext) > text,
[data-testid="stPlotlyChart"] .main-svg g:not(.hovertext) > text tspan { fill: currentColor !important; }
[data-testid="stPlotlyChart"] .main-svg .annotation-text { paint-order: stroke;
stroke: light-dark(#ffffff, #171614); stroke-width: 4px; stroke-linejoin: round; text-shadow: none !important; }
[data-testid="stButtonGroup"] [data-selected="true"] p, [data-testid="stSliderThumbValue"] p {
color: light-dark(#00568a, #d6ecfa) !important; font-weight: 600; }
[data-testid="stSkeleton"] { animation: none !important; }
:is([data-testid="stSidebarNavLink"], [data-testid="stPageLink-NavLink"],
[data-testid="stMain"] :is(button, summary)):focus-visible {
outline: 3px solid light-dark(#0072B2, #56B4E9) !important; outline-offset: -1px; }
[data-testid="stHeaderActionElements"] { display: none; }
@media (max-width: 640px) { .every-second-label { display: none; } }
"""


@dataclass(frozen=True, kw_only=True)
class Page:
    """A page: its file, its question, its address, and which shared controls it uses."""

    file: str
    title: str
    address: str
    uses: tuple[str, ...]


PAGES = (
    Page(file="views/is_it_running.py", title=words.IS_IT_RUNNING, address="", uses=(UNIT, TRIP)),
    Page(file="views/when_was_it_dry.py", title=words.WHEN_WAS_IT_DRY, address="dry", uses=(OUTLET, UNIT, PERIOD)),
    Page(file="views/where_does_it_stop.py", title=words.WHERE_DOES_IT_STOP, address="level", uses=(OUTLET, UNIT)),
    Page(file="views/how_far_ahead.py", title=words.HOW_FAR_AHEAD, address="warn", uses=(OUTLET, UNIT)),
    Page(file="views/days_ahead.py", title=words.DAYS_AHEAD, address="ahead", uses=(OUTLET, UNIT, TRIP)),
    Page(file="views/alerts.py", title=words.ALERTS, address="alerts", uses=(UNIT,)),
    Page(file="views/return_lags.py", title=words.RETURN_LAGS, address="returns", uses=(OUTLET,)),
    Page(file="views/counts_and_flow.py", title=words.COUNTS_AND_FLOW, address="counts", uses=(OUTLET, UNIT, PERIOD)),
    Page(file="views/is_the_drop_expected.py", title=words.IS_THE_DROP_EXPECTED, address="drop", uses=(OUTLET, PERIOD)),
    Page(file="views/who_came_through.py", title=words.WHO_CAME_THROUGH, address="individuals", uses=(OUTLET,)),
    Page(file="views/how_many_visits.py", title=words.HOW_MANY_VISITS, address="plan", uses=(OUTLET,)),
    Page(file="views/write_down_a_visit.py", title=words.WRITE_DOWN, address="write", uses=()),
    Page(file="views/meeting_report.py", title=words.MEETING_REPORT, address="report", uses=(UNIT, PERIOD)),
    Page(file="views/data_and_sources.py", title=words.DATA_AND_SOURCES, address="data", uses=(UNIT,)),
    Page(file="views/start.py", title=words.START, address="start", uses=()),
)
START = PAGES[-1]
#: The page that the session was on last.
_ON = "page-on"


def _main() -> None:
    # A local icon: a :material: icon here would make the browser fetch one from elsewhere.
    st.set_page_config(page_icon=str(ICON), layout="wide")
    folder = served_folder()
    # Where there is no workspace yet the last page comes first, and the others are no help: they stay out of sight.
    fresh = folder is not None and is_free(folder)
    first = START if fresh else PAGES[0]
    made = [
        st.Page(
            p.file,
            title=p.title,
            url_path=p.address or None,
            default=p == first,
            visibility="hidden" if fresh and p != first else "visible",
        )
        for p in PAGES
    ]
    current = st.navigation(made)
    st.html(f"{_PAGE_STYLE}{STYLE}{MONTHS_STYLE}</style>{FOR_FINGERS}")
    page = PAGES[next(i for i, m in enumerate(made) if m == current)]
    with st.container(width=WIDTH):
        st.title(page.title, anchor=False)
        if asks_for_sign_in() and st.user.to_dict().get("is_logged_in") is not True:
            say(words.SIGN_IN_FIRST)
            st.button(words.SIGN_IN, on_click=st.login, type="primary")
            return
        if fresh:
            if page == START:
                current.run()
            else:
                say(start_words.NOTHING_YET)
                st.page_link(made[-1], label=words.link(START.title))
            return
        if folder is None:
            say(words.NO_WORKSPACE)
            return
        # A first page that was kept needs nothing but the settings; every other page needs the whole workspace.
        if page != PAGES[0] or cache_first_page.first_page(folder) is None:
            loaded = cache.load(folder)
            if loaded.workspace is None:
                _problems(loaded)
                return
        if st.session_state.get(_ON) != page.file:
            st.session_state[_ON] = page.file
            follow_link()
        top = about(read_workspace_file(folder))
        say(words.headline(top.title, top.as_of, top.as_of_from))
        controls(top, page.uses)
        current.run()
        st.divider()
        if asks_for_sign_in():
            st.button(words.SIGN_OUT, on_click=st.logout)
        st.markdown(f"**{words.GO_ON}**")
        with st.container(horizontal=True):
            for m, p in zip(made, PAGES, strict=True):
                if m != current:
                    st.page_link(m, label=words.link(p.title))
    first_page_shown()


def _offer_to_fetch() -> None:
    """Where a gauge of a service has no kept copy yet, it can be fetched here."""
    from dashboard.views.bring_up_to_date import bring_up_to_date  # what speaks with a network is seldom needed

    folder = os.environ.get(WORKSPACE_VARIABLE)
    if folder:
        with suppress(InputError):
            bring_up_to_date(Path(folder), read_workspace_file(Path(folder)))


def _problems(loaded: Loaded) -> None:
    """Everything that is wrong, in plain words."""
    st.header(words.CANNOT_BE_READ, anchor=False)
    say(words.READ_AGAIN)
    if loaded.message is not None:
        say(loaded.message)
        _offer_to_fetch()
    if loaded.problems:
        import pandas as pd

        st.markdown("\n".join(f"- {plain(line)}" for line in words.problem_lines(loaded.problems)))
        frame = pd.DataFrame([p.as_json() for p in loaded.problems])
        table(frame, source_tables.PROBLEMS, "m3/s", alt=words.CANNOT_BE_READ, first=source_tables.PROBLEMS_FIRST)


if __name__ == "__main__":
    _main()
