"""What one pass of the watch raised, what stands, and who was told."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from dashboard.answers.answer import Header, Table, quantity
from dashboard.watch.alert import Alert
from dashboard.watch.memory import Sending
from dashboard.watch.one_pass import PassResult, Refresh, dry_pass, files_only, run_pass
from dashboard.wording import alerts as alert_words


@dataclass(frozen=True, eq=False, kw_only=True)
class WatchAnswer:
    """The answer to `watch`. `header.as_of` is the day judged, `zone` the clock that messages are written in."""

    header: Header
    zone: str
    result: PassResult

    @property
    def raised(self) -> bool:
        """Whether the pass raised an alert (a dry one: would have)."""
        return bool(self.result.raised)

    @property
    def undelivered(self) -> bool:
        return any(s.sent_at is None for s in self.result.sendings)

    def sent_to(self, alert: Alert) -> list[str]:
        """The channels through which an alert went out."""
        return [s.channel for s in self.result.sendings if s.alert == alert.id and s.sent_at is not None]

    def waiting(self) -> list[Sending]:
        return [s for s in self.result.sendings if s.sent_at is None]

    def table(self) -> Table:
        rows = [
            {"new": new, "outlet": a.outlet, "kind": a.kind, "since": a.since, "level_m3s": a.level_m3s,
             "discharge_m3s": a.discharge_m3s, "reading_day": a.reading_day, "alert": a.id,
             "sent_to": ", ".join(self.sent_to(a))}
            for a, new in self.all()
        ]  # fmt: skip
        return Table(name="watch", title="What was raised and what stands", frame=pd.DataFrame(rows))

    def all(self) -> list[tuple[Alert, bool]]:
        """Every alert that is new or stands, the new ones first."""
        return [(a, True) for a in self.result.raised] + [(a, False) for a in self.result.standing]

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {
            "dry_run": self.result.dry_run,
            "alerts": [self._alert(a) | {"sent_to": self.sent_to(a), "new": new} for a, new in self.all()],
            "kept_back_by_quiet_time": [self._alert(a) for a in self.result.quiet],
            "would_send": [{"channel": c, "title": t, "text": m} for c, t, m in self.result.would_send],
            "waiting": [
                {"alert": s.alert, "channel": s.channel, "attempts": s.attempts, "why": s.why} for s in self.waiting()
            ],
            "unread": None if self.result.unread is None else str(self.result.unread),
        }

    def _alert(self, a: Alert) -> dict[str, object]:
        unit = self.header.unit
        discharge: dict[str, object] | None = None
        if a.discharge_m3s is not None:
            discharge = quantity(a.discharge_m3s, unit) | {"date": a.reading_day, "provisional": a.provisional}
        return {
            "id": a.id,
            "outlet": a.outlet,
            "kind": a.kind,
            "since": a.since,
            "level": None if a.level_m3s is None else quantity(a.level_m3s, unit),
            "discharge": discharge,
            "probability_running": a.probability_running,
            "probability_stopping": a.probability_stopping,
            "within_days": a.within_days,
            "text": alert_words.what_happened(a, unit, self.zone),
        }


def watch(folder: Path, *, environment: Mapping[str, str], refresh: Refresh = files_only) -> WatchAnswer:
    """One pass for real: fetch, judge, remember, send."""
    return _answer(folder, run_pass(folder, environment=environment, refresh=refresh))


def watch_dry(folder: Path, *, as_of: datetime.date | None = None) -> WatchAnswer:
    """What a pass would raise and send; nothing is fetched, written or sent."""
    return _answer(folder, dry_pass(folder, as_of=as_of))


def _answer(folder: Path, result: PassResult) -> WatchAnswer:
    header = Header(
        workspace=str(folder),
        title=result.settings.title,
        as_of=f"{result.as_of:%Y-%m-%d}",
        unit=result.settings.display_unit,
        warnings=result.warnings,
    )
    return WatchAnswer(header=header, zone=result.settings.time_zone, result=result)
