"""Where a level lies between the values that a gauge gives, which come in steps.

A published 0.05 stands for anything that rounds to it. A path of the ensemble is worked out without rounding: started
at 0.05 and fallen by 1 % it is 0.0495, which the gauge would still give as 0.05. Held against a stop level of 0.05 as
it stands, it would count as dry, and a river that lies on its level for weeks would be called dry day after day. Paths
are held instead against the edge from which on the gauge gives the next lower value (continuity correction).
"""

from __future__ import annotations

import numpy as np

from hydro.outlook_record import OutlookRecord
from hydro.state_runs import Floats, Ints

#: Distinct values on either side of the level whose gaps tell the step.
_NEIGHBOURS = 6
#: Values that agree to so many decimals of the level are one value: a sum of gauges has rounding of its own.
_DECIMALS = 7


def level_edges(record: OutlookRecord, first: Ints, last: Ints) -> tuple[Floats, Floats]:
    """The stop and the restart level as paths are held against them, on the scale of `OutlookRecord.z`.

    One value for each range of rows `first` to `last` (inclusive; `first` > `last` leaves out nothing), from the values
    outside it. The step is the median gap between the distinct values next to the level; where too few are known, or
    none reaches the level, the level itself is the edge. An edge lies within half a step of its level.
    """
    rule = record.rule
    shares = np.round(rule.discharge(record.z) / rule.stop_m3s, _DECIMALS)
    known = ~np.isnan(shares)
    distinct, which = np.unique(shares[known], return_inverse=True)
    place = np.concatenate(([0], np.cumsum(known)))
    total = np.bincount(which, minlength=len(distinct))
    levels = (1.0, rule.restart_m3s / rule.stop_m3s)
    edges = np.empty((2, len(first)))
    for k, (a, b) in enumerate(zip(first.tolist(), last.tolist(), strict=True)):
        inside = which[place[min(a, len(known))] : place[min(max(b + 1, a), len(known))]]
        left = distinct[total > np.bincount(inside, minlength=len(distinct))]
        edges[:, k] = [_edge(left, level) for level in levels]
    stop, restart = rule.z(edges * rule.stop_m3s)
    return stop, restart


def _edge(distinct: Floats, level: float) -> float:
    at = int(np.searchsorted(distinct, level))
    near = distinct[max(at - _NEIGHBOURS, 0) : at + _NEIGHBOURS]
    if at == len(distinct) or len(near) < _NEIGHBOURS:
        return level
    step = float(np.median(np.diff(near)))
    return float(min(distinct[at], level + step)) - step / 2.0
