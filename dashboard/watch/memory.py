"""What the watch remembers, in one SQLite file: facts and past states of the last pass, what was told, every alert and
what became of sending it.

Everything that a pass finds out is written in one transaction; each attempt to send has one before it (the intent) and
one after it (what came of it). So whatever kills a pass, an alert is either not yet known, or known and waiting, or
being tried, or sent; and what was being tried is tried again. The journal is the ordinary one, not the write-ahead
log: a workspace may lie on a network drive.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from dashboard.watch.alert import Alert, alert_from_json
from dashboard.watch.facts import OutletFacts, facts_from_json
from dashboard.watch.judge import Memory, Told
from dashboard.watch.past import PastStates, past_from_json
from hydro.problems import InputError, Problem

FOLDER, FILE, LOCK = ".resurgence", "watch.sqlite3", "watch-lock.sqlite3"
VERSION = 1
WAITING, TRYING, SENT = "waiting", "trying", "sent"
_TABLES = """
CREATE TABLE facts (outlet TEXT PRIMARY KEY, inputs TEXT NOT NULL, facts TEXT NOT NULL);
CREATE TABLE past (outlet TEXT PRIMARY KEY, states TEXT NOT NULL);
CREATE TABLE told (outlet TEXT, condition TEXT, what TEXT NOT NULL, raised_at TEXT, event TEXT NOT NULL,
                   rule TEXT NOT NULL, PRIMARY KEY (outlet, condition));
CREATE TABLE rules (outlet TEXT, kind TEXT, digest TEXT, since TEXT NOT NULL, PRIMARY KEY (outlet, kind, digest));
CREATE TABLE alerts (number INTEGER PRIMARY KEY, id TEXT UNIQUE NOT NULL, alert TEXT NOT NULL);
CREATE TABLE sendings (alert TEXT, channel TEXT, state TEXT NOT NULL, attempts INTEGER NOT NULL, cut_off INTEGER NOT
                       NULL, tried_at TEXT, sent_at TEXT, why TEXT, PRIMARY KEY (alert, channel));
