"""Sending what waits: one attempt at a time, each between two notes in the memory.

A channel that fails is left alone until the next pass, so that it costs the others at most one time limit; and
channels that failed last time come last.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence

from dashboard.watch.alert import Alert
from dashboard.watch.memory import MemoryFile, Sending
from dashboard.watch.payload import payload
from dashboard.watch.send import Message, NotSentError, Sender
from dashboard.wording import alerts as words
from dashboard.wording.numbers import THIN
from dashboard.workspace_settings import WorkspaceFile


def deliver(memory: MemoryFile, sender: Sender, settings: WorkspaceFile, now: datetime.datetime) -> None:
    """Try everything that waits for a channel of today's settings, oldest alert first."""
    before = memory.read()
    alerts = {a.id: a for a in before.alerts}
    waiting: dict[str, list[Sending]] = {c: [] for c in settings.watch.channels}
    for s in before.sendings:
        if s.sent_at is None and s.channel in waiting:
            waiting[s.channel].append(s)
    for id in sorted(waiting, key=lambda c: any(s.why for s in waiting[c])):
        for s in waiting[id]:
            message = message_of(alerts[s.alert], settings, now, repeated=s.cut_off > 0)
            memory.intend(s.alert, id, _clock())
            try:
                sender.send(settings.watch.channels[id], message)
            except NotSentError as error:
                memory.failed(s.alert, id, str(error), unknown=error.unknown)
                break
            memory.sent(s.alert, id, _clock())


def message_of(alert: Alert, settings: WorkspaceFile, now: datetime.datetime, *, repeated: bool) -> Message:
    """The message of one alert as it goes out now."""
    unit, zone = settings.display_unit, settings.time_zone
    text = words.message(alert, unit, zone)
    extra = [line for line in (words.late(alert, now, zone), words.REPEATED if repeated else None) if line]
    # Narrow blanks are for screens; some gateways garble them.
    text = "\n\n".join([*extra, text]).replace(THIN, " ")
    title = f"{settings.title}: {words.headline(alert, unit)}".replace(THIN, " ")
    return Message(
        id=alert.id, title=title, text=text, at=alert.raised_at, data=payload(alert, settings, title=title, text=text)
    )


def messages_of(alerts: Sequence[Alert], settings: WorkspaceFile) -> list[Message]:
    """Every alert as a message, newest first: what a feed holds."""
    at_once = [message_of(a, settings, datetime.datetime.fromisoformat(a.raised_at), repeated=False) for a in alerts]
    return at_once[::-1]


def _clock() -> str:
    return datetime.datetime.now(datetime.UTC).isoformat(timespec="milliseconds")
