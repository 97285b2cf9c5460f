"""What was raised, on which reading, what came after, who has seen to it, and whether rules keep what was promised."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import pandas as pd

from dashboard.answers.answer import Header, Table, header
from dashboard.watch.acknowledged import Acknowledgement, read_acknowledged
from dashboard.watch.alert import Alert
from dashboard.watch.came_after import Outcome, Warned, outcome_of, row_of
from dashboard.watch.memory import Remembered, Sending, read_memory
from dashboard.watch.rules import CHANCE, LEVEL, RUNNING_AGAIN, STOPPED, VISIT_DUE, WARNINGS, AlertRules
from dashboard.watch.tally import Tally, counted
from dashboard.workspace import Workspace
from hydro.alert_outcomes import StopRecord, stop_record
from hydro.state_runs import Bools


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
    judging = _Judging(workspace, kept)
    rows = []
    for alert in reversed(kept.alerts):
        if pd.Timestamp(alert.raised_day) > workspace.as_of:
            continue
        after = _over(workspace, alert)
        outcome = judging.outcome(alert, after) if alert.kind in WARNINGS else None
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
        tallies=tuple(judging.tallies(rows)),
    )


class _Judging:
    """Warnings of one workspace judged by its record, each outlet's stops found once."""

    def __init__(self, workspace: Workspace, kept: Remembered) -> None:
        self.workspace, self.kept = workspace, kept
        self._record = cache(self._made)

    def _made(self, outlet: str) -> tuple[StopRecord, Bools] | None:
        """Stops, and days with a known discharge; None for an outlet that has no states."""
        dry = self.workspace.dry_spells.get(outlet)
        if dry is None:
            return None
        record = stop_record(dry)
        return record, self.workspace.flow_of(outlet).values.reindex(record.index).notna().to_numpy()

    def outcome(self, alert: Alert, over: pd.Timestamp | None) -> Outcome | None:
        """What came after a warning; None for an outlet without a stop level or without rules today."""
        rules, found = self.workspace.settings.alerts.get(alert.outlet), self._record(alert.outlet)
        if rules is None or found is None:
            return None
        watched = self.kept.rules.get((alert.outlet, alert.kind, alert.rule))
        if watched is not None and alert.since < watched and alert.kind == LEVEL:
            return Outcome(word="stood-already")
        return outcome_of(
            *found, _warned(alert, over), needed_days=_needed(rules), judged_days=_judged(rules, alert.kind)
        )

    def tallies(self, rows: list[HistoryRow]) -> list[Tally]:
        """One for each warning rule of today that has been watched, of the alerts that it raised."""
        made = []
        for id, rules in self.workspace.settings.alerts.items():
            found = self._record(id)
            for kind in WARNINGS:
                since = self.kept.rules.get((id, kind, rules.digest(kind)))
                if found is None or since is None or not rules.asks(kind):
                    continue
                watched = pd.Timestamp(since)
                if watched > self.workspace.as_of:
                    continue
                own = [r for r in rows[::-1] if r.alert.outlet == id and r.alert.rule == rules.digest(kind)]
                stops, warnings = counted(
                    *found,
                    sorted((_warned(r.alert, r.after_day) for r in own), key=lambda w: w.since),
                    row_of(found[0], watched),
                    needed_days=_needed(rules),
                    judged_days=_judged(rules, kind),
                )
                made.append(
                    Tally(
                        outlet=id,
                        title=self.workspace.outlets[id].title,
                        kind=kind,
                        since=since,
                        promised=rules.promised,
                        judged_days=_judged(rules, kind),
                        needed_days=_needed(rules),
                        stops=stops,
                        **warnings,
                    )
                )
        return made


def _warned(alert: Alert, over: pd.Timestamp | None) -> Warned:
    return Warned(since=pd.Timestamp(alert.since), raised=pd.Timestamp(alert.raised_day), over=over)


def _needed(rules: AlertRules) -> int:
    """Where no lead was asked for, a day is enough."""
    return 1 if rules.promised.lead_days is None else rules.promised.lead_days


def _judged(rules: AlertRules, kind: str) -> int:
    return rules.chance_days if kind == CHANCE else rules.judged_days


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
        end = since + pd.Timedelta(days=rules.chance_days + 1)
        return end if end <= workspace.as_of else None
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
