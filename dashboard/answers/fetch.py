"""Gauges that name a service brought up to date. Failures are part of the answer; kept copies stay usable."""

from __future__ import annotations

import datetime
import os
import sqlite3
import time
import zoneinfo
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pandas as pd

from dashboard.answers.answer import Header, Table, quantity
from dashboard.wording import fetch as words
from dashboard.workspace_file import FILE_NAME, read_workspace_file
from dashboard.workspace_settings import GaugeSettings, WorkspaceFile
from hydro.problems import InputError, Problem
from hydro.services.access import Access, access
from hydro.services.fetch_station import fetch_station
from hydro.services.fetched import FAILED, INCOMPLETE, STALE, Fetched, skip_station
from hydro.services.kept import FOLDER
from hydro.services.plan import join
from hydro.services.providers import PROVIDERS
from hydro.units import to_m3s

#: Changed values listed one by one in the machine answer; all of them stand in the copy's revisions.csv.
MOST_CHANGES_LISTED = 500


@dataclass(frozen=True, eq=False, kw_only=True)
class GaugeFetched:
    """One gauge and what became of its station; gauges of one station share it."""

    settings: GaugeSettings
    fetched: Fetched


@dataclass(frozen=True, eq=False, kw_only=True)
class FetchAnswer:
    """The answer to `fetch`."""

    header: Header
    gauges: tuple[GaugeFetched, ...]
    time_zone: str

    @property
    def unreachable(self) -> bool:
        """Whether a gauge has no kept copy even now."""
        return any(g.fetched.outcome == FAILED for g in self.gauges)

    def tables(self) -> list[Table]:
        changes = [g.fetched.changes.assign(gauge=g.settings.id, unit=_unit(g)) for g in self.gauges]
        return [
            Table(
                name="fetched",
                title="Gauges brought up to date",
                frame=pd.DataFrame([_row(g) for g in self.gauges]),
            ),
            Table(name="changed", title="Values that changed", frame=pd.concat(changes) if changes else pd.DataFrame()),
        ]

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {"gauges": [self._gauge(g) for g in self.gauges]}

    def _gauge(self, g: GaugeFetched) -> dict[str, object]:
        f = g.fetched
        changed = f.changes.head(MOST_CHANGES_LISTED)
        return {
            **_row(g),
            "asked": [{"first": f"{s.first}", "last": f"{s.last}"} for s in join(f.asked)],
            "came": [{"first": f"{s.first}", "last": f"{s.last}"} for s in join(f.came)],
            "changed": [
                {
                    "series": c.series,
                    "time": c.time,
                    "was": _quantity(c.was, _unit(g), self.header.unit),
                    "is": _quantity(c.now, _unit(g), self.header.unit),
                }
                for c in changed.rename(columns={"is": "now"}).itertuples(index=False)
            ],
            "n_changed_not_listed": len(f.changes) - len(changed),
            "sentence": words.sentence(g, self.time_zone),
        }


def _row(g: GaugeFetched) -> dict[str, object]:
    f = g.fetched
    return {
        "gauge": g.settings.id,
        "service": g.settings.service,
        "station": g.settings.station,
        "outcome": f.outcome,
        "retrieved": _instant(f.copy.retrieved),
        "first": f.first,
        "last": f.last,
        "n_kept": f.n_kept,
        "n_new": f.n_new,
        "n_changed": len(f.changes),
        "n_approval_changed": f.n_judged,
        "n_no_longer_given": f.n_withdrawn,
        "n_given_again": f.n_restored,
        "n_contradicting": f.n_twice,
        "requests": f.requests,
        "pages_from_cache": f.pages_from_cache,
        "why": f.why,
        "not_before": _instant(f.copy.not_before),
    }


def _instant(at: datetime.datetime | None) -> str | None:
    return None if at is None else at.astimezone(datetime.UTC).isoformat(timespec="seconds")


def _unit(g: GaugeFetched) -> str:
    return PROVIDERS[g.fetched.copy.service].unit_of(g.fetched.copy.station)


def _quantity(text: str, unit: str, display_unit: str) -> dict[str, object]:
    value = pd.to_numeric(text, errors="coerce")
    return quantity(None if pd.isna(value) else to_m3s(float(value), unit), display_unit) | {
        "as_written": f"{text} {unit}" if text else ""
    }


def fetch(
    folder: Path,
    *,
    gauges: Sequence[str] = (),
    since: datetime.date | None = None,
    environment: Mapping[str, str] | None = None,
    progress: Callable[[str], None] = lambda sentence: None,
    sleep: Callable[[float], None] = time.sleep,
) -> FetchAnswer:
    """Bring the gauges that name a service up to date: all of them, or those asked for.

    `since` asks for everything from that day on again. `environment` (default: the process's) holds keys and hosts.
    Raises InputError where the settings or the gauges asked for are wrong; what a service does is in the answer.
    """
    settings = read_workspace_file(folder)
    _check_asked(settings, gauges, since)
    wanted = [g for g in settings.gauges.values() if g.service is not None and (not gauges or g.id in gauges)]
    return FetchAnswer(
        header=_header(folder, settings),
        gauges=tuple(_fetch_all(folder, settings, wanted, since, environment, progress, sleep)),
        time_zone=settings.time_zone,
    )


