"""The row of an entry as it stands in the file now, where somebody has changed it there since it was written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from dashboard.records.entry import CAPTURES, Entry
from dashboard.records.kept import SAVED, Kept
from dashboard.records.matching import agrees, matches, values_of
from dashboard.records.place import Place
from dashboard.records.rows import file_of, own_record, read_back, table_now


@dataclass(frozen=True, kw_only=True)
class RowNow:
    """A row that is taken for an entry's: its line in the file, its text, and what it says by our column names."""

    line: int
    record: str
    values: Mapping[str, str]


def row_now(place: Place, kept: Kept, others: Mapping[str, Kept]) -> RowNow | None:
    """The row that an entry's has most likely become; None where it stands as written, or none is like it.

    A row is like it that has its day and outlet (and animal), or all of what it says but for one thing, and that no
    other entry wrote. Of several the one that agrees in most things. Raises CannotWriteError where the file cannot be
    read.
    """
    path, file = file_of(place, kept.entry)
    data, table = table_now(path, file)
    if own_record(place, kept, data, table, file) is not None:
        return None
    frame = read_back(place, kept.entry.table, data, file)
    if frame.empty:
        return None
    free = ~_of_others(frame, kept, others)
    same = pd.DataFrame({name: agrees(frame, name, text) for name, text in kept.entry.values.items()})
    names = ["date", "outlet", *(["individual"] if kept.entry.table == CAPTURES else [])]
    n = same.sum(axis=1)
    like = free & (same[names].all(axis=1) | (n >= max(3, len(same.columns) - 1)))
    if not like.any():
        return None
    best = frame.loc[n[like].idxmax()]
    line = int(best["row"])
    at = next((i for i, _ in table.data() if table.line_of(i) == line), None)
    if at is None:
        return None
    return RowNow(line=line, record=table.records[at].rstrip("\r\n"), values=values_of(best, kept.entry.table))


def _of_others(frame: pd.DataFrame, kept: Kept, others: Mapping[str, Kept]) -> pd.Series:
    """Rows that other entries wrote, one each."""
    taken = pd.Series(False, index=frame.index)
    for other in others.values():
        if other.state == SAVED and other.entry.table == kept.entry.table and other.entry.id != kept.entry.id:
            here = frame.index[matches(frame, other.entry) & ~taken]
            if len(here):
                taken[here[0]] = True
    return taken


@dataclass(frozen=True, kw_only=True)
class Difference:
    """One thing that the three do not say alike; "" = nothing.

    settled   what all three come to where only one side changed it; None where both did, differently
    """

    column: str
    was: str
    in_file: str
    yours: str
    settled: str | None


def differences(was: Mapping[str, str], in_file: Mapping[str, str], yours: Mapping[str, str]) -> list[Difference]:
    """Where what was written, what the file says now, and what a person wants differ."""
    found = []
    for column in dict.fromkeys([*was, *in_file, *yours]):
        a, b, c = (values.get(column, "") for values in (was, in_file, yours))
        if _alike(a, b) and _alike(a, c):
            continue
        settled = c if _alike(a, b) or _alike(b, c) else b if _alike(a, c) else None
        found.append(Difference(column=column, was=a, in_file=b, yours=c, settled=settled))
    return found


def _alike(a: str, b: str) -> bool:
    """Numbers by value, words without regard to capitals."""
    try:
        return float(a) == float(b)
    except ValueError:
        return a.casefold() == b.casefold()


def entry_like(kept: Kept, values: Mapping[str, str]) -> Entry:
    """The entry with other values, to be checked as one."""
    e = kept.entry
    return Entry(id=e.id, table=e.table, made=e.made, who=e.who, values=values)
