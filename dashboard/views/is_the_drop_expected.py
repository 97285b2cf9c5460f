"""Is this drop more than expected? Two periods, the count against what was to be expected, the drop in factors."""

from __future__ import annotations

import datetime
from dataclasses import replace
from functools import partial

import pandas as pd
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from dashboard import cache
from dashboard.answers.explain import ExplainAnswer
from dashboard.answers.explain_periods import years_before
from dashboard.figures.count_pictures import staircase, two_periods
from dashboard.figures.drawing import Drawing
from dashboard.views.address import take_id
from dashboard.views.by_title import by_title
from dashboard.views.parts import PLOT, answer, key_to, picture, say, say_all, table
from dashboard.views.period import record_span
from dashboard.views.shown import Shown, outlet_labels, shown
from dashboard.views.take_away import take_away
from dashboard.wording import animal_tables, cautions, count_tables, explain_comparison, explain_page
from dashboard.wording import explain as words
from dashboard.wording import pages as page_words
from dashboard.wording import report as report_words
from ecology.count_drop import DropJudgement
from hydro.problems import InputError

HOW, CHANGE, CONTROL, WHICH = "compare", "change", "control", "judge"
JUDGED, BASELINE = ("judged-from", "judged-to"), ("baseline-from", "baseline-to")
_DRAG, _DRAGGED, _TRIED, _PICTURE = "drag", "drop-dragged", "drop-tried", "drop-periods"
#: The period that the page opens with: the last half year.
_USUAL_MONTHS = 6
#: A picture that can be dragged over takes every touch for itself; fingers choose days in the fields instead.
_FOR_FINGERS = f"""<style>@media (pointer: coarse) {{
[class*="st-key-{_PICTURE}"] .draglayer .drag {{ pointer-events: none !important; }} }}</style>"""


def _page() -> None:
    s = shown()
    place = st.container()
    found = _asked(s, place)
    if found is None:
        return
    with place:
        answer(words.read_aloud(found))
    drawings: list[Drawing] = []
    j = found.judgement
    if j is None:
        say(page_words.no_visits(words.read_aloud(found)))
    else:
        stairs = staircase(found, j)
        if stairs is not None:
            drawings.append(stairs)
            picture(stairs, key="drop-staircase")
            key_to(explain_page.STAIRCASE_KEY)
        drawings.append(_periods(s, found, j))
    many = words.tried(found)
    if many is not None:
        say(many)
    say_all([words.DOES_NOT_SHOW, *words.details(found)])
    compared = explain_comparison.comparison(found)
    if compared is not None:
        st.subheader(explain_page.THE_COMPARISON)
        say(compared)
        say_all(explain_comparison.assumptions(found))
    if j is not None and not j.factors.empty:
        st.subheader(explain_page.THE_FACTORS)
        named = j.factors.assign(
            part=j.factors["part"].map(words.PART_NAMES), meaning=j.factors["part"].map(words.PART_MEANINGS)
        )
        table(named, animal_tables.DROP_FACTORS, s.unit, alt=explain_page.THE_FACTORS)
    say(cautions.PROVISIONAL)
    if j is not None and found.change is None and found.control is None:
        _to_the_report(s, found)
    if j is not None:
        _rows_behind(s, found, j)
    take_away("explain", found.tables(), drawings, found.as_json)


def _to_the_report(s: Shown, found: ExplainAnswer) -> None:
    """A way to the report that explains these very periods."""
    (first, last), (before, until) = found.judged, found.baseline
    days = {"from": first, "to": last, "against-from": before, "against-to": until}
    st.page_link(
        "views/meeting_report.py",
        label=explain_page.TO_THE_REPORT,
        query_params={
            "period": page_words.PERIODS["own"],
            **{key: f"{day:%Y-%m-%d}" for key, day in days.items()},
            "explain": "true",
            "counts-of": report_words.ALL_TOGETHER
            if len(found.outlets) > 1
            else outlet_labels(s.workspace)[s.outlet.id],
        },
    )


def _asked(s: Shown, place: DeltaGenerator) -> ExplainAnswer | None:
    """The answer to the choices made; None where the days chosen cannot be used, which is then said."""
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        how = _choice(explain_page.HOW, explain_page.WAYS, HOW)
        which = _choice(explain_page.OUTLETS_JUDGED, explain_page.OUTLETS_CHOICES, WHICH)
    days: list[datetime.date | None] = [None] * 4
    change = None
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        if how == "change":
            change = _day(s, explain_page.CHANGE_DAY, CHANGE, _usual(s)[0])
        else:
            usual = _usual(s)
            before = years_before((pd.Timestamp(usual[0]), pd.Timestamp(usual[1])))[0]
            labels = (explain_page.PERIOD_FROM, explain_page.PERIOD_TO, explain_page.BASE_FROM, explain_page.BASE_TO)
            usuals = (*usual, before[0].date(), before[1].date())
            days = [_day(s, *each) for each in zip(labels, (*JUDGED, *BASELINE), usuals, strict=True)]
        control = _control(s, which)
    outlets = (s.outlet.id,) if which == "one" else tuple(o for o in s.workspace.outlets if o != control)
    try:
        found = cache.explain_of(s.workspace, s.revision, outlets, control or "", change, *days)
    except InputError as error:
        with place:
            answer(explain_page.CHOOSE_OTHER_DAYS + ".")
            say_all(explain_page.problem(p.expected, p.value) for p in error.problems)
        return None
    tried = st.session_state.setdefault(_TRIED, set())
    tried.add((s.revision, outlets, f"{found.judged}"))
    return replace(found, tries=sum(t[0] == s.revision for t in tried))


