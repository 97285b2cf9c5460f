"""Cells of a date column that could not be read, told by row; and the one way to take a UTC offset off a clock."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from hydro.problems import Problem
from hydro.sources.date_column import DateColumn
from hydro.sources.gauge_file import row_problems


def date_problems(
    dates: DateColumn,
    texts: pa.Array,
    rows: np.ndarray,
    file: str,
    column: str | None,
    *,
    blank: str = "a date",
    row_name: str = "",
) -> list[Problem]:
    """One Problem a cell that is no date. `blank` is what was expected of an empty one, `row_name` stands before its
    number."""
    found = {p: (text, expected) for p, text, expected in dates.bad}
    # Without a cell that came to nothing there is nothing to look for: a million texts need not be trimmed.
    for position in np.flatnonzero(np.isnat(dates.values)).tolist():
        if position not in found and not str(texts[position].as_py() or "").strip():
            found[position] = ("", blank)
    places = sorted(found)
    return row_problems(
        file,
        column,
        [row_label(rows[p], row_name) for p in places],
        [found[p][0] for p in places],
        [found[p][1] for p in places],
    )


def row_label(row: int, name: str) -> int | str:
    """The number of a row, after what such rows are called where they are no lines of the file (“point 12”)."""
    return f"{name} {row}" if name else int(row)


def east_of_utc(minutes: np.ndarray) -> np.ndarray:
    """Minutes east of UTC -> timedelta64[us] to take off a clock; nothing where they are not known (NaN)."""
    shift = np.nan_to_num(minutes)
    shift *= 60_000_000  # in place: a column of a long file is copied as seldom as can be
    return shift.astype(np.int64).view("timedelta64[us]")
