"""`resurgence new`: starting a workspace by asking in a terminal, or from a gauge file and a table of visits.

The steps are those of the page “Start” (dashboard/start/): the same files and answers give the same workspace.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from dashboard.start.asking import (
    ask,
    ask_day_first,
    ask_outlet,
    ask_permit,
    ask_question,
    ask_restarts,
    words_of,
)
from dashboard.start.dropped import check_free
from dashboard.start.gauge_draft import GaugeDraft, canonical_unit, read_gauge_draft
from dashboard.start.more import with_restarts
from dashboard.start.outlet_level import combined_flow
from dashboard.start.plan import NO_PERMIT, NewOutlet, NewWorkspace, gauges_of
from dashboard.start.save import save_workspace
from dashboard.start.survey_draft import CAPTURES, COLUMNS, VISITS, SurveyDraft, read_survey_draft
from dashboard.start.zones import known_zone, machine_zone, today_in
from dashboard.wording import new_workspace as words
from dashboard.wording import start as start_words
from dashboard.workspace_file import FILE_NAME
from dashboard.workspace_settings import PermitSettings
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
    display_unit: str | None = None
    restarts_above: tuple[str, ...] = ()
    captures: Path | None = None
    permit: PermitSettings = NO_PERMIT


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
    levels = _given_levels("--stops-below", options.stops_below, problems)
    restarts = _given_levels("--restarts-above", options.restarts_above, problems)
    unit = _display_unit(options, drafts, problems)
    if problems:
        raise InputError(problems)
    flow = combined_flow({str(i): [d.series] for i, d in enumerate(drafts) if d.series is not None}, zone)
    outlets = _outlets(survey, levels, flow, unit, asking)
    title = options.title or (ask(words.ASK_TITLE, folder.name) if asking else folder.name)
    path, permit = options.captures, options.permit
    if asking and ask(words.ASK_MORE, "no").casefold().startswith("y"):
        if path is None:
            said = ask(words.ASK_CAPTURES, "")
            path = Path(said).expanduser() if said else None
        restarts |= ask_restarts([o for o in outlets if o.id not in restarts])
        permit = ask_permit() if permit == NO_PERMIT else permit
    outlets = with_restarts(outlets, restarts)
    names = tuple(o.id for o in outlets)
    captures = None if path is None else _table(path, zone, asking, problems, kind=CAPTURES, outlets=names)
    if problems:
        raise InputError(problems)
    plan = NewWorkspace(
        title=title,
        time_zone=zone,
        display_unit=unit,
        gauges=gauges_of([[d] for d in drafts]),
        outlets=outlets,
        visits=None if survey is None else survey.path,
        columns={} if survey is None else survey.mapping,
        day_first=None if survey is None else survey.day_first,
        captures=None if captures is None else captures.path,
        capture_columns={} if captures is None else captures.mapping,
        capture_day_first=None if captures is None else captures.day_first,
        permit=permit,
    )
    for draft in (survey, captures):
        if draft is not None and draft.mapping:
            print(words.columns_taken(draft.mapping))
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
    return None if path is None else _table(path, zone, asking, problems)


def _table(
    path: Path,
    zone: str,
    asking: bool,
    problems: list[Problem],
    *,
    kind: str = VISITS,
    outlets: Sequence[str] | None = None,
) -> SurveyDraft:
    """A table of visits or captures, its columns confirmed where a person is there to do so."""
    today = today_in(zone)

    def read(columns: Mapping[str, str] | None, day_first: bool | None = None) -> SurveyDraft:
        return read_survey_draft(
            path, today=today, columns=columns, day_first=day_first, shown_as=str(path), kind=kind, outlets=outlets
        )

    draft = read(None)
    while asking and draft.table is not None:
        columns = dict(draft.columns)
        print(words.columns_understood(columns, draft.headers))
        said = ask(words.ASK_COLUMNS, "")
        if not said:
            break
        for pair in words_of(said):
            ours, _, theirs = pair.partition("=")
            if ours in COLUMNS[kind] and (theirs in draft.headers or not theirs):
                columns.pop(ours, None)
                columns |= {ours: theirs} if theirs else {}
            else:
                print(words.expected(words.EXPECTED_COLUMN))
        draft = read(columns)
    if asking and draft.asks_day_first:
        for problem in draft.problems:
            if start_words.is_order(problem):
                print(start_words.without_keys(problem.expected))
        first = ask_day_first(words.ASK_DAY_FIRST)
        draft = read(draft.columns, first)
    problems.extend(draft.problems)
    return draft


def _given_levels(option: str, given: Sequence[str], problems: list[Problem]) -> dict[str, Quantity]:
    levels: dict[str, Quantity] = {}
    for text in given:
        name, _, level = text.partition("=")
        try:
            levels[name.strip()] = parse_quantity(level)
        except UnitError as error:
            problems.append(Problem(row=option, value=text, expected=f"OUTLET=LEVEL with {error.expected}"))
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


def _display_unit(options: Options, drafts: Sequence[GaugeDraft], problems: list[Problem]) -> str:
    """The unit asked for, else that of the first gauge."""
    if options.display_unit is not None:
        unit = canonical_unit(options.display_unit)
        if unit is None:
            problems.append(Problem(row="--display-unit", value=options.display_unit, expected=words.EXPECTED_UNIT))
        return unit or "m3/s"
    return next((d.series.origins[0].unit for d in drafts if d.series is not None), "m3/s")
