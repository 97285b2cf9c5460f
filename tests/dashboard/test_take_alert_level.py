"""Taking an alert level over: `level` in [outlets.ID.alerts], and nothing else in the file."""

from __future__ import annotations

import tomllib
from datetime import date
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from dashboard.settings_edit import LevelNotTakenError, write_change
from dashboard.take_alert_level import plan_alert_level
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import TOML

DAY, WHY = date(2026, 11, 25), "recommended: in time before 13 of 14 stops in years held out"
FT3 = 0.3048**3  # m³ in a cubic foot: the international foot


def take(folder: Path, new: str, outlet: str = "ledge") -> None:
    write_change(plan_alert_level(folder, outlet, new, today=DAY, because=WHY))


def settings_text(folder: Path, text: str) -> Path:
    (folder / "workspace.toml").write_bytes(text.encode())
    return folder / "workspace.toml"


def test_a_table_of_its_own_is_added_below_the_outlet(folder):
    take(folder, "55 cfs")
    added = f'\n[outlets.ledge.alerts]\nlevel = "55 cfs"  # was not set until 2026-11-25; {WHY}\n'
    assert (folder / "workspace.toml").read_text() == TOML.replace(
        'stops_below = "40 cfs"\n', f'stops_below = "40 cfs"\n{added}'
    )
    assert load_workspace(folder).outlets["ledge"].alert_at.m3s == pytest.approx(55 * FT3)
    assert load_workspace(folder).outlets["pool"].alert_at is None


def test_comments_before_the_next_heading_stay_with_it(unwatched_demo):
    demo = unwatched_demo
    before = (demo / "workspace.toml").read_text()
    take(demo, "42 cfs")
    after = (demo / "workspace.toml").read_text()
    assert after.count("\n") == before.count("\n") + 3
    block = after[after.index("[outlets.ledge.alerts]") : after.index("[outlets.trough]")]
    assert block.splitlines()[1].startswith('level = "42 cfs"')
    assert block.rstrip().endswith("# Stops only in the worst years.")


def test_an_old_level_stays_as_a_comment_and_so_do_older_comments(folder):
    take(folder, "55 cfs")
    take(folder, "50 cfs")
    line = next(x for x in (folder / "workspace.toml").read_text().splitlines() if x.startswith("level"))
    assert line.startswith(f'level = "50 cfs"  # was "55 cfs" until 2026-11-25; {WHY}  # was not set')


def test_a_table_of_alerts_without_a_level_gets_one(folder):
    settings_text(folder, TOML.replace("[outlets.pool]", "[outlets.ledge.alerts]\n\n[outlets.pool]"))
    take(folder, "55 cfs")
    text = (folder / "workspace.toml").read_text()
    assert f'[outlets.ledge.alerts]\nlevel = "55 cfs"  # was not set until 2026-11-25; {WHY}\n\n' in text


def test_the_last_outlet_of_a_file_without_a_line_end(folder):
    text = TOML.replace('\n[surveys]\nvisits = "visits.csv"\n', "").rstrip("\n")
    settings_text(folder, text)
    take(folder, "55 cfs", "pool")
    assert (folder / "workspace.toml").read_text().startswith(text + "\n\n[outlets.pool.alerts]\nlevel")


def test_windows_line_ends_and_a_byte_order_mark_are_kept(folder):
    (folder / "workspace.toml").write_bytes(b"\xef\xbb\xbf" + TOML.replace("\n", "\r\n").encode())
    take(folder, "55 cfs")
    after = (folder / "workspace.toml").read_bytes()
    assert after.startswith(b"\xef\xbb\xbf")
    assert after.count(b"\n") == after.count(b"\r\n")
    assert load_workspace(folder).outlets["ledge"].alert_at.m3s == pytest.approx(55 * FT3)


def test_an_outlet_on_one_line_is_left_alone_with_what_to_write_by_hand(folder):
    start, rest = TOML.split("[outlets.ledge]")
    inline = '[outlets]\nledge = { title = "Ledge", flow = "system", stops_below = "40 cfs" }\n'
    text = f"{start}{inline}\n[surveys]{rest.split('[surveys]')[1]}"
    settings_text(folder, text)
    with pytest.raises(LevelNotTakenError, match=r'level = "55 cfs" under \[outlets.ledge.alerts\]'):
        plan_alert_level(folder, "ledge", "55 cfs", today=DAY, because=WHY)
    assert (folder / "workspace.toml").read_text() == text


def test_another_outlet_with_the_same_level_keeps_its_own(folder):
    both = '[outlets.ledge.alerts]\nlevel = "60 cfs"\n\n[outlets.pool]\nflow = "system"\n'
    both += 'stops_below = "30 cfs"\n\n[outlets.pool.alerts]\nlevel = "60 cfs"\n'
    settings_text(folder, TOML.replace('[outlets.pool]\nflow = "system"\n', both))
    take(folder, "45 cfs", "pool")
    outlets = tomllib.loads((folder / "workspace.toml").read_text())["outlets"]
    assert (outlets["ledge"]["alerts"], outlets["pool"]["alerts"]) == ({"level": "60 cfs"}, {"level": "45 cfs"})


def test_a_file_that_changed_meanwhile_is_not_overwritten(folder):
    change = plan_alert_level(folder, "ledge", "55 cfs", today=DAY, because=WHY)
    settings_text(folder, TOML.replace("Test springs", "Other springs"))
    with pytest.raises(LevelNotTakenError, match="has been changed since"):
        write_change(change)
    assert "alerts" not in (folder / "workspace.toml").read_text()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    name=st.sampled_from(["ledge", "the ledge", 'a "b"', "a.b", "π", "a-b_9"]),
    spaces=st.sampled_from(["", " ", "\t"]),
    set_before=st.booleans(),
    literal=st.booleans(),
)
def test_however_the_outlet_is_named_the_settings_are_the_old_ones_and_the_level(
    folder, name, spaces, set_before, literal
):
    quoted = '"' + name.replace('"', '\\"') + '"'
    key = name if name in ("ledge", "a-b_9") else f"'{name}'" if literal else quoted
    table = f'{spaces}[{spaces}outlets.{key}{spaces}]\nflow = "system"\nstops_below = "40 cfs"\n'
    if set_before:
        table += f"{spaces}[outlets . {key}.alerts] # mine\n{spaces}\"level\"{spaces}={spaces}'60 cfs'\n"
    start, rest = TOML.split("[outlets.ledge]")
    text = f'{start}{table}\n[outlets.pool]\nflow = "system"\n'
    settings_text(folder, text)
    (folder / "visits.csv").write_text("date,outlet\n", encoding="utf-8")
    take(folder, "55 cfs", name)
    wanted = tomllib.loads(text)
    wanted["outlets"][name].setdefault("alerts", {})["level"] = "55 cfs"
    assert tomllib.loads((folder / "workspace.toml").read_text()) == wanted
    assert rest
