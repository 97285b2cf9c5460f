"""Asking in a terminal, one thing after another, until each answer is possible; closing the input stops."""

from __future__ import annotations

import datetime
import shlex
from collections.abc import Sequence
from pathlib import Path

from dashboard.start.gauge_draft import Question
from dashboard.start.more import permit_of
from dashboard.start.outlet_level import learn_start_level, seen_dry
from dashboard.start.plan import NewOutlet
from dashboard.start.survey_draft import SurveyDraft
from dashboard.wording import new_workspace as words
from dashboard.wording import start as start_words
from dashboard.wording import start_outlets as level_words
from dashboard.workspace_settings import PermitSettings
from hydro.combine import Flow
from hydro.units import Quantity, UnitError, parse_quantity


def ask_question(path: Path, question: Question) -> str:
    """An answer to what a file leaves open; empty only where the question has a default."""
    print(words.terminal_question(path.name, question))
    if question.key == "time_zone":
        return ask(start_words.QUESTIONS[question.key], "")
    while True:
        said = ask(start_words.QUESTIONS[question.key])
        if said.isdigit() and question.options and 1 <= int(said) <= len(question.options):
            return list(question.options)[int(said) - 1]
        if said in question.options or (said and not question.options):
            return said
        print(words.expected(words.EXPECTED_NUMBER))


def ask_outlet(name: str, survey: SurveyDraft | None, flow: Flow, unit: str) -> NewOutlet:
    visits = None if survey is None else survey.visits
    estimate, learnt = learn_start_level(visits, name, flow, unit) if seen_dry(visits, name) else (None, None)
    if estimate is not None:
        print(level_words.learnt_level(name, estimate, unit))
    title = ask(words.title_of(name), name)
    while True:
        said = ask(words.level_of(title), learnt or words.ALWAYS)
        if said.casefold() == words.ALWAYS:
            return NewOutlet(id=name, title=title)
        try:
            return NewOutlet(id=name, title=title, stops_below=parse_quantity(said), learnt=said == learnt)
        except UnitError as error:
            print(words.expected(error.expected))


def ask_restarts(outlets: Sequence[NewOutlet]) -> dict[str, Quantity]:
    """At which level each outlet that stops runs again, where that is another."""
    found = {}
    for o in outlets:
        while o.stops_below is not None:
            said = ask(words.restart_of(o.title or o.id, str(o.stops_below)), "")
            if not said:
                break
            try:
                level = parse_quantity(said)
            except UnitError as error:
                print(words.expected(error.expected))
                continue
            if level.m3s >= o.stops_below.m3s:
                found[o.id] = level
                break
            print(words.expected(words.expected_not_below(str(o.stops_below))))
    return found


def ask_permit() -> PermitSettings:
    number = ask(words.ASK_PERMIT, "")
    if not number:
        return permit_of(None)
    holder = ask(words.ASK_HOLDER, "")
    first = _ask_day(words.ASK_FIRST, None)
    last = _ask_day(words.ASK_LAST, first)
    while True:
        said = ask(words.ASK_HOLDING, "")
        if not said or (said.isdecimal() and int(said) > 0):
            return permit_of(number, holder, first, last, int(said) if said else None)
        print(words.expected(words.EXPECTED_MINUTES))


def _ask_day(question: str, not_before: datetime.date | None) -> datetime.date | None:
    while said := ask(question, ""):
        try:
            day = datetime.date.fromisoformat(said)
        except ValueError:
            print(words.expected(words.EXPECTED_DAY))
            continue
        if not_before is None or day >= not_before:
            return day
        print(words.expected(words.expected_not_before(f"{not_before:%Y-%m-%d}")))
    return None


def words_of(text: str) -> list[str]:
    """Words separated by blanks; names with blanks in quotes."""
    try:
        return shlex.split(text)
    except ValueError:  # a quote that is not closed
        return text.split()


def ask_day_first(question: str) -> bool:
    while True:
        said = ask(question).casefold()
        if said in ("d", "day", "m", "month"):
            return said.startswith("d")


def ask(question: str, default: str | None = None) -> str:
    shown = f" [{default}]" if default else ""
    try:
        answer = input(f"{question}{shown}: ").strip()
    except EOFError:  # the person has closed the input: the same as stopping
        raise KeyboardInterrupt from None
    return answer or (default or "")
