"""Changing one thing in the text of workspace.toml, everything else kept byte for byte.

The file is never rebuilt from what was parsed. Text is replaced or added in it, the old value stays as a comment, and
the new text is taken only if parsing it gives exactly the settings that were wanted. So a key written in any way TOML
allows is either changed rightly or left alone with a reason.
"""

from __future__ import annotations

import hashlib
import tempfile
import threading
import tomllib
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from dashboard.wording import take_level as words
from dashboard.workspace_file import FILE_NAME, read_workspace_file
from hydro.problems import InputError
from hydro.units import from_m3s
from hydro.whole_file import ProtectedFileError, write_whole

#: The digits that a level is written with: sightings tell no more.
FIGURES = 3
_MARK = "\ufeff"  # a byte order mark, as some editors put before the text
_WRITING = threading.Lock()  # two sessions of one dashboard write one after the other


class LevelNotTakenError(Exception):
    """The level was not written; the message is a sentence for people. Nothing has changed."""


@dataclass(frozen=True, kw_only=True)
class LevelChange:
    """A change that is ready to be written.

    digest        of the file that it was made from: the change is refused where the file is another by then
    old, new      as written in the file; old is None where no level was set
    line_before, line_after   the lines that change; before is None where lines are only added
    content       the whole new file
    """

    path: Path
    outlet: str
    digest: str
    old: str | None
    new: str
    line_before: str | None
    line_after: str
    content: bytes


@dataclass(frozen=True, kw_only=True)
class Attempt:
    """One way in which the text might be changed; fields as in `LevelChange`."""

    text: str
    old: str | None
    line_before: str | None
    line_after: str


@dataclass(frozen=True, eq=False, kw_only=True)
class SettingsText:
    """workspace.toml as text and as parsed."""

    path: Path
    text: str
    settings: dict[str, Any]
    digest: str


def level_text(level_m3s: float, unit: str, figures: int = FIGURES) -> str:
    """A level [m³/s] to three significant figures in `unit`, as it is written in the file: “37.3 cfs”."""
    value = float(f"{from_m3s(level_m3s, unit):.{figures}g}")
    digits = f"{value:.10f}".rstrip("0").rstrip(".") if 1e-6 <= value < 1e12 else f"{value!r}"
    return f"{digits} {unit}"


def digest_of(path: Path) -> str:
    """SHA-256 of a file. Raises LevelNotTakenError where it cannot be read."""
    return hashlib.sha256(_read(path)).hexdigest()


def read_settings_text(folder: Path, outlet: str) -> SettingsText:
    """The settings of a folder. Raises LevelNotTakenError where they cannot be read or lack the outlet."""
    path = (folder / FILE_NAME).resolve()
    content = _read(path)
    try:
        text = content.decode("utf-8")
        settings = tomllib.loads(text.removeprefix(_MARK))
        if not isinstance(settings["outlets"][outlet], dict):
            raise TypeError(f"outlets.{outlet} is no table")
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise LevelNotTakenError(words.not_taken_unreadable(f"{error}")) from None
    return SettingsText(path=path, text=text, settings=settings, digest=hashlib.sha256(content).hexdigest())


def first_that_gives(
    found: SettingsText, wanted: dict[str, Any], attempts: Iterable[Attempt], *, outlet: str, new: str
) -> LevelChange | None:
    """The first attempt that parses to exactly the settings wanted; None where none does.

    Raises LevelNotTakenError where the dashboard would not accept those settings.
    """
    for attempt in attempts:
        if not _gives(attempt.text, wanted):
            continue
        made = attempt.text.encode("utf-8")
        _check_accepted(made)
        return LevelChange(
            path=found.path,
            outlet=outlet,
            digest=found.digest,
            old=attempt.old,
            new=new,
            line_before=attempt.line_before,
            line_after=attempt.line_after,
            content=made,
        )
    return None


def write_change(change: LevelChange) -> None:
    """Write a planned change in one step: either the whole new file is there or the old one.

    Raises LevelNotTakenError where the file has changed since the change was planned, or may not be written.
    """
    path = change.path
    with _WRITING:
        if digest_of(path) != change.digest:
            raise LevelNotTakenError(words.NOT_TAKEN_CHANGED)
        try:
            written = write_whole(path, change.content, still=lambda: digest_of(path) == change.digest)
        except ProtectedFileError:
            raise LevelNotTakenError(words.not_taken_protected(path.name)) from None
        except OSError as error:
            raise LevelNotTakenError(words.not_taken_no_room(f"{error.strerror}")) from None
        if not written:
            raise LevelNotTakenError(words.NOT_TAKEN_CHANGED)


def line_around(text: str, at: int) -> tuple[int, int]:
    """Start of the line around a place, and its end without the line end."""
    start = text.rfind("\n", 0, at) + 1
    end = text.find("\n", at)
    end = len(text) if end < 0 else end
    return start, end - 1 if end > start and text[end - 1] == "\r" else end


def line_end(text: str) -> str:
    """How lines end in a text."""
    return "\r\n" if "\r\n" in text else "\n"


def behind_comment(rest: str, comment: str) -> tuple[str, str]:
    """What follows a value on its line: the code, and a new comment with any older one behind it."""
    mark = rest.find("#")
    if mark < 0:
        return rest.rstrip(), comment
    return rest[:mark].rstrip(), f"{comment}  {rest[mark:]}"


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise LevelNotTakenError(words.not_taken_unreadable(f"{error.strerror}")) from None


def _gives(text: str, wanted: dict[str, Any]) -> bool:
    """Whether a text parses to exactly these settings."""
    with suppress(tomllib.TOMLDecodeError):
        return tomllib.loads(text.removeprefix(_MARK)) == wanted
    return False


def _check_accepted(content: bytes) -> None:
    """Read the new settings as the dashboard would, in a folder of their own."""
    with tempfile.TemporaryDirectory() as elsewhere:
        (Path(elsewhere) / FILE_NAME).write_bytes(content)
        try:
            read_workspace_file(Path(elsewhere))
        except InputError as error:
            raise LevelNotTakenError(words.not_taken_refused(error.problems)) from None
