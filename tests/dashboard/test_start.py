"""Starting a workspace: the steps that page and command share, and that both give the same folder."""

from __future__ import annotations

import gc
import io
import itertools
import os
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.answers.threshold import threshold
from dashboard.cli import main
from dashboard.start import save as save_module
from dashboard.start.dropped import is_free, safe_name
from dashboard.start.gauge_draft import read_gauge_draft
from dashboard.start.outlet_level import agreement, combined_flow, dry_days, learn_start_level, level_steps
from dashboard.start.plan import NewOutlet, NewWorkspace, gauges_of, quoted, settings_text
from dashboard.start.save import save_workspace
from dashboard.start.staging import Staging
from dashboard.start.survey_draft import read_survey_draft, suggest_columns
from dashboard.workspace import load_workspace
from hydro.problems import InputError
from hydro.units import parse_quantity
from tests.dashboard.conftest import DEMO, VISITS, gauge_text

TODAY = pd.Timestamp("2021-01-15")


def written(folder: Path, name: str, text: str) -> Path:
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def draft_of(path: Path, **answers: str):
    return read_gauge_draft(path, answers, time_zone="CST6CDT")


def plan_of(folder: Path, **more) -> NewWorkspace:
    """A plan on the small workspace's own files."""
    settings = {
        "title": "Test",
        "time_zone": "CST6CDT",
        "display_unit": "cfs",
        "gauges": gauges_of([[draft_of(folder / "north.csv")]]),
        "outlets": (NewOutlet(id="ledge", stops_below=parse_quantity("40 cfs")), NewOutlet(id="pool")),
        "visits": folder / "visits.csv",
    }
    return NewWorkspace(**(settings | more))


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("../../etc/passwd", "passwd"),
        (r"C:\data\flow 2020.CSV", "flow_2020.csv"),
        (".hidden.csv", "hidden.csv"),
        ("débit (journalier).csv", "débit_journalier.csv"),
        ("CON.csv", "file_CON.csv"),
        ("...", "file"),
        ("a*b?.txt", "a_b.txt"),
        ("x\x00y.csv", "x_y.csv"),
    ],
)
def test_names_of_dropped_files_are_made_safe(name, safe):
    assert safe_name(name) == safe


@given(st.text(max_size=120), st.lists(st.sampled_from(["a.csv", "file", "file_2"]), unique=True))
def test_a_safe_name_is_one_plain_name_that_nothing_has(name, taken):
    found = safe_name(name, taken)
    assert found == Path(found).name
    assert not found.startswith(".") and "\\" not in found and 0 < len(found) < 110
    assert found.lower() not in {t.lower() for t in taken}


@given(st.text(st.characters(exclude_categories=("Cs",))))
def test_any_text_comes_back_from_the_settings_as_it_was(text):
    """Judge: tomllib, Python's own reader of TOML."""
    assert tomllib.loads(f"{quoted(text)} = {quoted(text)}") == {text: text}


DAYS = "\n".join(f"2020-01-{d:02d},{d}.5" for d in range(1, 20))
OPEN_ORDER = "\n".join(f"0{d}/0{m}/2020,{d}" for m in range(1, 5) for d in (1, 2, 3))
STAMPS = "\n".join(f"2020-01-01 {h:02d}:00,{h + 1}" for h in range(24))
QUESTIONS = {
    "unit": (f"date,flow\n{DAYS}\n", "cfs"),
    "day_first": (f"date,flow (cfs)\n{OPEN_ORDER}\n", "true"),
    "time_zone": (f"time,flow (cfs)\n{STAMPS}\n", "UTC-06:00"),
    "column": ("date,left,right\n" + "\n".join(f"2020-01-{d:02d},{d},{d + 1}" for d in range(1, 20)), "right"),
    "date_column": (
        "date a,date b,flow (cfs)\n" + "\n".join(f"2020-01-{d:02d},2021-01-{d:02d},{d}" for d in range(1, 20)),
        "date b",
    ),
    "series": ("date,flow a (cfs),flow b (cfs)\n" + "\n".join(f"2020-01-{d:02d},{d},{d}" for d in range(1, 20)), ""),
}


