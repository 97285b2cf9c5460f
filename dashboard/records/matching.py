"""Which rows of a table, as read, are the ones that an entry wrote."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from dashboard.records.entry import Entry
from dashboard.records.journal import SAVED, Kept

#: Columns that hold numbers and may be written with a decimal comma.
NUMBERS = ("effort", "water_temp_c", "decon_minutes", "length_mm", "match_confidence", "held_minutes")


def matches(frame: pd.DataFrame, entry: Entry) -> pd.Series:
    """Which rows of a table, as read, say what an entry says."""
    same = pd.Series(True, index=frame.index)
    for name, text in entry.values.items():
        if name not in frame:
            return pd.Series(False, index=frame.index)
        column = frame[name]
        if name == "date":
            same &= column == pd.Timestamp(text)
        elif name == "searched":
            same &= column.astype(bool) == (text == "yes")
        elif pd.api.types.is_numeric_dtype(column):
            same &= (column - float(text)).abs() <= 1e-9 * max(1.0, abs(float(text)))
        elif name in NUMBERS:
            numbers = pd.to_numeric(column.astype(str).str.replace(",", "."), errors="coerce")
            same &= (numbers - float(text)).abs() <= 1e-9 * max(1.0, abs(float(text)))
        else:
            same &= column.astype(str).str.lower() == text.lower()
    return same


def missing_from_file(kept: Mapping[str, Kept], table: str, frame: pd.DataFrame, last: int = 200) -> list[Kept]:
    """Entries that were written and are no longer in the table: somebody saved an older copy over it, or changed them.

    Of the last so many; `frame` is the table as read now.
    """
    written = [k for k in kept.values() if k.state == SAVED and k.entry.table == table][-last:]
    used: dict[int, int] = {}
    gone = []
    for k in written:
        here = [i for i in frame.index[matches(frame, k.entry)] if i not in used]
        if here:
            used[here[0]] = 1
        else:
            gone.append(k)
    return gone
