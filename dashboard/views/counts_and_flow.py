"""Do counts follow flow? Counts for equal effort against discharge, the same over time, the checks and the terms."""

from __future__ import annotations

from functools import partial

import pandas as pd
import streamlit as st

from dashboard import cache
from dashboard.answers.counts_answer import CountsAnswer
from dashboard.figures.count_checks import Labels, check_picture
from dashboard.figures.count_pictures import over_flow, over_time
from dashboard.figures.covariate_marks import covariate_over_flow, covariate_over_time
from dashboard.figures.drawing import Drawing
from dashboard.figures.flow_windows import window_curve
from dashboard.figures.large_print import large_print
from dashboard.views.by_title import by_title
from dashboard.views.chosen_row import chosen_row
from dashboard.views.count_choices import chosen, model_choices, window_choice
from dashboard.views.parts import answer, key_to, picture, plain, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import cautions, check_labels, count_checks, count_tables, count_windows, tables
from dashboard.wording import counts as count_words
from dashboard.wording import counts_page as labels
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from ecology.count_design import CountDesign
from ecology.model_checks import ModelCheck

_LARGE, _CHECK = "large-print", "check"


def _page() -> None:
    s = shown()
    choices = chosen(s)
    found = cache.counts_of(s.workspace, s.revision, choices.window, choices, f"{choices}")
    answer(count_words.answer(found))
    window_choice()
    model_choices(s)
    drawings = _pictures(s, found, f"{choices}")
    if s.workspace.visits is None:
        say(words.no_visits(count_words.answer(found)))
    say_all(count_words.details(found))
    drawings += _checks(s, found)
    _most_influential(s, found)
    drawings += _windows(s, found)
    if not found.terms.empty:
        st.subheader(words.THE_TERMS)
        named = found.terms.assign(term=[check_labels.term_name(t, found.titles) for t in found.terms["term"]])
        if named["cluster_se"].isna().all():
            named = named.drop(columns=[c for c in named if c.startswith("cluster_")])
        table(named, count_tables.TERMS, s.unit, alt=words.THE_TERMS, first=count_tables.TERMS_FIRST)
    if found.effects:
        each = pd.DataFrame(
            [{"outlet": e.outlet, "value": e.value, "low": e.low, "high": e.high} for e in found.effects]
        )
        table(by_title(s, each), count_tables.FLOW_EFFECTS, s.unit, alt=labels.EXTRAS["flow_by_outlet"])
    if found.outside_band is not None and len(found.outside_band):
        st.subheader(labels.OUTSIDE_BAND)
        table(by_title(s, found.outside_band.iloc[::-1]), count_tables.TEMPERATURES, s.unit, alt=labels.OUTSIDE_BAND)
    say(cautions.PROVISIONAL)
    _rows_behind(s, found)
    take_away("counts", found.tables(), drawings, found.as_json)


def _pictures(s: Shown, found: CountsAnswer, choices: str) -> list[Drawing]:
    """Both pictures of the outlet shown, as far as there is something to draw, and those of the covariates."""
    d = found.design
    if d is None or d.rows.empty:
        return []
    drawings: list[Drawing] = []
    by_flow, by_time = (s.unit, choices), (choices, f"{s.first}", f"{s.last}")
    large = st.toggle(labels.LARGE_PRINT, key=_LARGE)
    if (d.rows["outlet"] == s.outlet.id).any():
        draw = partial(over_flow, s.workspace, found, s.outlet.id, s.unit)
        of_flow = cache.drawing_of(draw, s.revision, f"flow-{s.outlet.id}", by_flow)
        drawings.append(large_print(of_flow) if large else of_flow)
        picture(drawings[-1], key="counts-over-flow")
        key_to(figure_words.COUNTS_KEY)
    else:
        say(words.no_counts_at(s.outlet.title))
    draw = partial(over_time, s.workspace, found, s.outlet.id, (s.first, s.last))
    of_time = cache.drawing_of(draw, s.revision, f"time-{s.outlet.id}", by_time)
    drawings.append(large_print(of_time) if large else of_time)
    st.subheader(words.OVER_TIME)
    picture(drawings[-1], key="counts-over-time")
    key_to(figure_words.COUNTS_TIME_KEY)
    return drawings + _covariates(s, d)


