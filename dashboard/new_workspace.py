"""`resurgence new`: starting a workspace by asking in a terminal, or from a gauge file and a table of visits.

The steps are those of the page “Start” (dashboard/start/): the same files and answers give the same workspace.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dashboard.start.asking import ask, ask_day_first, ask_outlet, ask_question, words_of
from dashboard.start.dropped import check_free
from dashboard.start.gauge_draft import GaugeDraft, read_gauge_draft
from dashboard.start.outlet_level import combined_flow
from dashboard.start.plan import NewOutlet, NewWorkspace, gauges_of
from dashboard.start.save import save_workspace
from dashboard.start.survey_draft import SurveyDraft, read_survey_draft
from dashboard.start.zones import known_zone, machine_zone, today_in
from dashboard.wording import new_workspace as words
from dashboard.wording import start as start_words
from dashboard.workspace_file import FILE_NAME
from ecology.visits import KNOWN
from hydro.combine import Flow
from hydro.problems import InputError, Problem
from hydro.units import Quantity, UnitError, parse_quantity


@dataclass(frozen=True, kw_only=True)
class Options:
    """What was given on the command line; everything else is asked where a person is there to answer."""

    gauges: tuple[Path, ...] = ()
    visits: Path | None = None
    title: str | None = None
    time_zone: str | None = None
    unit: str | None = None
    stops_below: tuple[str, ...] = ()


def start_workspace(folder: Path, options: Options) -> int:
    """Write a new workspace folder, copying the files into it. Nothing is written before everything is settled.

    Raises InputError with every problem; then nothing has been written.
    """
    check_free(folder)
    asking = sys.stdin.isatty()
    problems: list[Problem] = []
    zone = _zone(options, asking, problems)
    drafts = _gauges(options, zone, asking, problems)
    survey = _survey(options, zone, asking, problems)
    levels = _given_levels(options.stops_below, problems)
    if problems:
        raise InputError(problems)
    unit = _first_unit(drafts)
    flow = combined_flow({str(i): [d.series] for i, d in enumerate(drafts) if d.series is not None}, zone)
    outlets = _outlets(survey, levels, flow, unit, asking)
    title = options.title or (ask(words.ASK_TITLE, folder.name) if asking else folder.name)
    plan = NewWorkspace(
        title=title,
        time_zone=zone,
        display_unit=unit,
        gauges=gauges_of([[d] for d in drafts]),
        outlets=outlets,
        visits=None if survey is None else survey.path,
        columns={} if survey is None else survey.mapping,
        day_first=None if survey is None else survey.day_first,
    )
    if survey is not None and survey.mapping:
        print(words.columns_taken(survey.mapping))
    try:
        save_workspace(plan, folder)
    except InputError as error:
        if not asking or not all("outside_record = " in p.expected for p in error.problems):
            raise
        print(error)
        if not ask(words.ASK_KEEP_OUTSIDE, "no").casefold().startswith("y"):
            raise
        save_workspace(replace(plan, keep_outside_record=True), folder)
    print(words.written(folder / FILE_NAME, folder))
    return 0


def _zone(options: Options, asking: bool, problems: list[Problem]) -> str:
    if options.time_zone is not None or not asking:
        zone = options.time_zone or machine_zone()
        if not known_zone(zone):
            problems.append(Problem(row="--time-zone", value=zone, expected=words.EXPECTED_ZONE))
            return "UTC"
        return zone
    while True:
        zone = ask(words.ASK_ZONE, machine_zone())
        if known_zone(zone):
            return zone
        print(words.expected(words.EXPECTED_ZONE))


def _gauges(options: Options, zone: str, asking: bool, problems: list[Problem]) -> list[GaugeDraft]:
    paths = list(options.gauges)
    while not paths and asking:
        paths = [Path(p).expanduser() for p in words_of(ask(words.ASK_GAUGES))]
    if not paths:
        problems.append(Problem(row="--gauge", expected="at least one gauge file"))
    drafts = []
    for path in paths:
        answers = {} if options.unit is None else {"unit": options.unit}
        draft = read_gauge_draft(path, answers, time_zone=zone, shown_as=str(path))
        while asking and (left := [q for q in draft.questions if q.key not in answers]):
            for question in left:
                answers[question.key] = ask_question(path, question)
            draft = read_gauge_draft(path, answers, time_zone=zone, shown_as=str(path))
        problems.extend(draft.problems)
        drafts.append(draft)
    return drafts


def _survey(options: Options, zone: str, asking: bool, problems: list[Problem]) -> SurveyDraft | None:
    path = options.visits
    if path is None and asking:
        said = ask(words.ASK_VISITS, "")
        path = Path(said).expanduser() if said else None
    if path is None:
        return None
    today = today_in(zone)
    draft = read_survey_draft(path, today=today, shown_as=str(path))
    while asking and draft.table is not None:
        columns = dict(draft.columns)
        print(words.columns_understood(columns, draft.headers))
        said = ask(words.ASK_COLUMNS, "")
        if not said:
            break
        for pair in words_of(said):
            ours, _, theirs = pair.partition("=")
            if ours in KNOWN and (theirs in draft.headers or not theirs):
                columns.pop(ours, None)
                columns |= {ours: theirs} if theirs else {}
            else:
                print(words.expected(words.EXPECTED_COLUMN))
        draft = read_survey_draft(path, today=today, columns=columns, shown_as=str(path))
    if asking and draft.asks_day_first:
        for problem in draft.problems:
            if start_words.is_order(problem):
                print(start_words.without_keys(problem.expected))
        first = ask_day_first(words.ASK_DAY_FIRST)
        draft = read_survey_draft(path, today=today, columns=draft.columns, day_first=first, shown_as=str(path))
    problems.extend(draft.problems)
    return draft


def _given_levels(stops_below: Sequence[str], problems: list[Problem]) -> dict[str, Quantity]:
    levels: dict[str, Quantity] = {}
    for text in stops_below:
        name, _, level = text.partition("=")
        try:
            levels[name.strip()] = parse_quantity(level)
        except UnitError as error:
            problems.append(Problem(row="--stops-below", value=text, expected=f"OUTLET=LEVEL with {error.expected}"))
    return levels


def _outlets(
    survey: SurveyDraft | None, levels: dict[str, Quantity], flow: Flow, unit: str, asking: bool
) -> tuple[NewOutlet, ...]:
    found = () if survey is None else survey.outlets
    names = list(dict.fromkeys([*found, *levels]))
    if not names and asking:
        names = list(dict.fromkeys(words_of(ask(words.ASK_OUTLETS))))
    made = []
    for name in names or ["outlet"]:
        if name in levels or not asking:
            made.append(NewOutlet(id=name, stops_below=levels.get(name)))
        else:
            made.append(ask_outlet(name, survey, flow, unit))
    return tuple(made)


def _first_unit(drafts: Sequence[GaugeDraft]) -> str:
    return next((d.series.origins[0].unit for d in drafts if d.series is not None), "m3/s")
