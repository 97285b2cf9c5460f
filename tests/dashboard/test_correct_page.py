"""Correcting an entry on the page: its fields, the question where its row was changed in the file, and each answer."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.records.entry import VISITS, Entry, new_id
from dashboard.records.journal import Journal
from dashboard.records.place import Place
from dashboard.records.write_down import correct, write_down
from dashboard.views.correct_entry import CORRECT
from dashboard.wording import records as words
from dashboard.workspace import load_workspace
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import app, said

VIEW = "views/write_down_a_visit.py"
VALUES = {
    "date": "2020-10-12",
    "outlet": "ledge",
    "surface": "running",
    "searched": "yes",
    "count": "3",
    "note": "mine",
}


def here(folder: Path) -> Place:
    w = load_workspace(folder)
    return Place(
        folder=folder, surveys=w.settings.surveys, outlets=tuple(w.outlets), today=w.as_of, spans={}, lag_days=31
    )


@pytest.fixture
def entered(folder: Path) -> str:
    id = new_id()
    write_down(here(folder), Entry(id=id, table=VISITS, made="2020-10-12T09:00:00+00:00", who="Joss", values=VALUES))
    return id


def last_row(folder: Path) -> dict[str, str]:
    with (folder / "visits.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))[-1]


def press(at: AppTest, key: str) -> AppTest:
    at.button(key=key).click().run()
    assert not at.exception, at.exception
    return at


def edited(folder: Path, old: str, new: str) -> None:
    path = folder / "visits.csv"
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path.write_text(text.replace(old, new), encoding="utf-8")


def test_an_entry_is_corrected_in_the_fields_that_it_was_written_in(monkeypatch, folder, entered):
    at = press(app(monkeypatch, folder, VIEW), f"entry-correct-{entered}")
    assert at.button(key="entry-correct-send").disabled
    count = next(n for n in at.number_input if n.label == words.LABELS["count"])
    assert count.value == 3
    count.set_value(4).run()
    press(at, "entry-correct-send")
    assert (last_row(folder)["count"], last_row(folder)["note"]) == ("4", "mine")
    assert "4 animals" in at.success[0].value and CORRECT not in at.session_state
    assert tables_of(at)[0]["Before it was corrected"].iloc[0].endswith("3 animals")


def test_a_correction_that_is_given_up_leaves_nothing_behind(monkeypatch, folder, entered):
    at = press(app(monkeypatch, folder, VIEW), f"entry-correct-{entered}")
    next(n for n in at.number_input if n.label == words.LABELS["count"]).set_value(4).run()
    press(at, "entry-correct-leave")
    assert last_row(folder)["count"] == "3" and at.button(key="entry-send")


def test_what_is_wrong_in_a_correction_is_said_and_not_written(monkeypatch, folder, entered):
    at = press(app(monkeypatch, folder, VIEW), f"entry-correct-{entered}")
    next(t for t in at.text_area if t.label == words.LABELS["note"]).set_value("=1+1").run()
    press(at, "entry-correct-send")
    assert "a spreadsheet takes this for a formula" in said(at) and last_row(folder)["note"] == "mine"


def test_a_row_changed_in_the_file_is_shown_in_three_columns_and_asked_about(monkeypatch, folder, entered):
    edited(folder, "2020-10-12,ledge,running,yes,3", "2020-10-12,ledge,pooled,yes,5")
    assert correct(here(folder), entered, {**VALUES, "count": "4"}, "Joss").state == "correction waits"
    at = app(monkeypatch, folder, VIEW)
    three = tables_of(at)[0]
    assert list(three.columns) == ["", "As it was", "The file now", "Yours"]
    assert three.to_numpy().tolist() == [
        ["The surface was", "running", "pooled", "running"], ["Animals counted", "3", "5", "4"]
    ]  # fmt: skip
    assert f"entry-merge-{entered}" not in [b.key for b in at.button] and words.CHOOSE_FIRST in said(at)
    at.segmented_control(key=f"entry-choose-count-{entered}").select("yours").run()
    assert "the surface was pooled" in said(at) and "animals counted 4" in said(at)
    press(at, f"entry-merge-{entered}")
    row = last_row(folder)
    assert (row["surface"], row["count"], row["note"]) == ("pooled", "4", "mine")
    assert Journal(folder).read()[entered].state == "saved"


@pytest.mark.parametrize("answer", ["take", "back", "correct"])
def test_a_row_that_a_spreadsheet_changed_is_noticed_and_each_answer_does_what_it_says(
    monkeypatch, folder, entered, answer
):
    edited(folder, "2020-10-12,ledge,running,yes,3", "2020-10-12,ledge,running,yes,5")
    at = press(app(monkeypatch, folder, VIEW), f"entry-{answer}-{entered}")
    kept = Journal(folder).read()[entered]
    text = (folder / "visits.csv").read_text(encoding="utf-8")
    if answer == "take":
        assert kept.entry.values["count"] == "5" and text.count("2020-10-12") == 1
        assert words.MISSING_HEAD not in [s.value for s in at.subheader]
    elif answer == "back":
        assert text.count("2020-10-12") == 2 and kept.entry.values["count"] == "3"
    else:
        assert at.subheader[0].value == words.CORRECT_HEAD


def test_an_entry_is_taken_out_again(monkeypatch, folder, entered):
    at = press(app(monkeypatch, folder, VIEW), f"entry-undo-{entered}")
    assert "2020-10-12" not in (folder / "visits.csv").read_text(encoding="utf-8")
    assert tables_of(at)[0]["State"].iloc[0] == "taken out again"
