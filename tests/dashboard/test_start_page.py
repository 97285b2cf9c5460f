"""The page “Start” without a browser: from nothing to a saved workspace, and nothing lost or written on the way."""

from __future__ import annotations

import datetime
import tomllib
from pathlib import Path

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard.cli import main
from dashboard.serving import APP, WORKSPACE_VARIABLE
from dashboard.views import shown
from dashboard.wording import start as words
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import DEMO, VISITS, gauge_text
from tests.dashboard.tables_shown import tables_of
from tests.dashboard.test_pages import first_sentence, said
from tests.dashboard.test_start import CAPTURED, MORE, SHEET

GAUGE = ("north weir.csv", gauge_text().encode(), "text/csv")
NO_UNIT = ("north weir.csv", gauge_text().replace(" (cfs)", "").encode(), "text/csv")


def start(monkeypatch: pytest.MonkeyPatch, folder: Path) -> AppTest:
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(folder))
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.run()
    if [t.value for t in at.title] != ["Start"]:
        at.switch_page("views/start.py").run()
    assert not at.exception, at.exception
    return at


def drop(at: AppTest, which: int, *files: tuple[str, bytes, str]) -> None:
    field = at.file_uploader[which]
    field.set_value(list(files) if field.accept_multiple_files else files[0]).run()
    assert not at.exception, at.exception


def press(at: AppTest, key: str) -> None:
    at.button(key=key).click().run()
    assert not at.exception, at.exception


def by_label(widgets, label: str):
    return next(w for w in widgets if w.label.startswith(label))


def test_an_empty_folder_opens_on_start_and_other_pages_lead_there(monkeypatch, tmp_path):
    for folder in (tmp_path, tmp_path / "none"):
        at = start(monkeypatch, folder)
        assert first_sentence(at) == words.FIRST
        assert "Before it can be saved: a gauge file that is understood." in said(at)
        assert not at.button
        at.switch_page("views/when_was_it_dry.py").run()
        assert words.NOTHING_YET in said(at)
    assert not (tmp_path / "none").exists()


def test_from_nothing_to_a_saved_workspace_the_same_as_the_command_makes(monkeypatch, tmp_path, capsys):
    target = tmp_path / "springs"
    at = start(monkeypatch, target)
    at.selectbox(key="start-zone").select("CST6CDT").run()
    drop(at, 0, NO_UNIT)
    assert "north_weir.csv was read as delimited text, and 1 thing must be settled" in said(at)
    by_label(at.selectbox, "In which unit").select("cfs").run()
    assert "1 Jan 2020 to 31 Dec 2020, 366 rows in ft³/s." in said(at)
    drop(at, 1, ("sheet.csv", SHEET.encode(), "text/csv"))
    assert "5 visits to 2 outlets" in said(at)
    assert "Judging by 4 sightings, ledge stops at about" in said(at)
    assert len(at.get("plotly_chart")) == 1
    at.number_input[0].set_value(40.0).run()
    assert "ledge would have been dry on 76 of 366 days" in said(at)
    assert "All 4 sightings agree with it." in said(at)
    at.text_input(key="start-title").set_value("North").run()
    assert not target.exists()
    press(at, "start-save")
    assert [t.value for t in at.title] == ["Is it running?"]
    assert "North, " in said(at)
    files = {}
    for name, content in (("north weir.csv", NO_UNIT[1]), ("sheet.csv", SHEET.encode())):
        files[name] = tmp_path / name
        files[name].write_bytes(content)
    monkeypatch.setattr("sys.stdin", open("/dev/null"))  # noqa: PTH123, SIM115 - nobody is there to answer
    options = ["--unit", "cfs", "--time-zone", "CST6CDT", "--title", "North", "--stops-below", "ledge=40 cfs"]
    gauge, sheet = files.values()
    command = ["new", tmp_path / "command", "--gauge", gauge, "--visits", sheet, *options]
    assert main([str(c) for c in command]) == 0
    for path in (p for p in (tmp_path / "command").rglob("*") if p.is_file()):
        assert path.read_bytes() == (target / path.relative_to(tmp_path / "command")).read_bytes(), path.name


