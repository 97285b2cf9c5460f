"""What came of each alert, and whether each stop of an outlet was announced in time.

A stop is the first dry day of a dry spell (short interruptions joined) before which the outlet was seen by its flow to
run. Its lead is the number of days from the raising of the alert that stands when it comes. Where an alert is still
standing as the water comes back, and the outlet stops again before it was over, the lead counts from the first running
day: a new message is not sent, but whoever looks is warned. A stop that comes after fewer running days than the needed
lead cannot be announced in time by anything, and is counted apart.

What is not known stays so. With days of unknown state between an alert and a stop, the outlet may have stopped on any
of them; a crossing after missing days may have come on any of those. An outcome is given only where it is the same
whichever day it was; else it is counted as not judged, and so is an alert that still stands where the record ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from hydro.alert_episodes import LONG_AGO, AlertEpisodes
from hydro.dry_spells import DrySpells
from hydro.state_runs import RUNNING, UNKNOWN, Bools, Floats, Ints

#: What a stop was: announced in time, late (less than the needed lead), not at all or too early, not judged, or too
#: soon after the water had come back to be announced in time.
HIT, LATE, MISSED, NOT_JUDGED, TOO_SOON = 0, 1, 2, 3, 4
OUTCOMES = ("in time", "late", "missed", "not judged", "too soon after the last")
#: What an alert was: followed by a stop, false, not judged, raised on the very day of the stop (announces nothing), or
#: raised while the outlet was dry.
FOLLOWED, FALSE, OPEN, SAME_DAY, WHILE_DRY = 0, 1, 2, 3, 4


@dataclass(frozen=True, eq=False, kw_only=True)
class StopRecord:
    """The stops of one outlet on its daily record.

    stop, last     first and last row of each dry spell before which the outlet ran
    previous_last  last row of the dry spell before each, -1 where there is none
    unknown_from   for each row, the next row of unknown state at or after it; the length of the record where none
    running        rows that ran by the flow
    in_spell       rows between the first and the last day of any dry spell, one that the record begins with included
    year           calendar year of each row
    """

    index: pd.DatetimeIndex
    stop: Ints
    last: Ints
    previous_last: Ints
    unknown_from: Ints
    running: Bools
    in_spell: Bools
    year: Ints

    def __len__(self) -> int:
        return len(self.index)

    @cached_property
    def next_stop(self) -> Ints:
        """For each row, the next stop at or after it; far beyond the record where none comes."""
        padded = np.append(self.stop, -LONG_AGO)
        return padded[np.searchsorted(self.stop, np.arange(len(self)))]

    def quiet_periods(self, horizon_days: int) -> float:
        """Time from which no stop came within the horizon, in pieces of the length of the horizon.

        Running days only, with every day up to the horizon known; the unit in which “nothing happened, nothing was
        said” can be counted at all (common practice, no source).
        """
        rows = np.arange(len(self))
        quiet = self.running & (self.next_stop > rows + horizon_days)
        quiet &= self.unknown_from[:-1] > rows + horizon_days
        quiet &= rows + horizon_days < len(self)
        return float(quiet.sum()) / horizon_days


def stop_record(dry: DrySpells) -> StopRecord:
    """The stops of an outlet from its dry spells."""
    index = pd.DatetimeIndex(dry.index)
    state = dry.runs.by_row()
    n, rows = len(index), np.arange(len(index))
    first = index.get_indexer(pd.DatetimeIndex(dry.joined["first"]))
    last = index.get_indexer(pd.DatetimeIndex(dry.joined["last"]))
    running = state == RUNNING
    ran = np.flatnonzero(running)
    previous = np.concatenate(([-1], last[:-1])) if len(last) else last
    # A spell that the record begins with has no wet stretch before it: nothing could have announced it.
    seen = np.searchsorted(ran, first) > np.searchsorted(ran, np.maximum(previous, 0))
    unknown = np.where(state == UNKNOWN, rows, n)
    return StopRecord(
        index=index,
        stop=first[seen].astype(np.int64),
        last=last[seen].astype(np.int64),
        previous_last=previous[seen].astype(np.int64),
        unknown_from=np.append(np.minimum.accumulate(unknown[::-1])[::-1], n) if n else np.zeros(1, np.int64),
        running=running,
        in_spell=np.cumsum(np.bincount(first, minlength=n + 1) - np.bincount(last + 1, minlength=n + 1))[:n] > 0,
        year=np.asarray(index.year, dtype=np.int64),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class AlertOutcomes:
    """Stops and alerts of one level.

    stop_outcome   one of HIT, LATE, MISSED, NOT_JUDGED, TOO_SOON a stop
    lead_days      days of lead a stop, NaN where no alert was standing
    alert_row      row on which the lead begins, -1 where no alert was standing
    carried        the alert was standing already when the water came back
    too_early      missed because the alert had been raised longer ago than the horizon
    raised, over   rows of every episode of alert
    alert_outcome  one of FOLLOWED, FALSE, OPEN, SAME_DAY, WHILE_DRY an episode
    alert_year     the year that an episode is counted in: of the stop that it belongs to, else of its raising
    """

    stop_outcome: Ints
    lead_days: Floats
    alert_row: Ints
    carried: Bools
    too_early: Bools
    raised: Ints
    over: Ints
    alert_outcome: Ints
    alert_year: Ints


_BEFORE, _LATE, _IN_TIME, _TOO_EARLY = 0, 1, 2, 3


def judge_alerts(record: StopRecord, alerts: AlertEpisodes, *, lead_days: int, horizon_days: int) -> AlertOutcomes:
    """What came of `alerts`, for a needed lead and a horizon [days].

    A stop is a hit with `lead_days` ≤ lead ≤ `horizon_days`, late with a lead from 1 day to less than needed, missed
    where no alert stands, or it was raised no earlier than the day of the stop or longer ago than the horizon. An alert
    is false where it is over, or the horizon has passed, before the outlet stops. With a needed lead beyond the horizon
    no stop is a hit. Raises ValueError for days out of range.
    """
    if lead_days < 1 or horizon_days < 1:
        raise ValueError("the needed lead and the horizon are at least 1 day")
    stop, before = record.stop, record.previous_last
    own = np.searchsorted(alerts.raised, stop, side="right") - 1
    at = np.maximum(own, 0)
    standing = (own >= 0) & (alerts.over[at] > stop) if len(alerts) else np.zeros(len(stop), np.bool_)
    raised = alerts.raised[at] if len(alerts) else np.zeros(len(stop), np.int64)
    earliest = alerts.earliest[at] if len(alerts) else raised
    carried = standing & (raised <= before)
    raised = np.where(carried, before + 1, raised)
    earliest = np.where(carried, raised, np.where(before >= 0, np.maximum(earliest, before + 1), earliest))
    first_possible = np.minimum(record.unknown_from[raised], stop)
    low, high = np.maximum(first_possible - raised, 0), stop - earliest
    edges = np.array([1, min(lead_days, horizon_days + 1), horizon_days + 1])
    kind = np.searchsorted(edges, high, side="right")
    certain = kind == np.searchsorted(edges, low, side="right")
    too_early = standing & certain & (kind == _TOO_EARLY)
    same_day = standing & certain & (kind == _BEFORE)
    too_soon = (before >= 0) & (stop - before - 1 < lead_days)
    outcome = np.select(
        [too_soon, ~standing, ~certain, kind == _IN_TIME, kind == _LATE],
        [TOO_SOON, MISSED, NOT_JUDGED, HIT, LATE],
        default=MISSED,
    )
    fresh = np.flatnonzero(standing & ~carried)
    # The first stop of an episode settles it; later ones are carried.
    settled, place = np.unique(own[fresh], return_index=True)
    belongs_to = np.full(len(alerts), -1, dtype=np.int64)
    belongs_to[settled] = fresh[place]
    result = _unfollowed(record, alerts, horizon_days)
    of = belongs_to[settled]
    result[settled] = np.select([~certain[of], same_day[of], too_early[of]], [OPEN, SAME_DAY, FALSE], default=FOLLOWED)
    year = np.where(belongs_to >= 0, record.year[stop[np.maximum(belongs_to, 0)]] if len(stop) else 0, 0)
    return AlertOutcomes(
        stop_outcome=outcome.astype(np.int64),
        lead_days=np.where(standing, (stop - raised).astype(np.float64), np.nan),
        alert_row=np.where(standing, raised, -1),
        carried=carried,
        too_early=too_early,
        raised=alerts.raised,
        over=alerts.over,
        alert_outcome=result,
        alert_year=np.where(belongs_to >= 0, year, record.year[alerts.raised] if len(alerts) else 0),
    )


def _unfollowed(record: StopRecord, alerts: AlertEpisodes, horizon_days: int) -> Ints:
    """What each alert is if no stop belongs to it."""
    n, begin = len(record), alerts.raised
    if len(alerts) == 0:
        return np.zeros(0, dtype=np.int64)
    passed = begin + horizon_days + 1
    # Soon after an alert was over the next crossing would still be the same one.
    seen_through = (alerts.over + alerts.merge_days < n) | (passed <= n)
    known = record.unknown_from[begin] >= np.minimum(alerts.over, passed)
    false = (alerts.earliest != LONG_AGO) & seen_through & known
    return np.select([record.in_spell[begin], false], [WHILE_DRY, FALSE], default=OPEN).astype(np.int64)
