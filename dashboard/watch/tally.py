"""How a rule has done since it was watched: stops and warnings counted as when levels are chosen, held to a promise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from dashboard.watch.came_after import Warned, episodes, not_over, row_of
from dashboard.watch.rules import Promise
from hydro.alert_episodes import MERGE_DAYS, AlertEpisodes, merged
from hydro.alert_outcomes import (
    FALSE,
    FOLLOWED,
    HIT,
    LATE,
    MISSED,
    NOT_JUDGED,
    OPEN,
    TOO_SOON,
    StopRecord,
    judge_alerts,
)
from hydro.count_limits import share_limits
from hydro.state_runs import Bools

#: Fewer stops than this tell nothing about a promise.
FEWEST = 5
#: Coverage of the limits of a share.
LEVEL = 0.95


@dataclass(frozen=True, kw_only=True)
class Stops:
    """Stops by how they were told: in time, late, not at all, too soon after the last for anything to, not known."""

    hits: int = 0
    late: int = 0
    missed: int = 0
    too_soon: int = 0
    not_known: int = 0


@dataclass(frozen=True, kw_only=True)
class Share:
    """A share with its exact binomial interval; all None where nothing has been counted."""

    hits: int
    n: int
    value: float | None
    low: float | None
    high: float | None


def share(hits: int, n: int, level: float = LEVEL) -> Share:
    """`hits` out of `n` with its limits."""
    if n == 0:
        return Share(hits=0, n=0, value=None, low=None, high=None)
    low, high = share_limits(hits, n, level)
    return Share(hits=hits, n=n, value=hits / n, low=low, high=high)


@dataclass(frozen=True, kw_only=True)
class Tally:
    """How one rule did since it was watched: the stops by how they were told, the warnings by what came after."""

    outlet: str
    title: str
    kind: str
    since: str
    promised: Promise
    judged_days: int
    needed_days: int
    stops: Stops
    followed: int = 0
    false_alerts: int = 0
    open: int = 0
    not_known: int = 0

    @property
    def hit_rate(self) -> Share:
        """Stops that were told early enough, of all stops that could be."""
        return share(self.stops.hits, self.stops.hits + self.stops.late + self.stops.missed)

    @property
    def false_alarm_ratio(self) -> Share:
        """Warnings that no stop followed, of those and the ones that one did. Not the rate per day without a stop."""
        return share(self.false_alerts, self.followed + self.false_alerts)


def counted(
    record: StopRecord,
    known: Bools,
    warnings: Sequence[Warned],
    watched_from: int,
    *,
    needed_days: int,
    judged_days: int,
) -> tuple[Stops, dict[str, int]]:
    """Stops after the row on which the rule was first watched, and the warnings that began since, by what came after.

    Warnings within `MERGE_DAYS` of one another count once. A lead counts from no earlier than the rule was watched:
    what stood then warned whoever looked, but says nothing for or against the rule.
    """
    given = [w for w in warnings if 0 <= row_of(record, w.since) < len(record)]
    found = merged(episodes(record, known, given), record.in_spell, MERGE_DAYS)
    first = min(max(watched_from, 0), max(len(record) - 1, 0))
    clipped = replace(found, raised=np.maximum(found.raised, first), earliest=np.maximum(found.earliest, first))
    later = record.stop > watched_from
    after = replace(record, stop=record.stop[later], last=record.last[later], previous_last=record.previous_last[later])
    days = {"lead_days": max(needed_days, 1), "horizon_days": judged_days}
    stops = judge_alerts(after, _own(clipped), **days).stop_outcome
    own = _chosen(found, found.raised >= watched_from)
    came = judge_alerts(after, own, **days).alert_outcome
    waits = not_over(record, own, judged_days)
    return (
        Stops(
            hits=_count(stops == HIT),
            late=_count(stops == LATE),
            missed=_count(stops == MISSED),
            too_soon=_count(stops == TOO_SOON),
            not_known=_count(stops == NOT_JUDGED),
        ),
        {
            "followed": _count(came == FOLLOWED),
            "false_alerts": _count(came == FALSE),
            "open": _count((came == OPEN) & waits),
            "not_known": _count((came == OPEN) & ~waits),
        },
    )


def _chosen(alerts: AlertEpisodes, which: Bools) -> AlertEpisodes:
    return replace(alerts, raised=alerts.raised[which], earliest=alerts.earliest[which], over=alerts.over[which])


def _own(alerts: AlertEpisodes) -> AlertEpisodes:
    """Without alerts that were over before they could have been watched."""
    return _chosen(alerts, alerts.over > alerts.raised)


def _count(which: Bools) -> int:
    return int(which.sum())
