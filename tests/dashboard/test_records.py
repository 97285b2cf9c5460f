"""Entries on their way into visits.csv: nothing lost, nothing doubled, all else in the file kept byte for byte."""

from __future__ import annotations

import errno
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pandas as pd
import pytest

from dashboard.records.entry import CAPTURES, VISITS, Entry, entry_problems, new_id
from dashboard.records.journal import Journal, NotKeptError
from dashboard.records.kept import DROPPED, SAVED, UNDO_WAITING, UNDONE, WAITING
from dashboard.records.matching import missing_from_file
from dashboard.records.place import Place, open_elsewhere
from dashboard.records.table_text import read_table_text
from dashboard.records.write_down import give_up, put_back, settle, undo, write_down
from dashboard.wording import records as words
from dashboard.workspace_settings import SurveySettings
from ecology.visits import read_visits
from hydro import whole_file

OUTLETS = ("ledge", "pool")
TODAY = pd.Timestamp("2024-06-30")
SPAN = (pd.Timestamp("2020-01-01"), pd.Timestamp("2024-06-29"))
TABLE = (
    "# counts at Quillmere; keep the columns\r\n"
    "date;outlet;surface;count;effort;weather;note\r\n"
    "23.05.2024;ledge;running;2;30,5;bright;seen\r\n"
    '24.05.2024;pool;running;0;40;"rain; wind";"said ""none"""\r\n'
)


def place(folder: Path, text: str = TABLE, *, surveys: SurveySettings | None = None, lag: int = 31) -> Place:
    (folder / "visits.csv").write_bytes(text.encode())
    return at(folder, surveys=surveys, lag=lag)


def at(folder: Path, *, surveys: SurveySettings | None = None, lag: int = 31) -> Place:
    return Place(
        folder=folder,
        surveys=surveys or SurveySettings(visits="visits.csv"),
        outlets=OUTLETS,
        today=TODAY,
        spans=dict.fromkeys(OUTLETS, SPAN),
        lag_days=lag,
    )


def visit(id: str | None = None, **values: str) -> Entry:
    made = "2024-06-20T09:00:00+00:00"
    usual = {"date": "2024-06-20", "outlet": "ledge", "surface": "running", "searched": "yes", "count": "3"}
    return Entry(id=id or new_id(), table=VISITS, made=made, who="Joss", values=usual | values)


def text(folder: Path) -> str:
    return (folder / "visits.csv").read_bytes().decode()


def test_a_row_is_added_in_the_layout_of_the_file_and_nothing_else_changes(tmp_path: Path) -> None:
    kept = write_down(place(tmp_path), visit(effort="45.5", note="under the, ledge"))
    assert kept.state == SAVED
    assert (
        text(tmp_path)
        == TABLE.replace(";note\r\n", ";note;searched\r\n")
        .replace("seen\r\n", "seen;\r\n")
        .replace('"said ""none"""\r\n', '"said ""none""";\r\n')
        + "20.06.2024;ledge;running;3;45,5;;under the, ledge;yes\r\n"
    )


