"""The days that a page shows: the whole record, its last years, or days of the page's own."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.views.address import take_id
from dashboard.wording import pages as words

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.workspace import Workspace

PERIOD, FROM, TO = "period", "from", "to"
#: Days asked for by other means than the choices, until these are drawn.
_ASKED = "days-asked"
_YEARS = {"10y": 10, "3y": 3, "1y": 1}


def record_span(workspace: Workspace) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day of anything the workspace holds; the day asked alone where it holds nothing."""
    days = [workspace.as_of]
    days += [f.frame.index[i] for f in workspace.flows.values() if not f.empty for i in (0, -1)]
    if workspace.visits is not None and len(workspace.visits.frame):
        days += [workspace.visits.frame["date"].min(), workspace.visits.frame["date"].max()]
    return min(days), max(days)


def days_shown(workspace: Workspace, outlet: str) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last of the days chosen, both inside."""
    import pandas as pd

    flow = workspace.flow_of(outlet)
    start, end = record_span(workspace)
    if not flow.empty:
        start = flow.frame.index[0]
    period = st.session_state.get(PERIOD, "all")
    if period in _YEARS:
        return max(start, end - pd.DateOffset(years=_YEARS[period]) + pd.Timedelta(days=1)), end
    if period == "own":
        asked = [st.session_state.get(k) for k in (FROM, TO)]
        if all(isinstance(d, datetime.date) for d in asked):
            first, last = sorted(pd.Timestamp(d) for d in asked)
            return first, last
    return start, end


def period_choice(workspace: Workspace) -> None:
    """The choice of the days, bound to the address."""
    take_id(PERIOD, words.PERIODS)
    st.segmented_control(
        words.PERIOD,
        list(words.PERIODS),
        default="all",
        required=True,
        format_func=words.PERIODS.__getitem__,
        key=PERIOD,
        bind="query-params",
        label_visibility="collapsed",
        wrap=True,
    )
    if st.session_state.get(PERIOD) != "own":
        return
    _put_asked()
    import pandas as pd

    start, end = (d.date() for d in record_span(workspace))
    year_before = max(start, (pd.Timestamp(end) - pd.DateOffset(years=1)).date())
    for key, label, value in ((FROM, words.FROM, year_before), (TO, words.TO, end)):
        st.date_input(
            label, value=value, min_value=start, max_value=end, key=key, bind="query-params",
            format="YYYY-MM-DD", width=150,
        )  # fmt: skip


def show_only(first: datetime.date, last: datetime.date) -> None:
    """Make these the page's own days, as if they had been put into its choices; to be called before these are drawn."""
    st.session_state[PERIOD] = "own"
    st.session_state[_ASKED] = (first, last)


def _put_asked() -> None:
    """Put days asked for by `show_only` where the choices take them from."""
    asked = st.session_state.pop(_ASKED, None)
    if asked is None:
        return
    drawn_before = FROM in st.session_state and TO in st.session_state
    for key, day in zip((FROM, TO), asked, strict=True):
        if drawn_before:  # what is set here reaches the address by itself
            st.session_state[key] = day
        else:
            st.query_params[key] = day.isoformat()
    if not drawn_before:
        st.rerun()  # the address is read when a page begins