def _choice(label: str, options: dict[str, str], key: str) -> str:
    take_id(key, options)
    chosen = st.segmented_control(
        label, list(options), default=next(iter(options)), required=True, format_func=options.__getitem__, key=key,
        bind="query-params", wrap=True,
    )  # fmt: skip
    return str(chosen)


def _usual(s: Shown) -> tuple[datetime.date, datetime.date]:
    """The half year up to the last visit, or to the day asked where there is none."""
    last = s.workspace.as_of
    visits = s.workspace.visits
    if visits is not None and len(visits.frame):
        last = visits.frame["date"].max()
    return (last - pd.DateOffset(months=_USUAL_MONTHS) + pd.Timedelta(days=1)).date(), last.date()


def _day(s: Shown, label: str, key: str, usual: datetime.date) -> datetime.date:
    start, end = (d.date() for d in record_span(s.workspace))
    usual = min(max(usual, start), end)
    # No default of the field's own: a day set by a drag would pass for it and be missing from the address.
    if st.session_state.get(key) is None and key not in st.query_params:
        st.session_state[key] = usual
    day = st.date_input(
        label, value=None, min_value=start, max_value=end, key=key, bind="query-params", format="YYYY-MM-DD", width=178
    )
    return day if isinstance(day, datetime.date) else usual


def _control(s: Shown, which: str) -> str | None:
    """The outlet to compare with, perennial ones first; None for none."""
    labels = outlet_labels(s.workspace)
    others = [o for o in labels if which == "all" or o != s.outlet.id]
    others.sort(key=lambda o: not s.workspace.outlets[o].perennial)
    take_id(CONTROL, {o: labels[o] for o in others})
    if st.session_state.get(CONTROL) not in (None, *others):
        del st.session_state[CONTROL]
    return st.selectbox(
        explain_page.CONTROL, others, index=None, format_func=labels.__getitem__, key=CONTROL, bind="query-params",
        placeholder=explain_page.NO_CONTROL, width=190,
    )  # fmt: skip


def _periods(s: Shown, found: ExplainAnswer, j: DropJudgement) -> Drawing:
    """The counts over time; a drag across them sets the days."""
    drawing = two_periods(found, j, (s.first, s.last))
    if found.change is not None:
        picture(drawing, key=_PICTURE)
        key_to(explain_page.PERIODS_KEY)
        return drawing
    st.html(_FOR_FINGERS)
    _choice(explain_page.DRAG, explain_page.DRAGS, _DRAG)
    # A new key after each drag: the mark of the last one is gone, and the same days can be dragged over again.
    key = f"{_PICTURE}-{st.session_state.get(_DRAGGED, 0)}"
    st.plotly_chart(
        drawing.figure, width="stretch", config=PLOT, alt=drawing.alt, key=key, selection_mode="box",
        on_select=partial(_dragged, key),
    )  # fmt: skip
    key_to(f"{explain_page.PERIODS_KEY} {explain_page.DRAG_KEY}")
    return drawing


def _dragged(key: str) -> None:
    """Days of the box that was dragged become the period judged or the baseline."""
    boxes = st.session_state[key]["selection"]["box"]
    if not boxes:
        return
    days = sorted(pd.Timestamp(x).date() for x in boxes[0]["x"])
    keys = BASELINE if st.session_state.get(_DRAG) == "baseline" else JUDGED
    st.session_state[keys[0]], st.session_state[keys[1]] = days[0], days[-1]
    st.session_state[_DRAGGED] = st.session_state.get(_DRAGGED, 0) + 1


def _rows_behind(s: Shown, found: ExplainAnswer, j: DropJudgement) -> None:
    """The visits of both periods, those left out with why, and those that the fit rests on."""
    section = st.expander(page_words.ROWS_BEHIND, key="rows-explain", on_change="rerun")
    if not section.open:
        return
    with section:
        table(by_title(s, j.rows), animal_tables.DROP_ROWS, s.unit, alt=page_words.ROWS_BEHIND)
        left_out = next(t for t in found.tables() if t.name == "drop-left-out")
        say(left_out.title)
        table(by_title(s, left_out.frame), count_tables.LEFT_OUT, s.unit, alt=left_out.title)
        say(explain_page.fitted_rows(j))
        table(by_title(s, j.fitted_rows.iloc[::-1]), count_tables.COUNT_ROWS, s.unit, alt=page_words.ROWS_BEHIND)


_page()