@pytest.mark.parametrize("key", QUESTIONS)
def test_what_a_file_leaves_open_becomes_a_question_and_the_answer_settles_it(tmp_path, key):
    text, answer = QUESTIONS[key]
    path = written(tmp_path, "own.csv", text)
    before = draft_of(path)
    assert key in [q.key for q in before.questions]
    options = next(q.options for q in before.questions if q.key == key)
    if key == "time_zone":
        assert before.series is not None  # the workspace's zone is taken unless somebody says otherwise
        assert before.choices.time_zone is None
    else:
        assert before.series is None and before.problems
        assert not answer or answer in options
    answers = {key: answer or list(options)[1]}
    if key == "column":
        answers["unit"] = "cfs"
    after = draft_of(path, **answers)
    assert after.problems == ()
    assert after.series is not None and len(after.series.frame)
    said = getattr(after.choices, key)
    assert said == (True if key == "day_first" else answers[key])
    if key == "series":
        assert after.series.origins[0].series == "flow b (cfs)"


def test_an_answer_never_overrules_what_a_file_says(tmp_path):
    found = draft_of(written(tmp_path, "own.csv", f"date,flow (cfs)\n{DAYS}\n"), unit="l/s", day_first="true")
    assert found.questions == ()
    assert found.choices.unit is None
    assert found.series is not None and found.series.origins[0].unit == "cfs"


def test_only_answers_that_are_possible_are_offered(tmp_path):
    text, _ = QUESTIONS["column"]
    columns = draft_of(written(tmp_path, "two.csv", text)).questions[0]
    assert (columns.key, list(columns.options)) == ("column", ["left", "right"])  # not the dates
    found = draft_of(written(tmp_path, "own.csv", f"date,flow (MGD)\n{DAYS}\n"))
    assert [list(q.options) for q in found.questions] == [["US MGD", "imp MGD"]]


def test_a_file_that_is_no_table_asks_nothing_and_says_what_is_wrong(tmp_path):
    found = draft_of(written(tmp_path, "page.html", "<!DOCTYPE html><html><body>Not found</body></html>"))
    assert found.series is None and found.questions == ()
    assert "web page" in found.problems[0].expected


def test_files_of_one_gauge_lie_together_and_need_the_same_answers(tmp_path, folder):
    lines = gauge_text().splitlines()
    one = written(tmp_path, "early.csv", "\n".join(lines[:200]))
    two = written(tmp_path, "late.csv", "\n".join([lines[0], *lines[200:]]))
    gauges = gauges_of([[draft_of(one), draft_of(two)]])
    save_workspace(plan_of(folder, gauges=gauges), tmp_path / "new")
    assert sorted(p.name for p in (tmp_path / "new" / "discharge" / "early").iterdir()) == ["early.csv", "late.csv"]
    whole = load_workspace(tmp_path / "new").flows["system"].values
    pd.testing.assert_series_equal(whole, load_workspace(folder, as_of="2021-01-15").flows["system"].values)
    no_unit = written(tmp_path, "third.csv", "date,flow\n2021-01-01,5\n2021-01-02,6\n")
    other = written(tmp_path, "fourth.csv", "date,flow\n2021-02-01,5\n2021-02-02,6\n")
    with pytest.raises(InputError, match="one unit for all files"):
        gauges_of([[draft_of(no_unit, unit="cfs"), draft_of(other, unit="l/s")]])


def test_headers_of_field_sheets_are_recognised_and_our_own_names_come_first():
    assert suggest_columns(["Survey Date", "Site", "TOTAL", "Minutes", "Remarks", "Weather"]) == {
        "date": "Survey Date", "outlet": "Site", "count": "TOTAL", "effort": "Minutes", "note": "Remarks",
    }  # fmt: skip
    assert suggest_columns(["count", "total", "date", "site"])["count"] == "count"


def test_everything_wrong_in_a_table_is_told_by_row(tmp_path):
    text = "Day,Site,Total\n2020-03-01,ledge,4\n2020-13-01,ledge,2\n2020-04-01,,1\n2020-05-01,pool,many\n"
    found = read_survey_draft(written(tmp_path, "s.csv", text), today=TODAY)
    assert found.visits is None
    assert [(p.row, p.column, p.value) for p in found.problems] == [
        (3, "Day", "2020-13-01"), (4, "Site", ""), (5, "Total", "many"),
    ]  # fmt: skip
    assert found.outlets == ("ledge", "pool")


