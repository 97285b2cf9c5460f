"""From the journal into visits.csv and captures.csv, and out again: one row at a time, the whole file or nothing.

Under a lock that all writers of this tool share, the file is read anew, the row added to what it holds now, the result
read back as the tool will read it, and put in place in one step. What cannot be written waits in the journal with the
reason and is tried again. A crash at any point leaves either the old file or the new one, and the journal tells which.
"""

from __future__ import annotations

import tempfile
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from dashboard.records.entry import COLUMNS, VISITS, Entry, beyond_record
from dashboard.records.journal import SAVED, UNDO_WAITING, WAITING, Journal, Kept
from dashboard.records.matching import NUMBERS, matches
from dashboard.records.table_text import TableText, date_as_written, read_table_text
from dashboard.workspace_settings import SurveySettings
from ecology.captures import read_captures
from ecology.visits import read_visits
from hydro.problems import InputError, describe
from hydro.whole_file import ProtectedFileError, write_whole

#: How often a file that somebody else changes meanwhile is tried again at once.
_TRIES = 3


@dataclass(frozen=True, eq=False, kw_only=True)
class Place:
    """Where entries of a workspace go.

    today     no row may be dated later
    spans     first and last day of discharge by outlet
    lag_days  how long after the end of its record a visit may lie; later ones wait
    """

    folder: Path
    surveys: SurveySettings
    outlets: Collection[str]
    today: pd.Timestamp
    spans: Mapping[str, tuple[pd.Timestamp, pd.Timestamp]]
    lag_days: int

    @property
    def journal(self) -> Journal:
        return Journal(self.folder)

    def file_of(self, table: str) -> str | None:
        return self.surveys.visits if table == VISITS else self.surveys.captures


class _CannotWriteError(Exception):
    """The row waits; the message says why, as the end of a sentence."""


def write_down(place: Place, entry: Entry) -> Kept:
    """Keep an entry and try to write it. The same entry again changes nothing.

    Raises NotKeptError where it could not even be kept: then it exists only where it was typed.
    """
    journal = place.journal
    with journal.locked():
        journal.hold_room()
        journal.take_up()
        id = journal.enter(entry)
        _settle(place)
        return journal.read()[id]


def settle(place: Place) -> dict[str, Kept]:
    """Try again what waits; all entries as they then stand. Raises NotKeptError."""
    with place.journal.locked():
        place.journal.take_up()
        _settle(place)
        return place.journal.read()


def undo(place: Place, id: str, who: str) -> Kept:
    """Take an entry out again: a waiting one is dropped, a written one removed while its row is as it was written."""
    journal = place.journal
    with journal.locked():
        kept = journal.read()[id]
        if kept.state == WAITING:
            journal.note("dropped", id, who=who)
            journal.lay_aside()
        elif kept.state == SAVED:
            journal.note("undo asked", id, who=who)
            _settle(place)
        return journal.read()[id]


def give_up_undo(place: Place, id: str, who: str) -> Kept:
    """Leave a row as it is that could not be removed."""
    with place.journal.locked():
        place.journal.note("undo given up", id, who=who)
        return place.journal.read()[id]


def put_back(place: Place, id: str, who: str) -> Kept:
    """Write an entry again whose row has gone from the file."""
    journal = place.journal
    with journal.locked():
        if journal.read()[id].state == SAVED:
            journal.note("put back", id, who=who)
            _settle(place)
        return journal.read()[id]


def _settle(place: Place) -> None:
    journal = place.journal
    for id, kept in journal.read().items():
        if kept.state not in (WAITING, UNDO_WAITING):
            continue
        try:
            if kept.state == WAITING:
                _write(place, kept)
                journal.note("written", id)
            else:
                _remove(place, kept)
                journal.note("removed", id)
        except _CannotWriteError as reason:
            if kept.why != f"{reason}":
                journal.note("refused", id, why=f"{reason}")
    journal.lay_aside()


def _write(place: Place, kept: Kept) -> None:
    entry = kept.entry
    last = beyond_record(entry, place.spans, place.lag_days)
    if last is not None and not place.surveys.keep_outside_record:
        raise _CannotWriteError(f"the discharge record of {entry.values['outlet']} ends on {last:%Y-%m-%d}")
    path, file = _path(place, entry)
    for _ in range(_TRIES):
        data, table = _now(path, file)
        if kept.record and kept.before >= 0 and table.count_of(kept.record) > kept.before:
            return  # a crash came after the file and before the journal
        made, record = _with_entry(place, entry, table, file)
        before = table.count_of(record)
        place.journal.note("about to write", entry.id, record=record, before=before)
        if _put(path, data, made):
            return
    raise _CannotWriteError(f"{file} is being changed by another program")


