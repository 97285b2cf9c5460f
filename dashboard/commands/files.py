"""Commands: what goes in and out: read, fetch, check, report, export."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from dashboard.commands.asked import DONE, UNREACHABLE, WRONG_INPUT, load, show

if TYPE_CHECKING:
    from dashboard.second_process import SecondProcess


def run_read(arguments: argparse.Namespace) -> int:
    from dashboard.answers.read import read
    from dashboard.wording.read import as_text
    from hydro.problems import describe
    from hydro.sources.gauge_file import ReadChoices

    choices = ReadChoices(
        unit=arguments.unit,
        column=arguments.column,
        date_column=arguments.date_column,
        day_first=arguments.day_first,
        series=arguments.series,
        time_zone=arguments.time_zone,
    )
    answer = read(arguments.file, choices)
    wrong = answer.file.problems
    if wrong:
        print(describe(wrong), file=sys.stderr)
    if not wrong or arguments.json:
        show(answer, as_text, arguments.json)
    return WRONG_INPUT if wrong else DONE


def run_fetch(arguments: argparse.Namespace) -> int:
    import time

    from dashboard.answers.fetch import fetch
    from dashboard.wording.fetch import as_text

    started = time.monotonic()

    def progress(sentence: str) -> None:
        # A fetch that takes a moment needs no words.
        if time.monotonic() - started > 2:
            print(f"{sentence} …", file=sys.stderr, flush=True)

    answer = fetch(arguments.workspace, gauges=arguments.gauge, since=arguments.since, progress=progress)
    show(answer, as_text, arguments.json)
    return UNREACHABLE if answer.unreachable else DONE


def run_check(arguments: argparse.Namespace) -> int:
    from dashboard.answers.check import check
    from dashboard.wording.check import as_text

    return show(check(load(arguments)), as_text, arguments.json)


def run_report(arguments: argparse.Namespace) -> int:
    from dashboard.second_process import second_process

    with second_process("dashboard.report.assemble") as second:
        return _report(arguments, second)


def _report(arguments: argparse.Namespace, second: SecondProcess | None) -> int:
    workspace = load(arguments)
    import pandas as pd

    from dashboard.report.assemble import make_report
    from dashboard.report.save import check_name, save_report
    from dashboard.report.sections_drop import DropAsked
    from dashboard.report.sheets import Wanted, sheets_for
    from dashboard.wording.report import as_text
    from hydro.problems import InputError, Problem
    from hydro.units import UnitError, parse_unit

    check_name(arguments.out)
    unit = None
    if arguments.unit is not None:
        try:
            unit = parse_unit(arguments.unit)
        except UnitError as error:
            raise InputError([Problem(row="--unit", value=error.text, expected=error.expected)]) from None
    first, last = (pd.Timestamp(d) for d in arguments.period) if arguments.period else (None, None)

    def step(what: str) -> None:
        if sys.stderr.isatty():
            print(f"\r{what} …".ljust(40), end="", file=sys.stderr, flush=True)

    drop = None
    if arguments.explain is not None or arguments.change is not None:
        drop = DropAsked(
            judged=arguments.explain,
            baseline=arguments.baseline,
            control=arguments.control,
            change=arguments.change,
        )
    elif arguments.baseline is not None or arguments.control is not None:
        needed = "--explain A/B or --change DATE beside it: the counts to be explained"
        raise InputError([Problem(row="--baseline" if arguments.baseline else "--control", expected=needed)])
    unit = unit or workspace.unit
    wanted = Wanted(pdf=not arguments.no_pdf, files=arguments.files)
    with sheets_for(workspace.settings.title, unit, wanted) as sheets:
        made = make_report(
            workspace,
            drop=drop,
            first=first,
            last=last,
            outlets=arguments.outlet,
            unit=unit,
            level=arguments.level,
            seed=arguments.seed,
            second=second,
            step=step,
            done=sheets.add,
        )
        saved = save_report(made, arguments.out, sheets=sheets, step=step)
    step("")
    return show(saved, as_text, arguments.json)


def run_export(arguments: argparse.Namespace) -> int:
    workspace = load(arguments)
    import pandas as pd

    from dashboard.export.export import export
    from dashboard.wording.export import as_text

    answer = export(
        workspace,
        arguments.out,
        places=arguments.positions,
        old_status=arguments.old_status,
        planned=[pd.Timestamp(day) for day in arguments.visit],
    )
    return show(answer, as_text, arguments.json)
