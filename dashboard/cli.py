"""The command line: `resurgence COMMAND WORKSPACE [options]`. Thin: choose, ask, print.

Nothing heavy is imported at the top, so that help and mistakes answer at once.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence

from dashboard.command_line import build_parser
from dashboard.commands import animals, files, water, workspaces
from dashboard.commands.asked import DONE, INTERRUPTED, UNREACHABLE, WRONG_INPUT
from dashboard.one_thread import use_one_thread


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is returned."""
    use_one_thread()
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


RUNS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": workspaces.run_demo,
    "serve": workspaces.run_serve,
    "new": workspaces.run_new,
    "check": files.run_check,
    "read": files.run_read,
    "fetch": files.run_fetch,
    "status": water.run_status,
    "network": water.run_network,
    "spells": water.run_spells,
    "threshold": water.run_threshold,
    "outlook": water.run_outlook,
    "watch": water.run_watch,
    "alert-levels": water.run_alert_levels,
    "returns": animals.run_returns,
    "counts": animals.run_counts,
    "explain": animals.run_explain,
    "individuals": animals.run_individuals,
    "plan": animals.run_plan,
    "report": files.run_report,
    "export": files.run_export,
}


if __name__ == "__main__":
    sys.exit(main())
