"""Sentences about alerts of the past: what came after, and whether they keep what was promised."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.watch.tally import FEWEST
from dashboard.wording import alerts as alert_words
from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, days_only, discharge, interval, long_date, short_date

if TYPE_CHECKING:
    from dashboard.answers.alert_history import HistoryAnswer, HistoryRow
    from dashboard.watch.tally import Share, Tally
    from dashboard.workspace_settings import WorkspaceFile

NEVER = (
    "Nothing has been raised here yet. “resurgence watch FOLDER” makes one pass: it judges the rules in workspace.toml, "
    "tells the channels, and remembers."
)
NO_RULES = "No outlet has rules for alerts: write them under [outlets.ID.alerts] in workspace.toml."
THE_ALERTS, THE_TALLY, SEEN_TO = "The alerts", "Kept what was promised?", "I have seen to an alert"
WHICH, WHO, NOTE, WRITE = "Alert", "Your name", "Note", "Write it down"
SEEN_TO_HELP = (
    "Your name and the time go into acknowledged.csv in the workspace, a row for each; nothing is taken back."
)
WRITTEN = "Written into acknowledged.csv."
NAME_NEEDED = "Write your name first."
NO_SUCH = "the id of an alert in the history"
OUTCOME_WORDS = {
    "hit": "stopped, told early enough",
    "late": "stopped too soon after",
    "same-day": "began on the day it stopped, or later",
    "false": "did not stop before it was over or within the days set",
    "open": "the days are not over yet",
    "not-known": "not known: days without a state",
    "stood-already": "stood before the rule was watched, so not counted",
}
PICTURE_TITLE = "What came after each warning"
SINCE_BEGAN = "Days since the condition began"
BEGAN, RAISED, STOPPED = "began", "raised", "first dry day"
OUTCOME_SHORT = {
    "hit": "stopped, told in time",
    "late": "stopped, told too late",
    "same-day": "told as it stopped",
    "false": "did not stop",
    "open": "not over yet",
    "not-known": "not known",
    "stood-already": "stood before, not counted",
}
CHANNEL_WORDS = {"message": "message", "json": "web address", "feed": "feed file"}
WATCHED = "What is watched, and who is told"
PICTURE_KEY = (
    "A row a warning of a stop, newest on top. Diamond: the condition began; short stroke: it was raised; line: the days "
    "after it, up to the first dry day (cross) or to the last day that counts, or on which it was over. Dotted: the least lead asked for. What "
    "stood before the rule was watched is left out."
)


def answer(h: HistoryAnswer) -> str:
    """The first sentence: how many, and how they did."""
    if not h.rows:
        return NEVER
    warned = [r for r in h.rows if r.outcome is not None]
    n = len(h.rows)
    first = f"{count_of(n, 'alert')} {'was' if n == 1 else 'were'} raised since {short_date(pd.Timestamp(h.rows[-1].alert.raised_day))}"
    if not warned:
        return f"{first}; none of them foretold a stop, so there is nothing to have been right or wrong."
    counted = {w: sum(r.outcome is not None and r.outcome.word == w for r in warned) for w in OUTCOME_WORDS}
    parts = [
        f"{counted[w]} {word}"
        for w, word in (
            ("hit", "in time"),
            ("late", "too late"),
            ("same-day", "as it stopped"),
            ("false", "for nothing"),
            ("open", "not over"),
        )
        if counted[w]
    ]
    rest = len(warned) - sum(counted[w] for w in ("hit", "late", "same-day", "false", "open"))
    if rest:
        parts.append(f"{rest} not to be judged")
    return f"{first}, {count_of(len(warned), 'warning')} of a stop among them: {', '.join(parts)}."


def row(r: HistoryRow, unit: str, zone: str) -> tuple[str, str]:
    """One alert: what it told, and what came of it."""
    a = r.alert
    parts = [f"raised {alert_words.instant(a.raised_at, zone)}"]
    if a.discharge_m3s is not None and a.reading_day is not None:
        marked = ", provisional" if a.provisional else ""
        parts.append(f"on {discharge(a.discharge_m3s, unit)} of {short_date(pd.Timestamp(a.reading_day))}{marked}")
    parts.append(after(r))
    told = [s.channel for s in r.sendings if s.sent_at]
    waits = [s.channel for s in r.sendings if not s.sent_at]
    parts.append(f"sent to {', '.join(told)}" if told else "sent to nobody")
    if waits:
        parts.append(f"waiting for {', '.join(waits)}")
    parts.append(f"seen to by {', '.join(k.by for k in r.acknowledged)}" if r.acknowledged else "nobody has seen to it")
    return alert_words.headline(a, unit), " · ".join(parts)


def after(r: HistoryRow) -> str:
    """What came after one alert."""
    o, kind = r.outcome, r.alert.kind
    if o is not None:
        if o.lead_days is None or o.stopped is None:
            return OUTCOME_WORDS[o.word]
        notice = o.notice_days or 0
        had = f"{days_only(notice)} after it was raised" if notice > 0 else "no later than it was raised"
        return (
            f"{OUTCOME_WORDS[o.word]}: dry on {short_date(o.stopped)}, {days_only(o.lead_days)} after it began, {had}"
        )
    if r.after_day is None:
        return {"stopped": "still dry", "running-again": "still running", "visit-due": "still nobody",
                "no-reading": "still silent"}.get(kind, "")  # fmt: skip
    day = short_date(r.after_day)
    return {"stopped": f"running again on {day}", "running-again": f"dry again on {day}",
            "visit-due": f"searched on {day}", "no-reading": f"a value of the combined discharge for {day}"}[kind]  # fmt: skip


def tally(t: Tally) -> list[str]:
    """How the warnings of one rule did, against what was promised."""
    what = "level" if t.kind == "level" else "chance"
    since = long_date(pd.Timestamp(t.since))
    told = t.stops
    n = told.hits + told.late + told.missed
    counted = f"{t.title}, alert {what}, watched since {since}:"
    nothing = n + t.followed + t.false_alerts == 0
    if nothing:
        lines = [f"{counted} no stop to be told of so far, and no alert that is over."]
    else:
        lines = [
            f"{counted} {count_of(n, 'stop')}, of which {told.hits} told at least {days_only(t.needed_days)} and at most "
            f"{days_only(t.judged_days)} ahead, {told.late} later and {told.missed} not at all or too long before; "
            f"{count_of(t.false_alerts, 'false alert')}."
        ]
    apart = [
        (told.too_soon, "stop", "came so soon after the last one that nothing could have told of it in time"),
        (told.not_known, "stop", "cannot be judged: days without a state"),
        (t.open, "alert", "is not over yet" if t.open == 1 else "are not over yet"),
        (t.not_known, "alert", "cannot be judged: days without a state"),
    ]
    if said := [f"{count_of(k, one)} {why}" for k, one, why in apart if k]:
        lines.append(f"Counted apart: {'; '.join(said)}.")
    rates = (
        ("Hit rate (stops told in time)", t.hit_rate, t.promised.hit_rate),
        ("False-alarm ratio (false alerts among all alerts that are over)", t.false_alarm_ratio,
         t.promised.false_alarm_ratio),
    )  # fmt: skip
    if nothing:
        promised = [f"{name.split(' (')[0].lower()} {p:.2f}" for name, _, p in rates if p is not None]
        return lines + ([f"Promised: {', '.join(promised)}."] if promised else [])
    return lines + [_against(name, s, promised) for name, s, promised in rates]


def _against(name: str, s: Share, promised: float | None) -> str:
    if s.value is None:
        said = f"{name}: nothing to count yet"
    else:
        said = f"{name}: {s.value:.2f} ({interval(s.low, s.high, lambda v: f'{v:.2f}')}, {s.hits} of {s.n})"
    if promised is None:
        return f"{said}; nothing was promised."
    if s.value is None or s.low is None or s.high is None:
        return f"{said}; promised {promised:.2f}."
    if s.n < FEWEST:
        return f"{said}; promised {promised:.2f}: fewer than {FEWEST} cases cannot tell whether that is kept."
    if s.low <= promised <= s.high:
        return f"{said}; consistent with the promised {promised:.2f}."
    return f"{said}; {'above' if s.value > promised else 'below'} the promised {promised:.2f} by more than chance explains."


def as_text(h: HistoryAnswer) -> str:
    """The whole history for a terminal."""
    lines = [f"{h.header.title}, as of {h.header.as_of}", "", answer(h)]
    for r in h.rows:
        head, rest = row(r, h.header.unit, h.zone)
        lines += ["", f"{r.alert.id}  {head}", f"  {rest}"]
    for t in h.tallies:
        lines += ["", *tally(t)]
    lines += ["", cautions.PROVISIONAL, cautions.NOT_A_WARNING]
    return "\n".join(lines)


def picture(n: int) -> str:
    return f"What came after {count_of(n, 'warning')}: days from the beginning of each to the stop, or to the end of the days that count."


def acknowledged_line(alert: str, by: str) -> str:
    return f"{alert}: seen to by {by}, written into acknowledged.csv"


def needed_label(days: int) -> str:
    """At the dotted line of the picture."""
    return f"{days_only(days)} asked for"


def picture_label(r: HistoryRow) -> str:
    """Outlet and day at the left of a row of the picture; long names are cut."""
    title = r.alert.title if len(r.alert.title) <= 14 else f"{r.alert.title[:13]}…"
    return f"{title}<br>{short_date(pd.Timestamp(r.alert.since))}"


def choice(r: HistoryRow, unit: str, zone: str) -> str:
    """One alert in a list to choose from."""
    return f"{alert_words.headline(r.alert, unit)} ({short_date(pd.Timestamp(r.alert.raised_day))})"


def watched(settings: WorkspaceFile, unit: str) -> list[str]:
    """The rules and channels in use. Addresses are not here to be said: only the names they are kept under are."""
    if not settings.alerts:
        return [NO_RULES]
    lines = []
    for id, rules in settings.alerts.items():
        asked = []
        if rules.level is not None:
            asked.append(f"discharge at or below {discharge(rules.level.m3s, unit)}")
        if rules.chance is not None:
            asked.append(
                f"a chance of {round(100 * rules.chance)} in 100 that it stops within {rules.chance_days} days"
            )
        asked += ["that it stopped"] if rules.stopped else []
        asked += ["that it runs again"] if rules.running_again else []
        if rules.no_reading_hours is not None:
            asked.append(f"no reading for {count_of(rules.no_reading_hours, 'hour')}")
        asked += ["a change of past days"] if rules.revised else []
        if rules.visit_due_days is not None:
            asked.append(f"no search within {days_only(rules.visit_due_days)} of a restart")
        lines.append(f"{settings.outlets[id].title}: {'; '.join(asked) or 'nothing'}.")
    channels = [f"{c.id} ({CHANNEL_WORDS[c.how]})" for c in settings.watch.channels.values()]
    lines.append(f"Told through: {', '.join(channels)}." if channels else "Told to nobody: no channel is set.")
    return lines
