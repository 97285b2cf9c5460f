"""The pages without a browser: on the demo, on small workspaces, and on workspaces that cannot be read."""

from __future__ import annotations

import csv
import html
import io
import os
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from dashboard import loaded
from dashboard.answers.counts import counts
from dashboard.answers.csv_file import csv_bytes
from dashboard.answers.returns import returns
from dashboard.answers.spells import spells
from dashboard.app import PAGES
from dashboard.serving import APP, WORKSPACE_VARIABLE
from dashboard.views.parts import for_people, plain
from dashboard.wording import counts as count_words
from dashboard.wording import pages as words
from dashboard.wording import returns as return_words
from dashboard.wording import spells as spell_words
from dashboard.wording import tables
from dashboard.wording.count_checks import check_sentence
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import DEMO, gauge_text
from tests.dashboard.pictures_shown import pointed_of
from tests.dashboard.tables_shown import tables_of

VIEWS = [p.file for p in PAGES]
TITLES = {p.file: p.title for p in PAGES}
#: How many pictures each page of the demo shows.
PICTURES = {
    "views/is_it_running.py": 4,
    "views/when_was_it_dry.py": 1,
    "views/where_does_it_stop.py": 1,
    "views/how_far_ahead.py": 1,
    "views/days_ahead.py": 3,
    "views/alerts.py": 0,
    "views/return_lags.py": 3,
    "views/counts_and_flow.py": 4,
    "views/is_the_drop_expected.py": 2,
    "views/who_came_through.py": 2,
    "views/how_many_visits.py": 1,
    "views/write_down_a_visit.py": 0,
    "views/meeting_report.py": 0,
    "views/data_and_sources.py": 0,
    "views/start.py": 0,
}


def rewrite(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def app(monkeypatch: pytest.MonkeyPatch, folder: Path | None, view: str = VIEWS[0], **address: str) -> AppTest:
    """The page `view` of the dashboard on a workspace, run once."""
    if folder is None:
        monkeypatch.delenv(WORKSPACE_VARIABLE, raising=False)
    else:
        monkeypatch.setenv(WORKSPACE_VARIABLE, str(folder))
    at = AppTest.from_file(str(APP), default_timeout=60)
    for name, value in address.items():
        at.query_params[name] = value
    at.run()
    if view != VIEWS[0]:
        at.switch_page(view).run()
    assert not at.exception, at.exception
    return at


def said(at: AppTest) -> str:
    """Everything that a page says, markup removed."""
    pieces = [m.value for m in at.markdown] + [re.sub(r"<[^>]+>", "", h.proto.body) for h in at.get("html")]
    text = html.unescape("\n".join(pieces))
    return re.sub(r"\\([\\`*_{}\[\]<>()#+\-!|~$:])", r"\1", text)


def first_sentence(at: AppTest) -> str:
    """The large sentence under the controls."""
    bodies = [h.proto.body for h in at.get("html") if "<p" in h.proto.body]
    return html.unescape(re.sub(r"<[^>]+>", "", bodies[0]))


@pytest.mark.parametrize("view", VIEWS)
def test_every_page_of_the_demo_opens_with_its_question(monkeypatch, view):
    at = app(monkeypatch, DEMO, view)
    assert [t.value for t in at.title] == [TITLES[view]]
    assert "Quillmere springs, as of Sun 19 October 2025 (the day set in workspace.toml)" in said(at)


def test_the_first_sentence_of_each_page_is_the_answer_of_the_command_line(monkeypatch):
    workspace = load_workspace(DEMO)
    dry, back, fit = spells(workspace), returns(workspace), counts(workspace)
    expected = {
        "views/when_was_it_dry.py": spell_words.answer(dry.outlets[0], dry.header),
        "views/return_lags.py": return_words.answer(back.outlets[0]),
        "views/counts_and_flow.py": count_words.answer(fit),
    }
    for view, sentence in expected.items():
        assert first_sentence(app(monkeypatch, DEMO, view)) == sentence


def test_every_picture_has_a_sentence_for_people_who_do_not_see_it(monkeypatch):
    assert list(PICTURES) == VIEWS
    for view, n in PICTURES.items():
        at = app(monkeypatch, DEMO, view)
        if view == VIEWS[0]:
            for outlet in load_workspace(DEMO).outlets:
                at.session_state[f"outlet-{outlet}"] = True  # all but the first are closed, and drawn when opened
            at.run()
        said = [p.proto.alt for p in at.get("plotly_chart")]
        drawn = [m.value for m in at.markdown] + [p["svg"] for p in pointed_of(at)]
        said += re.findall(r'<svg role="img" aria-label="([^"]+)"', "".join(drawn))
        assert len(said) == n, view
        assert all(len(sentence) > 20 for sentence in said)
        assert len(set(said)) == n


def test_the_outlet_is_kept_from_page_to_page(monkeypatch):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py")
    at.selectbox(key="outlet").select("trough").run()
    assert first_sentence(at).startswith("Stone trough was dry")
    at.switch_page("views/data_and_sources.py").run()
    at.switch_page("views/return_lags.py").run()
    assert "Stone trough" in first_sentence(at)


@pytest.mark.parametrize("name", ["trough", "Stone trough"])
def test_the_address_can_name_an_outlet_by_its_id_or_its_title(monkeypatch, name):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py", outlet=name)
    assert first_sentence(at).startswith("Stone trough was dry")


def test_an_outlet_that_does_not_exist_is_said_and_the_first_one_shown(monkeypatch):
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(DEMO))
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.run()
    at.switch_page("views/when_was_it_dry.py")
    at.query_params["outlet"] = "nowhere"
    at.run()
    assert not at.exception
    assert "There is no outlet “nowhere” in this workspace. Shown instead: Ledge outlet." in said(at)
    assert first_sentence(at).startswith("Ledge outlet was dry")


