"""How much ground a record gives for a forecast: years, days in the rarer state, and how long states last."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.outlook_record import OutlookRecord
from hydro.state_runs import DRY, RUNNING, UNKNOWN, Bools, Floats, Ints


@dataclass(frozen=True, eq=False, kw_only=True)
class Evidence:
    """What is left of a record outside each of several ranges of rows; every field has one value a range.

    known_years  years of known days [years of 365.25 days]
    years        the fewest of these, of the calendar years with a dry day, and of those with a running day [years]
    rarer_days   days in the rarer of the two states [days]
    memory       correlation of a day's state with the next day's; 0 where it is not defined
    """

    known_years: Floats
    years: Floats
    rarer_days: Floats
    memory: Floats

    @property
    def rarer_share(self) -> Floats:
        """Share of the known days that are in the rarer state; 0 where no day is known."""
        return self.rarer_days / np.maximum(self.known_years * 365.25, 1.0)


def evidence_outside(record: OutlookRecord, first: Ints, last: Ints) -> Evidence:
    """Evidence outside each range of rows `first` to `last` (inclusive; `first` > `last` leaves out nothing)."""
    dry, running = record.state == DRY, record.state == RUNNING
    dry_days, running_days = _outside(dry, first, last), _outside(running, first, last)
    known_years = (dry_days + running_days) / 365.25
    by_state = [_years_outside(record, state, first, last) for state in (dry, running)]
    return Evidence(
        known_years=known_years,
        years=np.minimum.reduce([known_years, *by_state]),
        rarer_days=np.minimum(dry_days, running_days),
        memory=_memory(record, first, last),
    )


def _outside(true: Bools, first: Ints, last: Ints) -> Floats:
    """How many rows are true outside each range."""
    so_far = np.concatenate(([0], np.cumsum(true)))
    start, stop = np.clip(first, 0, len(true)), np.clip(np.maximum(last + 1, first), 0, len(true))
    return np.asarray(so_far[-1] - (so_far[stop] - so_far[start]), dtype=np.float64)


def _years_outside(record: OutlookRecord, true: Bools, first: Ints, last: Ints) -> Floats:
    """Calendar years with a true row outside each range."""
    by_year = np.bincount(record.year[true], minlength=record.n_years)
    found = np.empty(len(first))
    for k, (a, b) in enumerate(zip(first.tolist(), (last + 1).tolist(), strict=True)):
        inside = slice(a, max(a, b))
        gone = np.bincount(record.year[inside][true[inside]], minlength=record.n_years)
        found[k] = np.count_nonzero(by_year - gone)
    return found


def _memory(record: OutlookRecord, first: Ints, last: Ints) -> Floats:
    """Correlation of the states of neighbouring days that are both known and both outside the range."""
    both = (record.state[:-1] != UNKNOWN) & (record.state[1:] != UNKNOWN)
    today, next_day = (record.state[:-1] == DRY) & both, (record.state[1:] == DRY) & both
    n, a, b, ab = (_outside(pairs, first - 1, last) for pairs in (both, today, next_day, today & next_day))
    spread = a * (n - a) * b * (n - b)
    return np.divide(n * ab - a * b, np.sqrt(spread), out=np.zeros(len(n)), where=spread > 0)
