"""`watch --history` and `watch --acknowledge`: looking back, and writing down who has seen to an alert."""

from __future__ import annotations

import argparse
import json

from dashboard.answers.alert_history import alert_history
from dashboard.watch.seen_to import seen_to
from dashboard.wording import alert_history as words
from dashboard.workspace import load_workspace


def run_history(arguments: argparse.Namespace) -> int:
    """Print the history, or write an acknowledgement; the exit code is returned."""
    if arguments.acknowledge is not None:
        row = seen_to(arguments.workspace, arguments.acknowledge, arguments.by or "", arguments.note)
        print(words.acknowledged_line(row.alert, row.by))
        return 0
    answer = alert_history(load_workspace(arguments.workspace, as_of=arguments.as_of))
    if arguments.json:
        print(json.dumps(answer.as_json(), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        print(words.as_text(answer))
    return 0
