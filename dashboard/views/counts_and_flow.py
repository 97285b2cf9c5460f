"""Do counts follow flow? Counts for equal effort against discharge, the same over time, the checks and the terms."""

from __future__ import annotations

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.counts import CountsAnswer, expected_over_flow
from dashboard.figures.counts_and_flow import counts_over_flow, counts_over_time
from dashboard.figures.drawing import Drawing
from dashboard.views.parts import answer, key_to, picture, plain, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, tables
from dashboard.wording import counts as count_words
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from ecology.count_design import CountDesign

WINDOW = "window"
USUAL_WINDOW = 30


def _page() -> None:
    s = shown()
    window = st.session_state.get(WINDOW, USUAL_WINDOW)
    found = cache.counts_of(s.workspace, s.revision, window if window in words.WINDOWS else USUAL_WINDOW)
    answer(count_words.answer(found))
    st.segmented_control(
        words.WINDOW,
        list(words.WINDOWS),
        default=USUAL_WINDOW,
        required=True,
        format_func=words.WINDOWS.__getitem__,
        key=WINDOW,
        bind="query-params",
    )
    drawings = _pictures(s, found)
    if s.workspace.visits is None:
        say(words.no_visits())
    say_all(count_words.details(found))
    if found.checks:
        st.subheader(words.THE_CHECKS)
        lines = [f"- **{words.check_word(c.passed)}.** {plain(count_words.check_sentence(c))}" for c in found.checks]
        st.markdown("\n".join(lines))
    if not found.terms.empty:
        st.subheader(words.THE_TERMS)
        named = found.terms.assign(term=found.terms["term"].map(count_words.term_name))
        table(named, tables.TERMS, s.unit, alt=words.THE_TERMS)
    say(cautions.PROVISIONAL)
    _rows_behind(s, found)
    take_away("counts", found.tables(), drawings, found.as_json)


def _pictures(s: Shown, found: CountsAnswer) -> list[Drawing]:
    """Both pictures of the outlet shown, as far as there is something to draw."""
    d = found.design
    if d is None or d.rows.empty:
        return []
    drawings: list[Drawing] = []
    by_flow, by_time = (s.unit, f"{d.window}"), (f"{d.window}", f"{s.first}", f"{s.last}")
    if (d.rows["outlet"] == s.outlet.id).any():
        over_flow = cache.drawing_of(partial(_over_flow, s, found, d), s.revision, f"flow-{s.outlet.id}", by_flow)
        drawings.append(over_flow)
        picture(over_flow, key="counts-over-flow")
        key_to(figure_words.COUNTS_KEY)
    else:
        say(words.no_counts_at(s.outlet.title))
    over_time = cache.drawing_of(partial(_over_time, s, found, d), s.revision, f"time-{s.outlet.id}", by_time)
    drawings.append(over_time)
    st.subheader(words.OVER_TIME)
    picture(over_time, key="counts-over-time")
    key_to(figure_words.COUNTS_TIME_KEY)
    return drawings


def _over_flow(s: Shown, found: CountsAnswer, d: CountDesign) -> Drawing:
    """Counts of the outlet against flow, with the fitted curves of all."""
    titles = {id: o.title for id, o in s.workspace.outlets.items()}
    return counts_over_flow(
        d.rows,
        {id: expected_over_flow(found, id) for id in titles},
        outlet=s.outlet.id,
        titles=titles,
        window=d.window,
        unit=s.unit,
        effort_unit=s.workspace.settings.surveys.effort_unit,
        ratio=None if found.per_doubling is None else found.per_doubling[0],
    )


def _over_time(s: Shown, found: CountsAnswer, d: CountDesign) -> Drawing:
    """Counts of the outlet over the period shown."""
    dry = s.workspace.dry_spells[s.outlet.id]
    visits = pd.DataFrame({"date": pd.DatetimeIndex([])})
    if s.workspace.visits is not None:
        here = s.workspace.visits.at(s.outlet.id)
        visits = here[here["kind"] == "dry"]
    return counts_over_time(
        d.rows if found.fit is None else d.rows.assign(expected=found.fit.mean),
        visits,
        None if dry is None else dry.spells,
        outlet=s.outlet.id,
        title=s.outlet.title,
        first=s.first,
        last=s.last,
        effort_unit=s.workspace.settings.surveys.effort_unit,
    )


def _rows_behind(s: Shown, found: CountsAnswer) -> None:
    """The visits in the regression and those left out, with why."""
    section = st.expander(words.ROWS_BEHIND, key="rows-counts", on_change="rerun")
    if not section.open or found.design is None:
        return
    with section:
        rows = found.design.rows if found.fit is None else found.design.rows.assign(expected=found.fit.mean)
        table(rows.iloc[::-1], tables.COUNT_ROWS, s.unit, alt=words.ROWS_BEHIND)
        say(words.left_out(found))
        table(found.design.left_out_rows.iloc[::-1], tables.LEFT_OUT, s.unit, alt=words.ROWS_BEHIND)


_page()
