"""The command `watch`: one pass, passes for ever, a dry one, a test of the channels, the history."""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
import threading
import time
from types import FrameType

from dashboard.answers.watch import WatchAnswer, watch, watch_dry
from dashboard.watch.memory import Busy
from dashboard.watch.try_out import send_tests
from dashboard.wording import watch as words
from dashboard.workspace_file import read_workspace_file
from hydro.problems import InputError, Problem, SourceError

DONE, WRONG_INPUT, UNREACHABLE, RAISED = 0, 2, 3, 10


def run_watch(arguments: argparse.Namespace) -> int:
    """What the options ask for; the exit code is returned."""
    if arguments.as_of is not None and not (arguments.dry_run or arguments.history):
        expected = "--dry-run or --history as well: a pass for another day tells nobody"
        raise InputError([Problem(row="--as-of", value=f"{arguments.as_of}", expected=expected)])
    if arguments.acknowledge is None and (arguments.by is not None or arguments.note):
        raise InputError([Problem(row="--by, --note", expected="--acknowledge ALERT as well")])
    if arguments.history or arguments.acknowledge is not None:
        from dashboard.history_command import run_history

        return run_history(arguments)
    if arguments.test:
        return _test(arguments)
    if arguments.dry_run:
        return _said(watch_dry(arguments.workspace, as_of=arguments.as_of), arguments.json, one_line=False)
    if arguments.every is not None:
        return _for_ever(arguments)
    return _once(arguments, one_line=False)


def _once(arguments: argparse.Namespace, *, one_line: bool) -> int:
    try:
        answer = watch(arguments.workspace, environment=os.environ)
    except Busy:
        if arguments.json:
            print(
                json.dumps({"workspace": str(arguments.workspace), "alerts": [], "warnings": [words.BUSY]}), flush=True
            )
        print(words.BUSY, file=sys.stderr)
        return DONE
    return _said(answer, arguments.json, one_line=one_line)


def _said(answer: WatchAnswer, as_json: bool, *, one_line: bool) -> int:
    """Print the answer; 10 where an alert is new, else what went wrong, else 0."""
    if as_json:
        indent = None if one_line else 1
        print(json.dumps(answer.as_json(), ensure_ascii=False, indent=indent, allow_nan=False), flush=True)
    else:
        print(words.as_text(answer), flush=True)
    unread = answer.result.unread
    if unread is not None:
        print(unread, file=sys.stderr)
    if answer.raised:
        return RAISED
    if unread is not None:
        return UNREACHABLE if isinstance(unread, SourceError) else WRONG_INPUT
    return UNREACHABLE if answer.undelivered and not answer.result.dry_run else DONE


def _test(arguments: argparse.Namespace) -> int:
    found = send_tests(arguments.workspace, os.environ)
    if arguments.json:
        rows = [{"channel": c, "sent": why is None, "why": why} for c, why in found.items()]
        print(json.dumps({"test": rows}, ensure_ascii=False, indent=1))
    else:
        print("\n".join(words.test_line(c, why) for c, why in found.items()))
    return DONE if all(why is None for why in found.values()) else UNREACHABLE


def _for_ever(arguments: argparse.Namespace) -> int:
    """A pass every so often until told to stop. A file that cannot be read now may be readable next time."""
    read_workspace_file(arguments.workspace)  # what is wrong from the start is said at once
    stop = threading.Event()

    def told_to_stop(_signal: int, _frame: FrameType | None) -> None:
        stop.set()

    before = signal.signal(signal.SIGTERM, told_to_stop)
    try:
        due = time.monotonic()
        while not stop.is_set():
            try:
                _once(arguments, one_line=True)
            except (InputError, SourceError) as error:
                print(error, file=sys.stderr, flush=True)
            # By a clock that never jumps; a machine that slept makes one pass, not all that were missed.
            due += arguments.every
            if due < time.monotonic():
                due = time.monotonic() + arguments.every
            stop.wait(due - time.monotonic())
    finally:
        signal.signal(signal.SIGTERM, before)
    return DONE