def _remove(place: Place, kept: Kept) -> None:
    path, file = _path(place, kept.entry)
    for _ in range(_TRIES):
        data, table = _now(path, file)
        count = table.count_of(kept.record)
        if kept.before >= 0 and count < kept.before:
            return
        without = table.without_record(kept.record)
        if without is None:
            raise _CannotWriteError("its row has been changed or removed since it was written")
        place.journal.note("about to remove", kept.entry.id, record=kept.record, before=count)
        made = without.to_bytes()
        _read_back(place, kept.entry.table, made, file)
        if _put(path, data, made):
            return
    raise _CannotWriteError(f"{file} is being changed by another program")


def _path(place: Place, entry: Entry) -> tuple[Path, str]:
    file = place.file_of(entry.table)
    if file is None:
        raise _CannotWriteError(f"workspace.toml names no {entry.table} table")
    return (place.folder / file).resolve(), file


def _now(path: Path, file: str) -> tuple[bytes, TableText]:
    """The table as it is now."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise _CannotWriteError(f"{file} cannot be read ({error.strerror})") from None
    try:
        return data, read_table_text(data, file)
    except InputError as error:
        raise _CannotWriteError(f"rows cannot be added to {file}: {error.problems[0].expected} is needed") from None


def _with_entry(place: Place, entry: Entry, table: TableText, file: str) -> tuple[bytes, str]:
    """The file with the entry's row, as the tool reads it back rightly, and the row itself."""
    theirs = {name: _column(place, table, name) for name in COLUMNS[entry.table]}
    needed = [theirs[name] for name in COLUMNS[entry.table] if name in entry.values]
    wide = table.with_columns(needed)
    values = {theirs[name]: text for name, text in entry.values.items()}
    days = date_as_written(pd.Timestamp(entry.values["date"]).date(), table.column(theirs["date"]))
    written = [cell for name in NUMBERS for cell in table.column(theirs.get(name, ""))]
    commas = (False,) if table.separator == "," else (False, True)
    if any("," in cell for cell in written):
        commas = commas[::-1]
    wrong: list[str] = []
    for day in days:
        for comma in commas:
            row = {**values, theirs["date"]: day}
            if comma:
                row |= {theirs[n]: entry.values[n].replace(".", ",") for n in NUMBERS if n in entry.values}
            longer = wide.with_row(row)
            try:
                made = longer.to_bytes()
            except ValueError as error:
                raise _CannotWriteError(f"{error}") from None
            try:
                frame = _read_back(place, entry.table, made, file)
            except _CannotWriteError as reason:
                wrong.append(f"{reason}")
                continue
            if _is_there(frame, entry, longer.line_of_last()):
                return made, longer.records[-1].rstrip("\r\n")
            wrong.append("the row would be read as something else")
    raise _CannotWriteError(wrong[0] if wrong else "no way of writing its date agrees with the column")


def _column(place: Place, table: TableText, name: str) -> str:
    """The user's name of one of our columns, found as the reader finds it."""
    theirs = place.surveys.columns.get(name, name)
    return name if theirs not in table.columns and name in table.columns else theirs


def _read_back(place: Place, table: str, made: bytes, file: str) -> pd.DataFrame:
    """The new file as the tool will read it. Raises _CannotWriteError where it would not."""
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
            raise _CannotWriteError(f"{file} is not in order: {describe(error.problems, 3)}") from None
        except OSError as error:
            raise _CannotWriteError(f"there is no room for a trial copy ({error.strerror})") from None


def _is_there(frame: pd.DataFrame, entry: Entry, line: int) -> bool:
    """Whether the row on this line says what the entry says."""
    row = frame[frame["row"] == line]
    return len(row) == 1 and bool(matches(row, entry).all())


def _put(path: Path, expected: bytes, made: bytes) -> bool:
    """Put the new content in place; False where the file does not hold `expected` any more."""
    try:
        return write_whole(path, made, still=lambda: path.read_bytes() == expected)
    except ProtectedFileError:
        raise _CannotWriteError(f"{path.name} is write-protected") from None
    except OSError as error:
        raise _CannotWriteError(f"{path.name} cannot be written ({error.strerror})") from None


def open_elsewhere(place: Place, table: str) -> bool:
    """Whether a spreadsheet seems to have the table open: saving there later would write over new rows."""
    file = place.file_of(table)
    if file is None:
        return False
    path = place.folder / file
    return any((path.parent / mark).exists() for mark in (f".~lock.{path.name}#", f"~${path.name}"))
