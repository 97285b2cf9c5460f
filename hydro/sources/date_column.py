"""A column of dates as read, and the years that are believed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

EARLIEST_YEAR, LATEST_YEAR = 1700, 2199


@dataclass(frozen=True, eq=False, kw_only=True)
class DateColumn:
    """A column of dates as read.

    values          datetime64[us], the wall clock as written; NaT where blank or unreadable
    offset_minutes  minutes east of UTC where a cell says so, NaN elsewhere; None = no cell does
    has_clock       whether any cell carries a clock time
    day_ended       True where the clock was written 24:00, which is 00:00 of the next day in `values`
    layout          the layout in words, and what proved it
    bad             (position, text, what was expected) of every cell that could not be read
    question        what must be settled before the column can be read at all; None = nothing
    """

    values: np.ndarray
    offset_minutes: np.ndarray | None
    has_clock: bool
    day_ended: np.ndarray
    layout: str
    bad: tuple[tuple[int, str, str], ...] = ()
    question: str | None = None