def _covariates(s: Shown, d: CountDesign) -> list[Drawing]:
    """Each covariate over time and against flow at the outlet shown."""
    drawings: list[Drawing] = []
    names = d.model_terms.covariates
    if not names or not (d.rows["outlet"] == s.outlet.id).any():
        return drawings
    st.subheader(labels.COVARIATE_PICTURES)
    for i, name in enumerate(names):
        of_time = covariate_over_time(
            d.rows, name, outlet=s.outlet.id, title=s.outlet.title, first=s.first, last=s.last
        )
        of_flow = covariate_over_flow(
            d.rows, name, outlet=s.outlet.id, title=s.outlet.title, window=d.window, unit=s.unit
        )
        drawings += [of_time, of_flow]
        picture(of_time, key=f"covariate-time-{i}")
        picture(of_flow, key=f"covariate-flow-{i}")
    return drawings


def _checks(s: Shown, found: CountsAnswer) -> list[Drawing]:
    """The checks as sentences, what follows from those that failed, and the picture of one."""
    if not found.checks:
        return []
    st.subheader(words.THE_CHECKS)
    say(count_checks.tally(found.checks))
    lines = [
        f"- **{words.check_word(c.passed)}.** {plain(count_checks.check_line(c, found.titles))}" for c in found.checks
    ]
    st.markdown("\n".join(lines))
    by_name = {c.name: c for c in found.checks if c.table is not None}
    if not by_name:
        return []
    first = next((c.name for c in found.failed if c.name in by_name), next(iter(by_name)))
    names = list(by_name)
    asked = st.selectbox(
        labels.PICTURE_OF, names, index=names.index(first), format_func=check_labels.NAMES.__getitem__,
        key=f"{_CHECK}-{'-'.join(names)}-{first}", width=320,
    )  # fmt: skip
    drawing = _check_drawing(s, by_name[asked])
    if drawing is None:
        return []
    picture(drawing, key="check-picture")
    key_to(check_labels.KEYS[asked])
    return [drawing]


def _check_drawing(s: Shown, check: ModelCheck) -> Drawing | None:
    titles = {id: o.title for id, o in s.workspace.outlets.items()}
    marks = Labels(titles=titles, unit=s.unit, effort_unit=s.workspace.settings.surveys.effort_unit)
    return check_picture(check, marks)


def _most_influential(s: Shown, found: CountsAnswer) -> None:
    """The visits that move the effect of flow most; the one chosen is shown as it stands in the file."""
    rows = next((c.table for c in found.checks if c.name == "influence"), None)
    if rows is None:
        return
    section = st.expander(labels.MOST_INFLUENTIAL, key="influential", on_change="rerun")
    if not section.open:
        return
    with section:
        table_of, alt = count_tables.INFLUENCE, labels.MOST_INFLUENTIAL
        chosen_at = chosen_row(by_title(s, rows), table_of, s.unit, alt=alt, key="influential-rows")
        if chosen_at is not None and s.workspace.visits is not None:
            row = int(rows["row"].iloc[chosen_at])
            frame = s.workspace.visits.frame
            st.markdown(f"**{plain(words.visit_row(row))}**")
            table(frame[frame["row"] == row], tables.VISITS, s.unit, alt=words.visit_row(row), key=f"visit-{row}")


def _windows(s: Shown, found: CountsAnswer) -> list[Drawing]:
    """The whole curve of the windows compared."""
    cv = found.cross_validation
    if found.design is None:
        return []
    st.subheader(count_windows.CURVE_TITLE)
    say_all(count_windows.windows(found))
    if cv is None:
        return []
    drawing = window_curve(cv, found.design.window)
    picture(drawing, key="windows-compared")
    key_to(count_windows.CURVE_KEY)
    table(cv.windows, count_tables.COUNT_WINDOWS, s.unit, alt=count_windows.CURVE_TITLE)
    return [drawing]


def _rows_behind(s: Shown, found: CountsAnswer) -> None:
    """The visits in the regression and those left out, with why."""
    section = st.expander(words.ROWS_BEHIND, key="rows-counts", on_change="rerun")
    if not section.open or found.design is None:
        return
    with section:
        table(by_title(s, found.rows().iloc[::-1]), count_tables.COUNT_ROWS, s.unit, alt=words.ROWS_BEHIND)
        say(words.left_out(found))
        table(by_title(s, found.design.left_out_rows.iloc[::-1]), count_tables.LEFT_OUT, s.unit, alt=words.ROWS_BEHIND)


_page()
