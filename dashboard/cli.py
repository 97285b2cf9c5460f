"""The command line: `resurgence COMMAND WORKSPACE [options]`. Thin: choose, ask, print.

Nothing heavy is imported at the top, so that help and mistakes answer at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from dashboard.command_line import build_parser

if TYPE_CHECKING:
    from dashboard.workspace import Workspace

DONE, WRONG_INPUT, UNREACHABLE, INTERRUPTED = 0, 2, 3, 130


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is returned."""
    arguments = build_parser(RUNS).parse_args(argv)
    run: Callable[[argparse.Namespace], int] = arguments.run
    from hydro.problems import InputError, SourceError

    try:
        return run(arguments)
    except InputError as error:
        print(error, file=sys.stderr)
        return WRONG_INPUT
    except SourceError as error:
        print(error, file=sys.stderr)
        return UNREACHABLE
    except KeyboardInterrupt:
        print("stopped; nothing was left half written", file=sys.stderr)
        return INTERRUPTED
    except BrokenPipeError:
        # The reader of our output went away (`… | head`): not a mistake, and nothing more can be said to it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE


def _load(arguments: argparse.Namespace) -> Workspace:
    from dashboard.workspace import load_workspace
    from hydro.problems import InputError, Problem

    workspace = load_workspace(arguments.workspace, as_of=arguments.as_of)
    known = ", ".join(workspace.outlets)
    wrong = [o for o in getattr(arguments, "outlet", []) if o not in workspace.outlets]
    if wrong:
        raise InputError([Problem(row="--outlet", value=o, expected=f"an outlet id: {known}") for o in wrong])
    return workspace


