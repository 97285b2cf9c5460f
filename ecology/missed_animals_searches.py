"""Searches after dry spells, and the stretches of time between them in which animals can have come back.

Day d covers (d, d + 1]: a search on day d can find animals that returned that day. What the searches of a spell say
about the return changes only at a search, so that a spell is as many stretches as it has days of search up to the
first find (without a find, one more: after the last search).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

BLOCK_SPELLS = 250  # spells of a piece of the likelihood
MOST_RESTARTS = 15  # an uncertain restart is spread over at most this many days of its range


@dataclass(frozen=True, eq=False, kw_only=True)
class SpellSearches:
    """The searches after one dry spell.

    days           whole days since the restart (0 = the first running day), in order; passes of one day repeat it
    found          whether each found animals
    effort         in any one unit; NaN = unknown
    restart_slack  days by which the restart may have been later than day 0 (a gap in the record); any of them alike

    Raises ValueError for arrays that do not fit together.
    """

    days: np.ndarray
    found: np.ndarray
    effort: np.ndarray
    restart_slack: float = 0.0

    def __post_init__(self) -> None:
        days, found = np.array(self.days, dtype=float), np.array(self.found)
        effort, slack = np.array(self.effort, dtype=float), float(self.restart_slack)
        if days.ndim != 1 or days.shape != found.shape or days.shape != effort.shape:
            raise ValueError(f"days, found and effort of {days.shape}, {found.shape}, {effort.shape} are not one list")
        if days.size and found.dtype != np.bool_:
            raise ValueError(f"found is true or false for each search, not {found.dtype}")
        if np.any(~np.isfinite(days) | (days < 0.0) | (days != np.round(days))) or np.any(np.diff(days) < 0.0):
            raise ValueError("days are whole days of 0 or more in order")
        if np.any(np.isinf(effort) | (effort <= 0.0)):
            raise ValueError("effort is above 0, or NaN where it is unknown")
        if not (np.isfinite(slack) and slack >= 0.0 and slack == round(slack)):
            raise ValueError(f"restart_slack is a whole number of days of 0 or more, not {slack}")
        for name, values in (("days", days), ("found", found.astype(bool)), ("effort", effort)):
            object.__setattr__(self, name, values)
        object.__setattr__(self, "restart_slack", slack)


@dataclass(frozen=True, eq=False, kw_only=True)
class Histories:
    """Spells laid end to end.

    log_low, log_high   ln of the ends of each stretch [ln days]; −inf from the restart on, +inf after the last search
    missed              effort of the misses if T lies in the stretch, in units of the typical effort
    log_share           ln of the weight of the stretch: −ln(restart days tried)
    first               where each spell's stretches begin
    find_spell, find_effort   every find that counts, and the spell it is in
    missed_after        per spell, effort of the misses that are certain because animals were already found
    """

    log_low: np.ndarray
    log_high: np.ndarray
    missed: np.ndarray
    log_share: np.ndarray
    first: np.ndarray
    find_spell: np.ndarray
    find_effort: np.ndarray
    missed_after: np.ndarray

    @property
    def n(self) -> int:
        return int(self.first.size)

    @cached_property
    def blocks(self) -> tuple[Histories, ...]:
        """The same spells in pieces that fit in a processor's cache: beyond it the cost grows faster than the data."""
        starts = np.append(np.arange(0, self.n, BLOCK_SPELLS), self.n)
        row = np.append(self.first, self.log_low.size)[starts]
        find = np.searchsorted(self.find_spell, starts)
        return tuple(
            Histories(
                log_low=self.log_low[a:b],
                log_high=self.log_high[a:b],
                missed=self.missed[a:b],
                log_share=self.log_share[a:b],
                first=self.first[i:j] - a,
                find_spell=self.find_spell[f:g] - i,
                find_effort=self.find_effort[f:g],
                missed_after=self.missed_after[i:j],
            )
            for (i, j), (a, b), (f, g) in zip(pairwise(starts), pairwise(row), pairwise(find), strict=True)
        )

    def face_value(self) -> tuple[np.ndarray, np.ndarray]:
        """(low, high] of each spell if no search missed animals [days]; the widest where the restart is uncertain."""
        kept = self.missed == 0.0
        low = np.minimum.reduceat(np.where(kept, np.exp(self.log_low), np.inf), self.first)
        return low, np.maximum.reduceat(np.where(kept, np.exp(self.log_high), -np.inf), self.first)


def lay_out(
    spells: Sequence[SpellSearches], typical_effort: float, *, after: bool = True, within_days: float = np.inf
) -> Histories:
    """Stretches, finds and misses of `spells`, each with at least one search.

    typical_effort   stands in where the effort is unknown, and is the unit of effort
    after            whether searches after the first find count; without them the likelihood is that of the first find
    within_days      only those at most so many days after it
    """
    stretches: list[np.ndarray] = []
    first, find_spell, find_effort, missed_after = [], [], [], []
    at = 0
    for i, spell in enumerate(spells):
        effort = np.where(np.isnan(spell.effort), typical_effort, spell.effort) / typical_effort
        finds = np.flatnonzero(spell.found)
        end = int(finds[0]) if finds.size else len(spell.days)
        first.append(at)
        rows = _stretches(spell, effort, end)
        at += len(rows)
        stretches.append(rows)
        missed_after.append(0.0)
        if not finds.size:
            continue
        find_spell.append(i)
        find_effort.append(float(effort[end]))
        if not after:
            continue
        # Passes of the day of the first find that came before it: the day is one time, so animals were there.
        missed_after[-1] += float(effort[:end][spell.days[:end] == spell.days[end]].sum())
        later = np.arange(len(spell.days)) > end
        later &= spell.days <= spell.days[end] + within_days
        missed_after[-1] += float(effort[later & ~spell.found].sum())
        again = effort[later & spell.found]
        find_spell += [i] * again.size
        find_effort += again.tolist()
    table = np.concatenate(stretches)
    with np.errstate(divide="ignore"):
        return Histories(
            log_low=np.log(table[:, 0]),
            log_high=np.log(table[:, 1]),
            missed=table[:, 2],
            log_share=table[:, 3],
            first=np.array(first, dtype=np.intp),
            find_spell=np.array(find_spell, dtype=np.intp),
            find_effort=np.array(find_effort, dtype=float),
            missed_after=np.array(missed_after),
        )


def _stretches(spell: SpellSearches, effort: np.ndarray, end: int) -> np.ndarray:
    """(low, high, effort missed, ln share) of every stretch of T; `end` is the first find, or the number of searches.

    Water may have returned on any day of the slack alike, but not after a find.
    """
    found = end < len(spell.days)
    latest = min(spell.restart_slack, float(spell.days[end])) if found else spell.restart_slack
    restarts = np.unique(np.round(np.linspace(0.0, latest, min(int(latest) + 1, MOST_RESTARTS))))
    ends, starts = np.unique(spell.days[:end], return_index=True)  # passes of one day are one time
    misses = np.add.reduceat(effort[:end], starts) if end else np.empty(0)
    if found:
        keep = ends < spell.days[end]
        ends, misses = np.append(ends[keep], spell.days[end]), np.append(misses[keep], 0.0)
    else:
        ends, misses = np.append(ends, np.inf), np.append(misses, 0.0)
    missed = np.cumsum(misses[::-1])[::-1]
    rows = []
    for restart in restarts:
        seen = ends >= restart
        high = ends[seen] - restart + 1.0
        low = np.append(0.0, high[:-1])
        share = np.full(high.size, -np.log(restarts.size))
        rows.append(np.column_stack((low, high, missed[seen], share)))
    return np.concatenate(rows)
