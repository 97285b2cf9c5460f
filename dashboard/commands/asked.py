"""What all commands share: the workspace asked for, and how an answer is shown."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dashboard.workspace import Workspace

DONE, WRONG_INPUT, UNREACHABLE, INTERRUPTED = 0, 2, 3, 130


def load(arguments: argparse.Namespace) -> Workspace:
    from dashboard.workspace import load_workspace
    from hydro.problems import InputError, Problem

    workspace = load_workspace(arguments.workspace, as_of=arguments.as_of)
    known = ", ".join(workspace.outlets)
    wrong = [o for o in getattr(arguments, "outlet", []) if o not in workspace.outlets]
    if wrong:
        raise InputError([Problem(row="--outlet", value=o, expected=f"an outlet id: {known}") for o in wrong])
    return workspace


def show(result: Any, as_text: Callable[[Any], str], as_json: bool) -> int:
    if as_json:
        import json

        print(json.dumps(result.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print(as_text(result))
    return DONE
