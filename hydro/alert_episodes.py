"""When an alert would have been raised and when it would have been over, for one level on one signal.

An alert is a downward crossing: the signal comes to `alert_at` or below while nothing is standing. It stands until the
signal is back at `clear_at` or above; between the two nothing flaps. A crossing soon after the last alert was over
belongs to the same episode, unless the outlet was dry in between.

The signal is discharge, or any other that falls as stopping draws near: a chance is put in with its sign reversed.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hydro.state_runs import Bools, Floats, Ints

#: A crossing within so many days after the last alert was over belongs to the same episode [days].
MERGE_DAYS = 14
#: Stands for “before the record”: any row less this is farther away than any horizon.
LONG_AGO = -(10**9)


@dataclass(frozen=True, eq=False, kw_only=True)
class AlertEpisodes:
    """Episodes in order, as row numbers.

    raised      first row at or below the level that is known
    earliest    first row on which it may have come there: earlier than `raised` where days without a value lie before
                it, `LONG_AGO` where it was there already when the record began
    over        row on which the last crossing of the episode was cleared; the length of the record where none was
    merge_days  a crossing within so many days after `over` would still belong to the episode [days]
    """

    raised: Ints
    earliest: Ints
    over: Ints
    merge_days: int

    def __len__(self) -> int:
        return len(self.raised)


def alert_episodes(
    signal: Floats, alert_at: float, clear_at: float, dry: Bools, *, merge_days: int = MERGE_DAYS
) -> AlertEpisodes:
    """Episodes of alert along `signal` (one value a day, NaN = not known).

    `dry` tells the rows of dry spells. Missing days raise nothing and clear nothing. Raises
    ValueError where `clear_at` does not lie above `alert_at` or `merge_days` is below 0.
    """
    if not clear_at > alert_at:
        raise ValueError("an alert is cleared above the level that raises it")
    if merge_days < 0:
        raise ValueError("merge_days is at least 0")
    low = signal <= alert_at
    settles = np.flatnonzero(low | (signal >= clear_at))
    kind = low[settles]
    begins = kind.copy()
    begins[1:] &= ~kind[:-1]
    ends = ~kind
    ends[1:] &= kind[:-1]
    ends[:1] = False
    raised, over = settles[begins], settles[ends]
    over = np.append(over, len(signal)) if len(over) < len(raised) else over
    found = AlertEpisodes(raised=raised, earliest=earliest_rows(~np.isnan(signal), raised), over=over, merge_days=0)
    return merged(found, dry, merge_days)


def earliest_rows(known: Bools, raised: Ints) -> Ints:
    """The row after the last known one before each crossing, `LONG_AGO` where there is none."""
    rows = np.flatnonzero(known)
    before = np.searchsorted(rows, raised) - 1
    return np.where(before < 0, LONG_AGO, rows[before] + 1) if len(rows) else np.full(len(raised), LONG_AGO)


def merged(alerts: AlertEpisodes, dry: Bools, merge_days: int) -> AlertEpisodes:
    """Alerts within `merge_days` of one another as one, unless a dry day (`dry`, by row) lies between."""
    raised, over = alerts.raised, alerts.over
    if len(raised) == 0:
        return replace(alerts, merge_days=merge_days)
    soon = raised[1:] - over[:-1] <= merge_days
    dry_before = np.searchsorted(np.flatnonzero(dry), raised)
    stopped = dry_before[1:] > dry_before[:-1]
    head: Bools = np.concatenate(([True], ~(soon & ~stopped)))
    tail = np.append(np.flatnonzero(head)[1:], len(raised)) - 1
    return AlertEpisodes(raised=raised[head], earliest=alerts.earliest[head], over=over[tail], merge_days=merge_days)