def test_the_display_unit_changes_sentences_and_tables(monkeypatch):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py")
    at.selectbox(key="unit").select("l/s").run()
    # 38 ft³/s = 1076 L/s: the international foot of 0.3048 m, cubed.
    assert "below 1 076 L/s" in re.sub(r"\s", " ", first_sentence(at))
    assert "Lowest, L/s" in tables_of(at)[0].columns


def test_a_period_narrows_the_table_of_spells_and_says_so(monkeypatch):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py", period="3y")
    expected = load_workspace(DEMO).dry_spells["ledge"].spells
    inside = int((expected["last"] >= "2022-10-20").sum())
    assert f"{inside} of {len(expected)} dry spells touch the period 20 Oct 2022 to 19 Oct 2025." in said(at)
    assert len(tables_of(at)[0]) == inside


def test_own_dates_are_taken_in_either_order(monkeypatch):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py", period="own")
    at.date_input(key="from").set_value(pd.Timestamp("2019-06-01").date())
    at.date_input(key="to").set_value(pd.Timestamp("2018-06-01").date()).run()
    assert not at.exception
    assert "touch the period 1 Jun 2018 to 1 Jun 2019" in said(at)


def test_spells_can_be_listed_joined(monkeypatch):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py")
    apart = len(tables_of(at)[0])
    at.segmented_control(key="spells").select("joined").run()
    shown = tables_of(at)[0]
    joined = load_workspace(DEMO).dry_spells["ledge"].joined
    assert len(shown) == len(joined) <= apart
    assert shown["Spells in it"].sum() == apart


def test_a_trip_is_asked_about_and_what_is_not_known_is_said(monkeypatch):
    at = app(monkeypatch, DEMO)
    at.date_input(key="trip").set_value(pd.Timestamp("2025-10-25").date()).run()
    assert not at.exception
    assert "on Sat 25 October 2025" in said(at)


def test_cautions_stand_beside_the_act(monkeypatch):
    assert "do not go alone" in said(app(monkeypatch, DEMO))
    assert "clean and disinfect gear" in said(app(monkeypatch, DEMO, "views/return_lags.py"))


def test_checks_are_sentences_with_a_word(monkeypatch):
    text = said(app(monkeypatch, DEMO, "views/counts_and_flow.py"))
    found = counts(load_workspace(DEMO))
    for c in found.checks:
        assert f"**{words.check_word(c.passed)}.** {check_sentence(c, found.titles)}" in text
    # An outlet is called by its title, never by the id that files use.
    assert "at Head pool moves it by" in text and "headpool" not in text and "flow cycle of Ledge outlet" in text
    assert [words.check_word(v) for v in (True, False, None)] == ["Pass", "Fail", "Does not apply"]


