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

from dashboard.workspace_file import FILE_NAME, day_asked, read_workspace_file
from hydro.problems import InputError, Problem
from hydro.services.kept import STATE, VALUES, folder_of

if TYPE_CHECKING:
    from dashboard.workspace import Workspace
    from dashboard.workspace_settings import WorkspaceFile


@dataclass(frozen=True, eq=False, kw_only=True)
class Loaded:
    """A workspace, or what is wrong with it.

    revision   names this state of its files and day
    read_from  clock time before the first file was read [s since 1970]
    """

    revision: str
    read_from: float
    workspace: Workspace | None = None
    problems: tuple[Problem, ...] = ()
    message: str | None = None


@dataclass(frozen=True, kw_only=True)
class About:
    """What stands above every page: title, the day taken for today and where it is from, the workspace's unit."""

    title: str
    as_of: datetime.date
    as_of_from: str
    unit: str


def about(settings: WorkspaceFile) -> About:
    """What the settings alone say, before anything else has been read."""
    day, origin = day_asked(settings)
    return About(title=settings.title, as_of=day, as_of_from=origin, unit=settings.display_unit)


def files_in_use(folder: Path, settings: WorkspaceFile | None) -> list[Path]:
    """Every file that answers rest on; the settings file alone where it cannot be read."""
    used = [folder / FILE_NAME]
    if settings is not None:
        for gauge in settings.gauges.values():
            if gauge.file is not None:
                path = folder / gauge.file
                used += [path] if path.exists() else [Path(p) for p in sorted(glob.glob(str(path)))]  # noqa: PTH207
            else:
                copy = folder_of(folder, str(gauge.service), str(gauge.station))
                used += [copy / VALUES, copy / STATE]
        used += [folder / f for f in (settings.surveys.visits, settings.surveys.captures) if f is not None]
    return used


def revision(folder: Path) -> str:
    """A digest of the folder, the name, time of change and size of every file in use, and today's date there."""
    try:
        settings = read_workspace_file(folder)
    except InputError:
        settings = None
    zone = "UTC" if settings is None else settings.time_zone
    facts: list[object] = [str(folder), f"{datetime.datetime.now(zoneinfo.ZoneInfo(zone)).date()}"]
    for path in files_in_use(folder, settings):
        try:
            found = path.stat()
        except OSError:
            facts.append([str(path), None])
            continue
        facts.append([str(path), found.st_mtime_ns, found.st_size])
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()
