"""Were the alerts right? What was raised, what came after, who has seen to it, and how it compares with the promise."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd
import streamlit as st

from dashboard.answers.alert_history import HistoryAnswer, HistoryRow, alert_history
from dashboard.figures.alert_outcomes import alert_outcomes
from dashboard.figures.drawing import Drawing
from dashboard.people import may_write
from dashboard.views.by_title import by_title
from dashboard.views.parts import answer, caution, key_to, picture, row, say, say_all, table
from dashboard.views.shown import Shown, asks_for_sign_in, role, shown
from dashboard.views.take_away import take_away
from dashboard.watch.seen_to import seen_to
from dashboard.wording import alert_history as words
from dashboard.wording import alert_tables, cautions, pages
from dashboard.wording import alerts as alert_words
from dashboard.wording import watch as watch_words
from hydro.problems import InputError

#: Alerts written out as sentences; all of them are in the table.
WRITTEN_OUT = 8
_SAID = "alerts-said"


def _page() -> None:
    s = shown()
    try:
        # Not kept: the history changes with every pass, and reading it is quick.
        found = alert_history(s.workspace)
    except InputError as error:
        say_all(pages.problem_lines(error.problems))
        return
    found = replace(found, header=replace(found.header, unit=s.unit))
    answer(words.answer(found))
    caution(
        watch_words.CAUTION_SILENCE, cautions.NOT_A_WARNING, cautions.PROVISIONAL, short=cautions.SHORT_ALERTS
    )  # fmt: skip
    drawings: list[Drawing] = []
    warnings = [r for r in found.rows if r.outcome is not None and r.outcome.word != "stood-already"]
    if warnings:
        drawings.append(_picture(s, warnings))
        picture(drawings[0], key="alert-outcomes")
        key_to(words.PICTURE_KEY)
    if found.tallies:
        st.subheader(words.THE_TALLY)
        for t in found.tallies:
            say_all(words.tally(t))
    if found.rows:
        st.subheader(words.THE_ALERTS)
        for r in found.rows[:WRITTEN_OUT]:
            row(*words.row(r, s.unit, found.zone))
        if may_write(role()):
            _seen_to(s, found)
    if s.workspace.visits is None:
        say(pages.no_visits())
    st.subheader(words.WATCHED)
    say_all(words.watched(s.workspace.settings, s.unit))
    if found.rows:
        _rows_behind(s, found)
    take_away("alerts", found.tables(), drawings, found.as_json)


def _picture(s: Shown, warnings: list[HistoryRow]) -> Drawing:
    rows = []
    for r in warnings:
        rules = s.workspace.settings.alerts.get(r.alert.outlet)
        since = pd.Timestamp(r.alert.since)
        judged = 90 if rules is None else rules.chance_days if r.alert.kind == "chance" else rules.judged_days
        rows.append(
            {
                "alert": r.alert.id,
                "label": words.picture_label(r),
                "outcome": None if r.outcome is None else r.outcome.word,
                "lead_days": None if r.outcome is None else r.outcome.lead_days,
                "raised_days": (pd.Timestamp(r.alert.raised_day) - since).days,
                "end_days": min(judged, ((r.after_day or s.workspace.as_of) - since).days),
            }
        )
    needed = {
        s.workspace.settings.alerts[r.alert.outlet].promised.lead_days
        for r in warnings
        if r.alert.outlet in s.workspace.settings.alerts
    }
    frame = pd.DataFrame(rows)
    frame["lead_days"] = pd.to_numeric(frame["lead_days"]).astype("float64")
    return alert_outcomes(frame, needed_days=next(iter(needed)) if len(needed) == 1 else None)


def _seen_to(s: Shown, found: HistoryAnswer) -> None:
    """A name under an alert: a row is added to a file of the workspace, and nothing is ever taken back."""
    labels = {r.alert.id: words.choice(r, s.unit, found.zone) for r in found.rows}
    with st.expander(words.SEEN_TO, key="seen-to"):
        say(words.SEEN_TO_HELP)
        with st.form("seen-to-form", clear_on_submit=True, border=False):
            chosen = st.selectbox(words.WHICH, list(labels), format_func=labels.__getitem__, key="seen-to-alert")
            known = str(st.user.to_dict().get("email") or "") if asks_for_sign_in() else ""
            by = known or st.text_input(words.WHO, key="seen-to-by", max_chars=80)
            note = st.text_input(words.NOTE, key="seen-to-note", max_chars=300)
            pressed = st.form_submit_button(words.WRITE)
        if pressed:
            _write(s, str(chosen), str(by or ""), str(note or ""))
        said = st.session_state.pop(_SAID, None)
        if said is not None:
            say(said)


def _write(s: Shown, alert: str, by: str, note: str) -> None:
    if not may_write(role()):  # the settings may have changed since the form was shown
        return
    if not by.strip():
        say(words.NAME_NEEDED)
        return
    try:
        seen_to(s.workspace.folder, alert, by, note)
    except InputError as error:
        say_all(pages.problem_lines(error.problems))
        return
    st.session_state[_SAID] = words.WRITTEN
    st.rerun()


def _rows_behind(s: Shown, found: HistoryAnswer) -> None:
    section = st.expander(pages.ROWS_BEHIND, key="rows-alerts", on_change="rerun")
    if not section.open:
        return
    with section:
        frame = found.tables()[0].frame
        frame = frame.assign(
            kind=frame["kind"].map(alert_words.KIND_WORDS),
            outcome=frame["outcome"].map(lambda w: words.OUTCOME_WORDS.get(w, "")),
        )
        table(by_title(s, frame), alert_tables.ALERTS, s.unit, alt=words.THE_ALERTS, key="alerts-table")


_page()
