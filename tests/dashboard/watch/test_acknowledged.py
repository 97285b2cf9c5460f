"""Who has seen to an alert: what was typed comes back as it was typed, and no spreadsheet runs it."""

from __future__ import annotations

import csv

import pytest

from dashboard.watch.acknowledged import FILE, Acknowledgement, acknowledge, read_acknowledged


def row(note: str) -> Acknowledgement:
    at = "2025-10-02T08:00:00+00:00"
    return Acknowledgement(
        alert="a1", outlet="ledge", kind="level", since="2025-10-01", by="Wren", at=at, note=note
    )  # fmt: skip


@pytest.mark.parametrize(
    "note", ["=1+1", "'=1+1", "''=1+1", "-3 degrees", "-3", "+49 as before", "@home", "'quoted'", "don't", "plain", ""]
)
def test_a_note_comes_back_as_it_was_typed_and_is_no_formula_in_the_file(tmp_path, note):
    acknowledge(tmp_path, row(note))
    acknowledge(tmp_path, row("second"))
    assert [r.note for r in read_acknowledged(tmp_path)] == [note, "second"]
    with (tmp_path / FILE).open(newline="", encoding="utf-8") as file:
        written = list(csv.reader(file))[1][-1]
    assert not written.startswith(("=", "+", "-", "@"))


def test_a_note_that_an_earlier_version_guarded_is_read_without_its_apostrophe(tmp_path):
    acknowledge(tmp_path, row("plain"))
    path = tmp_path / FILE
    path.write_bytes(path.read_bytes().replace(b"plain", b"'=SUM(A1)"))
    assert read_acknowledged(tmp_path)[0].note == "=SUM(A1)"
