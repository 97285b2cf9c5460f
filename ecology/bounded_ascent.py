"""The maximum of a smooth function within a box, by the quasi-Newton method of Broyden, Fletcher, Goldfarb and Shanno.

Of our own because the problems here have two to a hundred parameters and evaluations of a fraction of a millisecond: a
general library's linear algebra, with its threads, takes several times longer than the function itself.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

_MOST_STEPS = 2000
#: No coordinate moves further in one step.
_LONGEST = 3.0
#: A step is taken when the function rises by at least this share of what its slope promises.
_ENOUGH = 1e-4


def ascend(
    function: Callable[[np.ndarray], tuple[float, np.ndarray]],
    start: np.ndarray,
    *,
    bound: float,
    slope: float = 1e-10,
    gain: float = 1e-15,
) -> np.ndarray:
    """Where `function` (value and gradient) is greatest within -`bound` … `bound` in every coordinate.

    Ends when no free slope is above `slope`, or when steps raise the value by less than `gain` of it.
    """
    x = np.clip(start, -bound, bound)
    value, gradient = function(x)
    inverse = np.eye(len(x))
    fresh, little = True, 0
    for _ in range(_MOST_STEPS):
        free = ~(((x >= bound) & (gradient > 0)) | ((x <= -bound) & (gradient < 0)))
        if not free.any() or np.abs(gradient[free]).max() < slope:
            break
        step = np.zeros(len(x))
        step[free] = inverse[np.ix_(free, free)] @ gradient[free]
        if fresh or step @ gradient <= 0:
            step = np.where(free, gradient, 0.0) / max(float(np.abs(gradient[free]).max()), 1e-300)
        step *= min(1.0, _LONGEST / max(float(np.abs(step).max()), 1e-300))
        size = 1.0
        while True:
            there = np.clip(x + size * step, -bound, bound)
            found, slopes = function(there)
            if found >= value + _ENOUGH * float((there - x) @ gradient) or size < 1e-12:
                break
            size *= 0.5
        if size < 1e-12:
            if fresh:
                break
            inverse, fresh = np.eye(len(x)), True
            continue
        s, y = there - x, gradient - slopes
        curvature = float(s @ y)
        if curvature > 1e-14 * float(s @ s):
            if fresh:
                inverse = np.eye(len(x)) * (curvature / max(float(y @ y), 1e-300))
            hy = inverse @ y
            inverse += (1.0 + float(y @ hy) / curvature) * np.outer(s, s) / curvature
            inverse -= (np.outer(hy, s) + np.outer(s, hy)) / curvature
            fresh = False
        little = little + 1 if found - value <= gain * abs(value) else 0
        x, value, gradient = there, found, slopes
        if little >= 3:
            break
    return x
