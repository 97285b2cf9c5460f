"""One pass: bring gauges up to date, see what is known, judge, remember, send.

The order makes it safe to kill at any moment: nothing is sent that is not remembered, and what is remembered is sent
by this pass or by the next one.
"""

from __future__ import annotations

import datetime
import zoneinfo
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import pandas as pd

from dashboard.watch.alert import Alert
from dashboard.watch.deliver import deliver, message_of, messages_of
from dashboard.watch.facts import OutletFacts
from dashboard.watch.judge import Memory, judge
from dashboard.watch.latest_facts import latest_facts
from dashboard.watch.memory import Found, MemoryFile, Remembered, Sending, only_pass, read_memory
from dashboard.watch.send import Sender
from dashboard.wording import watch as words
from dashboard.workspace_file import read_workspace_file
from dashboard.workspace_settings import WorkspaceFile
from hydro.problems import InputError, SourceError

#: Brings the gauges that name a service up to date; what could not be refreshed comes back as sentences.
Refresh = Callable[[Path, WorkspaceFile], Sequence[str]]


def files_only(folder: Path, settings: WorkspaceFile) -> Sequence[str]:
    """The refreshing of a workspace whose gauges are files: there is nothing to fetch.

    The command `watch` puts `dashboard.answers.fetch.refresh_gauges` in its place.
    """
    return [words.not_fetched(g.title, g.service) for g in settings.gauges.values() if g.service is not None]


@dataclass(frozen=True, eq=False, kw_only=True)
class PassResult:
    """What one pass came to.

    raised, standing, quiet   alerts that are new, told before and still so, and kept back by the quiet time
    sendings   what became of each alert in each channel
    unread     why the files could not be read, where they could not: only silence was judged then
    """

    settings: WorkspaceFile
    as_of: pd.Timestamp
    now: datetime.datetime
    raised: tuple[Alert, ...]
    standing: tuple[Alert, ...]
    quiet: tuple[Alert, ...]
    sendings: tuple[Sending, ...]
    warnings: tuple[str, ...]
    would_send: tuple[tuple[str, str, str], ...] = ()
    unread: InputError | SourceError | None = None
    dry_run: bool = False


def run_pass(
    folder: Path,
    *,
    environment: Mapping[str, str],
    refresh: Refresh = files_only,
    now: datetime.datetime | None = None,
) -> PassResult:
    """One pass for real. Raises Busy where another is running, InputError where workspace.toml is wrong."""
    settings = read_workspace_file(folder)
    with only_pass(folder):
        now = now or datetime.datetime.now(datetime.UTC)
        warnings = list(refresh(folder, settings))
        memory = MemoryFile(folder)
        if cut := memory.cut_off():
            warnings.append(words.cut_off(cut))
        before = memory.read()
        result, found = _judge(folder, settings, before, now)
        memory.keep(found)
        deliver(memory, sender_of(folder, settings, environment, memory.read), settings, result.now)
        after = memory.read()
        return replace(
            result,
            sendings=tuple(after.sendings),
            warnings=(*warnings, *result.warnings, *_undelivered(after, settings)),
        )


def dry_pass(folder: Path, *, as_of: datetime.date | None = None, now: datetime.datetime | None = None) -> PassResult:
    """What a pass would raise and send. Nothing is fetched, written or sent; no address is looked up.

    With `as_of` the pass is that of another day, and nothing that was told since then is held against it.
    """
    settings = read_workspace_file(folder)
    now = now or datetime.datetime.now(datetime.UTC)
    before = read_memory(folder) if as_of is None else Remembered()
    result, _ = _judge(folder, settings, before, now, as_of)
    would = tuple(
        (c.id, m.title, m.text)
        for a in result.raised
        for m in [message_of(a, settings, result.now, repeated=False)]
        for c in settings.watch.channels.values()
    )
    return replace(result, sendings=tuple(before.sendings), would_send=would, dry_run=True)


def sender_of(
    folder: Path, settings: WorkspaceFile, environment: Mapping[str, str], read: Callable[[], Remembered]
) -> Sender:
    """What sends for a workspace; a feed holds every alert in the memory that `read` gives."""
    return Sender(
        folder=folder,
        title=settings.title,
        settings=settings.watch,
        environment=environment,
        feed=lambda: messages_of(read().alerts, settings),
    )


