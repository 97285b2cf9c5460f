"""What do we tell the meeting? The report of the days chosen, made when asked for, to save or to print."""

from __future__ import annotations

import datetime
import tempfile
from pathlib import Path

import streamlit as st

from dashboard.report.assemble import make_report
from dashboard.report.save import save_report
from dashboard.report.sections_drop import DropAsked
from dashboard.report.sheets import Sheets, Wanted, printer_for
from dashboard.second_process import second_process
from dashboard.views.parts import answer, caution, plain, say
from dashboard.views.period import record_span
from dashboard.views.shown import Shown, outlet_labels, shown
from dashboard.wording import cautions
from dashboard.wording import pages as words
from dashboard.wording import report as report_words
from dashboard.wording.numbers import days_in_words
from hydro.problems import InputError

EXPLAIN, OF, AGAINST = "explain", "counts-of", ("against-from", "against-to")
ALL = "all"
_MADE = "report-made"
_TYPES = {"html": "text/html", "pdf": "application/pdf",
          "pptx": "application/vnd.openxmlformats-officedocument.presentationml.presentation"}  # fmt: skip


def _page() -> None:
    s = shown()
    answer(report_words.covers(s.first, s.last, s.workspace.as_of))
    say(report_words.WHAT_IT_HOLDS)
    if s.workspace.visits is None:
        say(words.no_visits())
    caution(cautions.NOT_A_WARNING, cautions.PROVISIONAL, short=cautions.SHORT_ESTIMATE)
    explained = s.workspace.visits is not None and st.toggle(
        report_words.EXPLAIN, key=EXPLAIN, bind="query-params"
    )  # fmt: skip
    drop = _drop(s) if explained else None
    chosen = (s.revision, s.unit, f"{s.first}", f"{s.last}", drop)
    if st.button(report_words.MAKE, type="primary", key="make-report"):
        # Kept for this session alone: 5 MB and more.
        try:
            st.session_state[_MADE] = (chosen, *_make(s, drop))
        except InputError as error:
            say(days_in_words(report_words.CANNOT_EXPLAIN + "; ".join(p.expected for p in error.problems)))
            return
    made = st.session_state.get(_MADE)
    if made is None or made[0] != chosen:
        return
    _, sentences, files = made
    for sentence in sentences:
        say(sentence)
    with st.container(horizontal=True):
        for label, name, data in files:
            mime = _TYPES[name.rsplit(".", 1)[1]]
            st.download_button(label, data, file_name=name, mime=mime, key=f"save-{name}", on_click="ignore")


def _drop(s: Shown) -> DropAsked:
    """Whose counts of the days chosen are explained, against which others."""
    labels = {ALL: report_words.ALL_TOGETHER, **outlet_labels(s.workspace)}
    asked = st.query_params.get(OF)
    if asked in labels and asked not in labels.values():
        st.session_state[OF] = asked  # the address may name an outlet by its id
    start, end = (d.date() for d in record_span(s.workspace))
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        of = st.selectbox(
            report_words.EXPLAIN_OF, list(labels), format_func=labels.__getitem__, key=OF, bind="query-params",
            required=True, width=230,
        )  # fmt: skip
        against = [
            st.date_input(
                label, value=None, min_value=start, max_value=end, key=key, bind="query-params", format="YYYY-MM-DD",
                width=190, help=report_words.AGAINST_HELP,
            )
            for label, key in ((report_words.AGAINST_FROM, AGAINST[0]), (report_words.AGAINST_TO, AGAINST[1]))
        ]  # fmt: skip
    days = [d for d in against if isinstance(d, datetime.date)]
    return DropAsked(
        judged=(s.first.date(), s.last.date()),
        baseline=(days[0], days[1]) if len(days) == 2 else None,
        outlets=() if of == ALL else (str(of),),
    )


def _make(s: Shown, drop: DropAsked | None) -> tuple[tuple[str, ...], list[tuple[str, str, bytes]]]:
    """The sentences of the short summary, and the files."""
    with st.status(report_words.MAKING.format("")) as shown_status, tempfile.TemporaryDirectory() as folder:

        def step(what: str) -> None:
            shown_status.update(label=plain(report_words.MAKING.format(what)))

        wanted = Wanted(slides=True)
        with second_process("dashboard.report.assemble") as second, printer_for(wanted) as printer:
            sheets = Sheets(s.unit, wanted, printer)
            report = make_report(
                s.workspace, first=s.first, last=s.last, unit=s.unit, drop=drop, second=second, step=step,
                done=sheets.add,
            )  # fmt: skip
            saved = save_report(report, Path(folder) / "report.html", sheets=sheets, step=step)
        shown_status.update(state="complete")
        found = ((report_words.SAVE_HTML, saved.html), (report_words.SAVE_PDF, saved.pdf),
                 (report_words.SAVE_SLIDES, saved.slides))  # fmt: skip
        files = [(label, path.name, path.read_bytes()) for label, path in found if path is not None]
    return (*report.summary, *saved.left_out), files


_page()
