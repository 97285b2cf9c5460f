"""`fetch`, and what the other answers and the pages say of values that come from services."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from pytest_httpserver import HTTPServer
from streamlit.testing.v1 import AppTest
from werkzeug import Response

from dashboard import loaded
from dashboard.answers.fetch import fetch, refresh_gauges
from dashboard.cli import main
from dashboard.serving import APP, WORKSPACE_VARIABLE
from dashboard.views import bring_up_to_date
from dashboard.watch.one_pass import run_pass
from dashboard.wording import fetch as words
from dashboard.workspace import load_workspace
from dashboard.workspace_file import read_workspace_file
from hydro.problems import SourceError
from hydro.services.kept import folder_of
from tests.dashboard.conftest import gauge_text
from tests.hydro.services.player import STATION, Player, as_json

DATA_PAGE = "views/data_and_sources.py"


@pytest.fixture
def player(httpserver: HTTPServer) -> Player:
    """The service has the year that the small workspace's gauge file has."""
    frame = dict(line.split(",") for line in gauge_text().splitlines()[1:])
    made = Player(httpserver, dict(frame))
    made.start()
    return made


@pytest.fixture
def live(folder: Path, player: Player, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The small workspace with its gauge at a service, not fetched yet; the file it came from stands beside."""
    rewrite(folder / "workspace.toml", 'file = "north.csv"', f'service = "us-daily"\nstation = "{STATION}"')
    for name in ("US", "ENGLAND", "FRANCE"):
        monkeypatch.setenv(f"RESURGENCE_{name}_HOST", player.host)
    # Waits are tested with the services; here nobody has to wait.
    monkeypatch.setattr("hydro.services.ask.WAITS_S", (0.0, 0.0, 0.0))
    return folder


def rewrite(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def run(capsys, *argv):
    code = main([str(a) for a in argv])
    out, err = capsys.readouterr()
    return code, out, err


def refuse(player):
    player.upset = lambda n, request: Response("no key, no data", 403)


# ---- the command


def test_fetch_brings_the_gauge_and_every_answer_is_the_one_of_a_file(capsys, live, player):
    player.approval = None  # a file of one's own says nothing of approvals
    code, out, err = run(capsys, "fetch", live)
    assert (code, err) == (0, "")
    assert "up to date" in out and "366 new values" in out and "provisional" in out
    from_service = json.loads(run(capsys, "spells", live, "--json")[1])["outlets"]
    rewrite(live / "workspace.toml", f'service = "us-daily"\nstation = "{STATION}"', 'file = "north.csv"')
    from_file = json.loads(run(capsys, "spells", live, "--json")[1])["outlets"]
    assert from_service == from_file


def test_the_machine_answer_says_what_was_asked_and_what_came(capsys, live, player):
    code, out, _ = run(capsys, "fetch", live, "--json")
    assert code == 0
    answer = json.loads(out)
    assert {"workspace", "as_of", "warnings", "method_version", "gauges"} <= set(answer)
    (gauge,) = answer["gauges"]
    assert (gauge["gauge"], gauge["service"], gauge["station"]) == ("north", "us-daily", STATION)
    assert (gauge["outcome"], gauge["why"], gauge["n_new"], gauge["n_kept"]) == ("updated", None, 366, 366)
    assert (gauge["first"], gauge["last"]) == ("2020-01-01", "2020-12-31")
    assert gauge["asked"] == gauge["came"]
    player.values["2020-07-04"] = "31.0"
    changed = json.loads(run(capsys, "fetch", live, "--json", "--since", "2020-07-01")[1])["gauges"][0]
    assert changed["n_changed"] == 1
    (value,) = changed["changed"]
    assert (value["time"], value["was"]["unit"]) == ("2020-07-04", "cfs")
    assert (value["was"]["value"], value["is"]["value"]) == (pytest.approx(30), pytest.approx(31))
    assert "1 value changed since" in changed["sentence"]


def test_a_service_that_fails_without_a_kept_copy_is_exit_code_3(capsys, live, player):
    refuse(player)
    code, out, _ = run(capsys, "fetch", live)
    assert code == 3
    assert "403" in out and "no key, no data" in out
    code, out, err = run(capsys, "status", live)
    assert (code, out) == (3, "")
    assert "resurgence fetch" in err and "403" in err


def test_a_service_that_fails_beside_a_kept_copy_is_told_and_the_copy_is_used(capsys, live, player):
    run(capsys, "fetch", live)
    refuse(player)
    # Another day is asked for, so that no kept page answers.
    code, out, _ = run(capsys, "fetch", live, "--since", "2020-11-01")
    assert code == 0
    assert "could not be brought up to date" in out and "403" in out and "stands" in out


def test_an_answer_on_a_kept_copy_says_so_how_old_it_is_and_why(capsys, live, player):
    rewrite(live / "workspace.toml", 'as_of = "2020-12-31"\n', "")
    run(capsys, "fetch", live)
    fresh = run(capsys, "status", live)[1]
    assert f"us-daily {STATION}, retrieved" in fresh and "today" in fresh
    assert "kept copy" not in fresh
    state = folder_of(live, "us-daily", STATION) / "state.json"
    told = json.loads(state.read_text(encoding="utf-8"))
    two_days_ago = pd.Timestamp.now("UTC") - pd.Timedelta(days=2)
    told["retrieved"] = two_days_ago.isoformat(timespec="seconds")
    state.write_text(json.dumps(told), encoding="utf-8")
    refuse(player)
    run(capsys, "fetch", live, "--since", "2020-11-01")
    for command in ("status", "check"):
        stale = run(capsys, command, live)[1]
        assert "kept copy" in stale and "2 days old" in stale and "403" in stale, command
    answer = json.loads(run(capsys, "spells", live, "--json")[1])
    assert any("kept copy" in w and "403" in w for w in answer["warnings"])
    gauge = json.loads(run(capsys, "check", live, "--json")[1])["gauges"][0]
    assert "403" in gauge["out_of_date_because"]
    assert gauge["retrieved"].startswith(f"{two_days_ago:%Y-%m-%d}")


def test_values_that_changed_lately_are_among_the_warnings(live, player):
    fetch(live)
    player.values["2020-07-04"] = "31.0"
    fetch(live, since=pd.Timestamp("2020-07-01").date())
    rewrite(live / "workspace.toml", 'as_of = "2020-12-31"\n', "")
    (warning,) = [w for w in load_workspace(live).warnings if "changed" in w]
    assert "1 value changed since" in warning and "2020-07-04" in warning


def test_gauges_of_a_failed_service_are_not_asked_one_after_the_other(live, player):
    rewrite(
        live / "workspace.toml",
        "[flows.system]",
        '[gauges.a]\nservice = "us-daily"\nstation = "1"\n[gauges.b]\nservice = "us-continuous"\nstation = "2"\n'
        f'[gauges.c]\nservice = "france"\nstation = "{STATION}"\n[flows.system]',
    )
    player.upset = lambda n, request: Response("", 403) if "ogcapi" in request.path else None
    outcomes = {g.settings.id: g.fetched.outcome for g in fetch(live).gauges}
    assert outcomes == {"north": "failed", "a": "failed", "b": "failed", "c": "updated"}
    assert sum("ogcapi" in r.path for r in player.asked) == 1


def test_a_service_whose_allowance_is_used_up_is_not_asked_for_the_next_gauge(live, player):
    rewrite(
        live / "workspace.toml",
        "[flows.system]",
        '[gauges.a]\nservice = "us-daily"\nstation = "1"\n[flows.system]',
    )

    def last_one(n, request):
        document = {"features": [player.feature(t, v) for t, v in player.values.items()], "links": []}
        return as_json(document, **{"X-RateLimit-Remaining": "0"})

    player.upset = last_one
    north, a = fetch(live).gauges
    assert (north.fetched.outcome, a.fetched.outcome, len(player.asked)) == ("updated", "failed", 1)
    assert "allowance" in a.fetched.why


def test_two_gauges_of_one_station_are_asked_for_once(live, player):
    rewrite(
        live / "workspace.toml",
        "[flows.system]",
        f'[gauges.twin]\nservice = "us-daily"\nstation = "{STATION}"\n[flows.system]',
    )
    answer = fetch(live)
    assert [g.fetched.outcome for g in answer.gauges] == ["updated", "updated"]
    assert len(player.asked) == 1


def test_only_gauges_of_services_can_be_fetched(capsys, folder, live):
    code, _, err = run(capsys, "fetch", live, "--gauge", "south")
    assert code == 2
    assert "south" in err and "north" in err
    code, _, err = run(capsys, "fetch", live, "--since", "2199-01-01")
    assert code == 2 and "2199-01-01" in err
    assert run(capsys, "fetch", live, "--gauge", "north")[0] == 0


def test_a_workspace_of_files_has_nothing_to_fetch(capsys, folder):
    code, out, err = run(capsys, "fetch", folder)
    assert (code, out.strip(), err) == (0, words.NOTHING_TO_FETCH, "")
    assert not (folder / ".resurgence").exists()


def test_a_fetch_that_takes_long_tells_on_standard_error_what_it_does(capsys, live, monkeypatch):
    clock = iter(range(0, 1000, 3))
    monkeypatch.setattr("time.monotonic", lambda: next(clock))
    code, out, err = run(capsys, "fetch", live, "--json")
    json.loads(out)
    assert code == 0 and STATION in err


@pytest.mark.parametrize(
    "host", ["example.org", "ftp://example.org", "https://k:s@example.org", "https://e.org?key=1", 7]
)
def test_a_host_that_is_none_is_a_problem_of_the_settings(capsys, live, host):
    path = live / "workspace.toml"
    path.write_text(path.read_text() + f"\n[services]\nus = {json.dumps(host)}\nspain = 'https://e.org'\n")
    code, _, err = run(capsys, "fetch", live)
    assert code == 2
    assert "services.us" in err and "services.spain" in err


def test_a_host_in_the_workspace_is_asked(live, player, monkeypatch):
    monkeypatch.delenv("RESURGENCE_US_HOST")
    path = live / "workspace.toml"
    path.write_text(path.read_text() + f'\n[services]\nus = "{player.host}"\n')
    monkeypatch.setenv("RESURGENCE_US_KEY", "the-key")
    (gauge,) = fetch(live).gauges
    assert gauge.fetched.outcome == "updated"
    assert not any("X-Api-Key" in r.headers for r in player.asked)


def test_what_a_scheduler_calls_first_gives_sentences_only_for_what_went_wrong(live, player):
    settings = read_workspace_file(live)
    assert refresh_gauges(live, settings) == []
    refuse(player)
    (folder_of(live, "us-daily", STATION) / "values.csv").unlink()
    for page in (live / ".resurgence" / "services").glob("pages.sqlite*"):
        page.unlink()
    (sentence,) = refresh_gauges(live, settings)
    assert "403" in sentence


def test_a_watch_fetches_before_it_judges(capsys, live, player):
    rewrite(live / "workspace.toml", 'stops_below = "40 cfs"', 'stops_below = "40 cfs"\nalerts = { level = "70 cfs" }')
    code, out, _ = run(capsys, "watch", live, "--json")
    assert len(player.asked) == 1
    assert [a["kind"] for a in json.loads(out)["alerts"]] == ["level"]
    assert code == 10


def test_a_watch_reads_a_service_gauge_again_only_when_its_values_changed(live, player, monkeypatch):
    rewrite(live / "workspace.toml", 'stops_below = "40 cfs"', 'stops_below = "40 cfs"\nalerts = { level = "70 cfs" }')

    def passed():
        for page in (live / ".resurgence" / "services").glob("pages.sqlite*"):
            page.unlink()  # so that the service itself is asked
        return run_pass(live, environment={}, refresh=refresh_gauges)

    raised = passed().raised
    asked = len(player.asked)
    with monkeypatch.context() as patch:
        patch.setattr("dashboard.watch.latest_facts.load_workspace", lambda *a, **k: pytest.fail("read again"))
        assert (passed().standing, len(player.asked)) == (raised, asked + 1)
        refuse(player)  # a copy that could not be brought up to date is still the same copy
        assert passed().standing == raised
    player.upset = lambda n, request: None
    player.values[max(player.values)] = "500"
    assert passed().standing == (), "the revised value is far above the level"


def test_answers_do_not_load_what_only_fetching_needs(live):
    fetch(live)
    program = (
        "import sys; from dashboard.cli import main; main(['status', sys.argv[1]]); "
        "print([m for m in ('requests', 'requests_cache', 'urllib3') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", program, str(live)], capture_output=True, text=True, check=True).stdout
    assert out.splitlines()[-1] == "[]"


def test_a_workspace_without_a_copy_cannot_be_loaded_and_one_with_a_copy_can(live):
    with pytest.raises(SourceError, match="resurgence fetch"):
        load_workspace(live)
    fetch(live)
    gauge = load_workspace(live).gauges["north"]
    assert gauge.copy is not None
    assert gauge.parts[0].origins[0].retrieved.endswith("+00:00")
    assert np.isclose(gauge.daily.values["2020-07-04"], 30 * 0.028316846592)


# ---- the pages


def app(monkeypatch: pytest.MonkeyPatch, folder: Path, view: str) -> AppTest:
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(folder))
    at = AppTest.from_file(str(APP), default_timeout=120)
    at.run()
    return at.switch_page(view).run()


def said(at: AppTest) -> str:
    return " ".join(m.value.replace("\\", "") for m in at.markdown)


def test_the_data_page_brings_gauges_up_to_date_at_a_button(live, player, monkeypatch):
    fetch(live)
    player.values["2021-01-01"] = "55.0"
    at = app(monkeypatch, live, DATA_PAGE)
    assert not at.exception
    assert f"us-daily {STATION}, retrieved" in said(at)
    for page in (live / ".resurgence" / "services").glob("pages.sqlite*"):
        page.unlink()
    at.button(key="bring-up-to-date").click().run()
    assert not at.exception
    assert "1 new value" in said(at)


def test_a_first_fetch_is_offered_where_the_workspace_cannot_be_read_for_want_of_it(live, monkeypatch):
    at = app(monkeypatch, live, "views/is_it_running.py")
    assert "resurgence fetch" in said(at)
    at.button(key="bring-up-to-date").click().run()
    assert not at.exception
    assert load_workspace(live).gauges["north"].copy is not None
    assert "Test springs" in said(at)


def test_who_may_only_look_is_offered_no_button(live, monkeypatch):
    fetch(live)
    monkeypatch.setattr(bring_up_to_date, "role_of", lambda *a, **k: "viewer")
    at = app(monkeypatch, live, DATA_PAGE)
    assert words.ONLY_RECORDERS in said(at)
    assert "bring-up-to-date" not in [b.key for b in at.button]


def test_a_workspace_of_files_has_no_such_button(folder, monkeypatch):
    at = app(monkeypatch, folder, DATA_PAGE)
    assert not at.exception
    assert "bring-up-to-date" not in [b.key for b in at.button]


def test_a_fetch_is_another_state_of_the_files(live, player):
    before = loaded.revision(live)
    fetch(live)
    after = loaded.revision(live)
    assert before != after
    refuse(player)
    fetch(live, since=pd.Timestamp("2020-11-01").date())
    assert loaded.revision(live) != after  # that a copy is out of date is part of every page
