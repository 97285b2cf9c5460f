"""First step of the page “Start”: gauge files, what was understood of each, and what each leaves open."""

from __future__ import annotations

from dataclasses import dataclass

import streamlit as st

from dashboard import cache_start
from dashboard.answers.read import summaries
from dashboard.start.dropped import MOST_GAUGE_MB
from dashboard.start.gauge_draft import GaugeDraft, Question
from dashboard.start.plan import NewGauge, gauges_of
from dashboard.start.staging import Staged, Staging
from dashboard.views.parts import plain, say, say_all
from dashboard.views.start_state import drop_field, leave_out, problem_table
from dashboard.wording import read as read_words
from dashboard.wording import start as words
from hydro.combine import Flow
from hydro.problems import InputError
from hydro.units import SYMBOLS

_KINDS = ("csv", "txt", "tsv", "dat", "rdb", "xlsx", "xml", "wml", "json", "asc")
_OWN = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Water:
    """`gauges` is empty and `flow` None until every file is understood; `unit` is the first file's."""

    gauges: tuple[NewGauge, ...]
    flow: Flow | None
    unit: str
    revision: str


def water_step(staged: Staging, zone: str) -> Water:
    def take(name: str, data: bytes) -> str | None:
        return None if staged.add_gauge(name, data) else words.taken_already(name)

    drop_field(words.DROP_GAUGES, _KINDS, MOST_GAUGE_MB, take, "gauges", several=True)
    drafts: list[tuple[Staged, GaugeDraft]] = []
    said: list[str] = []
    for file in staged.gauges:
        with st.container(border=True):
            draft, answers = _one_file(file, zone)
            drafts.append((file, draft))
            owner = _belongs(file, [f for f, _ in drafts[:-1]])
            said += [file.revision, *answers, owner]
            leave_out(file)
    whole = [(f, d) for f, d in drafts if d.series is not None]
    unit = whole[0][1].series.origins[0].unit if whole and whole[0][1].series is not None else "m3/s"
    if not drafts or len(whole) < len(drafts):
        return Water(gauges=(), flow=None, unit=unit, revision="")
    groups: dict[str, list[GaugeDraft]] = {}
    for file, draft in drafts:
        owner = str(st.session_state.get(f"start-owner-{file.key}") or _OWN)
        groups.setdefault(owner if owner in groups else file.key, []).append(draft)
    try:
        gauges = gauges_of(list(groups.values()))
    except InputError as error:
        problem_table(error.problems, "start-gauges-wrong")
        return Water(gauges=(), flow=None, unit=unit, revision="")
    revision = " ".join([*said, zone])
    series = {g.id: [d.series for d in group if d.series] for g, group in zip(gauges, groups.values(), strict=True)}
    flow = cache_start.new_flow_of(series, revision, zone)
    say(words.flow_understood(flow, len(gauges), unit))
    return Water(gauges=gauges, flow=flow, unit=unit, revision=revision)


def _one_file(file: Staged, zone: str) -> tuple[GaugeDraft, list[str]]:
    """One file with its questions; an answer is used in the same run in which it is given."""
    draft = cache_start.gauge_draft_of(file.path, file.revision, (), zone)
    answers: dict[str, str] = {}
    asked: list[Question] = []
    opening = st.empty()
    while new := [q for q in draft.questions if q.key not in {a.key for a in asked}]:
        asked += new
        for question in new:
            if found := _ask(question, file):
                answers[question.key] = found
        draft = cache_start.gauge_draft_of(file.path, file.revision, _texts(answers), zone)
    opening.markdown(f"**{plain(words.gauge_understood(draft))}**")
    if draft.series is None:
        unanswered = [q for q in asked if q.key not in answers and q.key != "time_zone"]
        if not unanswered:
            problem_table(draft.problems, f"start-wrong-{file.key}")
        else:
            say(words.answer_first([words.QUESTIONS[q.key] for q in unanswered]))
    with st.expander(read_words.UNDERSTOOD):
        for summary in summaries(draft.file):
            first, *rest = read_words.series_lines(summary)
            say(first)
            say_all(line.strip() for line in rest)
        say_all((*draft.file.not_discharge, *draft.file.notes))
    return draft, list(_texts(answers))


def _texts(answers: dict[str, str]) -> tuple[str, ...]:
    return tuple(f"{key}={value}" for key, value in answers.items())


def _ask(question: Question, file: Staged) -> str:
    """The field for one question; empty until it is answered."""
    key, label = f"start-ask-{question.key}-{file.key}", words.QUESTIONS[question.key]
    if not question.options:
        help_text = words.CLOCK_HELP if question.key == "time_zone" else None
        return str(st.text_input(label, key=key, help=help_text, persist_state="session") or "").strip()
    described = {"day_first": words.ORDERS, "unit": SYMBOLS}.get(question.key, question.options)
    chosen = st.selectbox(
        label, list(question.options), index=None, format_func=lambda o: described.get(o, o), key=key,
        placeholder=words.CHOOSE, persist_state="session",
    )  # fmt: skip
    return chosen or ""


def _belongs(file: Staged, before: list[Staged]) -> str:
    """Which gauge a further file belongs to; empty = one of its own."""
    if not before:
        return _OWN
    names = {_OWN: words.OWN_GAUGE, **{f.key: words.part_of(f.path.name) for f in before}}
    chosen = st.selectbox(
        words.BELONGS, list(names), format_func=lambda o: names.get(o, o), key=f"start-owner-{file.key}",
        persist_state="session",
    )  # fmt: skip
    return chosen or _OWN
