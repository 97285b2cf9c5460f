"""By when something has happened at least once, along paths that may lose sight of it.

"Will it be dry by day T" asks for the first passage below the level, not for the state on day T: a path that dipped
below and came back has been dry.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from hydro.state_runs import UNKNOWN, Floats


def passed_by(states: npt.NDArray[np.int8], state: int) -> Floats:
    """Share of paths that have been in `state` at least once by each day; shape (days, paths) -> (days,).

    A path with an unknown day before its passage is lost from that day on, as in Kaplan and Meier's product-limit
    estimate: it counts for as long as it was watched. NaN from the day on which no path is watched any more.
    """
    hit = states == state
    been = np.maximum.accumulate(hit, axis=0)
    lost = np.maximum.accumulate(states == UNKNOWN, axis=0)
    before = np.concatenate((np.zeros((1, states.shape[1]), dtype=bool), (been | lost)[:-1]))
    watched = ~before & ~(lost & ~hit)
    at_risk, passing = watched.sum(axis=1), (watched & hit).sum(axis=1)
    with np.errstate(invalid="ignore"):
        stays = 1.0 - np.where(at_risk > 0, passing / np.maximum(at_risk, 1), 0.0)
    by = 1.0 - np.cumprod(stays)
    # Once every path has passed, nobody is at risk and the share stays where it is.
    gone = (at_risk == 0) & (by < 1.0 - 1e-12)
    return np.where(gone, np.nan, by)
