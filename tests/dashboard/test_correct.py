"""An entry corrected: the row in the file, both versions in the journal, and a question where the row was changed."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest

from dashboard.records import rows
from dashboard.records.journal import Journal, NotKeptError
from dashboard.records.kept import CORRECTING, SAVED, UNDO_WAITING, UNDONE, WAITING, Kept
from dashboard.records.row_now import RowNow, differences, row_now
from dashboard.records.rows import CannotWriteError
from dashboard.records.write_down import correct, give_up, put_back, settle, take_from_file, undo, write_down
from ecology.visits import read_visits
from tests.dashboard.test_records import OUTLETS, TABLE, TODAY, at, place, text, visit


def edit(folder: Path, old: str, new: str) -> None:
    whole = text(folder)
    assert old in whole
    (folder / "visits.csv").write_bytes(whole.replace(old, new).encode())


def seen(here, id: str) -> RowNow:
    all_kept = settle(here)
    found = row_now(here, all_kept[id], all_kept)
    assert found is not None
    return found


def test_a_correction_changes_its_cells_and_nothing_else_and_the_journal_keeps_both(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit(effort="45.5", note="under, the ledge")
    write_down(here, entry)
    before = text(tmp_path)
    kept = correct(here, entry.id, {**entry.values, "count": "4", "date": "2024-06-19"}, "Marit")
    assert kept.state == SAVED and kept.changed_by == "Marit"
    assert text(tmp_path) == before.replace("20.06.2024;ledge;running;3", "19.06.2024;ledge;running;4")
    assert [v["count"] for v in kept.versions] == ["3"] and kept.entry.values["count"] == "4"
    assert kept.entry.who == "Joss"
    assert undo(here, entry.id, "Joss").state == UNDONE and "19.06.2024" not in text(tmp_path)


def test_a_correction_can_blank_a_cell_and_fill_a_column_that_the_table_lacks(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit(note="x")
    write_down(here, entry)
    values = {k: v for k, v in entry.values.items() if k not in ("count", "note")}
    assert correct(here, entry.id, {**values, "water_temp_c": "17.5"}, "Joss").state == SAVED
    row = read_visits(tmp_path / "visits.csv", outlets=OUTLETS, today=TODAY).frame.iloc[-1]
    assert row["kind"] == "searched-uncounted" and row["note"] == "" and row["water_temp_c"] == 17.5


def test_the_same_form_sent_again_after_a_correction_is_still_the_same_entry(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    correct(here, entry.id, {**entry.values, "count": "4"}, "Joss")
    assert write_down(here, entry).entry.values["count"] == "4"
    assert text(tmp_path).count("20.06.2024") == 1


@pytest.mark.parametrize("way", ["other columns", "other layout"])
def test_a_row_that_says_the_same_in_another_way_is_corrected_and_taken_out_without_a_question(tmp_path, way):
    here, entry = place(tmp_path), visit(effort="45.5")
    write_down(here, entry)
    if way == "other columns":
        edit(tmp_path, "20.06.2024;ledge;running;3;45,5;;", "20.06.2024;ledge;running;3;45,5;fog;")
    else:
        again = re.sub(r"(\d\d)\.(\d\d)\.(\d{4})", r"\1/\2/\3", text(tmp_path))
        (tmp_path / "visits.csv").write_bytes(again.encode())
    assert correct(here, entry.id, {**entry.values, "count": "4"}, "Joss").state == SAVED
    assert "ledge;running;4;45,5" in text(tmp_path) and ("fog" in text(tmp_path)) == (way == "other columns")
    assert undo(here, entry.id, "Joss").state == UNDONE and "ledge;running;4" not in text(tmp_path)


def test_a_like_row_of_another_entry_is_not_taken_out_for_one_that_is_gone(tmp_path: Path) -> None:
    here, first, second = place(tmp_path), visit(), visit()
    write_down(here, first)
    write_down(here, second)
    edit(tmp_path, "20.06.2024;ledge;running;3;;;;yes\r\n20.06.2024", "20/06/2024")
    (tmp_path / "visits.csv").write_bytes(text(tmp_path).replace(".05.", "/05/").encode())
    assert undo(here, first.id, "Joss").state == UNDO_WAITING
    assert text(tmp_path).count("20/06/2024") == 1


def test_a_row_changed_in_a_spreadsheet_is_asked_about_and_the_choice_is_written(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit(note="mine")
    write_down(here, entry)
    edit(tmp_path, "20.06.2024;ledge;running;3;;;mine", "20.06.2024;ledge;pooled;5;;fog;mine")
    wanted = {**entry.values, "count": "4"}
    kept = correct(here, entry.id, wanted, "Joss")
    assert kept.state == CORRECTING and "5" in text(tmp_path) and kept.wanted == wanted
    found = seen(here, entry.id)
    asked = {d.column: (d.was, d.in_file, d.yours, d.settled) for d in differences(entry.values, found.values, wanted)}
    assert asked == {"surface": ("running", "pooled", "running", "pooled"), "count": ("3", "5", "4", None)}
    kept = correct(here, entry.id, {**wanted, "surface": "pooled"}, "Joss", row=found.record)
    assert kept.state == SAVED
    assert "20.06.2024;ledge;pooled;4;;fog;mine" in text(tmp_path) and text(tmp_path).count("20.06.2024") == 1


def test_a_row_that_changes_once_more_while_the_question_stands_is_asked_about_again(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    edit(tmp_path, "running;3", "running;5")
    correct(here, entry.id, {**entry.values, "count": "4"}, "Joss")
    found = seen(here, entry.id)
    edit(tmp_path, "running;5", "running;6")
    assert correct(here, entry.id, {**entry.values, "count": "4"}, "Joss", row=found.record).state == CORRECTING
    assert seen(here, entry.id).values["count"] == "6" and "running;6" in text(tmp_path)
    assert give_up(here, entry.id, "Joss").state == SAVED and "running;6" in text(tmp_path)


def test_the_files_version_can_be_taken_and_is_then_what_the_entry_says(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    edit(tmp_path, "20.06.2024;ledge;running;3", "20.06.2024;ledge;running;5")
    found, before = seen(here, entry.id), text(tmp_path)
    kept = take_from_file(here, entry.id, found.values, found.record, "Joss")
    assert kept.state == SAVED and kept.entry.values["count"] == "5" and text(tmp_path) == before
    assert undo(here, entry.id, "Joss").state == UNDONE and "20.06.2024" not in text(tmp_path)


def test_a_changed_row_is_removed_only_as_a_person_has_seen_it(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    edit(tmp_path, "running;3", "running;5")
    assert undo(here, entry.id, "Joss").state == UNDO_WAITING
    all_kept = Journal(tmp_path).read()
    found = row_now(here, all_kept[entry.id], all_kept)
    assert found is not None
    assert undo(here, entry.id, "Joss", row=found.record).state == UNDONE and "20.06.2024" not in text(tmp_path)


def test_a_row_that_is_gone_is_like_none_and_another_entrys_row_is_never_taken_for_it(tmp_path: Path) -> None:
    here, entry, other = place(tmp_path), visit(), visit(count="8")
    write_down(here, entry)
    write_down(here, other)
    edit(tmp_path, "20.06.2024;ledge;running;3;;;;yes\r\n", "")
    all_kept = settle(here)
    assert row_now(here, all_kept[entry.id], all_kept) is None
    assert put_back(here, entry.id, "Joss").state == SAVED and text(tmp_path).count("20.06.2024") == 2


def test_a_correction_waits_for_a_protected_file_and_outlives_the_tools_own_folder(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    (tmp_path / "visits.csv").chmod(0o444)
    assert correct(here, entry.id, {**entry.values, "count": "4"}, "Joss").state == CORRECTING
    shutil.rmtree(tmp_path / ".resurgence")
    (tmp_path / "visits.csv").chmod(0o644)
    kept = settle(here)[entry.id]
    assert kept.state == SAVED and "running;4" in text(tmp_path) and "running;3" not in text(tmp_path)
    assert not (tmp_path / "entries-waiting.jsonl").exists()


def test_an_entry_that_waits_is_corrected_in_the_journal_alone(tmp_path: Path) -> None:
    here, entry = place(tmp_path, lag=0), visit(date="2024-06-30")
    write_down(here, entry)
    assert correct(here, entry.id, {**entry.values, "count": "9"}, "Joss").state == WAITING
    assert settle(at(tmp_path, lag=31))[entry.id].state == SAVED
    assert "30.06.2024;ledge;running;9" in text(tmp_path) and text(tmp_path).count("30.06.2024") == 1


def test_a_waiting_entry_is_not_changed_while_it_may_stand_in_a_file_that_cannot_be_read(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    (tmp_path / "visits.csv").chmod(0o444)
    write_down(here, entry)
    (tmp_path / "visits.csv").unlink()
    with pytest.raises(NotKeptError, match="cannot be told"):
        correct(here, entry.id, {**entry.values, "count": "4"}, "Joss")


@pytest.mark.parametrize("crash", ["before the file", "after the file"])
def test_a_crash_in_a_correction_neither_loses_nor_doubles_it(tmp_path: Path, monkeypatch, crash: str) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    real = rows.write_whole

    def dies(*args, **more):
        if crash == "after the file":
            real(*args, **more)
        raise KeyboardInterrupt

    with monkeypatch.context() as m, pytest.raises(KeyboardInterrupt):
        m.setattr(rows, "write_whole", dies)
        correct(here, entry.id, {**entry.values, "count": "4"}, "Joss")
    kept = settle(here)[entry.id]
    assert kept.state == SAVED and kept.entry.values["count"] == "4"
    assert text(tmp_path).count("20.06.2024;ledge;running;4") == 1 and "running;3" not in text(tmp_path)


def test_an_entry_whose_table_got_a_column_later_can_still_be_taken_out(tmp_path: Path) -> None:
    here, first = place(tmp_path, TABLE.replace(";note", ";note;searched")), visit()
    write_down(here, first)
    write_down(here, visit(water_temp_c="17"))
    assert undo(here, first.id, "Joss").state == UNDONE


def test_a_file_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    kept: Kept = settle(here)[entry.id]
    (tmp_path / "visits.csv").unlink()
    with pytest.raises(CannotWriteError, match="cannot be read"):
        row_now(here, kept, {})
