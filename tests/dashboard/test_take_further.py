"""The page that takes data further: nothing before it is asked for, then the same files as the command line makes."""

from __future__ import annotations

import io
import zipfile

from dashboard.cli import main
from tests.dashboard.test_pages import app, said

VIEW = "views/data_and_sources.py"


def test_calendar_and_export_are_made_when_asked_and_are_those_of_the_command_line(monkeypatch, folder, tmp_path):
    assert main(["export", str(folder), "--out", str(tmp_path / "out")]) == 0
    at = app(monkeypatch, folder, VIEW)
    assert "taken-further" not in at.session_state or not at.session_state["taken-further"]
    for key in ("make-calendar", "make-export"):
        at.button(key=key).click().run()
        assert not at.exception
    made = at.session_state["taken-further"]
    written = {p.name: p.read_bytes() for p in (tmp_path / "out").iterdir()}
    assert made["calendar"][1] == written["visits-and-stops.ics"]
    archive = zipfile.ZipFile(io.BytesIO(made["export"][1]))
    assert {n: archive.read(n) for n in archive.namelist()} == written
    assert "Positions are withheld." in said(at)