def refresh_gauges(folder: Path, settings: WorkspaceFile) -> Sequence[str]:
    """Bring every gauge that names a service up to date; what could not be refreshed comes back as sentences."""
    wanted = [g for g in settings.gauges.values() if g.service is not None]
    try:
        found = _fetch_all(folder, settings, wanted, None, None, lambda sentence: None, time.sleep)
    except InputError as error:
        return [f"{error}"]  # nothing can be kept here; what is kept already can still be judged
    return [words.sentence(g, settings.time_zone) for g in found if g.fetched.why is not None]


def _fetch_all(
    folder: Path,
    settings: WorkspaceFile,
    wanted: Sequence[GaugeSettings],
    since: datetime.date | None,
    environment: Mapping[str, str] | None,
    progress: Callable[[str], None],
    sleep: Callable[[float], None],
) -> list[GaugeFetched]:
    if not wanted:
        return []
    # Fetching brings a network library with it; answers that need none do not wait for it.
    from hydro.services.ask import USED_UP, Asker, utc_now
    from hydro.services.session import open_session

    accesses = _accesses(settings, wanted, os.environ if environment is None else environment)
    session = _session(folder, list(accesses.values()), open_session)
    stations: dict[tuple[str, str], Fetched] = {}
    failed: dict[str, str] = {}
    found = []
    try:
        for gauge in wanted:
            provider, station = PROVIDERS[str(gauge.service)], str(gauge.station)
            key = (provider.name, station)
            if key not in stations:
                if provider.host_name in failed:
                    stations[key] = skip_station(folder, provider, station, failed[provider.host_name], utc_now())
                else:
                    asker = Asker(session=session, access=accesses[provider.host_name], sleep=sleep, progress=progress)
                    stations[key] = fetch_station(folder, provider, station, asker, again_from=since)
                    if asker.used_up:  # stations that follow would only be refused
                        failed.setdefault(provider.host_name, USED_UP)
                if stations[key].for_all and stations[key].why is not None:
                    failed[provider.host_name] = str(stations[key].why)
            found.append(GaugeFetched(settings=gauge, fetched=stations[key]))
    finally:
        session.close()
    return found


def _session(folder: Path, accesses: list[Access], open_session: Callable[..., Any]) -> Any:
    try:
        return open_session(folder / FOLDER, accesses)
    except (OSError, sqlite3.Error) as error:
        expected = f"a folder that can be written, for what is fetched ({error})"
        raise InputError([Problem(file=str(folder / FOLDER), expected=expected)]) from None


def _accesses(
    settings: WorkspaceFile, wanted: Sequence[GaugeSettings], environment: Mapping[str, str]
) -> dict[str, Access]:
    providers = {p.host_name: p for p in (PROVIDERS[str(g.service)] for g in wanted)}
    return {
        name: access(
            name,
            p.default_host,
            environment=environment,
            host_in_workspace=settings.services.hosts.get(name),
            takes_key=p.takes_key,
        )
        for name, p in providers.items()
    }


def _check_asked(settings: WorkspaceFile, gauges: Sequence[str], since: datetime.date | None) -> None:
    problems = []
    of_services = [g.id for g in settings.gauges.values() if g.service is not None]
    for id in gauges:
        if id not in of_services:
            expected = f"a gauge that names a service, out of: {', '.join(of_services) or 'none'}"
            problems.append(Problem(file=FILE_NAME, row="--gauge", value=id, expected=expected))
    today = datetime.datetime.now(zoneinfo.ZoneInfo(settings.time_zone)).date()
    if since is not None and since > today:
        problems.append(Problem(row="--since", value=f"{since}", expected=f"a day not after today, {today}"))
    if problems:
        raise InputError(problems)


def _header(folder: Path, settings: WorkspaceFile) -> Header:
    """`fetch` has no day asked: it is of now."""
    today = datetime.datetime.now(zoneinfo.ZoneInfo(settings.time_zone)).date()
    return Header(
        workspace=str(folder), title=settings.title, as_of=f"{today}", unit=settings.display_unit, warnings=()
    )


#: Outcomes after which the newest values are not the service's newest.
NOT_CURRENT = (STALE, FAILED)
__all__ = ["FAILED", "INCOMPLETE", "NOT_CURRENT", "STALE", "FetchAnswer", "GaugeFetched", "fetch", "refresh_gauges"]
