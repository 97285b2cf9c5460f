"""An alert made of what is known of an outlet and of the rule that asked for it."""

from __future__ import annotations

import datetime

from dashboard.watch.alert import Alert, alert_id
from dashboard.watch.facts import OutletFacts
from dashboard.watch.rules import CHANCE, LEVEL, AlertRules


def new_alert(
    facts: OutletFacts,
    rules: AlertRules,
    kind: str,
    since: str,
    now: datetime.datetime,
    *,
    extra: str = "",
    level_m3s: float | None = None,
) -> Alert:
    """The alert of one kind for a condition that began on `since`, as known at `now` (aware).

    `extra` is what tells this event from another of the same kind and beginning. What only some kinds tell of (days,
    hours, gauge, changed states) is left for the caller to fill in.
    """
    digest = rules.digest(kind)
    # A rule that was changed asks a new question: its answer is another event.
    extra = f"{extra}{digest}" if kind in (LEVEL, CHANCE) else extra
    chance = facts.probability_stopping
    return Alert(
        id=alert_id(facts.outlet, kind, since, extra),
        kind=kind,
        outlet=facts.outlet,
        title=facts.title,
        since=since,
        raised_at=now.astimezone(datetime.UTC).isoformat(timespec="seconds"),
        raised_day=facts.as_of,
        rule=digest,
        level_m3s=level_m3s,
        discharge_m3s=facts.reading_m3s,
        reading_day=facts.reading_day,
        provisional=facts.provisional,
        error_percent=facts.error_percent,
        probability_running=facts.probability_running,
        probability_stopping=chance,
        weak_because=None if chance is None else facts.weak_because,
        within_days=None if chance is None else rules.chance_days,
    )
