"""Writing down who has seen to an alert, from the command line or the page."""

from __future__ import annotations

import datetime
import zoneinfo
from pathlib import Path

from dashboard.watch.acknowledged import Acknowledgement, acknowledge
from dashboard.watch.memory import read_memory
from dashboard.wording.alert_history import NO_SUCH
from dashboard.workspace_file import read_workspace_file
from hydro.problems import InputError, Problem


def seen_to(folder: Path, alert: str, by: str, note: str = "") -> Acknowledgement:
    """Write that `by` has seen to an alert of the history, now. Raises InputError for an alert that is not there."""
    zone = zoneinfo.ZoneInfo(read_workspace_file(folder).time_zone)
    found = next((a for a in read_memory(folder).alerts if a.id == alert), None)
    if found is None:
        raise InputError([Problem(row="--acknowledge", value=alert, expected=NO_SUCH)])
    row = Acknowledgement(
        alert=alert,
        outlet=found.outlet,
        kind=found.kind,
        since=found.since,
        by=by,
        at=datetime.datetime.now(zone).isoformat(timespec="seconds"),
        note=note,
    )
    acknowledge(folder, row)
    return row