def test_the_order_of_day_and_month_is_asked_and_never_guessed(tmp_path):
    path = written(tmp_path, "s.csv", "date,outlet,count\n03/04/2020,ledge,1\n05/06/2020,ledge,2\n")
    assert read_survey_draft(path, today=TODAY).asks_day_first
    for first, month in ((True, 4), (False, 3)):
        found = read_survey_draft(path, today=TODAY, day_first=first)
        assert found.visits is not None and found.visits.frame["date"].iloc[0].month == month


def test_one_column_cannot_mean_two_things(tmp_path):
    path = written(tmp_path, "s.csv", "date,outlet,n\n2020-03-01,ledge,1\n")
    found = read_survey_draft(
        path, today=TODAY, columns={"date": "date", "outlet": "outlet", "count": "n", "effort": "n"}
    )
    assert [p.column for p in found.problems] == ["n"]
    found = read_survey_draft(path, today=TODAY, columns={"date": "date", "count": "n"})
    assert ["is the outlet" in p.expected for p in found.problems] == [True]


def test_a_column_of_remarks_is_not_taken_for_outlets(tmp_path):
    rows = "\n".join(f"2020-03-01,{i}" for i in range(61))
    found = read_survey_draft(written(tmp_path, "s.csv", f"date,outlet\n{rows}\n"), today=TODAY)
    assert found.visits is None and "has 61" in found.problems[0].expected


def test_a_workbook_is_understood_like_the_same_text(tmp_path):
    book = openpyxl.Workbook()
    for line in VISITS.splitlines():
        cells = line.split(",")
        book.active.append([pd.Timestamp(cells[0]).to_pydatetime() if cells[0] != "date" else "date", *cells[1:]])
    book.save(tmp_path / "v.xlsx")
    sheet = read_survey_draft(tmp_path / "v.xlsx", today=TODAY)
    text = read_survey_draft(written(tmp_path, "v.csv", VISITS), today=TODAY)
    assert sheet.visits is not None and text.visits is not None
    pd.testing.assert_frame_equal(sheet.visits.frame, text.visits.frame)


def test_the_level_to_start_from_is_the_one_that_the_sightings_give():
    workspace = load_workspace(DEMO)
    estimate, text = learn_start_level(workspace.visits, "ledge", workspace.flow_of("ledge"), "cfs")
    judged = threshold(workspace, outlets=("ledge",), draws=0).outlets[0].estimate
    assert estimate is not None and judged is not None
    assert estimate.stop_level == judged.stop_level
    assert parse_quantity(str(text)).m3s == pytest.approx(judged.stop_level.value_m3s, rel=0.005)  # three figures
    assert learn_start_level(None, "ledge", workspace.flow_of("ledge"), "cfs") == (None, None)


def test_a_level_is_held_against_sightings_and_days(folder):
    """By hand: 60 cfs but for 76 days at 30 cfs; the ledge seen running at 60 (3 times) and dry at 30 (once)."""
    workspace = load_workspace(folder)
    flow, visits = workspace.flow_of("ledge"), workspace.visits
    forty, sixty_one = parse_quantity("40 cfs").m3s, parse_quantity("61 cfs").m3s
    right, wrong = agreement(visits, "ledge", flow, forty), agreement(visits, "ledge", flow, sixty_one)
    assert (right.n, right.disagreeing, right.dry_below, right.running_above) == (4, 0, 1, 3)
    assert (wrong.n, wrong.disagreeing, wrong.running_below) == (4, 3, 3)
    assert dry_days(flow, forty) == (76, 366)
    steps = level_steps(flow, "cfs", also=(parse_quantity("40.5 cfs"),))
    assert steps == sorted(set(steps)) and 40.5 in steps
    assert (steps[0], steps[-1]) == (30.0, 60.0)
    assert all(b / a < 1.02 for a, b in itertools.pairwise(steps))


def test_what_is_saved_is_read_back_as_planned(tmp_path, folder):
    plan = plan_of(
        folder,
        title='Springs "of" \\ the\tnorth',
        outlets=(NewOutlet(id="ledge", title="The ledge", stops_below=parse_quantity("40 cfs"), learnt=True),
                 NewOutlet(id="pool")),
        effort_unit="minutes",
    )  # fmt: skip
    save_workspace(plan, tmp_path / "a" / "new")
    found = load_workspace(tmp_path / "a" / "new").settings
    assert found.title == plan.title
    assert found.outlets["ledge"].title == "The ledge"
    assert found.outlets["ledge"].level_is_learnt
    assert found.outlets["pool"].perennial
    assert found.surveys.effort_unit == "minutes"
    for name, source in plan.copies.items():
        assert (tmp_path / "a" / "new" / name).read_bytes() == source.read_bytes()
    assert [p.name for p in (tmp_path / "a").iterdir()] == ["new"]


