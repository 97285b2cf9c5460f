"""One station brought up to date. Each stretch that came whole is kept before the next one is asked for."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pandas as pd
from filelock import FileLock, Timeout

from hydro.services.ask import Asker
from hydro.services.failure import ServiceError
from hydro.services.fetched import FAILED, STALE, Fetched, changes_of, outcome_of
from hydro.services.kept import REVISIONS, LastRevision, folder_of, read_copy, write_state
from hydro.services.merge import (
    Merged,
    empty_table,
    last_day,
    merge,
    read_table,
    rows_within,
    table_bytes,
)
from hydro.services.plan import join, missing, stretches_to_ask
from hydro.services.provider import Provider, Stretch
from hydro.services.walk import walk
from hydro.whole_file import write_whole

#: How long another fetch of the same station is waited for [s].
_WAIT_S = 20.0
_DAY = datetime.timedelta(days=1)


def fetch_station(
    workspace: Path,
    provider: Provider,
    station: str,
    asker: Asker,
    *,
    again_from: datetime.date | None = None,
) -> Fetched:
    """Bring the copy of a station up to date. Never raises for what a service or a disk does: `why` says it.

    `again_from` asks for everything from that day on again, and becomes the start of the record where it is earlier
    than the record or no record is kept.
    """
    folder = folder_of(workspace, provider.name, station)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with FileLock(folder / "lock", timeout=_WAIT_S):
            return _Fetch(workspace, provider, station, asker).run(again_from)
    except Timeout:
        why = "another fetch of this station is running"
    except OSError as error:
        why = f"the copy cannot be written here ({error.strerror or type(error).__name__})"
    copy = read_copy(workspace, provider.name, station)
    return Fetched(outcome=STALE if copy.has_values else FAILED, copy=copy, why=why)


class _Fetch:
    """One fetch while it runs."""

    def __init__(self, workspace: Path, provider: Provider, station: str, asker: Asker) -> None:
        self.provider, self.station, self.asker = provider, station, asker
        self.copy = read_copy(workspace, provider.name, station)
        self.retrieved_before = self.copy.retrieved
        self.table = empty_table(provider)
        self.merges: list[Merged] = []
        self.came: list[Stretch] = []
        if self.copy.has_values:
            try:
                self.table = read_table(self.copy.file, provider)
            except ValueError:
                # Not ours any more: kept beside, and everything is asked for again.
                self.copy.file.replace(self.copy.file.with_suffix(".unreadable"))
                self.copy = replace(self.copy, covered=(), has_values=False)

    def run(self, again_from: datetime.date | None) -> Fetched:
        now = self.asker.now()
        today = now.astimezone(datetime.UTC).date()
        if self.copy.not_before is not None and now < self.copy.not_before:
            why = f"the service asked to be left alone until {self.copy.not_before:%Y-%m-%d %H:%M} UTC"
            return self._result((), why, for_all=True, failed_newest=True)
        since = self.copy.since
        if again_from is not None and (again_from < since if since is not None else not self.copy.covered):
            self.copy = replace(self.copy, since=again_from)
        if again_from is not None:  # days that the service has let go of are not “withdrawn”
            again_from = self.provider.beginning(again_from, today)
        due = self.copy.looked_back is None or now - self.copy.looked_back >= self.provider.revision_every_days * _DAY
        asked = stretches_to_ask(
            self.provider,
            covered=self.copy.covered,
            last_value=last_day(self.provider, self.table),
            begin=self.provider.beginning(self.copy.since, today),
            today=today,
            again_from=again_from,
            revision_due=due,
        )
        failure: ServiceError | None = None
        for stretch in asked:
            try:
                self._take(stretch, today)
            except ServiceError as error:
                failure = error
                break
        if failure is None and not len(self.table):
            failure = ServiceError(f"the service holds no discharge of this station (is its id right?){self._listed()}")
        self.copy = replace(
            self.copy,
            tried=now,
            failure=None if failure is None else self.asker.access.without_key(f"{failure}"),
            not_before=None if failure is None else failure.not_before,
        )
        write_state(self.copy)
        return self._result(
            tuple(asked),
            self.copy.failure,
            for_all=failure is not None and failure.for_all,
            failed_newest=not self.came,
        )

    def _listed(self) -> str:
        """What the service says that it has of a station of which no value came, where it can be asked."""
        if self.provider.list_url is None:
            return ""
        try:
            document, _, _ = self.asker.ask(self.provider.list_url(self.asker.access.host, self.station))
            return self.provider.told_series(document, self.station)
        except ServiceError:
            return ""  # no values is what there is to tell; that the list did not come either helps nobody

    def _take(self, stretch: Stretch, today: datetime.date) -> None:
        """Ask for one stretch, and keep it."""
        span = f"{stretch.first} to {min(stretch.last, today)}"
        self.asker.progress(f"{self.provider.name} {self.station}: {span}")

        def said(pages: int, rows: int) -> None:
            if pages > 1:
                self.asker.progress(f"{self.provider.name} {self.station}: {span}, page {pages}, {rows} values")

        walked = walk(self.provider, self.asker, self.station, stretch, said)
        had = rows_within(self.provider, self.table, stretch)
        if had and not walked.rows:
            raise ServiceError(f"the service answers with nothing for {span}, where it gave {had} values before")
        merged = merge(self.provider, self.table, walked.rows, stretch, walked.retrieved)
        reaches_today = stretch.last >= today
        last = min(stretch.last, walked.retrieved.date()) if reaches_today else stretch.last
        if merged.anything:
            self.table = merged.table
            write_whole(self.copy.file, table_bytes(self.table))
            if len(merged.changes):
                self._keep_changes(merged.changes, walked.retrieved)
        self.merges.append(merged)
        self.came.append(stretch)
        whole = Stretch(first=stretch.first, last=last)
        self.copy = replace(
            self.copy,
            covered=tuple(join([*self.copy.covered, whole])),
            retrieved=walked.retrieved if reaches_today else self.copy.retrieved,
            looked_back=walked.retrieved if self._came_back_far_enough(today) else self.copy.looked_back,
            has_values=self.copy.file.is_file(),
        )
        if self.copy.has_values:
            write_state(self.copy)

    def _came_back_far_enough(self, today: datetime.date) -> bool:
        """Whether all days that may be revised came in this fetch."""
        begin = self.provider.beginning(self.copy.since, today)
        back = Stretch(first=min(today, max(begin, today - self.provider.revision_days * _DAY)), last=today)
        return not missing(back, self.came)

    def _keep_changes(self, changes: pd.DataFrame, noticed: datetime.datetime) -> None:
        """Every value that was revised stands in a file of its own, with what it was."""
        path = self.copy.folder / REVISIONS
        stamp = noticed.astimezone(datetime.UTC).isoformat(timespec="seconds")
        before = "" if self.retrieved_before is None else self.retrieved_before.isoformat(timespec="seconds")
        new = changes.assign(unit=self.provider.unit_of(self.station), noticed=stamp, kept_since=before)
        old = path.read_bytes() if path.exists() else b""
        write_whole(path, old + new.to_csv(index=False, header=not old).encode())
        days = pd.concat([m.changes for m in self.merges] + [changes])["time"].str[:10]
        self.copy = replace(
            self.copy,
            revised=LastRevision(
                noticed=noticed,
                before=self.retrieved_before,
                count=len(days),
                first=days.min(),
                last=days.max(),
            ),
        )

    def _result(self, asked: tuple[Stretch, ...], why: str | None, *, for_all: bool, failed_newest: bool) -> Fetched:
        days = self.table[self.provider.time].str[:10]
        return Fetched(
            outcome=outcome_of(self.table, self.merges, why, failed_newest=failed_newest),
            copy=self.copy,
            asked=asked,
            came=tuple(self.came),
            changes=changes_of(self.merges),
            n_new=sum(m.n_new for m in self.merges),
            n_judged=sum(m.n_judged for m in self.merges),
            n_withdrawn=sum(m.n_withdrawn for m in self.merges),
            n_twice=sum(m.n_twice for m in self.merges),
            n_restored=sum(m.n_restored for m in self.merges),
            n_kept=len(self.table),
            first=days.min() if len(days) else None,
            last=days.max() if len(days) else None,
            requests=self.asker.requests,
            pages_from_cache=self.asker.from_cache,
            why=why,
            for_all=for_all,
        )
