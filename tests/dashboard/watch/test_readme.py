"""What the README shows is taken by the program and by systemd, and its crontab line has the form of one."""

from __future__ import annotations

import configparser
import re
import shutil
import subprocess
from pathlib import Path

from dashboard.watch.rules import KINDS
from dashboard.workspace_file import read_workspace_file
from tests.dashboard.watch.conftest import TOML

README = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")


def test_the_rules_in_the_readme_are_read_and_show_every_kind(tmp_path):
    (block,) = [b for b in re.findall(r"```toml\n(.*?)```", README, re.S) if "[watch.channels" in b]
    sites = TOML.split("[outlets.ledge.alerts]")[0]
    (tmp_path / "workspace.toml").write_text(sites + block, encoding="utf-8")
    settings = read_workspace_file(tmp_path)
    assert settings.alerts["ledge"].kinds == KINDS
    assert settings.alerts["ledge"].promised.lead_days == 14
    assert {c.how for c in settings.watch.channels.values()} == {"message", "json", "feed"}


def test_the_crontab_line_has_five_times_and_a_command_without_percent_signs(tmp_path):
    """The form of crontab(5): five fields, then the command; a % would end it. And by cron's own reader where there is
    one that only checks."""
    (line,) = [x for x in README.splitlines() if x.startswith("*/15")]
    *times, command = line.split(maxsplit=5)
    assert all(re.fullmatch(r"\*(/\d+)?", t) for t in times)
    assert "%" not in command and " watch " in command
    if shutil.which("crontab") is None:
        return
    usage = subprocess.run(["crontab", "-h"], capture_output=True, text=True)
    if "dry run" in usage.stdout + usage.stderr:
        (tmp_path / "tab").write_text(f"{line}\n", encoding="utf-8")
        done = subprocess.run(["crontab", "-n", str(tmp_path / "tab")], capture_output=True, text=True)
        assert done.returncode == 0, done.stdout + done.stderr


def test_systemd_accepts_the_units_in_the_readme(tmp_path):
    """By their sections and keys everywhere, and by systemd's own verifier where there is one."""
    service, timer = re.findall(r"```ini\n(.*?)```", README, re.S)
    parts = [configparser.ConfigParser(interpolation=None) for _ in range(2)]
    for part, text in zip(parts, (service, timer), strict=True):
        part.optionxform = str  # type: ignore[assignment,method-assign]
        part.read_string(text)
    assert [p.sections() for p in parts] == [["Unit", "Service"], ["Unit", "Timer", "Install"]]
    assert parts[0]["Service"]["SuccessExitStatus"] == "10" and parts[0]["Service"]["Type"] == "oneshot"
    assert parts[1]["Timer"]["OnCalendar"] == "*:0/15" and parts[1]["Install"]["WantedBy"] == "timers.target"
    if shutil.which("systemd-analyze") is None:
        return
    program = tmp_path / "resurgence"
    program.write_text("#!/bin/sh\n", encoding="utf-8")
    program.chmod(0o755)
    (tmp_path / "resurgence-watch.service").write_text(
        service.replace("/srv/springs/.venv/bin/resurgence", str(program))
    )
    (tmp_path / "resurgence-watch.timer").write_text(timer)
    units = [str(tmp_path / f"resurgence-watch.{kind}") for kind in ("service", "timer")]
    done = subprocess.run(["systemd-analyze", "verify", *units], capture_output=True, text=True)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")