"""


@dataclass(frozen=True, kw_only=True)
class Sending:
    """One alert on its way through one channel. `cut_off` counts attempts of which nobody knows how they ended."""

    alert: str
    channel: str
    state: str = WAITING
    attempts: int = 0
    cut_off: int = 0
    tried_at: str | None = None
    sent_at: str | None = None
    why: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class Remembered:
    """Everything in the memory at one moment. `facts` carries the digest of the inputs that they rest on."""

    facts: Mapping[str, tuple[str, OutletFacts]] = field(default_factory=dict)
    past: Mapping[str, PastStates] = field(default_factory=dict)
    told: Mapping[str, Memory] = field(default_factory=dict)
    rules: Mapping[tuple[str, str, str], str] = field(default_factory=dict)
    alerts: Sequence[Alert] = ()
    sendings: Sequence[Sending] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """What one pass found out, to be written in one transaction. `rules` maps outlet, kind, digest to a civil day."""

    facts: Mapping[str, tuple[str, OutletFacts]]
    past: Mapping[str, PastStates]
    told: Mapping[str, Memory]
    rules: Mapping[tuple[str, str, str], str]
    raised: Sequence[Alert]
    channels: Sequence[str]


class Busy(Exception):  # noqa: N818 - a state of affairs, not a mistake
    """Another pass is running on this workspace."""


@contextmanager
def only_pass(folder: Path) -> Iterator[None]:
    """Hold the workspace for one pass; raises Busy where another has it. A killed process lets go by itself.

    An exclusive transaction on a small file of its own: the same on every system, and held by the system's file locks.
    """
    shown, expected = f"{FOLDER}/{LOCK}", "a folder that can be written: the watch keeps its memory there"
    try:
        (folder / FOLDER).mkdir(exist_ok=True)
    except OSError as error:
        raise InputError([Problem(file=FOLDER, value=error.strerror, expected=expected)]) from None
    lock: sqlite3.Connection | None = None
    try:
        lock = sqlite3.connect(folder / FOLDER / LOCK, timeout=0, isolation_level=None)
        lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.DatabaseError as error:
        if lock is not None:
            lock.close()
        if error.sqlite_errorcode in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
            raise Busy from None
        raise InputError([Problem(file=shown, value=f"{error}", expected=expected)]) from None
    with closing(lock):
        yield


def read_memory(folder: Path) -> Remembered:
    """What is remembered, without writing anything; empty where no pass has been made."""
    path = folder / FOLDER / FILE
    if not path.is_file():
        return Remembered()
    with _opened(path) as db:
        return _read(db)


class MemoryFile:
    """The memory opened for writing, by the one pass that holds the workspace."""

    def __init__(self, folder: Path) -> None:
        (folder / FOLDER).mkdir(exist_ok=True)
        self.path = folder / FOLDER / FILE

    def read(self) -> Remembered:
        with _opened(self.path) as db:
            return _read(db)

    def keep(self, found: Found) -> None:
        """Everything a pass found out, or nothing of it."""
        with _writing(self.path) as db:
            db.executemany(
                "INSERT OR REPLACE INTO facts VALUES (?, ?, ?)",
                [(o, inputs, f.as_json()) for o, (inputs, f) in found.facts.items()],
            )
            db.executemany(
                "INSERT OR REPLACE INTO past VALUES (?, ?)", [(o, p.as_json()) for o, p in found.past.items()]
            )
            db.executemany(
                "INSERT OR REPLACE INTO told VALUES (?, ?, ?, ?, ?, ?)",
                [(o, c, t.what, t.raised_at, t.event, t.rule) for o, m in found.told.items() for c, t in m.items()],
            )
            db.executemany(
                "INSERT OR IGNORE INTO rules VALUES (?, ?, ?, ?)", [(*key, day) for key, day in found.rules.items()]
            )
            for alert in found.raised:
                db.execute("INSERT INTO alerts (id, alert) VALUES (?, ?)", (alert.id, alert.as_json()))
                db.executemany(
                    "INSERT INTO sendings (alert, channel, state, attempts, cut_off) VALUES (?, ?, ?, 0, 0)",
                    [(alert.id, c, WAITING) for c in found.channels],
                )

    def cut_off(self) -> int:
        """Take note of attempts that were under way when a pass was killed: they wait again. How many there were."""
        with _writing(self.path) as db:
            return db.execute(
                "UPDATE sendings SET state = ?, cut_off = cut_off + 1, why = ? WHERE state = ?",
                (WAITING, "a pass was cut off while it was being sent", TRYING),
            ).rowcount

    def intend(self, alert: str, channel: str, now: str) -> None:
        """An attempt is about to be made."""
        with _writing(self.path) as db:
            db.execute(
                "UPDATE sendings SET state = ?, attempts = attempts + 1, tried_at = ? WHERE alert = ? AND channel = ?",
                (TRYING, now, alert, channel),
            )

    def sent(self, alert: str, channel: str, now: str) -> None:
        """The attempt succeeded."""
        with _writing(self.path) as db:
            db.execute(
                "UPDATE sendings SET state = ?, sent_at = ?, why = NULL WHERE alert = ? AND channel = ?",
                (SENT, now, alert, channel),
            )

    def failed(self, alert: str, channel: str, why: str, *, unknown: bool) -> None:
        """The attempt failed, or (`unknown`) nobody knows how it ended; it waits for the next pass."""
        with _writing(self.path) as db:
            db.execute(
                "UPDATE sendings SET state = ?, why = ?, cut_off = cut_off + ? WHERE alert = ? AND channel = ?",
                (WAITING, why, int(unknown), alert, channel),
            )


@contextmanager
def _opened(path: Path) -> Iterator[sqlite3.Connection]:
    """A connection with the tables in it. Raises InputError where the file is not a memory that this version reads."""
    shown = f"{path.parent.name}/{path.name}"
    expected = "the watch's own memory; move the file away to start anew (everything that stands is then told again)"
    try:
        with closing(sqlite3.connect(path, timeout=30, isolation_level=None)) as db:
            version = db.execute("PRAGMA user_version").fetchone()[0]
            if version == 0 and not db.execute("SELECT 1 FROM sqlite_master LIMIT 1").fetchone():
                db.execute("PRAGMA synchronous = FULL")
                db.executescript(f"BEGIN IMMEDIATE; {_TABLES} PRAGMA user_version = {VERSION}; COMMIT;")
            elif version != VERSION:
                raise InputError([Problem(file=shown, value=f"version {version}", expected=f"version {VERSION}")])
            db.execute("PRAGMA synchronous = FULL")
            yield db
    except sqlite3.OperationalError as error:
        raise InputError([Problem(file=shown, value=f"{error}", expected="a file that can be written")]) from None
    except sqlite3.DatabaseError as error:
        raise InputError([Problem(file=shown, value=f"{error}", expected=expected)]) from None


@contextmanager
def _writing(path: Path) -> Iterator[sqlite3.Connection]:
    """One transaction: all of it or nothing."""
    with _opened(path) as db:
        db.execute("BEGIN IMMEDIATE")
        try:
            yield db
        except BaseException:
            db.execute("ROLLBACK")
            raise
        db.execute("COMMIT")


def _read(db: sqlite3.Connection) -> Remembered:
    told: dict[str, dict[str, Told]] = {}
    db.execute("BEGIN")  # one moment for all tables
    for outlet, condition, what, raised_at, event, rule in db.execute(
        "SELECT outlet, condition, what, raised_at, event, rule FROM told"
    ):
        told.setdefault(outlet, {})[condition] = Told(what=what, raised_at=raised_at, event=event, rule=rule)
    past = {o: past_from_json(text) for o, text in db.execute("SELECT outlet, states FROM past")}
    found = Remembered(
        facts={o: (i, facts_from_json(t)) for o, i, t in db.execute("SELECT outlet, inputs, facts FROM facts")},
        past={o: p for o, p in past.items() if p is not None},
        told=told,
        rules={(o, k, d): s for o, k, d, s in db.execute("SELECT outlet, kind, digest, since FROM rules")},
        alerts=[alert_from_json(t) for (t,) in db.execute("SELECT alert FROM alerts ORDER BY number")],
        sendings=[
            Sending(alert=a, channel=c, state=s, attempts=n, cut_off=k, tried_at=t, sent_at=at, why=w)
            for a, c, s, n, k, t, at, w in db.execute(
                "SELECT s.alert, s.channel, s.state, s.attempts, s.cut_off, s.tried_at, s.sent_at, s.why "
                "FROM sendings s JOIN alerts a ON a.id = s.alert ORDER BY a.number, s.channel"
            )
        ],
    )
    db.execute("COMMIT")
    return found
