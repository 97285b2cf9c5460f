"""The command line as a person and as a script meet it."""

from __future__ import annotations

import contextlib
import functools
import io
import json
import re
import subprocess
import sys

import pytest

from dashboard.cli import main
from tests.dashboard.conftest import DEMO
from tests.dashboard.contract import departures

ANSWERING = ["check", "status", "spells", "threshold", "outlook", "alert-levels", "returns", "counts", "individuals"]


def run(capsys, *argv):
    code = main([str(a) for a in argv])
    out, err = capsys.readouterr()
    return code, out, err


def replace(path, old, new):
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


@functools.cache
def demo_json(command):
    """What a command answers on the demo, worked out once for all tests here."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = main([command, str(DEMO), "--json"])
    return code, out.getvalue(), err.getvalue()


@pytest.mark.parametrize("command", ANSWERING)
def test_every_answer_has_a_text_and_a_json_with_the_shared_header(capsys, command):
    code, text, err = run(capsys, command, DEMO)
    assert (code, err) == (0, "")
    assert "Quillmere springs" in text
    assert "provisional" in text
    code, out, err = demo_json(command)
    assert (code, err) == (0, "")
    answer = json.loads(out)
    assert answer["as_of"] == "2025-10-19"
    assert answer["workspace"] == str(DEMO)
    assert isinstance(answer["warnings"], list)
    assert re.fullmatch(r"\d{4}\.\d+\.\d+", answer["method_version"])


@pytest.mark.parametrize("command", ANSWERING)
def test_the_same_data_and_seed_give_the_same_bytes(capsys, the_demo_is_read_once, command):
    before = demo_json(command)[1]
    the_demo_is_read_once()  # here the files are read again too
    assert run(capsys, command, DEMO, "--json")[1] == before


@pytest.mark.parametrize("command", ANSWERING)
def test_every_key_is_there_and_what_cannot_be_estimated_has_its_reason(capsys, folder, command):
    assert departures(command, json.loads(demo_json(command)[1])) == []
    code, out, _ = run(capsys, command, folder, "--json")  # too little data for most of it
    assert code == 0
    assert departures(command, json.loads(out)) == []


def test_a_key_left_out_and_a_null_in_silence_are_noticed():
    answer = json.loads(demo_json("spells")[1])
    del answer["outlets"][0]["spells"][0]["deficit"]
    answer["outlets"][0]["joined"][0]["days"] = None
    answer["outlets"][0]["joined"][1]["status"] = "over"
    assert [w.split(":")[0] for w in departures("spells", answer)] == [
        "spells.outlets[0].spells[0].deficit",
        "spells.outlets[0].joined[0].days",
        "spells.outlets[0].joined[1].status",
    ]


def test_status_keeps_the_contract(capsys):
    _, out, _ = run(capsys, "status", DEMO, "--json", "--trip", "2025-10-25")
    outlet = json.loads(out)["outlets"][0]
    assert {
        "outlet", "state", "probability_running", "reading", "last_seen", "trip", "expected_stop", "expected_restart",
        "reasons",
    } <= set(outlet)  # fmt: skip
    assert {"date", "value", "unit", "age_days", "provisional"} <= set(outlet["reading"])
    assert outlet["reading"]["unit"] == "cfs"
    assert outlet["trip"]["date"] == "2025-10-25"
    assert outlet["state"] in ("running", "dry", "unknown")


def test_status_asks_for_a_trip_that_is_not_over(capsys):
    code, out, err = run(capsys, "status", DEMO, "--trip", "2025-10-01")
    assert (code, out) == (2, "")
    assert "2025-10-01" in err and "2025-10-19" in err


def test_an_old_reading_widens_the_answer_instead_of_stopping_it(capsys, demo):
    from datetime import date

    fresh = json.loads(run(capsys, "status", demo, "--json", "--outlet", "ledge")[1])["outlets"][0]
    replace(demo / "workspace.toml", 'as_of = "2025-10-19"', 'as_of = "2025-12-05"')
    old = json.loads(run(capsys, "status", demo, "--json", "--outlet", "ledge")[1])["outlets"][0]
    assert old["reading"]["age_days"] == (date(2025, 12, 5) - date(2025, 10, 18)).days
    assert fresh["state"] == "running" and old["state"] == "unknown"
    assert 0.05 < old["probability_running"] < fresh["probability_running"]
    assert old["sources"]["outlook"] is not None
    assert "stale reading" in old["outlook_is_weak_because"]


def test_the_last_thing_a_person_saw_moves_the_chance(capsys, demo):
    before = json.loads(run(capsys, "status", demo, "--json", "--outlet", "ledge")[1])["outlets"][0]
    visits = demo / "visits.csv"
    visits.write_text(visits.read_text(encoding="utf-8") + "2025-10-18,09:00,ledge,dry,,,,,,,,,,\n", encoding="utf-8")
    after = json.loads(run(capsys, "status", demo, "--json", "--outlet", "ledge")[1])["outlets"][0]
    assert after["last_seen"] == {"date": "2025-10-18", "surface": "dry"}
    assert after["sources"]["gauge"] == pytest.approx(before["sources"]["gauge"], abs=0.01)
    assert after["probability_running"] < 0.7 < before["probability_running"]
    assert after["state"] == "unknown"
    assert any("trust the person" in reason for reason in after["reasons"])


def test_threshold_keeps_the_contract():
    _, out, _ = demo_json("threshold")
    ledge, trough, grotto, _ = json.loads(out)["outlets"]
    keys = {
        "stop_level", "bracket", "n_running", "n_dry", "n_pooled", "n_spells", "separated", "restart_level",
        "set_level", "contradictions",
    }  # fmt: skip
    assert keys <= set(ledge)
    assert ledge["stop_level"]["low"] < ledge["stop_level"]["value"] < ledge["stop_level"]["high"]
    assert ledge["stop_level"]["unit"] == "cfs"
    assert ledge["n_pooled"] > 0
    assert {"date", "surface", "discharge", "expected", "row"} <= set(ledge["contradictions"][0])
    assert trough["restart_level"] is None and "transitions" not in trough["why_no_restart_level"]
    assert grotto["stop_level"]["value"] is None and grotto["one_sided"] == "below"
    assert grotto["bracket"]["lowest_running"]["value"] > 0


def test_outlook_keeps_the_contract_and_its_chances_are_chances():
    _, out, _ = demo_json("outlook")
    ledge, _, grotto, _ = json.loads(out)["outlets"]
    assert {"issued", "days", "no_recharge", "stops_by", "skill"} <= set(ledge)
    assert [d["lead"] for d in ledge["days"]] == list(range(181))
    assert all(0 < d["probability_running"] < 1 for d in ledge["days"][1:])
    assert all(d["discharge"]["low"] <= d["discharge"]["median"] <= d["discharge"]["high"] for d in ledge["days"])
    by = [s["probability"] for s in ledge["stops_by"]]
    assert by == sorted(by)
    on_day = [1 - d["probability_running"] for d in ledge["days"]]
    assert all(passed >= dry - 1e-9 for passed, dry in zip(by[1:], on_day[1:], strict=True))
    keys = {
        "lead", "n", "n_years", "base_rate", "brier", "brier_climatology", "brier_conditional_climatology",
        "brier_persistence", "skill_vs_conditional_climatology", "low", "high", "reliability",
    }  # fmt: skip
    assert all(keys <= set(row) for row in ledge["skill"])
    assert [row["lead"] for row in ledge["skill"]] == [1, 3, 7, 14, 30, 60, 90]
    assert grotto["days"] is None and "no stop level" in grotto["why"]


def test_a_record_of_a_few_days_has_no_outlook_and_says_so(capsys, folder):
    lines = (folder / "north.csv").read_text(encoding="utf-8").splitlines()[:4]
    (folder / "north.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    (folder / "visits.csv").write_text("date,outlet\n2020-01-02,ledge\n", encoding="utf-8")
    assert "the record is too short" in run(capsys, "outlook", folder)[1]
    answer = json.loads(run(capsys, "outlook", folder, "--json")[1])
    assert answer["outlets"][0]["days"] is None
    assert departures("outlook", answer) == []


def test_a_stop_that_lies_before_today_is_not_told_as_one_to_come(capsys, demo):
    replace(demo / "workspace.toml", 'as_of = "2025-10-19"', 'as_of = "2025-12-05"')
    text = run(capsys, "outlook", demo, "--outlet", "ledge")[1]
    assert "would have stopped already" in text
    assert "it would stop about" not in text


def test_an_outlook_never_changes_when_later_rows_do(capsys, demo):
    early = run(capsys, "outlook", demo, "--json", "--outlet", "ledge", "--as-of", "2019-06-01")[1]
    path = demo / "discharge" / "mill_daily.txt"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    for i, line in enumerate(lines):
        cells = line.split("\t")
        if len(cells) > 3 and "2019-06-01" < cells[2] < "2026":
            lines[i] = "\t".join([*cells[:3], f"{50 + i % 37}.{i % 10}", *cells[4:]])
    path.write_text("".join(lines), encoding="utf-8")
    assert run(capsys, "outlook", demo, "--json", "--outlet", "ledge", "--as-of", "2019-06-01")[1] == early


def test_spells_keep_the_contract_and_add_up():
    outlet = json.loads(demo_json("spells")[1])["outlets"][0]
    assert outlet["outlet"] == "ledge"
    keys = {"first", "last", "days", "status", "unknown_days", "minimum", "deficit", "seen_dry", "seen_running"}
    assert all(keys <= set(s) for s in outlet["spells"] + outlet["joined"])
    summary = outlet["summary"]
    assert summary["dry_days"] == sum(s["days"] for s in outlet["spells"]) == sum(summary["dry_days_by_year"].values())
    assert outlet["spells"][0]["deficit"]["unit"] == "m3"
    assert summary["longest"] == max(s["days"] for s in outlet["spells"])


def test_returns_keep_the_contract(capsys):
    _, out, _ = run(capsys, "returns", DEMO, "--json", "--outlet", "trough", "--outlet", "ledge")
    outlet = json.loads(out)["outlets"][0]
    assert [o["outlet"] for o in json.loads(out)["outlets"]] == ["ledge", "trough"]
    assert {"lags", "curve", "returned_by", "median_days", "fits", "allowing_for_missed_animals"} <= set(outlet)
    keys = {
        "spell_last", "restart", "searches", "last_none_found", "first_found", "low_days", "high_days", "censoring",
        "dry_days",
    }  # fmt: skip
    assert all(keys <= set(lag) for lag in outlet["lags"])
    assert sum(step["mass"] for step in outlet["curve"]) == pytest.approx(1)
    for entry in outlet["returned_by"]:
        assert entry["low"] <= entry["least"] <= entry["most"] <= entry["high"]


def test_counts_keep_the_contract_and_write_the_design(capsys, tmp_path):
    import pandas as pd

    design = tmp_path / "design.csv"
    _, out, _ = run(capsys, "counts", DEMO, "--json", "--design", design)
    answer = json.loads(out)
    assert answer["model"] == "negative-binomial"
    assert {"formula", "n", "n_left_out", "clusters", "terms", "alpha", "log_likelihood", "aic"} <= set(answer)
    assert {"term", "estimate", "se", "low", "high", "p"} <= set(answer["terms"][0])
    table = pd.read_csv(design)
    assert list(table.columns) == [*(t["term"] for t in answer["terms"]), "count", "offset"]
    assert len(table) == answer["n"]


def test_a_design_that_cannot_be_written_is_refused_before_anything_is_worked_out(capsys, folder, tmp_path):
    for path in (tmp_path / "none" / "x.csv", tmp_path):
        code, out, err = run(capsys, "counts", folder, "--design", path)
        assert (code, out) == (2, "")
        assert "--design" in err and str(path) in err


def test_a_day_before_everything_is_answered_and_one_beyond_all_calendars_refused(capsys, folder):
    for command in ANSWERING:
        code, out, _ = run(capsys, command, folder, "--as-of", "2019-12-31")
        assert code == 0 and "nan" not in out.split()
    for day in ("9999-12-31", "0020-03-01"):
        with pytest.raises(SystemExit) as stopped:
            main(["status", str(folder), "--as-of", day])
        assert stopped.value.code == 2
    replace(folder / "workspace.toml", "2020-12-31", "9999-12-31")
    assert run(capsys, "status", folder)[0] == 2


def test_a_reader_of_the_design_can_repeat_the_fit_with_a_general_library(capsys, tmp_path):
    # Reference library: statsmodels NegativeBinomial (NB2), observed information.
    import numpy as np
    import pandas as pd
    import statsmodels.api as sm

    design = tmp_path / "design.csv"
    _, out, _ = run(capsys, "counts", DEMO, "--json", "--design", design)
    answer, table = json.loads(out), pd.read_csv(design)
    terms = [t["term"] for t in answer["terms"]]
    reference = sm.NegativeBinomial(table["count"], table[terms], offset=table["offset"]).fit(disp=0, maxiter=200)
    assert np.allclose([t["estimate"] for t in answer["terms"]], reference.params[terms], atol=2e-4)
    assert np.allclose([t["se"] for t in answer["terms"]], reference.bse[terms], rtol=5e-3)
    assert answer["log_likelihood"] == pytest.approx(reference.llf, abs=1e-4)


def test_nothing_dated_later_than_the_day_asked_is_used(capsys, folder):
    early = run(capsys, "spells", folder, "--json", "--as-of", "2020-08-01")[1]
    replace(folder / "north.csv", "2020-09-01,30.0", "2020-09-01,99.0")
    (folder / "visits.csv").write_text((folder / "visits.csv").read_text() + "2020-12-01,ledge,running,yes,9,30\n")
    assert run(capsys, "spells", folder, "--json", "--as-of", "2020-08-01")[1] == early
    spell = json.loads(early)["outlets"][0]["spells"][0]
    assert (spell["status"], spell["last"]) == ("ongoing", "2020-08-01")


def test_not_even_a_doubt_about_later_rows_is_told(capsys, folder):
    asked = ("status", folder, "--json", "--as-of", "2020-06-01")
    early = run(capsys, *asked)[1]
    replace(folder / "visits.csv", "2020-07-15,ledge,dry,,,", "2020-07-15,ledge,dry,yes,3,30")
    replace(folder / "north.csv", "2020-10-05,60.0", "2020-10-05,-6000.0")
    assert run(capsys, *asked)[1] == early
    told = " ".join(json.loads(run(capsys, "status", folder, "--json")[1])["warnings"])
    assert "dry surface" in told and "negative" in told


def test_an_unknown_outlet_is_named_with_those_that_exist(capsys, folder):
    code, out, err = run(capsys, "status", folder, "--outlet", "brook", "--outlet", "ledge", "--outlet", "fen")
    assert (code, out) == (2, "")
    assert "brook" in err and "fen" in err and "ledge, pool" in err


MISTAKES = {
    "missing gauge file": ("workspace.toml", 'file = "north.csv"', 'file = "nowhere.csv"', "nowhere.csv"),
    "unknown flow": ("workspace.toml", 'gauges = ["north"]', 'gauges = ["south"]', "south"),
    "bad unit of a level": ("workspace.toml", '"40 cfs"', '"40 gallons"', "40 gallons"),
    "level without unit": ("workspace.toml", '"40 cfs"', "40", "such as “40 cfs”"),
    "misspelt key": ("workspace.toml", "stops_below", "stop_below", "did you mean stops_below"),
    "unknown zone": ("workspace.toml", '"CST6CDT"', '"Mars/Olympus"', "Mars/Olympus"),
    "broken toml": ("workspace.toml", "[gauges.north]", "[gauges.north", "TOML"),
    "text in numbers": ("north.csv", "2020-03-01,60.0", "2020-03-01,sixty", "sixty"),
    "unknown outlet in a visit": ("visits.csv", "2020-03-01,pool", "2020-03-01,brook", "brook"),
    "negative count": ("visits.csv", "running,yes,4", "running,yes,-4", "-4"),
    "effort zero": ("visits.csv", "yes,4,30", "yes,4,0", "above 0"),
    "visit outside the record": ("visits.csv", "2020-03-01,ledge", "1999-03-01,ledge", "1999-03-01"),
    "visit in the future": ("visits.csv", "2020-03-01,ledge", "2199-03-01,ledge", "2199-03-01"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_wrong_input_is_one_message_without_a_traceback(capsys, folder, name):
    file, old, new, told = MISTAKES[name]
    replace(folder / file, old, new)
    code, out, err = run(capsys, "status", folder)
    assert (code, out) == (2, "")
    assert told in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("name", "content", "told"),
    [
        ("empty file", b"", "empty"),
        ("binary file", bytes(range(256)) * 8, "text"),
        ("no unit", b"date,discharge\n2020-01-01,1\n2020-01-02,1\n2020-01-03,1\n", "unit"),
        ("mixed units", b"date,discharge\n2020-01-01,3 cfs\n2020-01-02,0.1 m3/s\n2020-01-03,3 cfs\n", "unit"),
        ("a bare gallon", b"date,discharge (gpm)\n2020-01-01,3\n2020-01-02,3\n2020-01-03,3\n", "US gpm or imp gpm"),
        ("a level", b"date,stage (ft)\n2020-01-01,3\n2020-01-02,3\n2020-01-03,3\n", "level"),
        ("ambiguous dates", b"date,Q (cfs)\n01/02/2020,3\n02/02/2020,3\n03/02/2020,3\n", "day"),
        (
            "two series",
            b"date,upper_cfs,lower_cfs\n2020-01-01,3,4\n2020-01-02,3,4\n2020-01-03,3,4\n",
            "upper_cfs",
        ),
    ],
)
def test_a_gauge_file_that_cannot_be_used_says_why_in_a_workspace(capsys, folder, name, content, told):
    (folder / "north.csv").write_bytes(content)
    code, out, err = run(capsys, "status", folder)
    assert (code, out) == (2, "")
    assert told in err
    assert "north.csv" in err
    assert "Traceback" not in err


def test_problems_of_all_files_come_in_one_message(capsys, folder):
    replace(folder / "north.csv", "2020-03-01,60.0", "2020-03-01,sixty")
    replace(folder / "visits.csv", "2020-03-01,pool", "2020-03-01,brook")
    replace(folder / "visits.csv", "yes,4,30", "yes,4,0")
    _, _, err = run(capsys, "status", folder)
    assert "3 problems" in err
    assert "sixty" in err and "brook" in err and "effort" in err


def test_everything_wrong_in_settings_and_files_comes_in_one_message(capsys, folder):
    replace(folder / "workspace.toml", '"40 cfs"', '"40 furlongs"')
    replace(folder / "workspace.toml", 'visits = "visits.csv"', 'visits = "visits.csv"\ncaptures = "nowhere.csv"')
    replace(folder / "workspace.toml", "[flows.system]", '[gauges.south]\nfile = "south.csv"\n\n[flows.system]')
    (folder / "south.csv").write_bytes(bytes(range(256)))
    replace(folder / "visits.csv", "yes,4,30", "yes,-4,0")
    code, out, err = run(capsys, "status", folder)
    assert (code, out) == (2, "")
    for told in ("40 furlongs", "nowhere.csv", "south.csv", "“-4”", "above 0"):
        assert told in err
    assert "5 problems" in err


def test_a_visit_outside_the_record_is_told_beside_what_else_is_wrong_with_visits(capsys, folder):
    replace(folder / "visits.csv", "2020-03-01,ledge", "1999-03-01,ledge")
    replace(folder / "visits.csv", "2020-03-01,pool,running,yes,2", "2020-03-01,pool,running,yes,two")
    err = run(capsys, "status", folder)[2]
    assert "2 problems" in err
    assert "1999-03-01" in err and "“two”" in err


def test_a_mistake_in_the_settings_raises_no_false_one_in_the_files(capsys, folder):
    replace(folder / "workspace.toml", 'stops_below = "40 cfs"', 'stops_below = "40 cfs"\nrestarts_above = "30 cfs"')
    replace(folder / "workspace.toml", 'file = "north.csv"', 'file = "north.csv"\nunits = "cfs"')
    (folder / "north.csv").write_text("day,flow\n2020-01-01,4\n2020-01-02,4\n2020-01-03,4\n")
    err = run(capsys, "status", folder)[2]
    assert "2 problems" in err
    assert "gauges.north.units" in err and "outlets.ledge.restarts_above" in err


def test_visits_outside_the_record_are_kept_when_the_workspace_says_so(capsys, folder):
    replace(folder / "visits.csv", "2020-03-01,ledge", "1999-03-01,ledge")
    replace(folder / "workspace.toml", 'visits = "visits.csv"', 'visits = "visits.csv"\noutside_record = "keep"')
    code, out, _ = run(capsys, "counts", folder, "--json")
    assert code == 0
    assert json.loads(out)["n_left_out"]["no flow"] >= 1


def test_a_missing_workspace_is_a_clear_problem(capsys, tmp_path):
    code, _, err = run(capsys, "status", tmp_path / "nothing")
    assert code == 2
    assert "workspace folder" in err


def test_a_gauge_that_names_a_service_without_a_kept_copy_is_exit_code_3(capsys, folder):
    replace(folder / "workspace.toml", 'file = "north.csv"', 'service = "us-daily"\nstation = "09999999"')
    code, _, err = run(capsys, "status", folder)
    assert code == 3
    assert "us-daily" in err


def test_read_tells_what_was_understood(capsys):
    code, out, _ = run(capsys, "read", DEMO / "discharge" / "mill_daily.txt", "--json")
    assert code == 0
    answer = json.loads(out)
    (series,) = answer["series"]
    keys = {
        "station", "parameter", "statistic", "unit", "step", "first", "last", "n", "n_missing", "n_zero",
        "n_provisional", "n_estimated", "flags", "gaps", "minimum", "maximum", "mean",
    }  # fmt: skip
    assert keys <= set(series)
    assert series["step"] == "daily"
    assert answer["problems"] == []
    assert len(series["gaps"]) >= 1


def test_read_lists_every_problem_in_its_json_and_on_standard_error(capsys, tmp_path):
    path = tmp_path / "q.csv"
    path.write_text("date,discharge (cfs)\n2020-01-01,1\n2020-01-02,two\n2020-01-03,3\n2020-01-04,four\n")
    code, out, err = run(capsys, "read", path, "--json")
    assert code == 2
    assert {(p["row"], p["value"]) for p in json.loads(out)["problems"]} == {(3, "two"), (5, "four")}
    assert "two" in err and "four" in err


def test_read_of_a_missing_file_is_exit_code_2(capsys, tmp_path):
    assert run(capsys, "read", tmp_path / "none.csv")[0] == 2


def test_demo_is_made_once_and_never_overwritten(capsys, tmp_path):
    folder = tmp_path / "springs"
    code, out, _ = run(capsys, "demo", folder, "--no-serve")
    assert code == 0
    assert "Made" in out and "Ledge outlet" in out
    (folder / "visits.csv").write_text((folder / "visits.csv").read_text() + "\n")
    code, out, _ = run(capsys, "demo", folder, "--no-serve")
    assert code == 0
    assert "Found" in out
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "file.txt").write_text("mine")
    assert run(capsys, "demo", tmp_path / "other", "--no-serve")[0] == 2


def test_new_starts_a_workspace_from_a_gauge_and_visits(capsys, folder, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", open("/dev/null"))  # noqa: PTH123, SIM115 - nobody is there to answer
    target = tmp_path / "fresh"
    code, _, _ = run(
        capsys, "new", target, "--gauge", folder / "north.csv", "--visits", folder / "visits.csv", "--time-zone",
        "CST6CDT", "--stops-below", "ledge=40 cfs",
    )  # fmt: skip
    assert code == 0
    code, out, _ = run(capsys, "spells", target, "--json", "--as-of", "2020-12-31")
    assert code == 0
    ledge, pool = json.loads(out)["outlets"]
    assert ledge["summary"]["dry_days"] == 76
    assert pool["spells"] is None and "no stop level" in pool["why"]


def test_new_writes_nothing_when_anything_is_wrong(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("sys.stdin", open("/dev/null"))  # noqa: PTH123, SIM115 - nobody is there to answer
    target = tmp_path / "fresh"
    code, _, err = run(
        capsys, "new", target, "--gauge", tmp_path / "no.csv", "--visits", tmp_path / "none.csv", "--time-zone", "Nope"
    )
    assert code == 2
    assert "no.csv" in err and "none.csv" in err and "Nope" in err
    assert not target.exists()


def test_help_imports_nothing_heavy():
    result = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "dashboard.cli", "--help"],
        capture_output=True,
        text=True,
        check=True,
    )
    loaded = {line.rsplit("|", 1)[-1].strip().split(".")[0] for line in result.stderr.splitlines()}
    assert not loaded & {"numpy", "pandas", "scipy", "statsmodels", "streamlit", "plotly", "pyarrow"}


def test_status_does_without_the_slow_libraries():
    code = (
        "import sys; from dashboard.cli import main; "
        f"main(['status', {str(DEMO)!r}]); "
        "print([m for m in ('scipy.stats', 'statsmodels', 'streamlit', 'plotly') if m in sys.modules], file=sys.stderr)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stderr.strip() == "[]"
