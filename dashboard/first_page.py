"""The first page as it was last worked out, kept in .resurgence/ and used only while all that it rests on is the same.

It spares whoever starts the dashboard the wait for the libraries and for reading the files. It is named by the contents
of all files in use, not by their times, by the day, and by the contents of this program and the versions of what it
reckons with; it can be deleted at any time.
"""

from __future__ import annotations

import datetime
import hashlib
import importlib.metadata
import json
import os
import sys
import zoneinfo
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.loaded import Loaded, files_in_use, revision
from dashboard.trip_check import TripCheck, trip_check
from dashboard.workspace_file import read_workspace_file
from hydro.problems import InputError
from hydro.whole_file import write_whole

if TYPE_CHECKING:
    from dashboard.answers.status import StatusAnswer

KEPT_AT = Path(".resurgence") / "first-page.json"
#: Longer records take about as long to look through as to wait for [bytes].
MOST_BYTES = 300_000_000
#: A file changed so shortly before it was read may change again within one tick of its file system's clock [s].
_SETTLED = 2.0
_PACKAGES = ("dashboard", "ecology", "hydro")
_LIBRARIES = ("numpy", "pandas", "scipy", "pyarrow", "plotly", "lxml", "openpyxl", "tzdata")


def kept_first_page(folder: Path) -> TripCheck | None:
    """The page as kept; None where there is none, it is broken, or anything that it rests on is not as it was."""
    try:
        data = json.loads((folder / KEPT_AT).read_text(encoding="utf-8"))
        if data["rests_on"] == _rests_on(folder):
            return TripCheck.from_text(data["page"])
    except (OSError, ValueError, KeyError, TypeError, InputError):
        return None
    return None


def keep_status(loaded: Loaded, found: StatusAnswer) -> bool:
    """Keep the page of a status that was worked out for something else, so that the dashboard starts with it."""
    workspace = loaded.workspace
    if workspace is None:
        return False
    from dashboard.figures.outlet_pictures import last_days_still

    page = trip_check(workspace, found, workspace.unit, lambda o: last_days_still(workspace, o, workspace.unit))
    return keep_first_page(workspace.folder, loaded, page)


def keep_first_page(folder: Path, loaded: Loaded, page: TripCheck) -> bool:
    """Keep the page that was worked out of `loaded`; False where that cannot be done without doubt.

    In doubt are files that have changed since they were read, or that changed so shortly before that a later change may
    not show in their times. A folder that cannot be written keeps nothing.
    """
    try:
        rests_on = _rests_on(folder)
        times = [p.stat().st_mtime for p in files_in_use(folder, read_workspace_file(folder)) if p.exists()]
        if rests_on is None or revision(folder) != loaded.revision or max(times) > loaded.read_from - _SETTLED:
            return False
        place = folder / KEPT_AT
        place.parent.mkdir(exist_ok=True)
        write_whole(place, json.dumps({"rests_on": rests_on, "page": page.as_text()}).encode())
    except (OSError, InputError):
        return False
    return True


def _rests_on(folder: Path) -> str | None:
    """A digest of everything that the page could differ by; None where the files are too long to look through.

    Raises OSError and InputError.
    """
    settings = read_workspace_file(folder)
    used = files_in_use(folder, settings)
    if sum(p.stat().st_size for p in used if p.exists()) > MOST_BYTES:
        return None
    today = datetime.datetime.now(zoneinfo.ZoneInfo(settings.time_zone)).date()  # visits dated later are refused
    facts: list[object] = [sys.version, _program(), f"{today}"]
    facts += [[name, importlib.metadata.version(name)] for name in _LIBRARIES]
    facts += [[os.path.relpath(p, folder), _content(p) if p.exists() else None] for p in used]
    return hashlib.sha256(json.dumps(facts).encode()).hexdigest()


def _content(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _program() -> str:
    """The contents of this program: any change of method or wording is another program."""
    root, found = Path(__file__).parents[1], hashlib.sha256()
    for package in _PACKAGES:
        for path in sorted((root / package).rglob("*.py")):
            code = path.read_bytes()
            found.update(f"{path.relative_to(root)} {len(code)}\n".encode() + code)
    return found.hexdigest()
