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
    from dashboard.answers.count_choices import CountChoices
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


def _threshold(arguments: argparse.Namespace) -> int:
    from dashboard.answers.threshold import threshold
    from dashboard.wording.threshold import as_text

    answer = threshold(_load(arguments), outlets=arguments.outlet, level=arguments.level, seed=arguments.seed)
    return _print(answer, as_text, arguments.json)


def _returns(arguments: argparse.Namespace) -> int:
    from dashboard.answers.returns import returns
    from dashboard.wording.returns import as_text

    answer = returns(_load(arguments), outlets=arguments.outlet, level=arguments.level, seed=arguments.seed)
    return _print(answer, as_text, arguments.json)


def _counts(arguments: argparse.Namespace) -> int:
    from dashboard.answers.counts import counts
    from dashboard.wording.counts import as_text

    choices = _count_choices(arguments)
    answer = counts(
        _load(arguments), outlets=arguments.outlet, level=arguments.level, choices=choices, seed=arguments.seed
    )
    if arguments.design is not None:
        answer.design_table().to_csv(arguments.design, index=False)
    return _print(answer, as_text, arguments.json)


def _count_choices(arguments: argparse.Namespace) -> CountChoices:
    """The model asked for; InputError where the options do not go together."""
    from dashboard.answers.count_choices import CountChoices
    from ecology.count_response import USUAL_TEMPERATURE_C, Response, TemperatureBand
    from ecology.count_terms import ModelTerms
    from hydro.problems import InputError, Problem

    usual, limit = arguments.usual_temperature, arguments.temperature_limit
    problems = []
    if limit is None and (usual is not None or arguments.response == "temperature"):
        problems.append(Problem(row="--temperature-limit", expected="how far from the usual is not usual, such as 2 F"))
    if arguments.stage != "all" and arguments.response != "count":
        expected = "all, or --response count: a share has its own stages"
        problems.append(Problem(row="--stage", value=arguments.stage, expected=expected))
    if arguments.factor == "stage" and (arguments.stage != "all" or arguments.response not in ("count", "presence")):
        expected = "a response that is counted by stage: --response count or presence, without --stage"
        problems.append(Problem(row="--factor", value="stage", expected=expected))
    if problems:
        raise InputError(problems)
    band = None
    if limit is not None:
        band = TemperatureBand(limit_c=limit, usual_c=USUAL_TEMPERATURE_C if usual is None else usual)
    return CountChoices(
        window=arguments.window,
        windows=arguments.windows,
        terms=ModelTerms(
            season=arguments.season,
            dry_length=arguments.dry_length,
            year_trend=arguments.year_trend,
            flow_by_outlet=arguments.flow_by_outlet,
            factor=arguments.factor,
            covariates=tuple(dict.fromkeys(arguments.covariate)),
        ),
        response=Response(kind=arguments.response, stage=arguments.stage, taxon=arguments.taxon, band=band),
        band=band,
    )


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


def _new(arguments: argparse.Namespace) -> int:
    from dashboard.new_workspace import start_workspace

    return start_workspace(
        arguments.folder,
        gauges=arguments.gauge,
        visits=arguments.visits,
        title=arguments.title,
        time_zone=arguments.time_zone,
        unit=arguments.unit,
        stops_below=arguments.stops_below,
    )


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
    return serve(arguments.folder, arguments.host, arguments.port)


def _serve(arguments: argparse.Namespace) -> int:
    from dashboard.serving import serve
    from dashboard.workspace_file import read_workspace_file

    # A workspace that cannot be read at all is said here; problems inside its files are shown on the pages.
    read_workspace_file(arguments.workspace)
    return serve(arguments.workspace, arguments.host, arguments.port)


RUNS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": _demo,
    "serve": _serve,
    "new": _new,
    "check": _check,
    "read": _read,
    "status": _status,
    "spells": _spells,
    "threshold": _threshold,
    "outlook": _outlook,
    "returns": _returns,
    "counts": _counts,
}


if __name__ == "__main__":
    sys.exit(main())
