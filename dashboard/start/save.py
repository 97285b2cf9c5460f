"""Writing a new workspace: made and read aside, then put in place as a whole or not at all."""

from __future__ import annotations

import os
import secrets
import shutil
from pathlib import Path

from dashboard.start.dropped import ASIDE, check_free
from dashboard.start.plan import NewWorkspace, settings_text
from dashboard.workspace import Workspace, load_workspace
from dashboard.workspace_file import FILE_NAME
from hydro.problems import InputError, Problem


def save_workspace(plan: NewWorkspace, folder: Path) -> None:
    """Write the workspace to `folder`, which is new or empty.

    It is written beside, read by the same code that every answer uses, and only then put in place: a new folder in one
    step, an empty one entry by entry with workspace.toml last, so that there is no workspace before it is whole (the
    folder itself stays: somebody may stand in it, or it may be a mount). Raises InputError with everything that is
    wrong, or where the folder cannot be written; then nothing has been left there.
    """
    check_free(folder)
    made: list[Path] = []
    try:
        _make_parents(folder.parent, made)
        there = folder.exists()
        aside = (folder if there else folder.parent) / f"{ASIDE}{secrets.token_hex(6)}"
        aside.mkdir()
        try:
            _write(plan, aside)
            _load(aside)
            if there:
                _move_entries(aside, folder)
            elif folder.exists():  # somebody was quicker: a rename would replace an empty folder of theirs
                check_free(folder)
                _move_entries(aside, folder)
            else:
                aside.rename(folder)
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    except OSError as error:
        _remove(made)
        expected = f"a place that can be written to ({error.strerror or error})"
        raise InputError([Problem(file=str(folder), expected=expected)]) from error
    except InputError:
        _remove(made)
        raise


def try_workspace(plan: NewWorkspace, aside: Path) -> Workspace:
    """Write the plan to a folder of the caller's that is thrown away, and read it: what saving it would give.

    Raises InputError with everything that is wrong.
    """
    _write(plan, aside)
    return _load(aside)


def _load(aside: Path) -> Workspace:
    return load_workspace(aside)


def _write(plan: NewWorkspace, folder: Path) -> None:
    for name, source in plan.copies.items():
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(source, target)
        _to_disk(target)
    path = folder / FILE_NAME
    path.write_text(settings_text(plan), encoding="utf-8")
    _to_disk(path)


def _to_disk(path: Path) -> None:
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _move_entries(aside: Path, folder: Path) -> None:
    entries = sorted(aside.iterdir(), key=lambda entry: entry.name == FILE_NAME)
    moved: list[Path] = []
    try:
        for entry in entries:
            target = folder / entry.name
            if target.exists():
                raise InputError(
                    [Problem(file=str(target), expected="nothing of this name; it has appeared meanwhile")]
                )
            entry.rename(target)
            moved.append(target)
    except (OSError, InputError):
        for target in moved:
            target.rename(aside / target.name)
        raise


def _make_parents(folder: Path, made: list[Path]) -> None:
    if not folder.exists():
        _make_parents(folder.parent, made)
        folder.mkdir()
        made.append(folder)


def _remove(made: list[Path]) -> None:
    """Folders above that were made for nothing."""
    for folder in reversed(made):
        if not any(folder.iterdir()):
            folder.rmdir()
