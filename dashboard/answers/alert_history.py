"""What was raised, on which reading, what came after, who has seen to it, and whether rules keep what was promised."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, header
from dashboard.watch.acknowledged import Acknowledgement, read_acknowledged
from dashboard.watch.alert import Alert
from dashboard.watch.came_after import EPISODE_DAYS, FOLLOWED, Episode, Outcome, Tally, outcome_of, stops_told
from dashboard.watch.memory import Remembered, Sending, read_memory
from dashboard.watch.rules import CHANCE, LEVEL, RUNNING_AGAIN, STOPPED, VISIT_DUE, WARNINGS
from dashboard.workspace import Workspace


@dataclass(frozen=True, eq=False, kw_only=True)
class HistoryRow:
    """One alert; what came of a warning; `after_day`, on which what it told was over (None: not yet, or not known)."""

    alert: Alert
    outcome: Outcome | None
    after_day: pd.Timestamp | None
    sendings: tuple[Sending, ...]
    acknowledged: tuple[Acknowledgement, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class HistoryAnswer:
    """The answer to `watch --history`: alerts, newest first, and a tally for each warning rule of today's settings."""

    header: Header
    zone: str
    rows: tuple[HistoryRow, ...]
    tallies: tuple[Tally, ...]

    def tables(self) -> list[Table]:
        rows = [
            {
                "alert": r.alert.id,
                "outlet": r.alert.outlet,
                "kind": r.alert.kind,
                "since": r.alert.since[:10],
                "raised_at": r.alert.raised_at,
                "level_m3s": r.alert.level_m3s,
                "discharge_m3s": r.alert.discharge_m3s,
                "reading_day": r.alert.reading_day,
                "provisional": r.alert.provisional,
                "probability_stopping": r.alert.probability_stopping,
                "outcome": None if r.outcome is None else r.outcome.word,
                "stopped": None if r.outcome is None else r.outcome.stopped,
                "lead_days": None if r.outcome is None else r.outcome.lead_days,
                "notice_days": None if r.outcome is None else r.outcome.notice_days,
                "over_on": r.after_day,
                "sent_to": ", ".join(s.channel for s in r.sendings if s.sent_at),
                "waiting_for": ", ".join(s.channel for s in r.sendings if not s.sent_at),
                "acknowledged_by": ", ".join(a.by for a in r.acknowledged),
            }
            for r in self.rows
        ]
        tallies = [
            {
                "outlet": t.outlet, "kind": t.kind, "since": t.since, "hits": t.stops.hits, "late": t.stops.late,
                "missed": t.stops.missed, "too_soon": t.stops.too_soon, "stops_not_known": t.stops.not_known,
                "followed": t.followed, "false_alerts": t.false_alerts, "open": t.open, "not_known": t.not_known,
                "hit_rate": t.hit_rate.value, "hit_rate_low": t.hit_rate.low, "hit_rate_high": t.hit_rate.high,
                "promised_hit_rate": t.promised.hit_rate, "false_alarm_ratio": t.false_alarm_ratio.value,
                "false_alarm_ratio_low": t.false_alarm_ratio.low, "false_alarm_ratio_high": t.false_alarm_ratio.high,
                "promised_false_alarm_ratio": t.promised.false_alarm_ratio,
            }
            for t in self.tallies
        ]  # fmt: skip
        found = []
        if rows:
            found.append(Table(name="alerts", title="Every alert", frame=pd.DataFrame(rows)))
        if tallies:
            found.append(Table(name="alert-tally", title="How the warnings did", frame=pd.DataFrame(tallies)))
        return found

    def as_json(self) -> dict[str, object]:
        from dashboard.answers.alert_history_json import row_json, tally_json

        return self.header.as_json() | {
            "history": [row_json(r, self.header.unit) for r in self.rows],
            "tally": [tally_json(t) for t in self.tallies],
        }


def alert_history(workspace: Workspace) -> HistoryAnswer:
    """The history kept in the workspace, with what the record says came after each alert."""
    kept = read_memory(workspace.folder)
    seen = read_acknowledged(workspace.folder)
    rows = []
    for alert in reversed(kept.alerts):
        if pd.Timestamp(alert.raised_day) > workspace.as_of:
            continue
        after = _over(workspace, alert)
        outcome = _outcome(workspace, alert, after, kept) if alert.kind in WARNINGS else None
        rows.append(
            HistoryRow(
                alert=alert,
                outcome=outcome,
                after_day=after,
                sendings=tuple(s for s in kept.sendings if s.alert == alert.id),
                acknowledged=tuple(k for k in seen if k.alert == alert.id),
            )
        )
    return HistoryAnswer(
        header=header(workspace),
        zone=workspace.settings.time_zone,
        rows=tuple(rows),
        tallies=tuple(_tallies(workspace, rows, kept)),
    )


