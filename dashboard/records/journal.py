"""The journal of what people write down: who, when, what, and what became of it. Lines are only ever added.

An entry is in the journal, on the disk, before anything else is tried, and is waiting until the journal says that it
was written. A line cut short by a crash is no line. The journal holds a little room in reserve for a full disk.
"""

from __future__ import annotations

import errno
import json
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from dashboard.records.entry import Entry, new_id
from dashboard.records.kept import Kept, entered, lines_of, replay
from hydro.whole_file import write_whole

FOLDER, NAME, RESERVE, LOCK = ".resurgence", "journal.jsonl", "journal.reserve", "records.lock"
#: Entries that wait lie beside the tables as well: the tool's own folder may be deleted without losing one.
WAITING_NAME = "entries-waiting.jsonl"
RESERVE_BYTES = 256 * 1024
#: How long one writer waits for another [s].
PATIENCE_S = 20.0


class NotKeptError(Exception):
    """Nothing could be kept: the entry exists only where it was typed. The message is a sentence for people."""


@dataclass(frozen=True)
class Journal:
    """The journal of one workspace folder."""

    folder: Path

    @property
    def path(self) -> Path:
        return self.folder / FOLDER / NAME

    @contextmanager
    def locked(self) -> Iterator[None]:
        """Alone at the records of this workspace, among all processes. Raises NotKeptError where that cannot be had."""
        from filelock import FileLock, Timeout  # only who writes needs it

        try:
            self.path.parent.mkdir(exist_ok=True)
            lock = FileLock(self.path.parent / LOCK)
            lock.acquire(timeout=PATIENCE_S)
        except Timeout:
            raise NotKeptError("somebody else has been writing for a while; try again") from None
        except OSError as error:
            raise NotKeptError(f"the workspace folder cannot be written to ({error.strerror})") from None
        try:
            yield
        finally:
            lock.release()

    def read(self) -> dict[str, Kept]:
        """All entries by id, in the order in which they were made."""
        try:
            data = self.path.read_bytes()
        except FileNotFoundError:
            return {}
        found: dict[str, Kept] = {}
        for line in data.split(b"\n"):
            with suppress(ValueError, KeyError, TypeError):  # a line cut short is no line
                replay(found, json.loads(line))
        return found

    def note(self, event: str, entry: str, **facts: object) -> None:
        """Add a line, on the disk before this returns. Raises NotKeptError where it cannot be written."""
        line = json.dumps({"event": event, "id": entry, "at": _now(), **facts}, ensure_ascii=False)
        self._add(line.encode() + b"\n")

    def enter(self, entry: Entry) -> str:
        """Keep an entry; the same one again changes nothing. Gives the id under which it is kept.

        Other values under a known id are another entry: somebody passed on the address of a form.
        """
        known = self.read().get(entry.id)
        said = () if known is None or known.entry.table != entry.table else (known.entry.values, *known.versions)
        if entry.values in said:
            return entry.id
        id = entry.id if known is None else new_id()
        facts = entered(entry)
        self.note("entered", id, **{k: v for k, v in facts.items() if k not in ("event", "id")})
        return id

    def take_up(self) -> None:
        """Enter again what waits beside the tables and is not in the journal: the tool's own folder was deleted."""
        try:
            lines = (self.folder / WAITING_NAME).read_bytes().split(b"\n")
        except OSError:
            return
        known = self.read()
        for line in lines:
            with suppress(ValueError, KeyError, TypeError):
                event = json.loads(line)
                if str(event["id"]) not in known and isinstance(event["event"], str):
                    self._add(line + b"\n")

    def lay_aside(self) -> None:
        """Write what waits beside the tables, as far as that can be written to; without any, the file goes."""
        place = self.folder / WAITING_NAME
        waiting = [line for k in self.read().values() for line in lines_of(k)]
        with suppress(OSError):
            if not waiting:
                place.unlink(missing_ok=True)
                return
            lines = [json.dumps(line, ensure_ascii=False).encode() + b"\n" for line in waiting]
            write_whole(place, b"".join(lines))

    def _add(self, line: bytes) -> None:
        try:
            self._try(line)
        except OSError as error:
            if error.errno not in (errno.ENOSPC, errno.EDQUOT):
                raise NotKeptError(f"the journal cannot be written ({error.strerror})") from None
            reserve = self.path.parent / RESERVE
            if not reserve.exists():
                raise NotKeptError("the disk is full") from None
            reserve.unlink()
            try:
                self._try(line)
            except OSError:
                raise NotKeptError("the disk is full") from None

    def _try(self, line: bytes) -> None:
        self.path.parent.mkdir(exist_ok=True)
        with self.path.open("ab+") as out:
            start = out.seek(0, os.SEEK_END)
            if start:
                out.seek(start - 1)
                if out.read(1) != b"\n":  # a crash left half a line: it must not swallow this one
                    line = b"\n" + line
            try:
                out.write(line)
                out.flush()
                os.fsync(out.fileno())
            except OSError:
                with suppress(OSError):
                    os.ftruncate(out.fileno(), start)
                raise

    def hold_room(self) -> None:
        """Keep some room on the disk for the journal, where there is some."""
        reserve = self.path.parent / RESERVE
        if reserve.exists():
            return
        with suppress(OSError):
            reserve.write_bytes(b"\0" * RESERVE_BYTES)


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
