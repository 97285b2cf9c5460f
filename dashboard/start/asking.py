"""Asking in a terminal, one thing after another, until each answer is possible; closing the input stops."""

from __future__ import annotations

import shlex
from pathlib import Path

from dashboard.start.gauge_draft import Question
from dashboard.start.outlet_level import learn_start_level, seen_dry
from dashboard.start.plan import NewOutlet
from dashboard.start.survey_draft import SurveyDraft
from dashboard.wording import new_workspace as words
from dashboard.wording import start as start_words
from dashboard.wording import start_outlets as level_words
from hydro.combine import Flow
from hydro.units import UnitError, parse_quantity


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
