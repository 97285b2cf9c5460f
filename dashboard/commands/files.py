"""Commands: what goes in and out: read, fetch, check, report, export."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from dashboard.commands.asked import DONE, UNREACHABLE, WRONG_INPUT, load, show

if TYPE_CHECKING:
    from dashboard.report.section import Report
    from dashboard.report.sections_drop import DropAsked
    from dashboard.report.sheets import Sheets
    from dashboard.second_process import SecondProcess
    from dashboard.workspace import Workspace


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
        from dashboard.report.save import check_name, save_report
        from dashboard.report.sheets import Sheets, Wanted, printer_for
        from dashboard.wording.report import as_text

        check_name(arguments.out)
        drop = _drop_asked(arguments)
        wanted = Wanted(pdf=not arguments.no_pdf, files=arguments.files)
        with printer_for(wanted) as printer:
            workspace = load(arguments)
            sheets = Sheets(_unit_asked(arguments) or workspace.unit, wanted, printer)
            made = _report(arguments, workspace, drop, sheets, second)
            saved = save_report(made, arguments.out, sheets=sheets, step=_progress)
    _progress("")
    return show(saved, as_text, arguments.json)


def _progress(what: str) -> None:
    if sys.stderr.isatty():
        print(f"\r{what} …".ljust(40), end="", file=sys.stderr, flush=True)


def _report(
    arguments: argparse.Namespace,
    workspace: Workspace,
    drop: DropAsked | None,
    sheets: Sheets,
    second: SecondProcess | None,
) -> Report:
    import pandas as pd

    from dashboard.report.assemble import make_report

    first, last = (pd.Timestamp(d) for d in arguments.period) if arguments.period else (None, None)
    return make_report(
        workspace,
        drop=drop,
        first=first,
        last=last,
        outlets=arguments.outlet,
        unit=sheets.unit,
        level=arguments.level,
        seed=arguments.seed,
        second=second,
        step=_progress,
        done=sheets.add,
    )


def _unit_asked(arguments: argparse.Namespace) -> str | None:
    from hydro.problems import InputError, Problem
    from hydro.units import UnitError, parse_unit

    if arguments.unit is None:
        return None
    try:
        return parse_unit(arguments.unit)
    except UnitError as error:
        raise InputError([Problem(row="--unit", value=error.text, expected=error.expected)]) from None


def _drop_asked(arguments: argparse.Namespace) -> DropAsked | None:
    from dashboard.report.sections_drop import DropAsked
    from hydro.problems import InputError, Problem

    if arguments.explain is not None or arguments.change is not None:
        return DropAsked(
            judged=arguments.explain,
            baseline=arguments.baseline,
            control=arguments.control,
            change=arguments.change,
        )
    if arguments.baseline is not None or arguments.control is not None:
        needed = "--explain A/B or --change DATE beside it: the counts to be explained"
        raise InputError([Problem(row="--baseline" if arguments.baseline else "--control", expected=needed)])
    return None


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
