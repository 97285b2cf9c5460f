"""What is to be told now: facts, rules and what was told before in, alerts and what to remember out. Nothing is read,
sent or kept here.

A condition is told once when it begins. It can be told again after it was over (for levels and chances: clearly over),
and no sooner than the quiet time. What begins in the quiet time and still stands after it is told then; so what was
told last is never left wrong for longer. Stopping and running again are one condition with two sides.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace

from dashboard.watch.alert import Alert
from dashboard.watch.facts import OutletFacts
from dashboard.watch.new_alert import new_alert
from dashboard.watch.rules import (
    CHANCE,
    CHANCE_CLEARS,
    LEVEL,
    NO_READING,
    REVISED,
    RUNNING_AGAIN,
    STOPPED,
    VISIT_DUE,
    AlertRules,
)
from hydro.outlet import Outlet

#: Names under which things are remembered that are not kinds: the state last told, the newest reading seen.
STATE, RECORD = "state", "record"


@dataclass(frozen=True, kw_only=True)
class Told:
    """What is remembered of one condition.

    what       what stands as told: the id of an alert, for the state "running" or "dry"; "" = nothing
    raised_at  when something was last raised (UTC, ISO)
    event      the alert last raised
    rule       digest of the rule by which it was judged: another rule starts anew
    """

    what: str = ""
    raised_at: str | None = None
    event: str = ""
    rule: str = ""


Memory = Mapping[str, Told]


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What a pass comes to for one outlet.

    raised    to be told now
    standing  told before and still so
    quiet     would be told, but the quiet time is not over
    memory    everything to be remembered of the outlet
    held      True where the record ends earlier than seen before: nothing but silence is judged then
    """

    raised: tuple[Alert, ...]
    standing: tuple[Alert, ...]
    quiet: tuple[Alert, ...]
    memory: Memory
    held: bool


def judge(
    outlet: Outlet,
    rules: AlertRules,
    facts: OutletFacts,
    memory: Memory,
    *,
    now: datetime.datetime,
    known: Collection[str] = (),
    blind: bool = False,
) -> Verdict:
    """Judge one outlet at the instant `now` (aware).

    known   ids that were raised before: the same event is never raised twice
    blind   the files could not be read and `facts` are those of an earlier pass: only silence is judged
    """
    one = _Pass(outlet, rules, facts, memory, now, known)
    newest = memory.get(RECORD, Told()).what
    held = not blind and (facts.reading_day or "") < newest
    if not (held or blind):
        one.memory[RECORD] = Told(what=facts.reading_day or "")
        one.level()
        one.chance()
        one.state()
        one.revised()
        one.visit_due()
    one.no_reading()
    return Verdict(
        raised=tuple(one.raised),
        standing=tuple(one.standing),
        quiet=tuple(one.quiet),
        memory=one.memory,
        held=held,
    )


