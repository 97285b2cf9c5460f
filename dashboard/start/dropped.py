"""Files that a person hands over: names made safe, sizes bounded, folders that may be used."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection
from pathlib import Path, PureWindowsPath

from dashboard.workspace_file import FILE_NAME
from hydro.problems import InputError, Problem

#: Most that a page takes [MB]; the command line has no limit, and a folder of files can be edited by hand.
MOST_GAUGE_MB, MOST_VISITS_MB = 60, 20
_LONGEST = 80
#: What file browsers leave in folders that people call empty.
_LITTER = frozenset({".DS_Store", "Thumbs.db", "desktop.ini"})
#: Folders in which a workspace is made before it is put in place; one that was cut off by a crash is in nobody's way.
ASIDE = ".new-"
#: Names that one family of operating systems keeps for devices (value from memory).
_DEVICES = frozenset({"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(1, 10))})


def safe_name(name: str, taken: Collection[str] = (), *, otherwise: str = "file") -> str:
    """A file name without folders, hidden starts and odd signs, and none of `taken` (in small letters or large).

    Letters of any script stay; so does the ending, which programs go by.
    """
    bare = PureWindowsPath(unicodedata.normalize("NFC", name)).name  # knows / and \\ alike
    bare = re.sub(r"[^\w.-]+", "_", bare).strip("._-")
    stem, dot, ending = bare.rpartition(".")
    if not dot:
        stem, ending = bare, ""
    stem = stem.strip("._-")[:_LONGEST] or otherwise
    ending = f".{ending[:8].lower()}" if ending else ""
    if stem.split(".")[0].lower() in _DEVICES:
        stem = f"{otherwise}_{stem}"
    used = {t.lower() for t in taken}
    found, number = f"{stem}{ending}", 2
    while found.lower() in used:
        found, number = f"{stem}_{number}{ending}", number + 1
    return found


def is_free(folder: Path) -> bool:
    """Whether a workspace could be made there: nothing of that name, or a folder with nothing in it."""
    if not folder.exists():
        return not folder.is_symlink()
    return folder.is_dir() and all(e.name in _LITTER or e.name.startswith(ASIDE) for e in folder.iterdir())


def check_free(folder: Path) -> None:
    """Raises InputError where something is there already."""
    if not is_free(folder):
        raise InputError([Problem(file=str(folder), expected="a new or empty folder; there is something in this one")])


def check_servable(folder: Path) -> bool:
    """Whether a folder waits for its workspace. Raises InputError where it holds other things and no workspace."""
    if is_free(folder):
        return True
    if folder.is_dir() and not (folder / FILE_NAME).exists():
        expected = (
            f"the file that says what the sites are; it is missing. To make a workspace, name a new or empty folder "
            f"(resurgence serve {folder / 'springs'}) and hand the files over on its page"
        )
        raise InputError([Problem(file=str(folder / FILE_NAME), expected=expected)])
    return False