def test_slider_and_number_follow_each_other_and_the_learnt_level_comes_back(monkeypatch, tmp_path):
    at = start(monkeypatch, tmp_path)
    drop(at, 0, GAUGE)
    drop(at, 1, ("visits.csv", VISITS.encode(), "text/csv"))
    number, slider = at.number_input[0], at.select_slider[0]
    learnt = number.value
    assert slider.value == learnt
    slider.set_value(next(v for v in (50.0, 50.1, 49.9, 50.2, 50.3, 49.8) if f"{v:g} ft³/s" in slider.options)).run()
    assert at.number_input[0].value == pytest.approx(50, abs=0.4)
    at.number_input[0].set_value(33.333).run()
    assert abs(at.select_slider[0].value - 33.333) < 0.4
    assert at.number_input[0].value == 33.333
    press(at, "start-learnt-ledge")
    assert at.number_input[0].value == learnt
    press(at, "start-save")
    assert load_workspace(tmp_path).outlets["ledge"].level_is_learnt


def test_a_change_of_page_loses_nothing(monkeypatch, folder):
    at = start(monkeypatch, folder)
    drop(at, 0, NO_UNIT)
    by_label(at.selectbox, "In which unit").select("l/s").run()
    drop(at, 1, ("sheet.csv", SHEET.encode(), "text/csv"))
    by_label(at.selectbox, "Note").select("Weather").run()
    at.text_input(key="start-title-pool").set_value("The pool").run()
    at.number_input[0].set_value(41.5).run()
    at.text_input(key="start-folder").set_value("other springs").run()
    before = said(at)
    at.switch_page("views/when_was_it_dry.py").run()
    at.switch_page("views/start.py").run()
    assert not at.exception
    assert by_label(at.selectbox, "In which unit").value == "l/s"
    assert by_label(at.selectbox, "Note").value == "Weather"
    assert (at.text_input(key="start-title-pool").value, at.number_input[0].value) == ("The pool", 41.5)
    assert said(at) == before
    press(at, "start-save")
    made = folder.parent / "other_springs"
    assert f"Saved. Open it with: resurgence serve {made}" in at.success[0].value.replace("\\", "")
    settings = tomllib.loads((made / "workspace.toml").read_text())
    assert settings["outlets"]["pool"]["title"] == "The pool"
    assert settings["outlets"]["ledge"]["stops_below"] == "41.5 l/s"
    assert settings["surveys"]["columns"]["note"] == "Weather"
    assert not at.session_state["start-files"].gauges


def test_problems_are_told_by_row_and_go_when_the_mended_table_comes(monkeypatch, tmp_path):
    at = start(monkeypatch, tmp_path)
    drop(at, 0, GAUGE)
    drop(at, 1, ("sheet.csv", SHEET.replace(",4,30", ",four,30").encode(), "text/csv"))
    shown_rows = tables_of(at)[1]
    assert shown_rows[["Row or key", "Column", "Found"]].to_numpy().tolist() == [["2", "Total", "four"]]
    assert "a table of visits without problems" in said(at)
    assert "start-save" not in [b.key for b in at.button]
    by_label(at.selectbox, "Note").select("Weather").run()
    drop(at, 1, ("sheet.csv", SHEET.encode(), "text/csv"))
    assert len(tables_of(at)) == 1
    assert by_label(at.selectbox, "Note").value == "Weather"  # what was chosen stays
    assert at.button(key="start-save")


def test_the_order_of_day_and_month_is_a_field_and_not_a_mistake(monkeypatch, tmp_path):
    at = start(monkeypatch, tmp_path)
    drop(at, 0, GAUGE)
    drop(at, 1, ("s.csv", b"date,outlet,surface\n03/04/2020,ledge,running\n", "text/csv"))
    assert words.PROBLEM_ROWS not in [s.value for s in at.subheader]
    by_label(at.selectbox, "In dates like").select("true").run()
    assert "1 visit to 1 outlet, 3 Apr 2020 to 3 Apr 2020" in said(at)
    press(at, "start-save")
    assert load_workspace(tmp_path).settings.surveys.day_first is True


