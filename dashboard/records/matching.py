"""Which rows of a table, as read, are the ones that an entry wrote."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from dashboard.records.entry import COLUMNS, Entry
from dashboard.records.kept import SAVED, Kept

#: Columns that hold numbers and may be written with a decimal comma.
NUMBERS = ("effort", "water_temp_c", "decon_minutes", "length_mm", "match_confidence", "held_minutes")


def matches(frame: pd.DataFrame, entry: Entry) -> pd.Series:
    """Which rows of a table, as read, say what an entry says."""
    same = pd.Series(True, index=frame.index)
    for name, text in entry.values.items():
        same &= agrees(frame, name, text)
    return same


def agrees(frame: pd.DataFrame, name: str, text: str) -> pd.Series:
    """Which rows of a table, as read, say this in one of our columns."""
    if name not in frame:
        return pd.Series(False, index=frame.index)
    column = frame[name]
    if name == "date":
        return column == pd.Timestamp(text)
    if name == "searched":
        return column.astype(bool) == (text == "yes")
    if pd.api.types.is_numeric_dtype(column):
        return (column - float(text)).abs() <= 1e-9 * max(1.0, abs(float(text)))
    if name in NUMBERS:
        numbers = pd.to_numeric(column.astype(str).str.replace(",", "."), errors="coerce")
        return (numbers - float(text)).abs() <= 1e-9 * max(1.0, abs(float(text)))
    return column.astype(str).str.lower() == text.lower()


def values_of(row: pd.Series, table: str) -> dict[str, str]:
    """What a row of a table, as read, says, as an entry would say it."""
    found = {}
    for name in COLUMNS[table]:
        value = row.get(name)
        if name == "date":
            found[name] = f"{pd.Timestamp(str(value)):%Y-%m-%d}"
        elif name == "searched":
            found[name] = "yes" if value else "no"
        elif value is not None and not pd.isna(value):
            number = isinstance(value, (int, float)) and not isinstance(value, bool)
            found[name] = f"{value:g}" if number else " ".join(str(value).split())
    return {name: text for name, text in found.items() if text}


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
