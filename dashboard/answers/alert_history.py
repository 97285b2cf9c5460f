"""What was raised, on which reading, what came after, who has seen to it, and whether rules keep what was promised."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, header
from dashboard.watch.acknowledged import Acknowledgement, read_acknowledged
from dashboard.watch.alert import Alert
from dashboard.watch.came_after import Outcome, Tally, missed, outcome_of
from dashboard.watch.memory import Remembered, Sending, read_memory
from dashboard.watch.rules import CHANCE, LEVEL, RUNNING_AGAIN, STOPPED, VISIT_DUE, WARNINGS
from dashboard.workspace import Workspace

#: A warning given again within so many days is the same one [days].
EPISODE_DAYS = 14


@dataclass(frozen=True, eq=False, kw_only=True)
class HistoryRow:
    """One alert. `outcome` of a warning; of the others `after_day`, the day on which what it told was over."""

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
                "outlet": t.outlet, "kind": t.kind, "since": t.since, "hits": t.hits, "late": t.late,
                "missed": t.missed, "false_alerts": t.false_alerts, "open": t.open, "not_known": t.not_known,
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
        outcome, after = None, None
        if alert.kind in WARNINGS:
            outcome = _outcome(workspace, alert, kept)
        else:
            after = _over(workspace, alert)
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


def _outcome(workspace: Workspace, alert: Alert, kept: Remembered) -> Outcome | None:
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


def episodes(rows: Sequence[HistoryRow]) -> list[HistoryRow]:
    """The first alert of each episode, oldest first: one that follows within EPISODE_DAYS, or that the same stop
    followed, is the same warning given again."""
    found: list[HistoryRow] = []
    last: HistoryRow | None = None
    for r in sorted(rows, key=lambda r: r.alert.since):
        again = False
        if last is not None:
            near = pd.Timestamp(r.alert.since) - pd.Timestamp(last.alert.since) <= pd.Timedelta(days=EPISODE_DAYS)
            stops = [x.outcome.stopped for x in (last, r) if x.outcome is not None and x.outcome.stopped is not None]
            again = near or (len(stops) == 2 and stops[0] == stops[1])
        if not again:
            found.append(r)
        last = r
    return found


def _tallies(workspace: Workspace, rows: list[HistoryRow], kept: Remembered) -> list[Tally]:
    found = []
    for id, rules in workspace.settings.alerts.items():
        dry = workspace.dry_spells.get(id)
        for kind in WARNINGS:
            since = kept.rules.get((id, kind, rules.digest(kind)))
            if dry is None or since is None or not rules.asks(kind) or pd.Timestamp(since) > workspace.as_of:
                continue
            own = [r for r in rows if r.alert.outlet == id and r.alert.rule == rules.digest(kind)]
            words = Counter(r.outcome.word for r in episodes(own) if r.outcome is not None)
            judged = rules.chance_days if kind == CHANCE else rules.judged_days
            # One that stood before the rule was watched counts neither as right nor as wrong, but it did warn.
            warned = [pd.Timestamp(r.alert.since) for r in own]
            found.append(
                Tally(
                    outlet=id,
                    kind=kind,
                    since=since,
                    promised=rules.promised,
                    judged_days=judged,
                    needed_days=_needed(rules.promised.lead_days),
                    hits=words["hit"],
                    late=words["late"],
                    missed=missed(dry, warned, pd.Timestamp(since), judged),
                    false_alerts=words["false"],
                    open=words["open"],
                    not_known=words["not-known"],
                )
            )
    return found