def test_two_files_can_be_two_gauges_or_one(monkeypatch, tmp_path):
    at = start(monkeypatch, tmp_path)
    lines = gauge_text().splitlines()
    early = ("early.csv", "\n".join(lines[:200]).encode(), "text/csv")
    late = ("late.csv", "\n".join([lines[0], *lines[200:]]).encode(), "text/csv")
    drop(at, 0, early, late, early)
    assert "early.csv holds exactly what another of these files holds" in at.error[0].value.replace("\\", "")
    assert "The gauges share no day" in said(at)
    owner = by_label(at.selectbox, words.BELONGS)
    owner.select_index(1).run()
    assert "Discharge is known on 366 days" in said(at)
    press(at, "start-save")
    assert load_workspace(tmp_path).settings.gauges["early"].file == "discharge/early/*"


def test_a_file_that_is_left_out_is_gone_and_one_that_is_no_gauge_file_says_so(monkeypatch, tmp_path):
    at = start(monkeypatch, tmp_path)
    drop(at, 0, ("photo.csv", b"\x89PNG\r\n\x00\x00\x00", "image/png"))
    assert "this file is binary" in said(at)
    press(at, next(b.key for b in at.button if b.label == words.TAKE_AWAY))
    assert "photo.csv" not in said(at)
    assert not at.session_state["start-files"].gauges


def test_a_file_beyond_the_limit_is_refused_even_where_the_browser_let_it_through(monkeypatch, tmp_path):
    monkeypatch.setattr("dashboard.views.start_visits.MOST_VISITS_MB", 1)
    at = start(monkeypatch, tmp_path)
    drop(at, 1, ("v.csv", VISITS.encode() + b"\n" * 1_000_000, "text/csv"))
    assert "is larger than 1 MB and was not taken" in at.error[0].value
    assert at.session_state["start-files"].visits is None


def test_visits_outside_the_record_are_kept_only_on_request(monkeypatch, tmp_path):
    at = start(monkeypatch, tmp_path)
    drop(at, 0, GAUGE)
    drop(at, 1, ("s.csv", b"date,outlet,count\n2019-03-01,ledge,4\n", "text/csv"))
    assert "start-save" not in [b.key for b in at.button]
    at.checkbox(key="start-keep-outside").check().run()
    press(at, "start-save")
    assert load_workspace(tmp_path).settings.surveys.keep_outside_record


def test_without_a_table_the_outlets_are_named_by_hand_and_the_level_starts_at_the_lowest_discharge(
    monkeypatch, tmp_path
):
    at = start(monkeypatch, tmp_path)
    drop(at, 0, GAUGE)
    at.text_input(key="start-outlets").set_value("ledge, pool,").run()
    at.segmented_control(key="start-stops-ledge").select("stops").run()
    assert at.number_input[0].value == 30.0
    assert "ledge would have been dry on 0 of 366 days" in said(at)
    press(at, "start-save")
    made = load_workspace(tmp_path)
    assert made.visits is None
    assert list(made.outlets) == ["ledge", "pool"] and made.outlets["ledge"].stops_below.value == 30


def test_a_record_of_nothing_but_gaps_can_be_started_from(monkeypatch, tmp_path):
    lines = gauge_text().splitlines()
    empty = "\n".join([lines[0], *(f"{row.split(',')[0]}," for row in lines[1:])]).encode()
    at = start(monkeypatch, tmp_path)
    drop(at, 0, ("gaps.csv", empty, "text/csv"))
    assert "The discharge is never known in this file." in said(at)
    drop(at, 1, ("v.csv", VISITS.encode(), "text/csv"))
    press(at, "start-save")
    assert load_workspace(tmp_path).flows["system"].empty


def test_what_is_there_is_said_and_a_taken_name_is_refused(monkeypatch, folder):
    at = start(monkeypatch, folder)
    assert first_sentence(at) == "Test springs is here already: 1 gauge, 2 outlets and 5 visits."
    drop(at, 0, GAUGE)
    (folder.parent / "taken").mkdir(exist_ok=True)
    (folder.parent / "taken" / "file.txt").write_text("mine")
    at.text_input(key="start-folder").set_value("taken").run()
    assert words.MISSING_FOLDER in said(at)
    at.text_input(key="start-folder").set_value("../../elsewhere").run()
    assert f"It goes to {folder.parent / 'elsewhere'}." in said(at)