def _outcome(workspace: Workspace, alert: Alert, over: pd.Timestamp | None, kept: Remembered) -> Outcome | None:
    """What came after a warning; None for an outlet without a stop level or without rules today."""
    rules = workspace.settings.alerts.get(alert.outlet)
    dry = workspace.dry_spells.get(alert.outlet)
    if rules is None or dry is None:
        return None
    watched = kept.rules.get((alert.outlet, alert.kind, alert.rule))
    if watched is not None and alert.since < watched and alert.kind == LEVEL:
        return Outcome(word="stood-already")
    return outcome_of(
        dry,
        pd.Timestamp(alert.since),
        pd.Timestamp(alert.raised_day),
        over,
        needed_days=_needed(rules.promised.lead_days),
        judged_days=rules.chance_days if alert.kind == CHANCE else rules.judged_days,
    )


def _needed(lead_days: int | None) -> int:
    """Where no lead was asked for, a day is enough."""
    return 1 if lead_days is None else lead_days


def _over(workspace: Workspace, alert: Alert) -> pd.Timestamp | None:
    """The day on which what an alert told was over; None where it is not, or where that has no meaning."""
    dry = workspace.dry_spells.get(alert.outlet)
    since = pd.Timestamp(alert.since[:10])
    rules = workspace.settings.alerts.get(alert.outlet)
    if alert.kind == LEVEL and rules is not None and rules.clears_m3s is not None:
        values = workspace.flow_of(alert.outlet).values.loc[since:]
        clear = values.index[values.to_numpy() >= rules.clears_m3s]
        return clear[0] if len(clear) else None
    if alert.kind == CHANCE and rules is not None:
        # When it fell again was not kept: it speaks for the days that it was about.
        return since + pd.Timedelta(days=rules.chance_days + 1)
    if alert.kind in (STOPPED, RUNNING_AGAIN) and dry is not None:
        other = "running" if alert.kind == STOPPED else "dry"
        later = dry.states.loc[since:]
        later = later[later == other]
        return None if later.empty else later.index[0]
    if alert.kind == VISIT_DUE and workspace.visits is not None:
        rows = workspace.visits.at(alert.outlet)
        rows = rows[(rows["date"] >= since) & rows["kind"].isin(["counted", "searched-uncounted"])]
        return None if rows.empty else rows["date"].iloc[0]
    if alert.kind == "no-reading":
        days = workspace.flow_of(alert.outlet).values.dropna().index
        later_days = days[days > since]
        return None if later_days.empty else later_days[0]
    return None


def _episodes(rows: Sequence[HistoryRow]) -> list[list[HistoryRow]]:
    """Warnings of one rule, oldest first, those that are one and the same together."""
    found: list[list[HistoryRow]] = []
    for r in sorted(rows, key=lambda r: r.alert.since):
        last = found[-1][-1] if found else None
        ended = None if last is None else last.after_day or pd.Timestamp(last.alert.since)
        if ended is not None and pd.Timestamp(r.alert.since) - ended <= pd.Timedelta(days=EPISODE_DAYS):
            found[-1].append(r)
        else:
            found.append([r])
    return found


def _tallies(workspace: Workspace, rows: list[HistoryRow], kept: Remembered) -> list[Tally]:
    found = []
    for id, rules in workspace.settings.alerts.items():
        dry = workspace.dry_spells.get(id)
        for kind in WARNINGS:
            since = kept.rules.get((id, kind, rules.digest(kind)))
            if dry is None or since is None or not rules.asks(kind) or pd.Timestamp(since) > workspace.as_of:
                continue
            own = _episodes([r for r in rows if r.alert.outlet == id and r.alert.rule == rules.digest(kind)])
            # What became of the last warning of an episode is what became of the episode.
            words = Counter(e[-1].outcome.word for e in own if e[-1].outcome is not None)
            judged = rules.chance_days if kind == CHANCE else rules.judged_days
            needed = _needed(rules.promised.lead_days)
            episodes = [Episode(since=pd.Timestamp(e[0].alert.since), over=e[-1].after_day) for e in own]
            stops = stops_told(dry, episodes, pd.Timestamp(since), needed_days=needed, judged_days=judged)
            found.append(
                Tally(
                    outlet=id,
                    kind=kind,
                    since=since,
                    promised=rules.promised,
                    judged_days=judged,
                    needed_days=needed,
                    stops=stops,
                    followed=sum(words[w] for w in FOLLOWED),
                    false_alerts=words["false"],
                    open=words["open"],
                    not_known=words["not-known"],
                )
            )
    return found
