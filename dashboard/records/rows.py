"""One row of visits.csv or captures.csv written, replaced or removed: the whole file or nothing.

The file is read anew, the row set into what it holds now, the result read back as the tool will read it, and put in
place in one step. The journal says before each try what is about to be written and how many rows with the same cells
there are, so that a crash between file and journal is told from one before both.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

import pandas as pd

from dashboard.records.entry import COLUMNS, VISITS, Entry, beyond_record
from dashboard.records.kept import SAVED, Kept
from dashboard.records.matching import NUMBERS, matches
from dashboard.records.place import Place
from dashboard.records.table_text import TableText, date_as_written, read_table_text
from ecology.captures import read_captures
from ecology.visits import read_visits
from hydro.problems import InputError, describe
from hydro.whole_file import ProtectedFileError, write_whole

#: How often a file that somebody else changes meanwhile is tried again at once.
_TRIES = 3
CHANGED = "its row has been changed or removed since it was written"


class CannotWriteError(Exception):
    """The row waits; the message says why, as the end of a sentence."""


def write_row(place: Place, kept: Kept) -> None:
    """Add an entry's row. Raises CannotWriteError."""
    entry = kept.entry
    _in_record(place, entry)
    path, file = file_of(place, entry)
    for _ in range(_TRIES):
        data, table = table_now(path, file)
        if kept.record and kept.before >= 0 and table.count_of(kept.record) > kept.before:
            return  # a crash came after the file and before the journal
        wide = table.with_columns(_columns_of(place, table, entry))
        made, record = _readable(place, entry, table, file, entry.values, wide.with_row)
        place.journal.note("about to write", entry.id, record=record, before=table.count_of(record))
        if _put(path, data, made):
            return
    raise CannotWriteError(f"{file} is being changed by another program")


def replace_row(place: Place, kept: Kept) -> None:
    """Have an entry's row say what its correction says, other cells of it as they are. Raises CannotWriteError."""
    entry = replace(kept.entry, values=kept.wanted or {})
    _in_record(place, entry)
    path, file = file_of(place, entry)
    for _ in range(_TRIES):
        data, table = table_now(path, file)
        if kept.target and kept.before >= 0 and table.count_of(kept.target) > kept.before:
            return
        wide = table.with_columns(_columns_of(place, table, entry))
        record_now = own_record(place, kept, data, table, file)
        if record_now is None:
            raise CannotWriteError(CHANGED)
        # A field that the correction does not touch stays as it is written in the file, unless somebody changed the row
        # there: then the correction speaks for all of them, and a person has seen it beside the row.
        before = {} if kept.found else kept.entry.values
        there = {name for name in COLUMNS[entry.table] if _column(place, wide, name) in wide.columns}
        changed = {n: new for n in there if (new := entry.values.get(n, "")) != before.get(n, "") or kept.found}
        instead = partial(wide.with_row_instead, record_now)
        made, record = _readable(place, entry, table, file, changed, instead)
        place.journal.note("about to correct", entry.id, record=record, before=table.count_of(record))
        if _put(path, data, made):
            return
    raise CannotWriteError(f"{file} is being changed by another program")


def remove_row(place: Place, kept: Kept) -> None:
    """Take an entry's row out. Raises CannotWriteError."""
    path, file = file_of(place, kept.entry)
    for _ in range(_TRIES):
        data, table = table_now(path, file)
        count = table.count_of(kept.record)
        if kept.before >= 0 and count < kept.before:
            return
        record = own_record(place, kept, data, table, file)
        without = None if record is None else table.without_record(record)
        if record is None or without is None:
            raise CannotWriteError(CHANGED)
        place.journal.note("about to remove", kept.entry.id, record=record, before=table.count_of(record))
        made = without.to_bytes()
        read_back(place, kept.entry.table, made, file)
        if _put(path, data, made):
            return
    raise CannotWriteError(f"{file} is being changed by another program")


def file_of(place: Place, entry: Entry) -> tuple[Path, str]:
    """The table that an entry goes into, and its name. Raises CannotWriteError."""
    file = place.file_of(entry.table)
    if file is None:
        raise CannotWriteError(f"workspace.toml names no {entry.table} table")
    return (place.folder / file).resolve(), file