@pytest.mark.parametrize("role", ["viewer", "recorder", None])
def test_only_keepers_may_make_a_workspace(monkeypatch, folder, role):
    monkeypatch.setattr(shown, "role_of", lambda *_, **__: role)
    at = start(monkeypatch, folder)
    assert words.ONLY_KEEPERS in said(at)
    assert not at.file_uploader


def test_the_demo_can_be_made_anew_from_its_own_files(monkeypatch, tmp_path):
    """Three gauges, one in two files, and visits of twenty years: the same water as the demo's own settings give."""
    at = start(monkeypatch, tmp_path / "again")
    at.selectbox(key="start-zone").select("CST6CDT").run()
    names = ("north_daily.txt", "north_15min.txt", "mill_daily.txt", "lower_daily.csv")
    drop(at, 0, *((n, (DEMO / "discharge" / n).read_bytes(), "text/plain") for n in names))
    by_label(at.selectbox, words.BELONGS).select_index(1).run()
    drop(at, 1, ("visits.csv", (DEMO / "visits.csv").read_bytes(), "text/csv"))
    press(at, "start-save")
    made = load_workspace(tmp_path / "again", as_of="2025-10-19").flows["system"].values
    own = load_workspace(DEMO).flows["system"].values
    both = pd.concat([made, own], axis=1).dropna()
    assert len(both) > 7000
    pd.testing.assert_series_equal(both.iloc[:, 0], both.iloc[:, 1], check_names=False)


def test_captures_a_restart_level_and_a_permit_are_folded_away_and_give_what_the_command_gives(monkeypatch, tmp_path):
    target = tmp_path / "springs"
    at = start(monkeypatch, target)
    at.selectbox(key="start-zone").select("CST6CDT").run()
    drop(at, 0, GAUGE)
    drop(at, 1, ("sheet.csv", VISITS.encode(), "text/csv"))
    assert len(at.file_uploader) == 2 and words.PERMIT not in [t.label for t in at.text_input]
    at.number_input[0].set_value(40.0).run()
    by_label(at.toggle, words.HIGHER_RESTART).set_value(True).run()
    by_label(at.number_input, words.RESTART).set_value(44.0).run()
    at.toggle(key="start-more").set_value(True).run()
    drop(at, 2, ("animals.csv", CAPTURED.replace("pool,Q2", "pond,Q2").encode(), "text/csv"))
    assert words.MISSING_MORE in said(at)
    drop(at, 2, ("animals.csv", CAPTURED.encode(), "text/csv"))
    assert "animals.csv: 3 captures of 2 animals." in said(at)
    at.text_input(key="start-permit").set_value("QM-1").run()
    at.text_input(key="start-holder").set_value("Tamsin").run()
    at.date_input(key="start-permit-first").set_value(datetime.date(2020, 1, 1)).run()
    at.date_input(key="start-permit-last").set_value(datetime.date(2019, 1, 1)).run()
    assert words.PERMIT_ENDS_FIRST in at.error[0].value.replace("\\", "")
    at.date_input(key="start-permit-last").set_value(datetime.date(2020, 12, 31)).run()
    at.number_input(key="start-holding").set_value(5).run()
    at.text_input(key="start-title").set_value("North").run()
    press(at, "start-save")
    files = {}
    for name, content in (
        ("north weir.csv", GAUGE[1]),
        ("sheet.csv", VISITS.encode()),
        ("animals.csv", CAPTURED.encode()),
    ):
        files[name] = tmp_path / name
        files[name].write_bytes(content)
    monkeypatch.setattr("sys.stdin", open("/dev/null"))  # noqa: PTH123, SIM115 - nobody is there to answer
    gauge, sheet, animals = files.values()
    options = [
        "--time-zone",
        "CST6CDT",
        "--title",
        "North",
        "--stops-below",
        "ledge=40 cfs",
        "--captures",
        animals,
        *MORE,
    ]
    options[options.index("l/s")] = "cfs"
    command = ["new", tmp_path / "command", "--gauge", gauge, "--visits", sheet, *options]
    assert main([str(c) for c in command]) == 0
    for path in (p for p in (tmp_path / "command").rglob("*") if p.is_file()):
        assert path.read_bytes() == (target / path.relative_to(tmp_path / "command")).read_bytes(), path.name
