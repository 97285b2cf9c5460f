"""How often it was dry so many days after days like this one: same season, same state.

The plain expectation that a forecast has to beat, and the part of it that holds where nothing else is known.
Conditional on the state: the share of dry days at that lead among days within ±40 days of the season whose state was
the same, at least 10 of them; else the share whatever the state. Unconditional climatology is too easily beaten where
states last (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.outlook_record import OutlookRecord
from hydro.state_runs import DRY, RUNNING, UNKNOWN, Floats, Ints

WINDOW_DAYS = 40
LEAST_DAYS = 10
#: Where hardly a day of the rarer state is known, states are taken to last: a correlation that fades with this memory
#: [days] counts as much as so many days (both assumptions).
PRIOR_MEMORY = 15.0
PRIOR_DAYS = 2.0
_SLOTS = 366


@dataclass(frozen=True, eq=False, kw_only=True)
class Climatology:
    """Share of dry days, NaN where no day is like it.

    `conditional`, `common` and `days` (how many days are like it [days]) are indexed [range, lead, state (0 dry,
    1 running), day of year - 1], `any_state` [range, lead, day of year - 1] and `all_seasons` [range, lead, state].
    What a range leaves out is left out.

    `common` is the share of the season whatever the state, and what the state of the day adds or takes by a correlation
    with the state at the lead that is common to all seasons: it rests on more days than `conditional` does.
    """

    conditional: Floats
    any_state: Floats
    all_seasons: Floats
    common: Floats
    days: Floats


def season_climatology(record: OutlookRecord, leads: Ints, first: Ints, last: Ints) -> Climatology:
    """Climatology at `leads` [days], once for each range of rows `first` to `last` (inclusive) that is left out.

    `first` and `last` hold one row a range, or one a range and lead. A day is left out with its outcome: when either
    lies in the range or the range lies between them.
    """
    n = len(record)
    first, last = (np.broadcast_to(edge.reshape(len(first), -1), (len(first), len(leads))) for edge in (first, last))
    known = np.zeros((len(first), len(leads), 2, _SLOTS))
    dry = np.zeros_like(known)
    starts = record.known_state != UNKNOWN
    slot_of = (record.known_state.astype(np.int64) - 1) * _SLOTS + record.day_of_year - 1
    for k, lead in enumerate(leads.tolist()):
        if lead >= n:
            continue
        outcome = record.state[lead:]
        ok = starts[: n - lead] & (outcome != UNKNOWN)
        # Two tables in one count: slot with a known outcome, and slot with a dry outcome.
        slot = np.where(ok, slot_of[: n - lead], 2 * _SLOTS)
        both = slot + (2 * _SLOTS + 1) * (outcome == DRY)
        size = 2 * (2 * _SLOTS + 1)
        everything = np.bincount(both, minlength=size)
        for y in range(len(first)):
            gone = both[max(first[y, k] - lead, 0) : last[y, k] + 1]
            left = (everything - np.bincount(gone, minlength=size)).reshape(2, -1)[:, :-1].reshape(2, 2, _SLOTS)
            dry[y, k] = left[1]
            known[y, k] = left.sum(axis=0)
    n_all = known.sum(axis=3)
    all_seasons = np.divide(dry.sum(axis=3), n_all, out=np.full(n_all.shape, np.nan), where=n_all >= LEAST_DAYS)
    known, dry = _window(known), _window(dry)
    n_any, dry_any = known.sum(axis=2), dry.sum(axis=2)
    any_state = np.divide(dry_any, n_any, out=np.full(n_any.shape, np.nan), where=n_any > 0)
    conditional = np.divide(dry, known, out=np.repeat(any_state[:, :, None], 2, axis=2), where=known >= LEAST_DAYS)
    return Climatology(
        conditional=conditional,
        any_state=any_state,
        all_seasons=all_seasons,
        common=_by_common_correlation(known, dry, any_state, leads),
        days=known,
    )


def _by_common_correlation(known: Floats, dry: Floats, any_state: Floats, leads: Ints) -> Floats:
    """Share of dry days by season, plus what the state of the day adds at one correlation for all seasons."""
    n = known.sum(axis=2)
    some = np.maximum(n, 1.0)
    # Half a day of either kind is added, so that a season without a dry day still has a spread.
    now, then = (known[:, :, 0] + 0.5) / (n + 1.0), (dry.sum(axis=2) + 0.5) / (n + 1.0)
    spread_now, spread_then = np.sqrt(now * (1.0 - now)), np.sqrt(then * (1.0 - then))
    together = dry[:, :, 0] - known[:, :, 0] * dry.sum(axis=2) / some
    whole = 2 * WINDOW_DAYS + 1
    correlation = together.sum(axis=2) / whole + PRIOR_DAYS * np.exp(-leads / PRIOR_MEMORY)
    correlation /= (n * spread_now * spread_then).sum(axis=2) / whole + PRIOR_DAYS
    slope = np.clip(correlation, 0.0, 1.0)[:, :, None] * np.minimum(spread_then / spread_now, 1.0)
    state = np.array([1.0, 0.0])[:, None]
    share_now = (known[:, :, 0] / some)[:, :, None]
    return np.clip(any_state[:, :, None] + slope[:, :, None] * (state - share_now), 0.0, 1.0)


def _window(table: Floats) -> Floats:
    """Sums over ±WINDOW_DAYS of the season, the last axis wrapped round the year."""
    around = np.concatenate((table[..., -WINDOW_DAYS:], table, table[..., :WINDOW_DAYS]), axis=-1)
    total = np.concatenate((np.zeros((*table.shape[:-1], 1)), np.cumsum(around, axis=-1)), axis=-1)
    return total[..., 2 * WINDOW_DAYS + 1 :] - total[..., :_SLOTS]


def like_days(record: OutlookRecord, day_of_year: int, state: int, last_start: int) -> Ints:
    """Rows up to `last_start` in season, in the same state where at least 10 are, else in any known state."""
    rows = np.arange(min(last_start + 1, len(record)))
    apart = np.abs(record.day_of_year[rows] - day_of_year)
    near = np.minimum(apart, _SLOTS - apart) <= WINDOW_DAYS
    settled = rows[near & (record.known_state[rows] != UNKNOWN)]
    if state not in (DRY, RUNNING):
        return settled
    same = settled[record.known_state[settled] == state]
    return same if len(same) >= LEAST_DAYS else settled