def test_nothing_is_written_where_something_is_there_or_anything_is_wrong(tmp_path, folder):
    taken = tmp_path / "taken"
    taken.mkdir()
    written(taken, "mine.txt", "mine")
    with pytest.raises(InputError, match="new or empty folder"):
        save_workspace(plan_of(folder), taken)
    assert [p.name for p in taken.iterdir()] == ["mine.txt"]
    with pytest.raises(InputError, match="an outlet id"):
        save_workspace(plan_of(folder, outlets=(NewOutlet(id="ledge"),)), tmp_path / "deep" / "down" / "new")
    assert not (tmp_path / "deep").exists()
    link = tmp_path / "link"
    link.symlink_to(tmp_path / "nowhere")
    assert not is_free(link)


@pytest.mark.parametrize("there", [True, False])
def test_a_full_disk_leaves_nothing_behind(tmp_path, folder, monkeypatch, there):
    target = tmp_path / "new"
    if there:
        target.mkdir()

    def full(_path: Path) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(save_module, "_to_disk", full)
    with pytest.raises(InputError, match="No space left on device"):
        save_workspace(plan_of(folder), target)
    assert list(target.iterdir()) == [] if there else not target.exists()
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".new-")]


def test_an_entry_that_cannot_be_moved_takes_the_others_back(tmp_path, folder, monkeypatch):
    target = tmp_path / "new"
    target.mkdir()
    rename = Path.rename

    def stuck(self: Path, to: Path) -> Path:
        if self.name == "workspace.toml":
            raise OSError(13, "Permission denied")
        return rename(self, to)

    monkeypatch.setattr(Path, "rename", stuck)
    with pytest.raises(InputError, match="Permission denied"):
        save_workspace(plan_of(folder), target)
    assert list(target.iterdir()) == []


def test_an_empty_folder_stays_the_folder_it_was(tmp_path, folder):
    """Somebody may stand in it, or it may be a mounted disk: it is filled, not replaced."""
    target = tmp_path / "new"
    target.mkdir()
    before = target.stat().st_ino
    save_workspace(plan_of(folder), target)
    assert target.stat().st_ino == before
    assert sorted(p.name for p in target.iterdir()) == ["discharge", "visits.csv", "workspace.toml"]


KILLED = """
import os, signal, sys
from pathlib import Path
from dashboard.start import save
from tests.dashboard.test_start import plan_of
save._load = lambda aside: os.kill(os.getpid(), signal.SIGKILL)
save.save_workspace(plan_of(Path(sys.argv[1])), Path(sys.argv[2]))
"""