def test_the_same_form_sent_twice_is_one_row(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    assert write_down(here, entry).state == write_down(here, entry).state == SAVED
    assert text(tmp_path).count("20.06.2024") == 1


def test_another_visit_from_a_form_whose_address_was_passed_on_is_not_taken_for_the_first(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    assert write_down(here, visit(entry.id, count="5")).state == SAVED
    assert text(tmp_path).count("20.06.2024") == 2


def test_two_like_visits_of_one_day_are_two_rows(tmp_path: Path) -> None:
    here = place(tmp_path)
    write_down(here, visit())
    write_down(here, visit())
    assert text(tmp_path).count("20.06.2024;ledge;running;3") == 2


@pytest.mark.parametrize("encoding", ["utf-8-sig", "cp1252", "utf-16"])
def test_the_encoding_and_its_mark_stay(tmp_path: Path, encoding: str) -> None:
    before = TABLE.replace("bright", "köhl")
    (tmp_path / "visits.csv").write_bytes(before.encode(encoding))
    assert write_down(at(tmp_path), visit(note="größer")).state == SAVED
    data = (tmp_path / "visits.csv").read_bytes()
    assert data.startswith(before.encode(encoding)[:40])
    frame = read_visits(tmp_path / "visits.csv", outlets=OUTLETS, today=TODAY).frame
    assert frame["note"].iloc[-1] == "größer" and len(frame) == 3


def test_a_sign_that_the_files_encoding_lacks_makes_the_entry_wait_and_loses_nothing(tmp_path: Path) -> None:
    (tmp_path / "visits.csv").write_bytes(TABLE.replace("bright", "köhl").encode("cp1252"))
    kept = write_down(at(tmp_path), visit(note="ночь"))
    assert kept.state == WAITING and "cannot be written in this file" in kept.why


def test_a_last_line_without_an_end_is_ended_first(tmp_path: Path) -> None:
    write_down(place(tmp_path, TABLE.rstrip("\r\n")), visit())
    assert len(read_visits(tmp_path / "visits.csv", outlets=OUTLETS, today=TODAY).frame) == 3


def test_the_users_own_column_names_are_used(tmp_path: Path) -> None:
    surveys = SurveySettings(visits="visits.csv", columns={"date": "Day", "count": "Total"})
    here = place(tmp_path, "Day,outlet,Total\n2024-05-01,ledge,4\n", surveys=surveys)
    assert write_down(here, visit(surface="", searched="")).state == SAVED
    assert text(tmp_path).endswith("2024-06-20,ledge,3\n")


def test_day_and_month_that_could_be_either_are_written_as_the_settings_say(tmp_path: Path) -> None:
    surveys = SurveySettings(visits="visits.csv", day_first=True)
    here = place(tmp_path, "date,outlet,count\n03/05/2024,ledge,4\n", surveys=surveys)
    assert write_down(here, visit(date="2024-06-05", surface="", searched="")).state == SAVED
    assert text(tmp_path).endswith("05/06/2024,ledge,3\n")


def test_undo_takes_the_row_out_and_leaves_the_file_as_it_was(tmp_path: Path) -> None:
    table = "date,outlet,surface,searched,count\n2024-05-03,ledge,running,yes,2\n"
    here, entry = place(tmp_path, table), visit()
    write_down(here, entry)
    assert undo(here, entry.id, "Marit").state == UNDONE
    assert text(tmp_path) == table
    assert settle(here)[entry.id].changed_by == "Marit"


def test_a_row_changed_since_is_not_removed_but_asked_about(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    write_down(here, entry)
    changed = text(tmp_path).replace("ledge;running;3", "ledge;running;5")
    (tmp_path / "visits.csv").write_bytes(changed.encode())
    kept = undo(here, entry.id, "Joss")
    assert kept.state == UNDO_WAITING and "changed or removed" in kept.why
    assert text(tmp_path) == changed
    assert give_up(here, entry.id, "Joss").state == SAVED


def test_a_file_edited_meanwhile_keeps_both_the_edit_and_the_entry(tmp_path: Path, monkeypatch) -> None:
    here = place(tmp_path)
    edits = iter([TABLE + "05.06.2024;pool;dry;;;;edited meanwhile\r\n"])
    made = whole_file._new_file

    def meanwhile(*args, **kwargs):
        for edit in edits:
            (tmp_path / "visits.csv").write_bytes(edit.encode())
        return made(*args, **kwargs)

    monkeypatch.setattr(whole_file, "_new_file", meanwhile)
    assert write_down(here, visit()).state == SAVED
    assert "edited meanwhile" in text(tmp_path) and "20.06.2024;ledge" in text(tmp_path)


def test_a_spreadsheet_that_saves_an_older_copy_over_the_file_is_noticed_and_the_row_put_back(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    (tmp_path / ".~lock.visits.csv#").write_text("someone")
    assert open_elsewhere(here, VISITS)
    write_down(here, entry)
    (tmp_path / "visits.csv").write_bytes(TABLE.encode())
    frame = read_visits(tmp_path / "visits.csv", outlets=OUTLETS, today=TODAY).frame
    assert [k.entry.id for k in missing_from_file(settle(here), VISITS, frame)] == [entry.id]
    assert put_back(here, entry.id, "Joss").state == SAVED
    frame = read_visits(tmp_path / "visits.csv", outlets=OUTLETS, today=TODAY).frame
    assert missing_from_file(settle(here), VISITS, frame) == []


def test_a_row_that_a_spreadsheet_wrote_in_its_own_way_is_not_missing(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit(effort="45.5")
    write_down(here, entry)
    again = text(tmp_path).replace("20.06.2024", "20/06/2024").replace(".05.2024", "/05/2024")
    (tmp_path / "visits.csv").write_bytes(again.encode())
    frame = read_visits(tmp_path / "visits.csv", outlets=OUTLETS, today=TODAY).frame
    assert missing_from_file(settle(here), VISITS, frame) == []


def test_a_write_protected_file_makes_the_entry_wait_until_it_is_not(tmp_path: Path) -> None:
    here, entry = place(tmp_path), visit()
    (tmp_path / "visits.csv").chmod(0o444)
    kept = write_down(here, entry)
    assert kept.state == WAITING and "write-protected" in kept.why and text(tmp_path) == TABLE
    assert words.confirmed(kept, "visits.csv", {}).startswith("Waiting. Kept, not in visits.csv yet: ")
    (tmp_path / "visits.csv").chmod(0o644)
    saved = settle(here)[entry.id]
    assert saved.state == SAVED and words.confirmed(saved, "visits.csv", {}).startswith("Saved. In visits.csv: ")
    assert "20.06.2024" in text(tmp_path)


def test_a_full_disk_makes_the_entry_wait_in_the_journal(tmp_path: Path, monkeypatch) -> None:
    here, entry = place(tmp_path), visit()
    Journal(tmp_path).path.parent.mkdir()
    Journal(tmp_path).hold_room()
    sync, full = os.fsync, {"on": True}

    def fsync(handle: int) -> None:
        journal = os.path.realpath(f"/proc/self/fd/{handle}").endswith("journal.jsonl")
        if full["on"] and (not journal or Journal(tmp_path).path.parent.joinpath("journal.reserve").exists()):
            raise OSError(errno.ENOSPC, "No space left on device")
        sync(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    kept = write_down(here, entry)
    assert kept.state == WAITING and "No space left" in kept.why and text(tmp_path) == TABLE
    full["on"] = False
    assert settle(here)[entry.id].state == SAVED


def test_where_even_the_journal_has_no_room_the_caller_is_told_and_nothing_is_half_written(tmp_path, monkeypatch):
    here = place(tmp_path)

    def full(handle: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotKeptError, match="disk is full"):
        write_down(here, visit())
    assert Journal(tmp_path).read() == {} and text(tmp_path) == TABLE


def test_a_visit_long_after_the_gauge_record_waits_for_the_record(tmp_path: Path) -> None:
    here, entry = place(tmp_path, lag=0), visit(date="2024-06-30")
    kept = write_down(here, entry)
    assert kept.state == WAITING and "ends on 2024-06-29" in kept.why
    assert settle(at(tmp_path, lag=31))[entry.id].state == SAVED


def test_what_waits_outlives_the_tools_own_folder(tmp_path: Path) -> None:
    """`.resurgence/` may be deleted at any time without losing a record that a person entered."""
    here, entry = place(tmp_path, lag=0), visit(date="2024-06-30", note="größer")
    assert write_down(here, entry).state == WAITING
    shutil.rmtree(tmp_path / ".resurgence")
    assert settle(here)[entry.id].entry.values == entry.values
    assert settle(at(tmp_path, lag=31))[entry.id].state == SAVED
    assert text(tmp_path).count("30.06.2024") == 1 and not (tmp_path / "entries-waiting.jsonl").exists()
    shutil.rmtree(tmp_path / ".resurgence")
    assert settle(at(tmp_path, lag=31)) == {} and text(tmp_path).count("30.06.2024") == 1


def test_a_waiting_entry_can_be_dropped(tmp_path: Path) -> None:
    here, entry = place(tmp_path, lag=0), visit(date="2024-06-30")
    write_down(here, entry)
    assert undo(here, entry.id, "Joss").state == DROPPED
    assert settle(at(tmp_path))[entry.id].state == DROPPED and text(tmp_path) == TABLE
    assert not (tmp_path / "entries-waiting.jsonl").exists()


def test_a_table_that_is_out_of_order_elsewhere_makes_the_entry_wait(tmp_path: Path) -> None:
    kept = write_down(place(tmp_path, TABLE.replace(";2;30,5;", ";two;30,5;")), visit())
    assert kept.state == WAITING and "two" in kept.why


def test_a_half_line_at_the_end_of_the_journal_is_no_line_and_swallows_none(tmp_path: Path) -> None:
    here, first = place(tmp_path), visit()
    write_down(here, first)
    with Journal(tmp_path).path.open("ab") as out:
        out.write(b'{"event": "entered", "id": "x", "val')
    second = visit(note="after the crash")
    assert write_down(here, second).state == SAVED
    assert set(Journal(tmp_path).read()) == {first.id, second.id}


def test_what_is_wrong_with_an_entry_is_said_all_at_once_by_column(tmp_path: Path) -> None:
    entry = visit(date="2019-01-01", outlet="attic", effort="0", adults="9", decon_minutes="ten", note="=1+1")
    found = entry_problems(entry, outlets=OUTLETS, today=TODAY, spans=dict.fromkeys(OUTLETS, SPAN))
    assert {p.column for p in found} == {"outlet", "effort", "count", "decon_minutes", "note"}
    early = entry_problems(visit(date="2019-01-01"), outlets=OUTLETS, today=TODAY, spans=dict.fromkeys(OUTLETS, SPAN))
    assert [p.column for p in early] == ["date"]
    assert entry_problems(visit(), outlets=OUTLETS, today=TODAY, spans=dict.fromkeys(OUTLETS, SPAN)) == []


def test_a_capture_goes_into_its_own_table(tmp_path: Path) -> None:
    (tmp_path / "captures.csv").write_text("date,outlet,individual\n2024-05-01,ledge,Q1\n", encoding="utf-8")
    here = at(tmp_path, surveys=SurveySettings(visits="visits.csv", captures="captures.csv"))
    values = {"date": "2024-06-20", "outlet": "ledge", "individual": "Q2", "length_mm": "21.5", "held_minutes": "4"}
    entry = Entry(id=new_id(), table=CAPTURES, made="2024-06-20T09:00:00+00:00", who="Joss", values=values)
    assert write_down(here, entry).state == SAVED
    lines = (tmp_path / "captures.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "date,outlet,individual,length_mm,held_minutes"
    assert lines[1:] == ["2024-05-01,ledge,Q1,,", "2024-06-20,ledge,Q2,21.5,4"]


def test_a_workbook_is_not_written_into(tmp_path: Path) -> None:
    import openpyxl

    book = openpyxl.Workbook()
    assert book.active is not None
    book.active.append(["date", "outlet", "count"])
    book.save(tmp_path / "visits.xlsx")
    before = (tmp_path / "visits.xlsx").read_bytes()
    kept = write_down(at(tmp_path, surveys=SurveySettings(visits="visits.xlsx")), visit())
    assert kept.state == WAITING and "CSV" in kept.why
    assert (tmp_path / "visits.xlsx").read_bytes() == before


WRITER = """
import sys
from pathlib import Path
from tests.dashboard.test_records import at, visit
from dashboard.records.write_down import write_down
here = at(Path(sys.argv[1]))
for n in range(int(sys.argv[3])):
    write_down(here, visit(f"{sys.argv[2]}-{n}", note=f"by {sys.argv[2]} no {n}"))
    print(n, flush=True)
"""


def writer(folder: Path, name: str, n: int) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), name, str(n)], stdout=subprocess.PIPE, text=True,
        cwd=Path(__file__).parents[2],
    )  # fmt: skip


def notes(folder: Path) -> list[str]:
    return read_visits(folder / "visits.csv", outlets=OUTLETS, today=TODAY).frame["note"].tolist()


def test_two_people_entering_twenty_visits_each_at_once_lose_and_double_nothing(tmp_path: Path) -> None:
    place(tmp_path)
    both = [writer(tmp_path, name, 20) for name in ("a", "b")]
    assert [p.wait(120) for p in both] == [0, 0]
    found = [n for n in notes(tmp_path) if n.startswith("by ")]
    assert sorted(found) == sorted(f"by {name} no {n}" for name in ("a", "b") for n in range(20))


def test_writers_killed_at_any_moment_lose_and_double_nothing_that_was_acknowledged(tmp_path: Path) -> None:
    """SIGKILL at random moments; the full number of kills is in the benchmarks."""
    killed(tmp_path, kills=5, seed=3)


def killed(folder: Path, *, kills: int, seed: int) -> int:
    """Kill a writer `kills` times; the number of rows that were written in all."""
    place(folder)
    rng = random.Random(seed)
    acknowledged: list[str] = []
    for k in range(kills):
        running = writer(folder, f"w{k}", 40)
        assert running.stdout is not None
        wanted = rng.randrange(1, 6)
        for _ in range(wanted):
            acknowledged.append(f"by w{k} no {int(running.stdout.readline())}")
        time.sleep(rng.random() * 0.1)
        running.send_signal(signal.SIGKILL)
        acknowledged += [f"by w{k} no {int(line)}" for line in running.stdout if line.strip().isdigit()]
        running.wait()
        assert len(notes(folder)) >= 2  # always a whole table
    kept = settle(at(folder))
    found = notes(folder)
    assert all(found.count(n) == 1 for n in acknowledged)
    assert all(k.state == SAVED for k in kept.values())
    assert sorted(n for n in found if n.startswith("by ")) == sorted(k.entry.values["note"] for k in kept.values())
    return len(found)


def test_the_records_of_a_table_joined_again_are_its_text() -> None:
    data = TABLE.replace("seen", '"two\r\nlines"').encode()
    table = read_table_text(data, "visits.csv")
    assert table.to_bytes() == data and len(table.data()) == 2
