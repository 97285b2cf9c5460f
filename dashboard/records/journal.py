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
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from dashboard.records.entry import Entry, new_id
from hydro.whole_file import write_whole

FOLDER, NAME, RESERVE, LOCK = ".resurgence", "journal.jsonl", "journal.reserve", "records.lock"
#: Entries that wait lie beside the tables as well: the tool's own folder may be deleted without losing one.
WAITING_NAME = "entries-waiting.jsonl"
RESERVE_BYTES = 256 * 1024
#: How long one writer waits for another [s].
PATIENCE_S = 20.0

WAITING, SAVED, UNDO_WAITING, UNDONE, DROPPED = "waiting", "saved", "undo waiting", "undone", "dropped"


class NotKeptError(Exception):
    """Nothing could be kept: the entry exists only where it was typed. The message is a sentence for people."""


@dataclass(frozen=True, kw_only=True)
class Kept:
    """An entry and what became of it.

    record    the row as it was (or is about to be) written, "" before the first try
    before    rows of the table with the same cells before the last try: tells a crash before writing from one after
    why       why it still waits, "" where that is not known
    changed   when its state changed last (UTC), and `changed_by` whom
    """

    entry: Entry
    state: str = WAITING
    record: str = ""
    before: int = -1
    why: str = ""
    changed: str = ""
    changed_by: str = ""


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
                _replay(found, json.loads(line))
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
        if known is not None and (known.entry.table, known.entry.values) == (entry.table, entry.values):
            return entry.id
        id = entry.id if known is None else new_id()
        facts = _entered(entry)
        self.note("entered", id, **{k: v for k, v in facts.items() if k not in ("event", "id")})
        return id

    def take_up(self) -> None:
        """Enter again what waits beside the tables and is not in the journal: the tool's own folder was deleted."""
        try:
            lines = (self.folder / WAITING_NAME).read_bytes().split(b"\n")
        except OSError:
            return
        known = self.read()
        found: dict[str, Kept] = {}
        for line in lines:
            with suppress(ValueError, KeyError, TypeError):
                _replay(found, json.loads(line))
        for id, kept in found.items():
            if id not in known:
                self.enter(kept.entry)

    def lay_aside(self) -> None:
        """Write what waits beside the tables, as far as that can be written to; without any, the file goes."""
        place = self.folder / WAITING_NAME
        waiting = [k.entry for k in self.read().values() if k.state == WAITING]
        with suppress(OSError):
            if not waiting:
                place.unlink(missing_ok=True)
                return
            lines = [json.dumps(_entered(e), ensure_ascii=False).encode() + b"\n" for e in waiting]
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


def _entered(entry: Entry) -> dict[str, object]:
    """The line that enters an entry, but for the time."""
    return {
        "event": "entered",
        "id": entry.id,
        "table": entry.table,
        "made": entry.made,
        "who": entry.who,
        "values": dict(entry.values),
    }


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _replay(found: dict[str, Kept], line: dict[str, object]) -> None:
    """Let one line of the journal change what is known."""
    id, event = str(line["id"]), line["event"]
    if event == "entered":
        values = line["values"]
        if isinstance(values, dict):
            entry = Entry(
                id=id, table=str(line["table"]), made=str(line["made"]), who=str(line["who"]),
                values={str(k): str(v) for k, v in values.items()},
            )  # fmt: skip
            found.setdefault(id, Kept(entry=entry))
        return
    kept = found[id]
    if event in ("about to write", "about to remove"):
        found[id] = replace(kept, record=str(line["record"]), before=int(str(line["before"])))
    elif event == "refused":
        found[id] = replace(kept, why=str(line["why"]))
    elif event in _BECOMES:
        found[id] = replace(
            kept,
            state=_BECOMES[str(event)],
            why="",
            record="" if event == "put back" else kept.record,
            before=-1 if event in ("put back", "undo asked") else kept.before,
            changed=str(line["at"]),
            changed_by=str(line.get("who", kept.changed_by)),
        )


_BECOMES = {"written": SAVED, "undo asked": UNDO_WAITING, "removed": UNDONE, "dropped": DROPPED, "put back": WAITING,
            "undo given up": SAVED}  # fmt: skip
