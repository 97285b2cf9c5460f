"""Commands: returns, counts, explain, individuals, plan."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import NoReturn

from dashboard.commands.asked import load, show


def run_returns(arguments: argparse.Namespace) -> int:
    from dashboard.answers.returns import returns
    from dashboard.wording.returns import as_text

    answer = returns(
        load(arguments),
        outlets=arguments.outlet,
        animals=arguments.animals,
        level=arguments.level,
        seed=arguments.seed,
    )
    return show(answer, as_text, arguments.json)


def run_counts(arguments: argparse.Namespace) -> int:
    from dashboard.answers.counts import counts
    from dashboard.count_options import count_choices
    from dashboard.wording.counts import as_text

    choices = count_choices(arguments)
    if arguments.design is not None:
        _can_hold_design(arguments.design)
    answer = counts(
        load(arguments), outlets=arguments.outlet, level=arguments.level, choices=choices, seed=arguments.seed
    )
    if arguments.design is not None:
        table = answer.design_table().to_csv(index=False)
        try:
            arguments.design.write_text(table, encoding="utf-8", newline="")
        except OSError as error:
            _refuse_design(arguments.design, f"a file that can be written ({error.strerror})")
    return show(answer, as_text, arguments.json)


def _can_hold_design(path: Path) -> None:
    """Before anything is worked out: whether the rows of the regression could be written there."""
    if path.is_dir():
        _refuse_design(path, "a file; this is a folder")
    if not path.parent.is_dir():
        _refuse_design(path, "a file in a folder that exists")


def _refuse_design(path: Path, expected: str) -> NoReturn:
    from hydro.problems import InputError, Problem

    raise InputError([Problem(row="--design", value=str(path), expected=expected)])


def run_explain(arguments: argparse.Namespace) -> int:
    from dashboard.answers.explain import explain
    from dashboard.wording.explain_text import as_text

    answer = explain(
        load(arguments),
        judged=arguments.period,
        baseline=arguments.baseline,
        outlets=arguments.outlet,
        control=arguments.control,
        change=arguments.change,
        level=arguments.level,
        seed=arguments.seed,
        tries=arguments.tried,
    )
    return show(answer, as_text, arguments.json)


def run_individuals(arguments: argparse.Namespace) -> int:
    workspace = load(arguments)
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
    return show(answer, as_text, arguments.json)


def run_plan(arguments: argparse.Namespace) -> int:
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
    workspace = load(arguments)
    from dashboard.answers.plan import plan
    from dashboard.wording.plan_text import as_text

    answer = plan(workspace, request, outlets=arguments.outlet, level=arguments.level, seed=arguments.seed)
    return show(answer, as_text, arguments.json)