def test_the_data_page_names_every_file_with_its_digest(monkeypatch):
    at = app(monkeypatch, DEMO, "views/data_and_sources.py")
    files = tables_of(at)[0]
    on_disk = {str(p.relative_to(DEMO)) for p in DEMO.rglob("*") if p.suffix in (".csv", ".txt")}
    assert set(files["File"]) == on_disk
    assert files["SHA-256 of the file"].str.fullmatch("[0-9a-f]{64}").all()
    assert 'stops_below = "38 cfs"' in at.code[0].value


def test_a_workspace_without_visits_says_so_on_every_page(monkeypatch, folder):
    rewrite(folder / "workspace.toml", '[surveys]\nvisits = "visits.csv"\n', "")
    for view in VIEWS:
        at = app(monkeypatch, folder, view)
        if view != VIEWS[0]:
            assert "names no visits" in said(at), view
    assert "Nobody has written down what the surface looked like." in said(app(monkeypatch, folder))


def test_a_workspace_with_one_outlet_has_all_its_pages(monkeypatch, folder):
    rewrite(folder / "workspace.toml", '[outlets.pool]\nflow = "system"\n', "")
    visits = [line for line in (folder / "visits.csv").read_text().splitlines() if ",pool," not in line]
    (folder / "visits.csv").write_text("\n".join(visits) + "\n")
    for view in VIEWS:
        at = app(monkeypatch, folder, view)
        assert len(at.title) == 1
    assert first_sentence(app(monkeypatch, folder)) == (
        "Ledge is running on Thu 31 December 2020 (99 in 100), by readings up to 31 Dec 2020."
    )


def test_three_days_of_record_are_enough_for_every_page(monkeypatch, folder):
    lines = gauge_text().splitlines()
    (folder / "north.csv").write_text("\n".join([lines[0], *lines[-3:]]) + "\n")
    (folder / "visits.csv").write_text("date,outlet,surface,searched,count,effort\n2020-12-30,ledge,running,yes,0,30\n")
    for view in VIEWS:
        app(monkeypatch, folder, view)
    at = app(monkeypatch, folder, "views/when_was_it_dry.py")
    assert first_sentence(at) == "Ledge was never dry in 3 days with a known state."
    (picture,) = pointed_of(at)
    assert not any('class="dry-months"' in h.body for h in at.get("html"))  # no empty table of dry days by year
    assert "There is no dry spell in the record." in said(at)
    assert re.findall(r">(\d+ Dec)<", picture["svg"]) == ["29 Dec", "30 Dec", "31 Dec"]  # each day is labelled once
    at = app(monkeypatch, folder)
    assert first_sentence(at).startswith("Both outlets are running on Thu 31 December 2020 (least sure: Ledge, ")
    assert "(3 days of discharge behind it)" in said(at)
    assert not app(monkeypatch, folder, "views/how_far_ahead.py").get("plotly_chart")  # no stop to judge
    assert "180 days" not in said(app(monkeypatch, folder, "views/days_ahead.py"))  # its courses end after 3
    at = app(monkeypatch, folder, "views/who_came_through.py")
    assert not at.date_input  # nothing to choose without captures
    fit = first_sentence(app(monkeypatch, folder, "views/counts_and_flow.py"))
    assert "_" not in fit


def test_a_record_of_nothing_but_gaps_is_said_to_be_unknown(monkeypatch, folder):
    lines = gauge_text().splitlines()
    (folder / "north.csv").write_text("\n".join([lines[0], *(f"{row.split(',')[0]}," for row in lines[1:])]) + "\n")
    for view in VIEWS:
        app(monkeypatch, folder, view)
    assert "The discharge of Ledge is never known: there is nothing to draw." in said(
        app(monkeypatch, folder, "views/when_was_it_dry.py")
    )
    assert first_sentence(app(monkeypatch, folder)) == (
        "Whether Ledge runs is not known. pool counts as always running, without any reading."
    )


def test_a_period_without_anything_in_it_says_so(monkeypatch, folder):
    rewrite(folder / "workspace.toml", 'as_of = "2020-12-31"', 'as_of = "2023-06-30"')
    at = app(monkeypatch, folder, "views/when_was_it_dry.py", period="1y")
    assert "Nothing was recorded between 1 Jul 2022 and 30 Jun 2023." in said(at)


def test_a_day_without_flow_is_drawn_on_its_own_strip(monkeypatch, folder):
    rewrite(folder / "north.csv", "2020-08-01,30.0", "2020-08-01,0")
    at = app(monkeypatch, folder, "views/when_was_it_dry.py")
    (picture,) = pointed_of(at)
    first = picture["first"]
    days = [
        np.datetime64(first + step, "D") for line in picture["lines"] if line["said"] == ["0"] for step in line["days"]
    ]
    assert days == [np.datetime64("2020-08-01")]
    assert ">zero<" in picture["svg"]


