"""What came after a warning that was given, judged as the levels were judged when they were chosen.

A warning is an alert of a level or of a chance. Its lead is counted from the day its condition began to the first dry
day; its notice from the day it was raised, which is what people had. The judging itself is `judge_alerts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.alert_episodes import AlertEpisodes, earliest_rows
from hydro.alert_outcomes import FALSE, OPEN, SAME_DAY, WHILE_DRY, StopRecord, judge_alerts
from hydro.state_runs import Bools, Ints

#: hit: it stopped, early enough and within the days · late: it stopped too soon after · same-day: it began on the day
#: of the stop, or the outlet was dry already · false: it was over, or the days had passed, before it stopped · open:
#: the days are not over · not-known: days without a known state stand between · stood-already: the condition began
#: before the rule was watched, so it says nothing about the rule
OUTCOMES = ("hit", "late", "same-day", "false", "open", "not-known", "stood-already")


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """What came after one warning; `lead_days` from its beginning and `notice_days` from its raising to `stopped`."""

    word: str
    stopped: pd.Timestamp | None = None
    lead_days: int | None = None
    notice_days: int | None = None


@dataclass(frozen=True, kw_only=True)
class Warned:
    """A warning as it was given: it began on `since`, was raised on `raised`, over on `over` (civil days; None: it
    stands)."""

    since: pd.Timestamp
    raised: pd.Timestamp
    over: pd.Timestamp | None


def outcome_of(record: StopRecord, known: Bools, warned: Warned, *, needed_days: int, judged_days: int) -> Outcome:
    """The outcome of one warning.

    known         rows of `record` with a known discharge
    needed_days   least lead of a hit [days]; judged_days   it has to stop within so many days of `since` [days]
    """
    row = row_of(record, warned.since)
    if row < 0:
        return Outcome(word="not-known")
    if row >= len(record):
        return Outcome(word="open")
    alerts = episodes(record, known, [warned])
    judged = judge_alerts(record, alerts, lead_days=max(needed_days, 1), horizon_days=judged_days)
    what = int(judged.alert_outcome[0])
    if what in (SAME_DAY, WHILE_DRY):
        day = warned.since
        return Outcome(word="same-day", stopped=day, lead_days=0, notice_days=(day - warned.raised).days)
    if what == FALSE:
        return Outcome(word="false")
    if what == OPEN:
        return Outcome(word="open" if not_over(record, alerts, judged_days)[0] else "not-known")
    stop = int(record.stop[np.flatnonzero((judged.alert_row >= 0) & ~judged.carried)[0]])
    lead, day = stop - row, record.index[stop]
    word = "hit" if lead >= needed_days else "late"
    return Outcome(word=word, stopped=day, lead_days=lead, notice_days=(day - warned.raised).days)


def episodes(record: StopRecord, known: Bools, warnings: Sequence[Warned]) -> AlertEpisodes:
    """Warnings that began within the record, oldest first, as the judging takes them; nothing is drawn together."""
    n = len(record)
    raised = np.array([row_of(record, w.since) for w in warnings], dtype=np.int64)
    over = [n if w.over is None else min(max(row_of(record, w.over), 0), n) for w in warnings]
    earliest = earliest_rows(known, raised)
    return AlertEpisodes(raised=raised, earliest=earliest, over=np.array(over, dtype=np.int64), merge_days=0)


def not_over(record: StopRecord, alerts: AlertEpisodes, judged_days: int) -> Bools:
    """Which alerts that are not judged will be, once their days are over: nothing unknown lies in what has passed."""
    until: Ints = np.minimum(alerts.over, alerts.raised + judged_days + 1)
    return record.unknown_from[alerts.raised] >= np.minimum(until, len(record))


def row_of(record: StopRecord, day: pd.Timestamp) -> int:
    """The row of a civil day, below 0 before the record and at least its length after it."""
    return int((day - record.index[0]).days)
