"""Who may do what, and no listening on the network by accident."""

from __future__ import annotations

import configparser
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from dashboard.cli import RUNS, main
from dashboard.command_line import build_parser
from dashboard.people import KEEPER, RECORDER, SECRETS, VIEWER, check_listening, role_of, stays_here
from dashboard.serving import APP, WORKSPACE_VARIABLE
from dashboard.workspace_file import read_workspace_file
from dashboard.workspace_settings import PeopleSettings
from hydro.problems import InputError
from tests.dashboard.conftest import DEMO

PEOPLE = PeopleSettings(recorders=frozenset({"joss@quillmere.example"}), keepers=frozenset({"marit@quillmere.example"}))


@pytest.mark.parametrize(
    ("user", "role"),
    [
        ({}, None),
        ({"is_logged_in": False, "email": "marit@quillmere.example"}, None),
        ({"is_logged_in": True, "email": "Marit@Quillmere.example"}, KEEPER),
        ({"is_logged_in": True, "email": "marit@quillmere.example", "email_verified": False}, VIEWER),
        ({"is_logged_in": True, "email": "joss@quillmere.example", "email_verified": True}, RECORDER),
        ({"is_logged_in": True, "email": "someone@elsewhere.example"}, VIEWER),
        ({"is_logged_in": True}, VIEWER),
    ],
)
def test_a_role_follows_from_a_verified_address(user: dict[str, object], role: str | None) -> None:
    assert role_of(PEOPLE, sign_in=True, user=user) == role


def test_without_sign_in_the_person_at_the_keyboard_is_a_keeper() -> None:
    assert role_of(PEOPLE, sign_in=False, user={}) == KEEPER


@pytest.mark.parametrize(
    ("host", "here"), [("127.0.0.1", True), ("localhost", True), ("::1", True), ("[::1]", True), ("0.0.0.0", False),
                       ("192.168.1.4", False), ("::", False), ("springs.example", False)]
)  # fmt: skip
def test_what_counts_as_this_machine(host: str, here: bool) -> None:
    assert stays_here(host) is here


def test_listening_on_the_network_is_refused_without_sign_in(tmp_path: Path, capsys) -> None:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    assert main(["serve", str(folder), "--host", "0.0.0.0"]) == 2
    assert "--trust-network" in capsys.readouterr().err
    check_listening(folder, "0.0.0.0", trust_network=True)
    (folder / SECRETS).write_text('[auth]\nredirect_uri = "https://springs.example/oauth2callback"\n', encoding="utf-8")
    (folder / SECRETS).chmod(0o644)
    with pytest.raises(InputError, match="only its owner"):
        check_listening(folder, "0.0.0.0", trust_network=False)
    (folder / SECRETS).chmod(0o600)
    check_listening(folder, "0.0.0.0", trust_network=False)


def test_people_are_named_in_the_settings_and_mistakes_said(tmp_path: Path) -> None:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    text = (folder / "workspace.toml").read_text(encoding="utf-8")
    (folder / "workspace.toml").write_text(
        text + '\n[people]\nkeepers = ["Marit@quillmere.example"]\n', encoding="utf-8"
    )
    assert read_workspace_file(folder).people.keepers == {"marit@quillmere.example"}
    (folder / "workspace.toml").write_text(text + '\n[people]\nkeepers = "Marit"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"people\.keepers"):
        read_workspace_file(folder)


def page(monkeypatch: pytest.MonkeyPatch, folder: Path, view: str, user: dict[str, object]) -> AppTest:
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(folder))
    # A secrets file is there for the server; what is in it is given to the test by hand.
    monkeypatch.setattr("dashboard.views.shown.secrets_given", lambda: True)
    at = AppTest.from_file(str(APP), default_timeout=60)
    at.secrets["auth"] = {"redirect_uri": "https://springs.example/oauth2callback", "cookie_secret": "x"}
    at.user = user
    at.run()
    if view:
        at.switch_page(view).run()
    assert not at.exception, at.exception
    return at


def test_nothing_is_shown_before_somebody_has_signed_in(monkeypatch) -> None:
    at = page(monkeypatch, DEMO, "", {"is_logged_in": False})
    said = " ".join(m.value for m in at.markdown)
    assert "Nothing is shown before you have signed in" in said and "Ledge" not in said


@pytest.mark.parametrize(("email", "may"), [("joss@quillmere.example", True), ("someone@elsewhere.example", False)])
def test_only_recorders_and_keepers_write_visits_down(monkeypatch, tmp_path: Path, email: str, may: bool) -> None:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    with (folder / "workspace.toml").open("a", encoding="utf-8") as file:
        file.write('\n[people]\nrecorders = ["joss@quillmere.example"]\n')
    at = page(monkeypatch, folder, "views/write_down_a_visit.py", {"is_logged_in": True, "email": email})
    assert ("entry-send" in [b.key for b in at.button]) is may


@pytest.mark.parametrize(
    ("email", "view", "button"),
    [
        ("joss@quillmere.example", "views/where_does_it_stop.py", "use-level"),
        ("someone@elsewhere.example", "views/where_does_it_stop.py", "use-level"),
        ("joss@quillmere.example", "views/how_far_ahead.py", "use-alert-level"),
    ],
)
def test_only_keepers_take_a_level_over(monkeypatch, tmp_path: Path, email: str, view: str, button: str) -> None:
    folder = tmp_path / "springs"
    shutil.copytree(DEMO, folder)
    with (folder / "workspace.toml").open("a", encoding="utf-8") as file:
        file.write('\n[people]\nrecorders = ["joss@quillmere.example"]\nkeepers = ["marit@quillmere.example"]\n')
    at = page(monkeypatch, folder, view, {"is_logged_in": True, "email": email})
    assert button not in [b.key for b in at.button]
    at = page(monkeypatch, folder, view, {"is_logged_in": True, "email": "marit@quillmere.example"})
    assert button in [b.key for b in at.button]


def test_the_unit_in_the_readme_is_one_that_systemd_accepts_and_listens_on_this_machine_alone(tmp_path):
    """By its sections and keys everywhere, and by systemd's own verifier where there is one."""
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    (text,) = re.findall(r"```systemd\n(.*?)```", readme, re.S)
    unit = configparser.ConfigParser(interpolation=None)
    unit.optionxform = str  # type: ignore[assignment,method-assign]
    unit.read_string(text)
    assert unit.sections() == ["Unit", "Service", "Install"]
    command = unit["Service"]["ExecStart"].split()
    arguments = build_parser(RUNS).parse_args(command[1:])
    assert command[1] == "serve" and arguments.host == "127.0.0.1" and not arguments.trust_network
    assert str(arguments.workspace).startswith(unit["Service"]["ReadWritePaths"])
    if shutil.which("systemd-analyze") is None:
        return
    program = tmp_path / "resurgence"
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    path = tmp_path / "resurgence-serve.service"
    path.write_text(text.replace(command[0], str(program)), encoding="utf-8")
    done = subprocess.run(["systemd-analyze", "verify", str(path)], capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")
