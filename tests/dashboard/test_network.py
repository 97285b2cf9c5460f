"""Many workspaces at once: each answers as it does by itself, and one that is broken keeps no other from its answer."""

from __future__ import annotations

import json

from dashboard.answers.network import workspaces_below
from dashboard.cli import main
from tests.dashboard.conftest import TOML, VISITS, gauge_text


def made(folder, title):
    folder.mkdir(parents=True)
    (folder / "workspace.toml").write_text(TOML.replace("Test springs", title), encoding="utf-8")
    (folder / "north.csv").write_text(gauge_text(), encoding="utf-8")
    (folder / "visits.csv").write_text(VISITS, encoding="utf-8")
    return folder


def run(capsys, *argv):
    code = main([str(a) for a in argv])
    out, err = capsys.readouterr()
    return code, out, err


def test_every_workspace_answers_as_by_itself(capsys, tmp_path):
    west, east = made(tmp_path / "west", "West springs"), made(tmp_path / "far" / "east", "East springs")
    code, out, err = run(capsys, "network", tmp_path, "--json", "--trip", "2021-01-05")
    assert (code, err) == (0, "")
    found = json.loads(out)
    assert [w["folder"] for w in found["workspaces"]] == ["far/east", "west"]
    for folder, told in zip((east, west), found["workspaces"], strict=True):
        alone = json.loads(run(capsys, "status", folder, "--json", "--trip", "2021-01-05")[1])
        assert {k: v for k, v in told.items() if k != "folder"} == alone
    code, text, _ = run(capsys, "network", tmp_path)
    assert text.startswith("4 outlets in 2 workspaces: 4 running, 0 dry, 0 not known.\n")
    assert "West springs, as of 2020-12-31 (west)" in text


def test_a_broken_workspace_is_named_with_its_reason_beside_the_others(capsys, tmp_path):
    made(tmp_path / "good", "Good springs")
    (made(tmp_path / "bad", "Bad springs") / "north.csv").unlink()
    code, out, _ = run(capsys, "network", tmp_path, "--json")
    assert code == 2
    bad, good = json.loads(out)["workspaces"]
    assert "north.csv" in bad["why"] and len(good["outlets"]) == 2
    code, text, _ = run(capsys, "network", tmp_path)
    assert code == 2 and text.startswith(
        "2 outlets in 1 workspace: 2 running, 0 dry, 0 not known; 1 workspace could not"
    )


def test_a_folder_without_workspaces_is_said(capsys, tmp_path):
    code, out, err = run(capsys, "network", tmp_path)
    assert (code, out) == (2, "") and "workspace.toml" in err


def test_what_lies_inside_a_workspace_or_is_hidden_is_no_workspace_of_its_own(tmp_path):
    one = made(tmp_path / "one", "One")
    made(one / "copy", "Copy")
    made(tmp_path / ".old", "Old")
    assert workspaces_below(tmp_path) == [one]
