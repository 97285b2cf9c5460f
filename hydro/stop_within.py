"""The chance of stopping within so many days, as the outlook would have given it on earlier days.

The outlook's sources and weights (`outlook_blend`) with one other outcome: not whether the outlet is dry on a day ahead
but whether it has been dry by then (first passage). Each year is judged by a record that leaves it out of donors,
climatology, regression and weights, as in `hindcast`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from hydro.analogues import find_donors
from hydro.hindcast import MEMBERS
from hydro.outlook_blend import Sources, blend, blend_weight, certainty_limit
from hydro.outlook_evidence import evidence_outside
from hydro.outlook_record import Codes, OutlookRecord
from hydro.season_climatology import season_climatology
from hydro.state_regression import dry_chance, fit_dry_chance
from hydro.state_runs import DRY, RUNNING, UNKNOWN, Floats, Ints
from hydro.value_step import level_edges

WITHIN_DAYS = 30
#: As tied levels count in `analogues`: a course that comes back exactly to the level is not below it.
_TOUCH = 1e-9


@dataclass(frozen=True, eq=False, kw_only=True)
class StopWithin:
    """Chances of stopping within `days`, issued on running days alone.

    row      rows of the record on which a chance was given
    chance   the chance given, out of sample
    outcome  1 stopped within, 0 ran all the time, NaN not known
    every    days between issues [days]
    """

    days: int
    row: Ints
    chance: Floats
    outcome: Floats
    every: int

    def by_row(self, n: int) -> Floats:
        """One chance a day of a record of `n` rows: the last one given, NaN where none was within `every` days."""
        out = np.full(n, np.nan)
        for later in range(self.every - 1, -1, -1):
            at = self.row + later
            out[at[at < n]] = self.chance[at < n]
        return out


def stop_within(
    record: OutlookRecord, *, days: int = WITHIN_DAYS, every: int = 5, members: int = MEMBERS
) -> StopWithin:
    """Chances of stopping within `days`, issued every `every` days on which the outlet runs.

    Raises ValueError where one of them is below 1.
    """
    if days < 1 or every < 1 or members < 1:
        raise ValueError("days, every and members are at least 1")
    starts = np.arange(0, len(record), every)
    starts = starts[record.usable[starts] & (record.known_state[starts] == RUNNING)]
    leads = np.array([days])
    first, last = record.left_out(days)
    year = record.year[starts]
    passed = passage(record.state, days)
    # A record whose state on a day says whether the outlet had stopped by then, seen from `days` before: what asks for
    # the state at a lead is then answered with the passage.
    asked = replace(record, state=np.concatenate((np.full(days, UNKNOWN, np.int8), passed))[: len(record)])
    climate = season_climatology(asked, leads, first, last)
    conditional = climate.conditional[year, :, RUNNING - 1, record.day_of_year[starts] - 1]
    donors = find_donors(record, starts, first[year], last[year], members=members, horizon=days)
    edge = level_edges(record, first, last)[0][year]
    analogues = _share_passing(record, starts, donors.row, days, edge)[:, None]
    coefficients = fit_dry_chance(asked, leads, first, last)
    regression = dry_chance(coefficients[year], record.features[starts][:, None, :])
    # Days in either state are no source here: from a dry day on, "dry within" is another question.
    either = np.full_like(conditional, np.nan)
    sources = Sources(analogues, regression, climate.all_seasons[year, :, RUNNING - 1], either)
    ground = evidence_outside(record, first, last)
    weights = Sources(*(weight[year] for weight in blend_weight(leads, ground)))
    limit = certainty_limit(leads, ground.known_years, members)[year]
    chance = np.clip(blend(conditional, sources, weights), limit, 1.0 - limit)[:, 0]
    came = passed[starts]
    return StopWithin(
        days=days,
        row=starts,
        chance=chance,
        outcome=np.where(came == UNKNOWN, np.nan, came == DRY),
        every=every,
    )


def passage(state: Codes, days: int) -> Codes:
    """For each row, whether one of the next `days` rows is dry: DRY, RUNNING (none is), or UNKNOWN."""
    n = len(state)
    dry = np.concatenate(([0], np.cumsum(state == DRY)))
    unknown = np.concatenate(([0], np.cumsum(state == UNKNOWN)))
    rows = np.arange(n)
    to = np.minimum(rows + 1 + days, n)
    any_dry = dry[to] > dry[np.minimum(rows + 1, n)]
    whole = (rows + days < n) & (unknown[to] == unknown[np.minimum(rows + 1, n)])
    return np.where(any_dry, DRY, np.where(whole, RUNNING, UNKNOWN)).astype(np.int8)


def _share_passing(record: OutlookRecord, starts: Ints, donor: np.ndarray, days: int, edge: Floats) -> Floats:
    """Share of members whose course falls below the `edge` of the stop level within `days` (see `level_edges`).

    Half a member is added to either side. Running outlets stop on the first of `stop_days` days in a row below the
    level, so that of each member only the lowest such stretch counts. A member with a missing day is left out unless it
    has stopped on the others.
    """
    lowest, whole = _lowest_stretch(record.z, days, record.rule.stop_days)
    at = np.maximum(donor, 0)
    passes = lowest[at] + (record.z[starts][:, None] - record.z[at]) < edge[:, None] - _TOUCH
    known = (donor >= 0) & (passes | whole[at])
    n, stopped = known.sum(axis=1), (passes & known).sum(axis=1)
    return np.where(n > 0, (stopped + 0.5) / (n + 1.0), np.nan)


def _lowest_stretch(z: Floats, days: int, stop_days: int) -> tuple[Floats, np.ndarray]:
    """Least of the highest values in `stop_days` rows from each of the next `days` rows; and whether all are known."""
    reach = days + stop_days - 1
    ahead = np.concatenate((z, np.full(reach + 1, np.nan)))
    held = ahead[: len(ahead) - stop_days + 1].copy()
    for k in range(1, stop_days):
        held = np.maximum(held, ahead[k : len(ahead) - stop_days + 1 + k])
    missing = np.concatenate(([0], np.cumsum(np.isnan(ahead))))
    windows = np.lib.stride_tricks.sliding_window_view(np.where(np.isnan(held), np.inf, held), days)[1 : len(z) + 1]
    rows = np.arange(len(z))
    return windows.min(axis=1), missing[rows + 1 + reach] == missing[rows + 1]
