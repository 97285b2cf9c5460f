"""How far ahead can we warn? Alert levels judged on the record, the one recommended, and taking it over."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import streamlit as st

from dashboard import cache
from dashboard.answers.alert_levels import OutletAlerts, level_frame, needs_of, tries_of
from dashboard.answers.alert_levels_json import LEVEL
from dashboard.figures.alert_tradeoff import alert_tradeoff, any_judged
from dashboard.figures.drawing import Drawing
from dashboard.take_alert_level import plan_alert_level
from dashboard.views.address import take_id
from dashboard.views.parts import answer, caution, key_to, picture, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.views.take_over import TakeOver, last_writing, take_over
from dashboard.wording import alert_levels as alert_words
from dashboard.wording import alert_tables, cautions
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import take_level as take_words
from dashboard.wording.numbers import discharge
from hydro.alert_choice import HIT_RATE, LEAD_DAYS, AlertNeeds
from hydro.alert_level import AlertTable
from hydro.problems import InputError
from hydro.units import Quantity

DAYS, SHARE, COST, BY, TRY, BEHIND = "lead", "share", "cost", "by", "try", "behind"
_MOST_DAYS, _FIRST_COST = 180, 5.0
_TAKEN = "alert-level"


def _page() -> None:
    s = shown()
    first = st.container()  # the answer stands above the choices that it depends on
    needs, tries = _needs(s)
    asked = (f"{needs}", *(f"{t!r}" for t in tries))
    found = cache.alert_levels_of(s.workspace, s.revision, s.outlet.id, needs, tries, asked)
    o, header = found.outlets[0], replace(found.header, unit=s.unit)
    with first:
        answer(alert_words.answer(o, header))
    drawings: list[Drawing] = []
    if o.levels is not None and o.chances is not None:
        if any_judged(o.levels, o.chances):
            drawings.append(_picture(s, o, o.levels, o.chances, alert_words.answer(o, header)))
        if o.levels.recommended.candidate is None:
            say(alert_words.too_few_in_words())
        say_all(alert_words.details(o, header))
        if s.workspace.visits is None:
            say(words.no_visits())
        caution(cautions.NOT_A_WARNING, cautions.PROVISIONAL, short=cautions.SHORT_ESTIMATE)
        _tables(s, o, o.levels, o.chances)
        _use_level(s, o, o.levels)
        # What was raised and what came of it belongs here: under what was promised, above the rows behind it.
        _rows_behind(s, o.levels)
    take_away("alert-levels", found.tables(), drawings, found.as_json)


def _needs(s: Shown) -> tuple[AlertNeeds, tuple[Quantity, ...]]:
    """What people need of an alert, bound to the address."""
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        days = st.number_input(
            words.WARN_DAYS, 1, _MOST_DAYS, LEAD_DAYS, 1, key=DAYS, bind="query-params", width=150,
            help=words.WARN_DAYS_HELP,
        )  # fmt: skip
        take_id(BY, words.WARN_BY)
        by = st.segmented_control(
            words.WARN_BY_LABEL, list(words.WARN_BY), default="share", required=True,
            format_func=words.WARN_BY.__getitem__, key=BY, bind="query-params", wrap=True,
        )  # fmt: skip
        cost = None
        share = 100 * HIT_RATE
        if by == "cost":
            cost = st.number_input(
                words.WARN_COST, 0.1, 1000.0, _FIRST_COST, 1.0, format="%g", key=COST, bind="query-params", width=170,
                help=words.WARN_COST_HELP,
            )  # fmt: skip
        else:
            share = st.number_input(
                words.WARN_SHARE, 1, 100, round(100 * HIT_RATE), 5, key=SHARE, bind="query-params", width=190,
            )  # fmt: skip
        tried = st.text_input(
            words.WARN_TRY, key=TRY, bind="query-params", placeholder="55 cfs", width=150, help=words.WARN_TRY_HELP
        )
    tries: tuple[Quantity, ...] = ()
    if tried and tried.strip():
        try:
            tries = tries_of([tried])
        except InputError as error:
            say_all(words.problem_lines(error.problems))
    return needs_of(lead_days=int(days), hit_rate=share / 100, miss_cost=cost), tries


def _picture(s: Shown, o: OutletAlerts, levels: AlertTable, chances: AlertTable, alt: str) -> Drawing:
    draw = partial(
        alert_tradeoff,
        levels,
        chances,
        o.origin,
        id=o.outlet.id,
        title=o.outlet.title,
        unit=s.unit,
        level=LEVEL,
        alt=alt,
    )
    choices = (s.unit, f"{levels.needs}", f"{levels.at.tolist()}")
    drawing = cache.drawing_of(draw, s.revision, f"warning-{o.outlet.id}", choices)
    picture(drawing, key="warning")
    key_to(figure_words.TRADEOFF_KEY)
    return drawing


def _notes(t: AlertTable, origin: list[str]) -> list[str]:
    """What a candidate is, in words."""
    chosen = t.recommended.candidate
    return [", ".join(w for w in (words.RECOMMENDED if k == chosen else "", o) if w) for k, o in enumerate(origin)]


def _tables(s: Shown, o: OutletAlerts, levels: AlertTable, chances: AlertTable) -> None:
    st.subheader(words.LEVELS_JUDGED)
    frame = level_frame(o).assign(note=_notes(levels, [alert_words.ORIGINS[x] for x in o.origin]))
    table(frame, alert_tables.ALERT_LEVELS, s.unit, alt=words.LEVELS_JUDGED, key="alert-levels")
    section = st.expander(words.CHANCES_JUDGED, key="alert-chances", on_change="rerun")
    if section.open:
        with section:
            say(alert_words.chance_in_words(o))
            frame = chances.table.assign(note=_notes(chances, [""] * len(chances.at)))
            table(frame, alert_tables.ALERT_CHANCES, s.unit, alt=words.CHANCES_JUDGED, key="alert-chances-table")


def _rows_behind(s: Shown, levels: AlertTable) -> None:
    """Every stop and every alert of one level; the recommended one at first."""
    section = st.expander(words.ROWS_BEHIND, key="rows-alerts", on_change="rerun")
    if not section.open:
        return
    with section:
        names = [discharge(float(at), s.unit) for at in levels.at]
        chosen = levels.recommended.candidate
        # Levels by their place in the table: another unit only changes what they are called.
        k = st.selectbox(
            words.LEVEL_SHOWN,
            range(len(names)),
            index=chosen or 0,
            format_func=names.__getitem__,
            key=BEHIND,
            width=240,
        )
        st.markdown(f"**{words.STOPS_BEHIND}**")
        stops = levels.stops(int(k)).iloc[::-1]
        table(stops, alert_tables.ALERT_STOPS, s.unit, alt=words.STOPS_BEHIND, key="alert-stops")
        st.markdown(f"**{words.ALERTS_BEHIND}**")
        raised = levels.alerts(int(k)).iloc[::-1]
        table(raised, alert_tables.ALERTS_RAISED, s.unit, alt=words.ALERTS_BEHIND, key="alerts-raised")


def _use_level(s: Shown, o: OutletAlerts, levels: AlertTable) -> None:
    """Old and new value, a second step, and then the lines of the file."""
    st.subheader(take_words.USE_ALERT_LEVEL)
    last_writing(_TAKEN, o.outlet.id)
    chosen = levels.recommended.candidate
    if chosen is None:
        say(take_words.NO_ALERT_LEVEL_TO_USE)
        return
    because = alert_words.taken_because(levels)
    how = TakeOver(
        name=_TAKEN,
        ask=take_words.USE_ALERT_LEVEL_ASK,
        same=take_words.SAME_ALERT_LEVEL,
        what_changes=take_words.WHAT_AN_ALERT_LEVEL_CHANGES,
        plan=lambda new, today: plan_alert_level(s.workspace.folder, o.outlet.id, new, today=today, because=because),
        old_and_new=take_words.alert_old_and_new,
        taken=take_words.alert_taken,
    )
    take_over(s, how, was=o.outlet.alert_at, value_m3s=float(levels.at[chosen]))


_page()