def test_a_save_that_is_killed_leaves_no_workspace_and_can_be_made_again(tmp_path, folder):
    target = tmp_path / "new"
    target.mkdir()
    ended = subprocess.run([sys.executable, "-c", KILLED, str(folder), str(target)], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert not (target / "workspace.toml").exists()
    save_workspace(plan_of(folder), target)
    assert load_workspace(target).settings.title == "Test"


def test_staged_files_go_with_their_session():
    staged = Staging()
    assert staged.add_gauge("a/b.csv", b"1")
    assert not staged.add_gauge("c.csv", b"1")
    staged.set_visits("v.csv", b"2")
    staged.set_visits("v.csv", b"3")
    folder = staged.folder
    assert [p.read_bytes() for p in sorted(folder.rglob("*.csv"))] == [b"1", b"3"]
    staged.drop(staged.gauges[0])
    assert staged.gauges == []
    del staged
    gc.collect()
    assert not folder.exists()


SHEET = """\
Survey date,Site,State,Total,Minutes,Weather
2020-03-01,ledge,running,4,30,sun
2020-07-15,ledge,dry,,,sun
2020-09-20,ledge,running,0,30,rain
2020-10-10,ledge,running,3,30,sun
2020-03-01,pool,running,2,30,sun
"""


class Terminal(io.StringIO):
    """A person who types the answers."""

    def isatty(self) -> bool:
        return True


def test_asking_and_options_give_the_same_workspace(tmp_path, monkeypatch, capsys):
    gauge = written(tmp_path, "north weir.csv", gauge_text().replace(" (cfs)", ""))
    sheet = written(tmp_path, "sheet.csv", SHEET)
    monkeypatch.setattr("sys.stdin", open(os.devnull))  # noqa: PTH123, SIM115 - nobody is there to answer
    options = ["--gauge", gauge, "--visits", sheet, "--time-zone", "CST6CDT", "--unit", "cfs", "--title", "North"]
    given_ = ["new", tmp_path / "one", *options, "--stops-below", "ledge=40 cfs"]
    assert main([str(a) for a in given_]) == 0
    said = capsys.readouterr().out
    assert "date from “Survey date”" in said
    answers = [
        "Nowhere/Nothing", "CST6CDT", f'"{gauge}"', "99", "cfs", str(sheet), "colour=red", "note=Weather", "note=", "",
        "", "forty", "40 cfs", "", "", "North", "no",
    ]  # fmt: skip
    monkeypatch.setattr("sys.stdin", Terminal("\n".join(answers) + "\n"))
    assert main(["new", str(tmp_path / "two")]) == 0
    said = capsys.readouterr().out
    assert "leaves this open" in said and "Judging by 4 sightings" in said
    one, two = (tmp_path / name for name in ("one", "two"))
    names = sorted(str(p.relative_to(one)) for p in one.rglob("*") if p.is_file())
    assert names == ["discharge/north_weir.csv", "visits.csv", "workspace.toml"]
    for name in names:
        assert (one / name).read_bytes() == (two / name).read_bytes(), name


CAPTURED = "Day,Spring,Animal ID,Length\n2020-03-02,ledge,Q1,21.5\n2020-10-10,ledge,Q1,\n2020-10-10,pool,Q2,19\n"
MORE = ["--restarts-above", "ledge=44 cfs", "--display-unit", "l/s", "--permit", "QM-1", "--permit-holder", "Tamsin",
        "--permit-first", "2020-01-01", "--permit-last", "2020-12-31", "--holding-minutes", "5"]  # fmt: skip


def test_captures_restart_levels_and_a_permit_by_options_and_by_questions_are_the_same(tmp_path, monkeypatch, capsys):
    gauge = written(tmp_path, "north.csv", gauge_text())
    sheet, animals = written(tmp_path, "sheet.csv", VISITS), written(tmp_path, "animals.csv", CAPTURED)
    monkeypatch.setattr("sys.stdin", open(os.devnull))  # noqa: PTH123, SIM115 - nobody is there to answer
    base = ["--gauge", gauge, "--visits", sheet, "--time-zone", "CST6CDT", "--title", "North"]
    given_ = ["new", tmp_path / "one", *base, "--stops-below", "ledge=40 cfs", "--captures", animals, *MORE]
    assert main([str(a) for a in given_]) == 0
    assert "individual from “Animal ID”" in capsys.readouterr().out
    w = load_workspace(tmp_path / "one", as_of=pd.Timestamp("2020-12-31"))
    assert w.captures is not None and w.captures.frame["individual"].tolist() == ["Q1", "Q1", "Q2"]
    assert w.outlets["ledge"].restarts_above == parse_quantity("44 cfs") and w.unit == "l/s"
    permit = w.settings.permit
    assert (permit.number, permit.holder, f"{permit.first}", f"{permit.last}", permit.holding_minutes) == (
        "QM-1", "Tamsin", "2020-01-01", "2020-12-31", 5,
    )  # fmt: skip
    answers = ["", "", "40 cfs", "", "", "yes", str(animals), "39 cfs", "44 cfs", "QM-1", "Tamsin", "2020-01-01",
               "2019-01-01", "2020-12-31", "none", "5", ""]  # fmt: skip
    monkeypatch.setattr("sys.stdin", Terminal("\n".join(answers) + "\n"))
    assert main([str(a) for a in ("new", tmp_path / "two", *base, "--display-unit", "l/s")]) == 0
    for path in (p for p in (tmp_path / "one").rglob("*") if p.is_file()):
        assert path.read_bytes() == (tmp_path / "two" / path.relative_to(tmp_path / "one")).read_bytes(), path.name


@pytest.mark.parametrize(
    ("options", "wrong"),
    [
        (["--restarts-above", "ledge=39 cfs"], "not below that at which it stops"),
        (["--restarts-above", "pool=39 cfs"], "an outlet that stops"),
        (["--restarts-above", "ledge=much"], "--restarts-above"),
        (["--display-unit", "buckets"], "a unit of discharge"),
        (["--permit-first", "2020-02-01", "--permit-last", "2020-01-01"], "not before the first"),
    ],
)
def test_what_is_wrong_beyond_the_essentials_is_said_and_nothing_is_written(
    tmp_path, monkeypatch, capsys, options, wrong
):
    gauge, sheet = written(tmp_path, "north.csv", gauge_text()), written(tmp_path, "sheet.csv", VISITS)
    monkeypatch.setattr("sys.stdin", open(os.devnull))  # noqa: PTH123, SIM115
    base = ["new", tmp_path / "one", "--gauge", gauge, "--visits", sheet, "--stops-below", "ledge=40 cfs"]
    assert main([str(a) for a in [*base, *options]]) == 2
    assert wrong in capsys.readouterr().err and not (tmp_path / "one").exists()


def test_problems_of_captures_are_told_by_row(tmp_path):
    table = written(tmp_path, "a.csv", CAPTURED.replace("pool,Q2,19", "pond,,long"))
    draft = read_survey_draft(table, today=TODAY, kind="captures", outlets=("ledge", "pool"))
    assert draft.columns == {"date": "Day", "outlet": "Spring", "individual": "Animal ID", "length_mm": "Length"}
    assert {(str(p.row), p.column) for p in draft.problems} == {("4", "Spring"), ("4", "Animal ID"), ("4", "Length")}
    assert not draft.settled


def test_a_person_who_stops_answering_leaves_nothing_behind(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr("sys.stdin", Terminal("CST6CDT\n"))
    assert main(["new", str(tmp_path / "new")]) == 130
    assert "nothing was left half written" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_visits_outside_the_record_are_kept_only_where_somebody_says_so(tmp_path, monkeypatch, capsys):
    gauge = written(tmp_path, "north.csv", gauge_text())
    sheet = written(tmp_path, "sheet.csv", "date,outlet,count\n2019-03-01,ledge,4\n")
    answers = ["CST6CDT", str(gauge), str(sheet), "", "", "", "", ""]
    for said, code in (("no", 2), ("yes", 0)):
        monkeypatch.setattr("sys.stdin", Terminal("\n".join([*answers, said]) + "\n"))
        assert main(["new", str(tmp_path / "new")]) == code
        assert "2019-03-01" in capsys.readouterr().out
    assert 'outside_record = "keep"' in (tmp_path / "new" / "workspace.toml").read_text()


def test_serve_opens_on_a_new_folder_and_refuses_one_with_other_things(tmp_path, monkeypatch, capsys):
    started = []
    monkeypatch.setattr("dashboard.serving.serve", lambda folder, *_, **__: started.append(folder) or 0)
    assert main(["serve", str(tmp_path / "new")]) == 0
    assert "holds no workspace yet: the page “Start” opens" in capsys.readouterr().out
    assert started == [tmp_path / "new"] and not (tmp_path / "new").exists()
    written(tmp_path, "mine.txt", "mine")
    assert main(["serve", str(tmp_path)]) == 2
    assert "name a new or empty folder" in capsys.readouterr().err
    assert len(started) == 1


def test_settings_of_the_demo_gauge_say_only_what_the_file_leaves_open():
    draft = read_gauge_draft(DEMO / "discharge" / "lower_daily.csv", time_zone="CST6CDT")
    gauges = gauges_of([[draft]])
    flow = combined_flow({"g": [draft.series]}, "CST6CDT")
    assert len(flow.values.dropna()) > 7000
    plan = NewWorkspace(
        title="x", time_zone="CST6CDT", display_unit="l/s", gauges=gauges, outlets=(NewOutlet(id="a b"),)
    )
    assert tomllib.loads(settings_text(plan)) == {
        "title": "x",
        "time_zone": "CST6CDT",
        "display_unit": "l/s",
        "gauges": {"lower_daily": {"file": "discharge/lower_daily.csv"}},
        "flows": {"system": {"gauges": ["lower_daily"]}},
        "outlets": {"a b": {"flow": "system"}},
    }