def table_now(path: Path, file: str) -> tuple[bytes, TableText]:
    """The table as it is now. Raises CannotWriteError."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise CannotWriteError(f"{file} cannot be read ({error.strerror})") from None
    try:
        return data, read_table_text(data, file)
    except InputError as error:
        raise CannotWriteError(f"rows cannot be added to {file}: {error.problems[0].expected} is needed") from None


def read_back(place: Place, table: str, made: bytes, file: str) -> pd.DataFrame:
    """A file as the tool will read it. Raises CannotWriteError where it would not."""
    s = place.surveys
    read = read_visits if table == VISITS else read_captures
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "trial.csv"
        try:
            trial.write_bytes(made)
            return read(
                trial, outlets=place.outlets, today=place.today, columns=s.columns, day_first=s.day_first, shown_as=file
            ).frame
        except InputError as error:
            raise CannotWriteError(f"{file} is not in order: {describe(error.problems, 3)}") from None
        except OSError as error:
            raise CannotWriteError(f"there is no room for a trial copy ({error.strerror})") from None


def own_record(place: Place, kept: Kept, data: bytes, table: TableText, file: str) -> str | None:
    """An entry's row as it stands in the table, also where a spreadsheet wrote its dates its own way or somebody
    filled in other columns; None where no row says what the entry says. Raises CannotWriteError."""
    if kept.record and table.count_of(kept.record):
        return kept.record
    frame = read_back(place, kept.entry.table, data, file)
    lines = frame.loc[matches(frame, kept.entry), "row"] if len(frame) else []
    alike = [k for k in place.journal.read().values() if k.state == SAVED and k.entry.table == kept.entry.table
             and k.entry.id != kept.entry.id and k.entry.values == kept.entry.values]  # fmt: skip
    if kept.found or len(lines) <= len(alike):  # those rows are other entries' own
        return None
    last = max(int(line) for line in lines)
    return next((table.records[i].rstrip("\r\n") for i, _ in table.data() if table.line_of(i) == last), None)


def _in_record(place: Place, entry: Entry) -> None:
    last = beyond_record(entry, place.spans, place.lag_days)
    if last is not None and not place.surveys.keep_outside_record:
        raise CannotWriteError(f"the discharge record of {entry.values['outlet']} ends on {last:%Y-%m-%d}")


def _columns_of(place: Place, table: TableText, entry: Entry) -> list[str]:
    return [_column(place, table, name) for name in COLUMNS[entry.table] if name in entry.values]


def _readable(
    place: Place,
    entry: Entry,
    table: TableText,
    file: str,
    cells: Mapping[str, str],
    with_cells: Callable[[Mapping[str, str]], tuple[TableText, int]],
) -> tuple[bytes, str]:
    """The file with the entry's row, as the tool reads it back rightly, and the row itself.

    cells       what is to be written, by our column names
    with_cells  the table with a row of these cells, by its own column names, and the index of that row's record
    """
    theirs = {name: _column(place, table, name) for name in COLUMNS[entry.table]}
    wrong: list[str] = []
    for written in _ways_of_writing(cells, theirs, table):
        longer, at = with_cells(written)
        try:
            made = longer.to_bytes()
        except ValueError as error:
            raise CannotWriteError(f"{error}") from None
        try:
            frame = read_back(place, entry.table, made, file)
        except CannotWriteError as reason:
            wrong.append(f"{reason}")
            continue
        row = frame[frame["row"] == longer.line_of(at)]
        if len(row) == 1 and matches(row, entry).all():
            return made, longer.records[at].rstrip("\r\n")
        wrong.append("the row would be read as something else")
    raise CannotWriteError(wrong[0] if wrong else "no way of writing its date agrees with the column")


def _ways_of_writing(cells: Mapping[str, str], theirs: Mapping[str, str], table: TableText) -> Iterator[dict[str, str]]:
    """Cells by the table's own columns, dates and numbers in every way that its columns allow, the likeliest first."""
    values = {theirs[name]: text for name, text in cells.items()}
    days = [""]
    if "date" in cells:
        days = date_as_written(pd.Timestamp(cells["date"]).date(), table.column(theirs["date"]))
    written = [cell for name in NUMBERS for cell in table.column(theirs.get(name, ""))]
    commas = (False,) if table.separator == "," else (False, True)
    if any("," in cell for cell in written):
        commas = commas[::-1]
    for day in days:
        for comma in commas:
            row = {**values, theirs["date"]: day} if day else dict(values)
            if comma:
                row |= {theirs[n]: cells[n].replace(".", ",") for n in NUMBERS if n in cells}
            yield row


def _column(place: Place, table: TableText, name: str) -> str:
    """The user's name of one of our columns, found as the reader finds it."""
    theirs = place.surveys.columns.get(name, name)
    return name if theirs not in table.columns and name in table.columns else theirs


def _put(path: Path, expected: bytes, made: bytes) -> bool:
    try:
        return write_whole(path, made, still=lambda: path.read_bytes() == expected)
    except ProtectedFileError:
        raise CannotWriteError(f"{path.name} is write-protected") from None
    except OSError as error:
        raise CannotWriteError(f"{path.name} cannot be written ({error.strerror})") from None
