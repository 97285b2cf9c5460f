"""One alert: what is told of an outlet, with everything that its message needs."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass


@dataclass(frozen=True, kw_only=True)
class Alert:
    """What happened to one outlet, as it was known when it was raised. Days and instants (UTC) are ISO texts.

    id            the same event has the same one, whenever and wherever it is worked out
    since         the day the condition began (the instant of the last reading for a silent gauge)
    level_m3s     the level that the rule or the outlet holds discharge against [m³/s]
    discharge_m3s, reading_day, provisional, error_percent   the reading it rests on
    rule          digest of the rule that asked for it
    """

    id: str
    kind: str
    outlet: str
    title: str
    since: str
    raised_at: str
    raised_day: str
    rule: str
    level_m3s: float | None = None
    discharge_m3s: float | None = None
    reading_day: str | None = None
    provisional: bool = False
    error_percent: float | None = None
    probability_running: float | None = None
    probability_stopping: float | None = None
    within_days: int | None = None
    weak_because: str | None = None
    days: int | None = None
    hours: int | None = None
    gauge: str | None = None
    first_changed: str | None = None
    last_changed: str | None = None
    now_dry: int | None = None
    now_running: int | None = None
    now_unknown: int | None = None

    def as_json(self) -> str:
        return json.dumps(asdict(self))


def alert_from_json(text: str) -> Alert:
    """An alert as it was kept."""
    return Alert(**json.loads(text))


def alert_id(outlet: str, kind: str, since: str, extra: str = "") -> str:
    """The name of an event: 16 hexadecimal digits."""
    return hashlib.sha256(json.dumps([outlet, kind, since, extra]).encode()).hexdigest()[:16]
