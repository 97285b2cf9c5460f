"""Newton's method towards the top of a log likelihood, with steps halved where they do not climb."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

import numpy as np

State = TypeVar("State")

MOST_STEPS = 100
#: A step cut to less than this part of itself leads nowhere.
_SMALLEST_PART = 1e-10


def climb(
    start: np.ndarray,
    look: Callable[[np.ndarray], tuple[float, State]],
    step: Callable[[np.ndarray, State], tuple[np.ndarray, float]],
    *,
    first_part: Callable[[np.ndarray], float] = lambda change: 1.0,
) -> tuple[np.ndarray, State, int, bool]:
    """(where the value is largest, what `look` found there, steps, whether the last step became negligible).

    look        (value, whatever else was worked out on the way) at a point
    step        (the full step from a point, score · step) with what `look` found there
    first_part  how much of a full step to try first

    Where the curvature cannot be inverted (all chances 0 or 1 along some direction) it stops as not converged: the
    caller asks why.
    """
    at = start
    value, state = look(at)
    for number in range(1, MOST_STEPS + 1):
        try:
            change, gain = step(at, state)
        except np.linalg.LinAlgError:
            return at, state, number, False
        part = first_part(change)
        while True:
            trial = at + part * change
            new, there = look(trial)
            if new >= value - 1e-12 * abs(value):
                break
            part *= 0.5
            if part < _SMALLEST_PART:
                return at, state, number, False
        at, value, state = trial, new, there
        # The last step was quadratic: a gain this small leaves an error near rounding.
        if gain < 1e-14 * (1.0 + abs(value)):
            return at, state, number, True
    return at, state, MOST_STEPS, False
