"""What the water did next on earlier days like this one.

An ensemble of paths: the changes of log discharge that followed days near in season, level and recent change, in
the same state, added to the present log discharge; then the outlet's stop and restart rule is run along each path
day by day. This is ensemble streamflow prediction from historical changes, resampled by nearest neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from hydro.outlook_record import OutlookRecord, StateRule
from hydro.state_runs import DRY, RUNNING, UNKNOWN, Floats, Ints

#: Donors lie within about this many days of the season, and are less like the farther they lie [days].
SEASON_DAYS = 60
#: Width of the bins of the season in which donors are looked for together [days].
_BIN_DAYS = 5
_TOUCH = 1e-9
_OTHER_STATE = 1e3
#: Forecasts whose paths are made together: few enough for the memory beside the processor.
_AT_ONCE = 64
#: Equal distances (a dry bed is like a dry bed) are told apart by a fixed shuffle of the days, not by their order.
_TIE = 1e-9


@dataclass(frozen=True, eq=False, kw_only=True)
class Donors:
    """`row[i, m]` is the m-th donor day of the i-th forecast; -1 where there are fewer."""

    row: npt.NDArray[np.int32]


def find_donors(record: OutlookRecord, starts: Ints, first: Ints, last: Ints, *, members: int, horizon: int) -> Donors:
    """The `members` days most like each row of `starts`.

    A donor's following `horizon` days lie within the record and, with the donor itself, outside the rows `first` to
    `last` (inclusive; one range a forecast, `first` > `last` leaves out nothing). Likeness is the squared distance
    in log discharge and in its change over 7 days, each over its spread outside the range, plus that in season over
    `SEASON_DAYS`; days in another state are taken only where too few share it.
    """
    candidates = np.flatnonzero(record.usable[: max(len(record) - horizon, 0)]).astype(np.int32)
    chosen = np.full((len(starts), members), -1, dtype=np.int32)
    scale_z = _spread_outside(record.z, first, last)
    scale_c = _spread_outside(np.where(np.isnan(record.z), np.nan, record.change_7), first, last)
    z, change, state = record.z, record.change_7, record.known_state
    shuffle = np.zeros(len(record))
    shuffle[candidates] = (candidates.astype(np.int64) * 2654435761 % 2**32) / 2**32 * _TIE
    season = record.day_of_year[candidates]
    year = np.arange(1, 367)
    unlike = (_apart(year, year[:, None]) / SEASON_DAYS) ** 2
    # Forecasts near in season and in the same state are looked for together.
    groups = (record.day_of_year[starts] - 1) // _BIN_DAYS * 3 + state[starts]
    for group in np.unique(groups):
        here = np.flatnonzero(groups == group)
        i = starts[here]
        middle = int(group) // 3 * _BIN_DAYS + 1 + _BIN_DAYS // 2
        d = candidates[_apart(season, middle) <= SEASON_DAYS + _BIN_DAYS // 2]
        out_first, out_last = first[here] - horizon, last[here]
        same = d[state[d] == state[i[0]]]
        begin, end = np.searchsorted(same, out_first), np.searchsorted(same, out_last, side="right")
        enough = len(same) - int(np.maximum(end - begin, 0).max()) >= members
        if enough:
            d = same  # another state is farther than any day of the same one
        else:
            begin, end = np.searchsorted(d, out_first), np.searchsorted(d, out_last, side="right")
        if len(d) == 0:
            continue
        # In place: a matrix of forecasts by days is written again by each step, not made anew.
        distance, part = z[d] - z[i, None], change[d] - change[i, None]
        distance /= scale_z[here, None]
        distance *= distance
        distance += shuffle[d]
        part /= scale_c[here, None]
        part *= part
        distance += part
        np.take(unlike[record.day_of_year[i] - 1], record.day_of_year[d] - 1, axis=1, out=part, mode="clip")
        distance += part
        if not enough:
            distance += _OTHER_STATE * (state[d] != state[i[0]])
        for k, (a, b) in enumerate(zip(begin.tolist(), end.tolist(), strict=True)):
            distance[k, a:b] = np.inf
        if len(d) > members:
            nearest = np.argpartition(distance, members - 1, axis=1)[:, :members]
        else:
            nearest = np.broadcast_to(np.arange(len(d)), distance.shape)
        allowed = np.isfinite(np.take_along_axis(distance, nearest, axis=1))
        chosen[here, : nearest.shape[1]] = np.where(allowed, d[nearest], -1)
    return Donors(row=chosen)


def _apart(day: Ints, other: Ints | int) -> Ints:
    """Days of season between two days of the year."""
    apart = np.abs(day - other)
    return np.minimum(apart, 366 - apart)


def _spread_outside(values: Floats, first: Ints, last: Ints) -> Floats:
    """Standard deviation of the rows outside each range, from sums that never touch the rows inside it."""
    known = ~np.isnan(values)
    moments = np.stack([known.astype(np.float64), np.nan_to_num(values), np.nan_to_num(values) ** 2])
    from_left = np.concatenate((np.zeros((3, 1)), np.cumsum(moments, axis=1)), axis=1)
    from_right = np.concatenate((np.cumsum(moments[:, ::-1], axis=1)[:, ::-1], np.zeros((3, 1))), axis=1)
    empty = first > last
    n, total, squares = np.where(
        empty, from_left[:, -1:], from_left[:, first * ~empty] + from_right[:, np.where(empty, 0, last + 1)]
    )
    n = np.maximum(n, 1.0)
    spread = np.sqrt(np.maximum(squares / n - (total / n) ** 2, 0.0))
    return np.where(spread > 0, spread, 1.0)


def paths(record: OutlookRecord, start_z: Floats, donors: Donors, days: int) -> Floats:
    """Log discharge of each member on days 1 to `days`, shape (days, forecasts, members); NaN = not known.

    `start_z` holds the present log discharge, one a forecast or one a member.
    """
    row = donors.row
    ahead = np.concatenate((record.z, np.full(days + 1, np.nan)))
    base = np.where(row >= 0, start_z.reshape(len(row), -1) - record.z[row], np.nan)
    out = np.empty((days, *row.shape))
    for day in range(days):
        np.add(base, ahead[row + (day + 1)], out=out[day])
    return out


def states_on(
    record: OutlookRecord, starts: Ints, donors: Donors, leads: Ints, edges: tuple[Floats, Floats]
) -> npt.NDArray[np.int8]:
    """State of every member at each lead [days], shape (leads, forecasts, members).

    `edges` are the stop and the restart level that each forecast's paths are held against (see `level_edges`).
    """
    rule = record.rule
    if rule.restart_m3s == rule.stop_m3s and rule.stop_days == rule.restart_days == 1:
        # Without memory the state of a day follows from that day alone.
        row = donors.row
        ahead = np.concatenate((record.z, np.full(int(leads.max()) + 1, np.nan)))
        level = np.where(row >= 0, record.z[row] - record.z[starts][:, None] + edges[0][:, None], np.nan) - _TOUCH
        out = np.empty((len(leads), *row.shape), dtype=np.int8)
        for k, lead in enumerate(leads.tolist()):
            z = ahead[row + lead]
            out[k] = np.where(z < level, DRY, np.where(z >= level, RUNNING, UNKNOWN))
        return out
    beyond = int(leads.max()) + max(rule.stop_days, rule.restart_days) - 1
    out = np.empty((len(leads), *donors.row.shape), dtype=np.int8)
    for first in range(0, len(starts), _AT_ONCE):
        some = slice(first, first + _AT_ONCE)
        at = starts[some]
        z = paths(record, record.z[at], Donors(row=donors.row[some]), beyond)
        state, below, above = record.known_state[at, None], record.below[at, None], record.above[at, None]
        stop, restart = (edge[some, None] for edge in edges)
        out[:, some] = run_rule(rule, z, state, below, above, edges=(stop, restart))[leads - 1]
    return out


def run_rule(
    rule: StateRule,
    z: Floats,
    state: npt.NDArray[np.int8],
    below: Ints,
    above: Ints,
    level_shift: Floats | float = 0.0,
    edges: tuple[Floats | float, Floats | float] | None = None,
) -> npt.NDArray[np.int8]:
    """States along paths of log discharge `z` (days first), day by day.

    state         state on the day before the first, as it was known
    below, above  consecutive days, up to that day, below the stop level and at or above the restart level
    level_shift   added to both levels on the log scale, one a path or one for all
    edges         stop and restart level on the log scale, one a path or one for all; None = as the rule gives them

    As in `state_runs`: a stretch that settles the state counts from its first day, and after a missing day the state
    is unknown until the discharge settles it.
    """
    stop, restart = (edge + level_shift - _TOUCH for edge in (edges or (0.0, rule.log_restart)))
    out = np.empty(z.shape, dtype=np.int8)
    state, below, above = (np.array(np.broadcast_to(a, z.shape[1:])) for a in (state, below, above))
    for day in range(len(z)):
        today = z[day]
        dries, dried = _settled(today < stop, below, rule.stop_days)
        runs, ran = _settled(today >= restart, above, rule.restart_days)
        np.copyto(state, UNKNOWN, where=np.isnan(today))
        np.copyto(state, RUNNING, where=runs)
        np.copyto(state, DRY, where=dries)
        out[day] = state
        # The days that had to pass before the state was settled belong to it already.
        for back in range(1, min(rule.stop_days - 1, day) + 1):
            out[day - back][dried] = DRY
        for back in range(1, min(rule.restart_days - 1, day) + 1):
            out[day - back][ran] = RUNNING
    return out


def _settled(
    met: npt.NDArray[np.bool_], days: Ints, wanted: int
) -> tuple[npt.NDArray[np.bool_], npt.NDArray[np.bool_]]:
    """Where a condition has been met for so many days, and where it is so for the first day; `days` counts on."""
    if wanted == 1:  # one day settles it: nothing to count
        return met, met
    days += 1
    days *= met
    return days >= wanted, days == wanted
