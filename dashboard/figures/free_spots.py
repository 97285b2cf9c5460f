"""Where a label beside a point covers neither another label, nor a point, nor a line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

#: Steps along a straight piece of a line at which it is looked for inside a label.
_STEPS = 60
#: What covering costs, where no place is free: a label on a label cannot be read, one on a point is taken for its own.
_ON_LABEL, _ON_POINT, _ON_LINE = 100, 10, 1


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a label stands: which way it runs from its point, and whether above it.

    off    how far above or below it begins (share of the height)
    cost   0 where it covers nothing
    """

    left: bool
    above: bool
    off: float
    cost: int
    box: tuple[float, float, float, float]


class FreeSpots:
    """Labels of one size beside points; everything in shares of the picture's width and height, from the bottom left.

    points   (n, 2), that no label may cover
    lines    arrays of (m, 2) corner points; a NaN breaks a line
    width, height   of a label
    aside, off      how far it begins beside and above or below its point; `off` has one or more, the nearest first
    """

    def __init__(
        self,
        points: np.ndarray,
        lines: Sequence[np.ndarray],
        *,
        width: float,
        height: float,
        aside: float,
        off: Sequence[float],
    ) -> None:
        self._points = points[np.isfinite(points).all(axis=1)]
        along = np.linspace(0.0, 1.0, _STEPS)[:, None, None]
        pieces = [a[:-1] + along * (a[1:] - a[:-1]) for a in lines if len(a) > 1]
        found = np.concatenate([p.reshape(-1, 2) for p in pieces]) if pieces else np.zeros((0, 2))
        self._lines = found[np.isfinite(found).all(axis=1)]
        self._size, self._aside, self._off = (width, height), aside, tuple(off)
        self._taken: list[tuple[float, float, float, float]] = []

    def best(self, x: float, y: float, *, far: bool = False) -> Spot | None:
        """The place that covers least, the nearest, to the right and above first; None where none fits the picture.

        far   places further off count too, not only the nearest
        """
        sides = [(left, above) for left in (False, True) for above in (True, False)]
        offs = self._off if far else self._off[:1]
        spots = [self._spot(x, y, left=left, above=above, off=off) for off in offs for left, above in sides]
        inside = [s for s in spots if s.box[0] >= 0 and s.box[2] <= 1 and s.box[1] >= 0 and s.box[3] <= 1]
        return min(inside, key=lambda s: s.cost, default=None)

    def take(self, spot: Spot) -> None:
        """From now on this place is taken."""
        self._taken.append(spot.box)

    def _spot(self, x: float, y: float, *, left: bool, above: bool, off: float) -> Spot:
        (width, height), aside = self._size, self._aside
        x0 = x - aside - width if left else x + aside
        y0 = y + off if above else y - off - height
        box = (x0, y0, x0 + width, y0 + height)
        labels = sum(box[0] < b[2] and b[0] < box[2] and box[1] < b[3] and b[1] < box[3] for b in self._taken)
        cost = _ON_LABEL * labels + _ON_POINT * _inside(self._points, box) + _ON_LINE * _inside(self._lines, box)
        return Spot(left=left, above=above, off=off, cost=cost, box=box)


def _inside(points: np.ndarray, box: tuple[float, float, float, float]) -> int:
    """How many points lie in a box."""
    x, y = points[:, 0], points[:, 1]
    return int(((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3])).sum())
