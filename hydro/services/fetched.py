"""What became of one station that was to be brought up to date."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import pandas as pd

from hydro.services.kept import Copy, read_copy, write_state
from hydro.services.merge import CHANGE_COLUMNS, Merged
from hydro.services.provider import Provider, Stretch

UPDATED, UNCHANGED, INCOMPLETE, STALE, FAILED = "updated", "unchanged", "incomplete", "stale", "failed"


@dataclass(frozen=True, eq=False, kw_only=True)
class Fetched:
    """What became of one station.

    outcome   updated | unchanged: everything asked for came; incomplete: the newest days came, something else did
              not; stale: the newest days did not come and an older copy is kept; failed: there is no copy
    copy      what is kept now
    asked     stretches that were to be asked for, newest first; `came` those that came whole
    changes   values other than those kept before: series, time, was, is
    why       what went wrong, as the end of a sentence; None = nothing
    for_all   whether it would go wrong for other stations of the service alike
    """

    outcome: str
    copy: Copy
    asked: tuple[Stretch, ...] = ()
    came: tuple[Stretch, ...] = ()
    changes: pd.DataFrame = field(default_factory=lambda: pd.DataFrame(columns=list(CHANGE_COLUMNS)))
    n_new: int = 0
    n_judged: int = 0
    n_withdrawn: int = 0
    n_twice: int = 0
    n_restored: int = 0
    n_kept: int = 0
    first: str | None = None
    last: str | None = None
    requests: int = 0
    pages_from_cache: int = 0
    why: str | None = None
    for_all: bool = False


def outcome_of(table: pd.DataFrame, merges: Sequence[Merged], why: str | None, *, failed_newest: bool) -> str:
    """One of the words that `Fetched.outcome` may hold."""
    if not len(table):
        return FAILED
    if why is not None:
        return STALE if failed_newest else INCOMPLETE
    return UPDATED if any(m.anything for m in merges) else UNCHANGED


def changes_of(merges: Sequence[Merged]) -> pd.DataFrame:
    """Everything that changed, in the order in which it came."""
    changes = [m.changes for m in merges if len(m.changes)]
    return pd.concat(changes, ignore_index=True) if changes else pd.DataFrame(columns=list(CHANGE_COLUMNS))


def skip_station(workspace: Path, provider: Provider, station: str, why: str, now: datetime.datetime) -> Fetched:
    """A station that is not asked for, because its service failed just before; the copy says so too."""
    copy = read_copy(workspace, provider.name, station)
    copy = replace(copy, tried=now, failure=why)
    if copy.has_values:
        try:
            write_state(copy)
        except OSError as error:
            why = f"{why}; the copy cannot be written here ({error.strerror or type(error).__name__})"
    return Fetched(outcome=STALE if copy.has_values else FAILED, copy=copy, why=why, for_all=True)
