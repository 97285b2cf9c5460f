"""A workspace as the pages hold it, and the name of one state of its files and day. No screen here."""

from __future__ import annotations

import datetime
import glob
import hashlib
import json
import zoneinfo
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.workspace_file import FILE_NAME, read_workspace_file
from hydro.problems import InputError, Problem
from hydro.services.kept import STATE, VALUES, folder_of

if TYPE_CHECKING:
    from dashboard.workspace import Workspace


@dataclass(frozen=True, eq=False, kw_only=True)
class Loaded:
    """A workspace, or what is wrong with it. `revision` names this state of its files and day."""

    revision: str
    workspace: Workspace | None = None
    problems: tuple[Problem, ...] = ()
    message: str | None = None


def revision(folder: Path) -> str:
    """A digest of the folder, the name, time of change and size of every file in use, and today's date there.

    Where the settings cannot be read they are the only file in use.
    """
    used, zone = [folder / FILE_NAME], "UTC"
    try:
        settings = read_workspace_file(folder)
    except InputError:
        settings = None
    if settings is not None:
        zone = settings.time_zone
        for gauge in settings.gauges.values():
            if gauge.file is not None:
                path = folder / gauge.file
                used += [path] if path.exists() else [Path(p) for p in sorted(glob.glob(str(path)))]  # noqa: PTH207
            else:
                copy = folder_of(folder, str(gauge.service), str(gauge.station))
                used += [copy / VALUES, copy / STATE]
        used += [folder / f for f in (settings.surveys.visits, settings.surveys.captures) if f is not None]
    facts: list[object] = [str(folder), f"{datetime.datetime.now(zoneinfo.ZoneInfo(zone)).date()}"]
    for path in used:
        try:
            found = path.stat()
        except OSError:
            facts.append([str(path), None])
            continue
        facts.append([str(path), found.st_mtime_ns, found.st_size])
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()