class _Pass:
    """One outlet in one pass."""

    def __init__(
        self,
        outlet: Outlet,
        rules: AlertRules,
        facts: OutletFacts,
        memory: Memory,
        now: datetime.datetime,
        known: Collection[str],
    ) -> None:
        self.outlet, self.rules, self.facts, self.now, self.known = outlet, rules, facts, now, known
        self.memory = dict(memory)
        self.raised: list[Alert] = []
        self.standing: list[Alert] = []
        self.quiet: list[Alert] = []

    def level(self) -> None:
        if self.rules.level is None or self.facts.low is None:
            return
        since = self.facts.low_since or ""
        self._condition(LEVEL, self.facts.low, self._alert(LEVEL, since, level_m3s=self.rules.level.m3s))

    def chance(self) -> None:
        p = self.facts.probability_stopping
        if self.rules.chance is None or p is None:
            return
        stands = bool(self._told(CHANCE).what)
        on = p > CHANCE_CLEARS * self.rules.chance if stands else p >= self.rules.chance
        alert = self._alert(CHANCE, self.facts.reading_day or "", level_m3s=self.outlet.stop_m3s)
        self._condition(CHANCE, on, alert)

    def state(self) -> None:
        """The two sides of one condition; where only one is asked for, the other is taken note of in silence."""
        now_is, told = self.facts.state, self.memory.get(STATE, Told())
        if now_is not in ("running", "dry") or not (self.rules.stopped or self.rules.running_again):
            return
        kind = STOPPED if now_is == "dry" else RUNNING_AGAIN
        level = self.outlet.stop_m3s if now_is == "dry" else self.outlet.restart_m3s
        # What was told before is part of the event: a state that comes back after the other one was told is news.
        alert = self._alert(kind, self.facts.state_since or "", extra=told.event, level_m3s=level)
        if now_is == told.what:
            if now_is == "dry" and self.rules.stopped:
                self.standing.append(replace(alert, id=told.event or alert.id))
            return
        first_running = now_is == "running" and told.what == ""
        if first_running or not self.rules.asks(kind):
            self.memory[STATE] = replace(told, what=now_is)
        elif self._in_quiet(told):
            self.quiet.append(alert)
        else:
            self._raise(alert)
            self.memory[STATE] = Told(what=now_is, raised_at=alert.raised_at, event=alert.id)

    def revised(self) -> None:
        """A change of the past is an event, not a condition: it has no quiet time and is never told twice."""
        r = self.facts.revision
        if not self.rules.revised or r is None:
            return
        alert = self._alert(REVISED, r.first, extra=r.digest, level_m3s=self.outlet.stop_m3s)
        self._raise(
            replace(
                alert, days=r.days, first_changed=r.first, last_changed=r.last, now_dry=r.now_dry,
                now_running=r.now_running, now_unknown=r.now_unknown,
            )
        )  # fmt: skip

    def visit_due(self) -> None:
        if self.rules.visit_due_days is None or self.facts.state == "unknown":
            return
        restart, on, days = self.facts.restart, False, None
        if restart is not None and self.facts.state == "running":
            days = (datetime.date.fromisoformat(self.facts.as_of) - datetime.date.fromisoformat(restart)).days
            on = self.facts.searched is False and days >= self.rules.visit_due_days
        self._condition(VISIT_DUE, on, replace(self._alert(VISIT_DUE, restart or ""), days=days))

    def no_reading(self) -> None:
        if self.rules.no_reading_hours is None or self.facts.silent_since is None:
            return
        age = self.now - datetime.datetime.fromisoformat(self.facts.silent_since)
        # A day that stands for today ends a second before the next one begins.
        hours = int((age.total_seconds() + 1) // 3600)
        on = hours >= self.rules.no_reading_hours
        alert = self._alert(NO_READING, self.facts.silent_since)
        self._condition(NO_READING, on, replace(alert, hours=hours, gauge=self.facts.silent_gauge))

    def _told(self, kind: str) -> Told:
        rule = self.rules.digest(kind)
        told = self.memory.get(kind, Told(rule=rule))
        return told if told.rule == rule else Told(rule=rule)

    def _condition(self, kind: str, on: bool, alert: Alert) -> None:
        told = self._told(kind)
        if not on:
            self.memory[kind] = replace(told, what="")
        elif told.what:
            self.standing.append(replace(alert, id=told.what))
        elif alert.id in self.known:
            # Told before and never over since, although the memory of it is gone.
            self.memory[kind] = replace(told, what=alert.id)
            self.standing.append(alert)
        elif self._in_quiet(told):
            self.quiet.append(alert)
        else:
            self._raise(alert)
            self.memory[kind] = replace(told, what=alert.id, raised_at=alert.raised_at, event=alert.id)

    def _raise(self, alert: Alert) -> None:
        if alert.id in self.known:
            self.standing.append(alert)
        else:
            self.raised.append(alert)

    def _in_quiet(self, told: Told) -> bool:
        """A clock that went back ends the quiet time: better told twice than kept quiet for years."""
        if told.raised_at is None:
            return False
        passed = self.now - datetime.datetime.fromisoformat(told.raised_at)
        return datetime.timedelta(0) <= passed < datetime.timedelta(hours=self.rules.quiet_hours)

    def _alert(self, kind: str, since: str, *, extra: str = "", level_m3s: float | None = None) -> Alert:
        return new_alert(self.facts, self.rules, kind, since, self.now, extra=extra, level_m3s=level_m3s)
