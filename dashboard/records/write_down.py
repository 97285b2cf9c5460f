"""From the journal into visits.csv and captures.csv, corrected there, and out again: one row at a time.

Under a lock that all writers of this tool share. What cannot be written waits in the journal with the reason and is
tried again. A crash at any point leaves either the old file or the new one, and the journal tells which.
"""

from __future__ import annotations

from collections.abc import Mapping

from dashboard.records.entry import Entry
from dashboard.records.journal import NotKeptError
from dashboard.records.kept import CORRECTING, SAVED, UNDO_WAITING, WAITING, Kept
from dashboard.records.place import Place
from dashboard.records.rows import CannotWriteError, file_of, remove_row, replace_row, table_now, write_row

#: What is done about an entry in each state that is not settled, and what the journal then says.
_TO_DO = {
    WAITING: (write_row, "written"),
    UNDO_WAITING: (remove_row, "removed"),
    CORRECTING: (replace_row, "corrected"),
}


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


def correct(place: Place, id: str, values: Mapping[str, str], who: str, *, row: str | None = None) -> Kept:
    """Have an entry say something else, in the file too where it is there already; the journal keeps both.

    values   all of them, by our column names, as an entry has them
    row      the entry's row as a person has just seen it in the file, where somebody changed it there since

    Where the row is neither as it was written nor as `row` the correction waits. Raises NotKeptError.
    """
    journal = place.journal
    with journal.locked():
        journal.take_up()
        _settle(place)
        kept = journal.read()[id]
        wanted = dict(Entry(id=id, table=kept.entry.table, made=kept.entry.made, who=who, values=values).values)
        if kept.state == WAITING:
            _not_there_after_all(place, kept)
            journal.note("changed", id, who=who, values=wanted)
        elif kept.state in (SAVED, CORRECTING) and (row is not None or wanted != dict(kept.entry.values)):
            if row is not None:
                journal.note("found as", id, who=who, record=row)
            journal.note("correction asked", id, who=who, values=wanted)
        _settle(place)
        return journal.read()[id]


def take_from_file(place: Place, id: str, values: Mapping[str, str], row: str, who: str) -> Kept:
    """Let an entry stand as somebody changed it in the file; nothing is written there."""
    with place.journal.locked():
        place.journal.note("taken from file", id, who=who, values=dict(values), record=row)
        place.journal.lay_aside()
        return place.journal.read()[id]


def undo(place: Place, id: str, who: str, *, row: str | None = None) -> Kept:
    """Take an entry out again: a waiting one is dropped, a written one removed while its row is as it was written, or
    as `row`, which a person has just seen."""
    journal = place.journal
    with journal.locked():
        kept = journal.read()[id]
        if kept.state == WAITING:
            journal.note("dropped", id, who=who)
            journal.lay_aside()
        elif kept.state == SAVED or (kept.state == UNDO_WAITING and row is not None):
            if row is not None:
                journal.note("found as", id, who=who, record=row)
            journal.note("undo asked", id, who=who)
            _settle(place)
        return journal.read()[id]


def give_up(place: Place, id: str, who: str) -> Kept:
    """Leave a row as it is that could not be removed or corrected."""
    journal = place.journal
    with journal.locked():
        state = journal.read()[id].state
        if state in (UNDO_WAITING, CORRECTING):
            journal.note("undo given up" if state == UNDO_WAITING else "correction given up", id, who=who)
            journal.lay_aside()
        return journal.read()[id]


def put_back(place: Place, id: str, who: str) -> Kept:
    """Write an entry again whose row has gone from the file."""
    journal = place.journal
    with journal.locked():
        if journal.read()[id].state == SAVED:
            journal.note("put back", id, who=who)
            _settle(place)
        return journal.read()[id]


def _not_there_after_all(place: Place, kept: Kept) -> None:
    """Raises NotKeptError where a crash may have left the row in a file that cannot be read now."""
    if kept.record:
        try:
            table_now(*file_of(place, kept.entry))
        except CannotWriteError as reason:
            raise NotKeptError(f"whether it is in the file already cannot be told: {reason}") from None


def _settle(place: Place) -> None:
    journal = place.journal
    for id, kept in journal.read().items():
        if kept.state not in _TO_DO:
            continue
        do, done = _TO_DO[kept.state]
        try:
            do(place, kept)
            journal.note(done, id)
        except CannotWriteError as reason:
            if kept.why != f"{reason}":
                journal.note("refused", id, why=f"{reason}")
    journal.lay_aside()