def test_everything_wrong_is_listed_in_plain_words(monkeypatch, folder):
    rewrite(folder / "visits.csv", "2020-10-10,ledge,running,yes,3,30", "2020-10-10,lege,running,yes,minus,30")
    rewrite(folder / "north.csv", "2020-08-02,30.0", "2020-08-02,thirty")
    at = app(monkeypatch, folder)
    text = said(at)
    assert [h.value for h in at.header] == [words.CANNOT_BE_READ]
    for wrong in ("lege", "minus", "thirty"):
        assert wrong in text
    assert set(tables_of(at)[0]["File"]) == {"visits.csv", "north.csv"}
    assert "Traceback" not in text


def test_settings_that_cannot_be_read_are_said(monkeypatch, folder):
    rewrite(folder / "workspace.toml", "[flows.system]", "[flows.system")
    assert "reading stopped" in said(app(monkeypatch, folder))


def test_a_folder_with_other_things_and_no_workspace_is_said(monkeypatch, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    assert "the file that says what the sites are; it is missing" in said(app(monkeypatch, tmp_path))


def test_no_workspace_named_is_said(monkeypatch):
    assert "No workspace was named." in said(app(monkeypatch, None))


def test_a_changed_file_changes_the_answer_even_where_its_size_stays(monkeypatch, folder):
    at = app(monkeypatch, folder, "views/when_was_it_dry.py")
    assert "1 spell, 76 days" in first_sentence(at)
    rewrite(folder / "north.csv", "2020-07-01,30.0", "2020-07-01,60.0")
    at.run()
    assert "1 spell, 75 days" in first_sentence(at)


def test_a_mended_file_is_read_again(monkeypatch, folder):
    rewrite(folder / "visits.csv", "2020-10-10,ledge", "2020-10-10,lege")
    at = app(monkeypatch, folder)
    assert [h.value for h in at.header] == [words.CANNOT_BE_READ]
    rewrite(folder / "visits.csv", "2020-10-10,lege", "2020-10-10,ledge")
    at.run()
    assert not at.header


def test_the_revision_follows_every_file_in_use_and_no_other(folder):
    before = loaded.revision(folder)
    (folder / "notes.txt").write_text("not a file of the workspace")
    assert loaded.revision(folder) == before
    for name in ("workspace.toml", "north.csv", "visits.csv"):
        found = (folder / name).stat()
        os.utime(folder / name, ns=(found.st_atime_ns, found.st_mtime_ns + 1))
        assert loaded.revision(folder) != before
        before = loaded.revision(folder)
    (folder / "visits.csv").unlink()
    assert loaded.revision(folder) != before


def test_the_revision_follows_files_found_by_a_pattern(folder):
    rewrite(folder / "workspace.toml", 'file = "north.csv"', 'file = "north*.csv"')
    before = loaded.revision(folder)
    (folder / "north_2.csv").write_text("date,discharge (cfs)\n2021-01-01,50\n")
    assert loaded.revision(folder) != before


def test_titles_from_files_are_never_taken_for_markup(monkeypatch, folder):
    title = "Ledge *two* :red[x] $y$ <b>z</b>"
    rewrite(folder / "workspace.toml", 'title = "Ledge"', f'title = "{title}"')
    at = app(monkeypatch, folder)
    assert title in said(at)
    assert not any("<b>z</b>" in h.proto.body for h in at.get("html"))
    assert plain(title) == r"Ledge \*two\* \:red\[x\] \$y\$ \<b\>z\</b\>"


def test_two_outlets_of_one_name_can_be_told_apart(monkeypatch, folder):
    rewrite(folder / "workspace.toml", "[outlets.pool]", '[outlets.pool]\ntitle = "Ledge"')
    at = app(monkeypatch, folder, "views/when_was_it_dry.py")
    assert at.selectbox(key="outlet").options == ["Ledge (ledge)", "Ledge (pool)"]


def test_downloads_hold_every_table_with_every_digit(monkeypatch):
    frame = pd.DataFrame({"x": [0.1 + 0.2, np.nan, 1e-17], "day": pd.to_datetime(["2020-01-01", None, "2020-01-03"])})
    lines = csv_bytes(frame).decode().splitlines()
    assert lines == ["x,day", "0.30000000000000004,2020-01-01", ",", "1e-17,2020-01-03"]


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t", "\r"])
def test_a_text_that_a_spreadsheet_would_run_is_made_plain(start):
    """The list of first signs is the one that OWASP's page on CSV injection gives (value from memory)."""
    frame = pd.DataFrame({"note": [f"{start}1+1", "fine", None], "kind": pd.Categorical(["a", f"{start}b", "a"])})
    frame["level"] = [-1.5, 2.0, 3.0]
    rows = list(csv.reader(io.StringIO(csv_bytes(frame).decode(), newline="")))
    assert rows[0] == ["note", "kind", "level"]
    assert rows[1:] == [[f"'{start}1+1", "a", "-1.5"], ["fine", f"'{start}b", "2.0"], ["", "a", "3.0"]]


def test_a_cell_never_spills_into_a_row_of_its_own():
    frame = pd.DataFrame({"note": ["fine\r=1+1", "fine\n=1+1", 'a "b", c']})
    rows = list(csv.reader(io.StringIO(csv_bytes(frame).decode(), newline="")))
    assert rows == [["note"], *([n] for n in frame["note"])]


def test_numbers_for_people_have_three_figures_and_dates_stay_dates():
    frame = pd.DataFrame({"first": pd.to_datetime(["2020-01-05"]), "minimum_m3s": [1.0], "deficit_m3": [123456.0]})
    shown, _ = for_people(frame, tables.SPELLS, "cfs")
    # 1 m³/s = 35.3146667 ft³/s: the international foot of 0.3048 m, cubed.
    assert shown.iloc[0].tolist() == [pd.Timestamp("2020-01-05"), 35.3, 123000.0]
    assert list(shown.columns) == ["First dry day", "Lowest, ft³/s", "Short by, m³"]


def test_the_downloads_are_those_of_the_page_and_its_outlet(monkeypatch):
    at = app(monkeypatch, DEMO, "views/when_was_it_dry.py")
    at.session_state["take-away-spells"] = True
    at.run()
    assert not at.exception
    names = {b.proto.help for b in at.get("download_button")}
    assert {"dry-spells-ledge.csv", "daily-ledge.csv", "picture-hydrograph-ledge.csv", "spells.json"} <= names
    assert not any("trough" in n for n in names)


def test_pages_live_in_no_folder_named_pages():
    """A folder of that name beside the entry is run by Streamlit on its own, without the shared controls."""
    assert not (APP.parent / "pages").exists()
    assert all((APP.parent / p.file).is_file() for p in PAGES)


def test_the_icon_is_a_file_of_ours():
    """A :material: icon here makes the browser fetch the tab's icon from a font service."""
    text = APP.read_text(encoding="utf-8")
    assert "page_icon=str(ICON)" in text
    assert ":material/" not in text
    icon = APP.with_name("icon.svg").read_text(encoding="utf-8")
    assert "<svg" in icon
    assert "http" not in icon.replace("http://www.w3.org/2000/svg", "")


def test_what_is_cached_is_cached_in_two_files():
    using = [p.name for p in APP.parent.rglob("*.py") if "st.cache_" in p.read_text(encoding="utf-8")]
    assert sorted(using) == ["cache.py", "cache_start.py"]


def test_answers_are_cached_by_revision_and_never_by_their_frames():
    """Streamlit hashes a sample of big frames: an edited value can return the answer to the old file."""
    text = "".join((APP.parent / name).read_text(encoding="utf-8") for name in ("cache.py", "cache_start.py"))
    heads = re.findall(r"@st\.cache_resource[^\n]*\ndef \w+\((.*?)\) -> ", text, re.S)
    assert len(heads) >= 18
    for head in heads:
        keys = dict(part.strip().split(":", 1) for part in re.split(r",(?![^\[]*\])", head) if ":" in part)
        hashed = {name: kind.split("=")[0].strip() for name, kind in keys.items() if not name.startswith("_")}
        assert "revision" in hashed
        assert set(hashed.values()) <= {
            "str",
            "int",
            "tuple[str, ...]",
            "tuple[str, ...] | None",
            "datetime.date | None",
        }


def test_units_are_changed_in_the_header_alone():
    found = spells(load_workspace(DEMO))
    metric = replace(found.header, unit="m3/s")
    assert "m³/s" in spell_words.answer(found.outlets[0], metric)
    assert found.header.unit == "cfs"
