"""The kept copy of one station: its values in the service's own columns, and what is known about how they came.

No network here: answers read copies without loading anything that could use one.
"""

from __future__ import annotations

import datetime
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import quote

from hydro.services.provider import Stretch
from hydro.whole_file import write_whole

#: Below the workspace's own folder.
FOLDER = Path(".resurgence") / "services"
VALUES, STATE, REVISIONS = "values.csv", "state.json", "revisions.csv"
_VERSION = 1


@dataclass(frozen=True, kw_only=True)
class LastRevision:
    """The newest fetch that found values other than those kept: how many, of which days, against which fetch before."""

    noticed: datetime.datetime
    before: datetime.datetime | None
    count: int
    first: str
    last: str


@dataclass(frozen=True, kw_only=True)
class Copy:
    """What is kept of one station.

    retrieved   when the newest days last came whole (UTC); None = never
    tried       when the service was last asked
    failure     what went wrong then, as the end of a sentence; None = nothing
    not_before  before this instant the service wishes not to be asked again
    covered     days that were asked for and came whole
    since       where a person wished the record to start
    looked_back when the days that may be revised were last asked for
    has_values  whether there is a table of values at all
    """

    service: str
    station: str
    folder: Path
    retrieved: datetime.datetime | None = None
    tried: datetime.datetime | None = None
    failure: str | None = None
    not_before: datetime.datetime | None = None
    covered: tuple[Stretch, ...] = ()
    since: datetime.date | None = None
    looked_back: datetime.datetime | None = None
    revised: LastRevision | None = None
    has_values: bool = field(default=False)

    @property
    def file(self) -> Path:
        return self.folder / VALUES

    @property
    def stale(self) -> bool:
        """Whether the last try to bring it up to date failed."""
        return self.failure is not None


def folder_of(workspace: Path, service: str, station: str) -> Path:
    """Where a station's copy is; two gauges of one station share it."""
    return workspace / FOLDER / f"{service}-{quote(station, safe='')}"


def read_copy(workspace: Path, service: str, station: str) -> Copy:
    """What is kept of a station. A state that cannot be read counts as none: everything is then asked for again."""
    folder = folder_of(workspace, service, station)
    has_values = (folder / VALUES).is_file()
    nothing = Copy(service=service, station=station, folder=folder, has_values=has_values)
    try:
        told = json.loads((folder / STATE).read_text(encoding="utf-8"))
        if told.get("version") != _VERSION:
            return nothing
        revised = told["revised"]
        return Copy(
            service=service,
            station=station,
            folder=folder,
            retrieved=_instant(told["retrieved"]),
            tried=_instant(told["tried"]),
            failure=told["failure"],
            not_before=_instant(told["not_before"]),
            # Days without the table that they came in are not covered.
            covered=tuple(_stretch(pair) for pair in told["covered"]) if has_values else (),
            since=None if told["since"] is None else datetime.date.fromisoformat(told["since"]),
            looked_back=_instant(told["looked_back"]),
            revised=None if revised is None else _revision(revised),
            has_values=has_values,
        )
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return nothing


def write_state(copy: Copy) -> None:
    """Write everything but the values. Raises OSError."""
    revised = copy.revised
    told = {
        "version": _VERSION,
        "service": copy.service,
        "station": copy.station,
        "retrieved": _written(copy.retrieved),
        "tried": _written(copy.tried),
        "failure": copy.failure,
        "not_before": _written(copy.not_before),
        "covered": [[f"{s.first}", f"{s.last}"] for s in copy.covered],
        "since": None if copy.since is None else f"{copy.since}",
        "looked_back": _written(copy.looked_back),
        "revised": None
        if revised is None
        else {
            "noticed": _written(revised.noticed),
            "before": _written(revised.before),
            "count": revised.count,
            "first": revised.first,
            "last": revised.last,
        },
    }
    copy.folder.mkdir(parents=True, exist_ok=True)
    write_whole(copy.folder / STATE, json.dumps(told, ensure_ascii=False, indent=1).encode())


def _instant(text: object) -> datetime.datetime | None:
    if text is None:
        return None
    at = datetime.datetime.fromisoformat(str(text))
    return at if at.tzinfo is not None else at.replace(tzinfo=datetime.UTC)


def _written(at: datetime.datetime | None) -> str | None:
    return None if at is None else at.astimezone(datetime.UTC).isoformat(timespec="seconds")


def _stretch(pair: list[str]) -> Stretch:
    first, last = (datetime.date.fromisoformat(text) for text in pair)
    return Stretch(first=first, last=last)


def _revision(told: Mapping[str, object]) -> LastRevision:
    noticed = _instant(told["noticed"])
    if noticed is None:
        raise ValueError("a revision was noticed at some time")
    return LastRevision(
        noticed=noticed,
        before=_instant(told["before"]),
        count=int(str(told["count"])),
        first=str(told["first"]),
        last=str(told["last"]),
    )
