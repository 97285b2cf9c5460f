"""The ends of intervals (low, high] in which something happened, checked."""

from __future__ import annotations

import numpy as np


def checked_intervals(low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(low, high) as float arrays of one length; ValueError where a row is not an interval with low ≤ high.

    low == high is an exact time; `high` may be inf (not seen to happen) and `low` −inf (nothing known before `high`).
    """
    low, high = np.asarray(low, dtype=float), np.asarray(high, dtype=float)
    if low.ndim != 1 or low.shape != high.shape or low.size == 0:
        raise ValueError(f"intervals need two equally long, non-empty rows of ends, not {low.shape} and {high.shape}")
    wrong = np.flatnonzero(~(low <= high) | (low == np.inf) | (high == -np.inf))
    if wrong.size:
        i = int(wrong[0])
        raise ValueError(f"({low[i]}, {high[i]}] at position {i} is not an interval with low ≤ high")
    return low, high