def _print(result: Any, as_text: Callable[[Any], str], as_json: bool) -> int:
    if as_json:
        import json

        print(json.dumps(result.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print(as_text(result))
    return DONE


def _status(arguments: argparse.Namespace) -> int:
    workspace = _load(arguments)
    import pandas as pd

    from dashboard.answers.status import status
    from dashboard.wording.status import as_text

    trip = None if arguments.trip is None else pd.Timestamp(arguments.trip)
    return _print(status(workspace, outlets=arguments.outlet, trip=trip), as_text, arguments.json)


def _spells(arguments: argparse.Namespace) -> int:
    from dashboard.answers.spells import spells
    from dashboard.wording.spells import as_text

    return _print(spells(_load(arguments), outlets=arguments.outlet), as_text, arguments.json)


def _outlook(arguments: argparse.Namespace) -> int:
    from dashboard.answers.outlook import outlook
    from dashboard.wording.outlook import as_text

    answer = outlook(_load(arguments), outlets=arguments.outlet, horizon=arguments.days, seed=arguments.seed)
    return _print(answer, as_text, arguments.json)


def _alert_levels(arguments: argparse.Namespace) -> int:
    from dashboard.answers.alert_levels import alert_levels, needs_of, tries_of
    from dashboard.wording.alert_levels_text import as_text

    needs = needs_of(
        lead_days=arguments.lead_days,
        hit_rate=arguments.hit_rate,
        miss_cost=arguments.miss_cost,
        horizon_days=arguments.horizon,
    )
    tries = tries_of(arguments.tries)
    answer = alert_levels(_load(arguments), outlets=arguments.outlet, needs=needs, tries=tries)
    return _print(answer, as_text, arguments.json)


def _threshold(arguments: argparse.Namespace) -> int:
    from dashboard.answers.threshold import threshold
    from dashboard.wording.threshold import as_text

    answer = threshold(_load(arguments), outlets=arguments.outlet, level=arguments.level, seed=arguments.seed)
    return _print(answer, as_text, arguments.json)


def _watch(arguments: argparse.Namespace) -> int:
    from dashboard.watch_command import run_watch

    return run_watch(arguments)


def _returns(arguments: argparse.Namespace) -> int:
    from dashboard.answers.returns import returns
    from dashboard.wording.returns import as_text

    answer = returns(
        _load(arguments),
        outlets=arguments.outlet,
        animals=arguments.animals,
        level=arguments.level,
        seed=arguments.seed,
    )
    return _print(answer, as_text, arguments.json)


def _counts(arguments: argparse.Namespace) -> int:
    from dashboard.answers.counts import counts
    from dashboard.count_options import count_choices
    from dashboard.wording.counts import as_text

    choices = count_choices(arguments)
    answer = counts(
        _load(arguments), outlets=arguments.outlet, level=arguments.level, choices=choices, seed=arguments.seed
    )
    if arguments.design is not None:
        answer.design_table().to_csv(arguments.design, index=False)
    return _print(answer, as_text, arguments.json)


def _individuals(arguments: argparse.Namespace) -> int:
    workspace = _load(arguments)
    import pandas as pd

    from dashboard.answers.individuals import individuals
    from dashboard.renamed_captures import can_write, write_renamed
    from dashboard.wording.individuals import as_text
    from ecology.match_lists import read_match_list

    if arguments.out is not None:
        can_write(arguments.out, arguments.matches, workspace)
    window = None
    if arguments.window is not None:
        window = (pd.Timestamp(arguments.window[0]), pd.Timestamp(arguments.window[1]))
    answer = individuals(
        workspace,
        outlets=arguments.outlet,
        occasion=arguments.occasion,
        window=window,
        least_confidence=arguments.least_confidence,
        matches=None if arguments.matches is None else read_match_list(arguments.matches),
        level=arguments.level,
    )
    if arguments.out is not None:
        write_renamed(answer, workspace, arguments.out)
    return _print(answer, as_text, arguments.json)


def _plan(arguments: argparse.Namespace) -> int:
    from dashboard.answers.plan_request import plan_request

    # Wishes are checked before the files are read: a slip in an option is told at once.
    request = plan_request(
        arguments.purpose,
        sure=arguments.sure,
        detection=arguments.detection,
        effort=arguments.effort,
        allowed=arguments.allowed,
        prior=arguments.prior,
        within=arguments.within,
        watch=arguments.watch,
        decline=arguments.decline,
        cycles=arguments.cycles,
        cycles_before=arguments.cycles_before,
    )
    workspace = _load(arguments)
    from dashboard.answers.plan import plan
    from dashboard.wording.plan import as_text

    answer = plan(workspace, request, outlets=arguments.outlet, level=arguments.level, seed=arguments.seed)
    return _print(answer, as_text, arguments.json)


def _report(arguments: argparse.Namespace) -> int:
    workspace = _load(arguments)
    import pandas as pd

    from dashboard.report.assemble import make_report
    from dashboard.report.save import check_name, save_report
    from dashboard.report.sections_drop import DropAsked
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
    made = make_report(
        workspace,
        drop=drop,
        first=first,
        last=last,
        outlets=arguments.outlet,
        unit=unit,
        level=arguments.level,
        seed=arguments.seed,
        step=step,
    )
    saved = save_report(made, arguments.out, pdf=not arguments.no_pdf, files=arguments.files, step=step)
    step("")
    return _print(saved, as_text, arguments.json)


def _export(arguments: argparse.Namespace) -> int:
    workspace = _load(arguments)
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
    return _print(answer, as_text, arguments.json)


def _check(arguments: argparse.Namespace) -> int:
    from dashboard.answers.check import check
    from dashboard.wording.check import as_text

    return _print(check(_load(arguments)), as_text, arguments.json)


def _read(arguments: argparse.Namespace) -> int:
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
        _print(answer, as_text, arguments.json)
    return WRONG_INPUT if wrong else DONE


def _fetch(arguments: argparse.Namespace) -> int:
    import time

    from dashboard.answers.fetch import fetch
    from dashboard.wording.fetch import as_text

    started = time.monotonic()

    def progress(sentence: str) -> None:
        # A fetch that takes a moment needs no words.
        if time.monotonic() - started > 2:
            print(f"{sentence} …", file=sys.stderr, flush=True)

    answer = fetch(arguments.workspace, gauges=arguments.gauge, since=arguments.since, progress=progress)
    _print(answer, as_text, arguments.json)
    return UNREACHABLE if answer.unreachable else DONE


def _explain(arguments: argparse.Namespace) -> int:
    from dashboard.answers.explain import explain
    from dashboard.wording.explain import as_text

    answer = explain(
        _load(arguments),
        judged=arguments.period,
        baseline=arguments.baseline,
        outlets=arguments.outlet,
        control=arguments.control,
        change=arguments.change,
        level=arguments.level,
        seed=arguments.seed,
        tries=arguments.tried,
    )
    return _print(answer, as_text, arguments.json)


def _new(arguments: argparse.Namespace) -> int:
    from dashboard.new_workspace import Options, start_workspace

    options = Options(
        gauges=tuple(arguments.gauge),
        visits=arguments.visits,
        title=arguments.title,
        time_zone=arguments.time_zone,
        unit=arguments.unit,
        stops_below=tuple(arguments.stops_below),
    )
    return start_workspace(arguments.folder, options)


def _demo(arguments: argparse.Namespace) -> int:
    from dashboard.answers.status import status
    from dashboard.serving import make_demo, serve
    from dashboard.wording.status import as_text
    from dashboard.workspace import load_workspace

    made = make_demo(arguments.folder)
    print(f"{'Made' if made else 'Found'} the invented demo workspace in {arguments.folder}\n")
    print(as_text(status(load_workspace(arguments.folder))), flush=True)
    if arguments.no_serve:
        return DONE
    return serve(arguments.folder, arguments.host, arguments.port, trust_network=arguments.trust_network)


def _serve(arguments: argparse.Namespace) -> int:
    from dashboard.serving import serve
    from dashboard.start.dropped import check_servable
    from dashboard.wording.start import nothing_there
    from dashboard.workspace_file import read_workspace_file

    if check_servable(arguments.workspace):
        print(nothing_there(arguments.workspace))
    else:
        # A workspace that cannot be read at all is said here; problems inside its files are shown on the pages.
        read_workspace_file(arguments.workspace)
    return serve(arguments.workspace, arguments.host, arguments.port, trust_network=arguments.trust_network)


RUNS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": _demo,
    "serve": _serve,
    "new": _new,
    "check": _check,
    "read": _read,
    "fetch": _fetch,
    "status": _status,
    "spells": _spells,
    "threshold": _threshold,
    "outlook": _outlook,
    "watch": _watch,
    "alert-levels": _alert_levels,
    "returns": _returns,
    "counts": _counts,
    "explain": _explain,
    "individuals": _individuals,
    "plan": _plan,
    "report": _report,
    "export": _export,
}


if __name__ == "__main__":
    sys.exit(main())
