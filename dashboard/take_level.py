"""Writing a learnt stop level into workspace.toml: one value on one line, everything else kept byte for byte.

The file is never rebuilt from what was parsed. One value is replaced in its text, the old one stays as a comment on
the line, and the new text is taken only if parsing it gives the old settings with that one value changed. So a key
written in any way TOML allows is either changed rightly or left alone with a reason.
"""

from __future__ import annotations

import copy
import hashlib
import os
import re
import shutil
import tempfile
import threading
import tomllib
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from dashboard.wording import take_level as words
from dashboard.workspace_file import FILE_NAME, read_workspace_file
from hydro.problems import InputError
from hydro.units import from_m3s

KEY = "stops_below"
#: The digits that a level is written with: sightings tell no more.
FIGURES = 3
# A key, the equals sign, and a value on one line: a text in quotes or a number.
_VALUE = re.compile(
    r"""(?:\b|["'])stops_below["']?[ \t]*=[ \t]*(?P<value>"(?:[^"\\\r\n]|\\.)*"|'[^'\r\n]*'|[-+0-9.eE_]+)"""
)
_FLOW_LINE = re.compile(r"""^(?P<indent>[ \t]*)(?:flow|"flow"|'flow')[ \t]*=[^\r\n]*(?P<end>\r?\n|$)""", re.M)
_WRITING = threading.Lock()  # two sessions of one dashboard write one after the other


class LevelNotTakenError(Exception):
    """The level was not written; the message is a sentence for people. Nothing has changed."""


@dataclass(frozen=True, kw_only=True)
class LevelChange:
    """A change that is ready to be written.

    digest        of the file that it was made from: the change is refused where the file is another by then
    old, new      as written in the file; old is None where no level was set
    line_before, line_after   the line that changes; before is None where a line is added
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


def level_text(level_m3s: float, unit: str) -> str:
    """A level [m³/s] to three significant figures in `unit`, as it is written in the file: “37.3 cfs”."""
    value = float(f"{from_m3s(level_m3s, unit):.{FIGURES}g}")
    digits = f"{value:.10f}".rstrip("0").rstrip(".") if 1e-6 <= value < 1e12 else f"{value!r}"
    return f"{digits} {unit}"


def digest_of(path: Path) -> str:
    """SHA-256 of a file. Raises LevelNotTakenError where it cannot be read."""
    return hashlib.sha256(_read(path)).hexdigest()


def plan_change(folder: Path, outlet: str, new: str, *, today: date, sightings: int) -> LevelChange:
    """The change that sets `stops_below` of an outlet to the text `new`, without writing anything.

    The unit of `new` is the caller's choice; `today` and the number of `sightings` go into the comment. Raises
    LevelNotTakenError where the settings cannot be changed safely, or would then not be accepted.
    """
    path = (folder / FILE_NAME).resolve()
    content = _read(path)
    try:
        text = content.decode("utf-8")
        settings = tomllib.loads(text.removeprefix("\ufeff"))
        wanted = copy.deepcopy(settings)
        table = wanted["outlets"][outlet]
    except (UnicodeDecodeError, tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise LevelNotTakenError(words.not_taken_unreadable(f"{error}")) from None
    is_set = KEY in table
    table[KEY] = new
    tried = _replaced(text, new, today, sightings) if is_set else _added(text, new, today, sightings)
    for candidate, old, before, after in tried:
        if not _gives(candidate, wanted):
            continue
        made = candidate.encode("utf-8")
        _check_accepted(made)
        return LevelChange(
            path=path,
            outlet=outlet,
            digest=hashlib.sha256(content).hexdigest(),
            old=old,
            new=new,
            line_before=before,
            line_after=after,
            content=made,
        )
    raise LevelNotTakenError(words.not_taken_by_hand(outlet, new))


def write_change(change: LevelChange) -> None:
    """Write a planned change in one step: either the whole new file is there or the old one.

    Raises LevelNotTakenError where the file has changed since the change was planned, or may not be written.
    """
    path = change.path
    with _WRITING:
        if digest_of(path) != change.digest:
            raise LevelNotTakenError(words.NOT_TAKEN_CHANGED)
        # A replaced file would get around a write protection that somebody set on purpose.
        if not (path.stat().st_mode & 0o222 and os.access(path, os.W_OK)):
            raise LevelNotTakenError(words.not_taken_protected(path.name))
        try:
            handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-")
        except OSError as error:
            raise LevelNotTakenError(words.not_taken_no_room(f"{error.strerror}")) from None
        made = Path(name)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(change.content)
                out.flush()
                os.fsync(out.fileno())
            shutil.copymode(path, made)
            if digest_of(path) != change.digest:
                raise LevelNotTakenError(words.NOT_TAKEN_CHANGED)
            made.replace(path)
        except OSError as error:
            raise LevelNotTakenError(words.not_taken_no_room(f"{error.strerror}")) from None
        finally:
            made.unlink(missing_ok=True)
        _settle(path.parent)


def _read(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise LevelNotTakenError(words.not_taken_unreadable(f"{error.strerror}")) from None


def _comment(old: str | None, today: date, sightings: int) -> str:
    return f"# was {old or 'not set'} until {today:%Y-%m-%d}; learnt from {sightings} sightings"


def _line_around(text: str, at: int) -> tuple[int, int]:
    """Start of the line around a place, and its end without the line end."""
    start = text.rfind("\n", 0, at) + 1
    end = text.find("\n", at)
    end = len(text) if end < 0 else end
    return start, end - 1 if end > start and text[end - 1] == "\r" else end


def _replaced(text: str, new: str, today: date, sightings: int) -> Iterator[tuple[str, str | None, str | None, str]]:
    """The text with each value in turn replaced: new text, old value, line before, line after."""
    for found in _VALUE.finditer(text):
        old = found["value"]
        start, end = _line_around(text, found.start())
        rest = text[found.end("value") : end]
        # Comments that are there already stay as they are, behind the new one.
        mark = rest.find("#")
        code, kept = (rest.rstrip(), "") if mark < 0 else (rest[:mark].rstrip(), f"  {rest[mark:]}")
        after = f'{text[start : found.start("value")]}"{new}"{code}  {_comment(old, today, sightings)}{kept}'
        yield text[:start] + after + text[end:], old, text[start:end], after


def _added(text: str, new: str, today: date, sightings: int) -> Iterator[tuple[str, str | None, str | None, str]]:
    """The text with a line added below each `flow = …` in turn."""
    for found in _FLOW_LINE.finditer(text):
        after = f'{found["indent"]}{KEY} = "{new}"  {_comment(None, today, sightings)}'
        end = found["end"] or ("\r\n" if "\r\n" in text else "\n")
        head = text[: found.end()] if found["end"] else text[: found.end()] + end
        yield head + after + end + text[found.end() :], None, None, after


def _gives(text: str, wanted: dict[str, Any]) -> bool:
    """Whether a text parses to exactly these settings."""
    with suppress(tomllib.TOMLDecodeError):
        return tomllib.loads(text.removeprefix("\ufeff")) == wanted
    return False


def _check_accepted(content: bytes) -> None:
    """Read the new settings as the dashboard would, in a folder of their own."""
    with tempfile.TemporaryDirectory() as elsewhere:
        (Path(elsewhere) / FILE_NAME).write_bytes(content)
        try:
            read_workspace_file(Path(elsewhere))
        except InputError as error:
            raise LevelNotTakenError(words.not_taken_refused(error.problems)) from None


def _settle(folder: Path) -> None:
    """Make the new name last through a power cut, where the system lets a folder be synchronised."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