def _judge(
    folder: Path,
    settings: WorkspaceFile,
    before: Remembered,
    now: datetime.datetime,
    as_of: datetime.date | None = None,
) -> tuple[PassResult, Found]:
    """Facts and verdicts of every outlet with rules; nothing is written."""
    day = pd.Timestamp(as_of or settings.as_of or now.astimezone(zoneinfo.ZoneInfo(settings.time_zone)).date())
    if as_of is not None or settings.as_of is not None:
        now = _end_of(day, settings.time_zone)
    known_now = latest_facts(folder, settings, before, day)
    facts = known_now.facts
    raised: list[Alert] = []
    standing: list[Alert] = []
    quiet: list[Alert] = []
    told: dict[str, Memory] = {}
    rules_since: dict[tuple[str, str, str], str] = {}
    warnings: list[str] = []
    known = {a.id for a in before.alerts}
    for id, rules in settings.alerts.items():
        outlet = settings.outlets[id]
        warnings += _doubts(settings, id, facts[id][1] if id in facts else None)
        if id not in facts:
            continue
        for kind in rules.kinds:
            rules_since[id, kind, rules.digest(kind)] = f"{day:%Y-%m-%d}"
        verdict = judge(
            outlet, rules, facts[id][1], before.told.get(id, {}), now=now, known=known, blind=id in known_now.blind
        )
        raised += verdict.raised
        standing += verdict.standing
        quiet += verdict.quiet
        told[id] = verdict.memory
        if verdict.held:
            warnings.append(words.record_shorter(outlet.title, facts[id][1].reading_day))
    if not settings.alerts:
        warnings.append(words.NO_RULES)
    elif not settings.watch.channels:
        warnings.append(words.NO_CHANNELS)
    found = Found(
        facts={k: (i, replace(f, revision=None)) for k, (i, f) in facts.items() if k not in known_now.blind},
        past=known_now.past,
        told=told,
        rules=rules_since,
        raised=raised,
        channels=list(settings.watch.channels),
    )
    result = PassResult(
        settings=settings,
        as_of=day,
        now=now,
        raised=tuple(raised),
        standing=tuple(standing),
        quiet=tuple(quiet),
        sendings=(),
        warnings=tuple(warnings),
        unread=known_now.unread,
    )
    return result, found


def _doubts(settings: WorkspaceFile, id: str, facts: OutletFacts | None) -> list[str]:
    """Rules of an outlet that cannot do what they are for, each in a sentence."""
    outlet, rules, found = settings.outlets[id], settings.alerts[id], []
    if rules.level is not None and outlet.stop_m3s is not None and rules.level.m3s < outlet.stop_m3s:
        found.append(words.level_too_low(outlet.title, str(rules.level), str(outlet.stops_below)))
    if rules.visit_due_days is not None and settings.surveys.visits is None:
        found.append(words.no_visits(outlet.title))
    if facts is None:
        return found
    if facts.reading_day is None:
        found.append(words.never_known(outlet.title))
    elif rules.chance is not None and facts.probability_stopping is None and facts.state != "dry":
        found.append(words.no_chance(outlet.title, rules.chance_days, facts.why_no_chance))
    return found


def _end_of(day: pd.Timestamp, zone: str) -> datetime.datetime:
    """The last second of a day that stands for today."""
    following = (day + pd.Timedelta(days=1)).date()
    end = datetime.datetime(following.year, following.month, following.day, tzinfo=zoneinfo.ZoneInfo(zone))
    return end.astimezone(datetime.UTC) - datetime.timedelta(seconds=1)


def _undelivered(after: Remembered, settings: WorkspaceFile) -> list[str]:
    """A sentence for each channel in which something still waits."""
    waiting: dict[str, list[Sending]] = {}
    for s in after.sendings:
        if s.sent_at is None:
            waiting.setdefault(s.channel, []).append(s)
    return [words.still_waiting(c, len(rows), rows[0].why, c in settings.watch.channels) for c, rows in waiting.items()]
