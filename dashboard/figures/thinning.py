"""Fewer points for the screen, with every extreme and every hole kept."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

#: Up to so many points a line is drawn as it is.
AS_IS = 15_000
#: Longer lines are drawn with about so many points.
DRAWN = 4_000

Ints = npt.NDArray[np.int64]


def thinned(values: np.ndarray, as_is: int = AS_IS, drawn: int = DRAWN) -> Ints:
    """Positions of `values` (NaN = nothing there) that keep its picture, increasing.

    All positions where there are at most `as_is`. Above that each stretch between holes keeps, per bucket, its lowest
    and highest value, and always its first and last; one position of each hole is kept so that the line breaks there.
    Largest-triangle rules may drop the single lowest day, which is the one that matters here.
    """
    n = len(values)
    if n <= as_is:
        return np.arange(n)
    bucket = max(-(-n // max(drawn // 2, 1)), 1)
    known = ~np.isnan(values)
    # A new bucket starts every `bucket` points and wherever a stretch begins or ends.
    edge = np.concatenate(([True], known[1:] != known[:-1]))
    edge[::bucket] = True
    start = np.flatnonzero(edge)
    low = np.minimum.reduceat(np.where(known, values, np.inf), start)
    high = np.maximum.reduceat(np.where(known, values, -np.inf), start)
    length = np.diff(np.append(start, n))
    is_low = known & (values == np.repeat(low, length))
    is_high = known & (values == np.repeat(high, length))
    keep = {int(p) for p in np.concatenate((_firsts(is_low, start, n), _firsts(is_high, start, n)))}
    turns = np.flatnonzero(np.concatenate(([True], known[1:] != known[:-1])))
    keep.update(turns.tolist())
    keep.update((turns[1:] - 1).tolist())
    keep.update((0, n - 1))
    return np.array(sorted(keep), dtype=np.int64)


def _firsts(mask: npt.NDArray[np.bool_], start: Ints, n: int) -> Ints:
    """The first true position of each bucket that has one."""
    at = np.flatnonzero(mask)
    if at.size == 0:
        return at
    after = np.searchsorted(at, start)
    end = np.append(start[1:], n)
    has = after < at.size
    found = at[after[has]]
    return found[found < end[has]]
