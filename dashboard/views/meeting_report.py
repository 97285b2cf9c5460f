"""What do we tell the meeting? The report of the days chosen, made when asked for, to save or to print."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from dashboard.report.assemble import make_report
from dashboard.report.save import save_report
from dashboard.report.sections_drop import DropAsked
from dashboard.views.parts import answer, caution, plain, say
from dashboard.views.shown import Shown, shown
from dashboard.wording import cautions
from dashboard.wording import pages as words
from dashboard.wording import report as report_words
from hydro.problems import InputError

_MADE = "report-made"
_TYPES = {"html": "text/html", "pdf": "application/pdf",
          "pptx": "application/vnd.openxmlformats-officedocument.presentationml.presentation"}  # fmt: skip


def _page() -> None:
    s = shown()
    answer(report_words.period(s.first, s.last, s.workspace.as_of))
    say(report_words.WHAT_IT_HOLDS)
    if s.workspace.visits is None:
        say(words.no_visits())
    caution(cautions.NOT_A_WARNING, cautions.PROVISIONAL)
    explained = s.workspace.visits is not None and st.toggle(
        report_words.EXPLAIN, key="explain", bind="query-params"
    )  # fmt: skip
    chosen = (s.revision, s.unit, f"{s.first}", f"{s.last}", explained)
    if st.button(report_words.MAKE, type="primary", key="make-report"):
        # Kept for this session alone: 5 MB and more.
        try:
            st.session_state[_MADE] = (chosen, *_make(s, explained))
        except InputError as error:
            say(report_words.CANNOT_EXPLAIN + "; ".join(p.expected for p in error.problems))
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


def _make(s: Shown, explained: bool) -> tuple[tuple[str, ...], list[tuple[str, str, bytes]]]:
    """The sentences of the short summary, and the files."""
    with st.status(report_words.MAKING.format("")) as shown_status, tempfile.TemporaryDirectory() as folder:

        def step(what: str) -> None:
            shown_status.update(label=plain(report_words.MAKING.format(what)))

        drop = DropAsked(judged=(s.first.date(), s.last.date())) if explained else None
        report = make_report(s.workspace, first=s.first, last=s.last, unit=s.unit, drop=drop, step=step)
        saved = save_report(report, Path(folder) / "report.html", slides=True, step=step)
        shown_status.update(state="complete")
        found = ((report_words.SAVE_HTML, saved.html), (report_words.SAVE_PDF, saved.pdf),
                 (report_words.SAVE_SLIDES, saved.slides))  # fmt: skip
        files = [(label, path.name, path.read_bytes()) for label, path in found if path is not None]
    return (*report.summary, *saved.left_out), files


_page()
