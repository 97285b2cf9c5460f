"""Taking a learnt level over: one value on one line changes, and nothing at all where that cannot be done safely."""

from __future__ import annotations

import hashlib
import os
import tomllib
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.take_level import LevelNotTakenError, level_text, plan_change, write_change
from dashboard.workspace import load_workspace
from dashboard.workspace_file import read_workspace_file
from tests.dashboard.conftest import TOML

DAY = date(2026, 11, 25)
FT3 = 0.3048**3  # m³ in a cubic foot: the international foot


def take(folder: Path, new: str, outlet: str = "ledge") -> None:
    write_change(plan_change(folder, outlet, new, today=DAY, sightings=436))


def settings(folder: Path, text: str) -> Path:
    (folder / "workspace.toml").write_bytes(text.encode())
    return folder / "workspace.toml"


def test_one_line_changes_and_the_old_value_stays_on_it_as_a_comment(demo):
    before = (demo / "workspace.toml").read_bytes()
    take(demo, "37.3 cfs")
    after = (demo / "workspace.toml").read_bytes()
    assert after == before.replace(
        b'stops_below = "38 cfs"\n',
        b'stops_below = "37.3 cfs"  # was "38 cfs" until 2026-11-25; learnt from 436 sightings\n'
        b'stops_below_learnt = "37.3 cfs"\n',
    )
    ledge = load_workspace(demo).outlets["ledge"]
    assert ledge.stop_m3s == pytest.approx(37.3 * FT3)
    assert load_workspace(demo).outlets["trough"].stop_m3s == pytest.approx(25 * FT3)


def test_a_level_taken_over_counts_as_learnt_until_somebody_writes_another(folder):
    assert not load_workspace(folder).outlets["ledge"].level_is_learnt
    take(folder, "41.2 cfs")
    assert load_workspace(folder).outlets["ledge"].level_is_learnt
    path = folder / "workspace.toml"
    path.write_text(path.read_text().replace('stops_below = "41.2 cfs"', 'stops_below = "43 cfs"'))
    assert not load_workspace(folder).outlets["ledge"].level_is_learnt
    take(folder, "42 cfs")
    assert load_workspace(folder).outlets["ledge"].level_is_learnt
    assert path.read_text().count("stops_below_learnt") == 1


def test_nothing_else_in_the_folder_is_touched(demo):
    def state() -> dict[str, str]:
        return {str(p): hashlib.sha256(p.read_bytes()).hexdigest() for p in demo.rglob("*") if p.is_file()}

    before = state()
    take(demo, "37.3 cfs")
    after = state()
    assert before.keys() == after.keys()
    assert [Path(p).name for p in before if before[p] != after[p]] == ["workspace.toml"]


def test_a_comment_that_is_on_the_line_already_is_kept_behind_the_new_one(folder):
    path = settings(folder, TOML.replace('"40 cfs"', '"40 cfs"   # Ann, "after the flood" of 2019'))
    take(folder, "41.2 cfs")
    assert (
        'stops_below = "41.2 cfs"  # was "40 cfs" until 2026-11-25; learnt from 436 sightings  '
        '# Ann, "after the flood" of 2019\n'
    ) in path.read_text()


def test_a_level_taken_twice_keeps_both_older_values(folder):
    take(folder, "41.2 cfs")
    take(folder, "41.5 cfs")
    line = next(x for x in (folder / "workspace.toml").read_text().splitlines() if x.startswith("stops_below"))
    assert line.startswith('stops_below = "41.5 cfs"  # was "41.2 cfs"')
    assert 'was "40 cfs"' in line


def test_windows_line_ends_and_a_byte_order_mark_are_kept(folder):
    before = b"\xef\xbb\xbf" + TOML.replace("\n", "\r\n").encode()
    (folder / "workspace.toml").write_bytes(before)
    take(folder, "41.2 cfs")
    after = (folder / "workspace.toml").read_bytes()
    added = b'  # was "40 cfs" until 2026-11-25; learnt from 436 sightings\r\nstops_below_learnt = "41.2 cfs"\r\n'
    assert after == before.replace(b'stops_below = "40 cfs"\r\n', b'stops_below = "41.2 cfs"' + added)
    assert after.startswith(b"\xef\xbb\xbf")
    assert load_workspace(folder).outlets["ledge"].stop_m3s == pytest.approx(41.2 * FT3)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('stops_below = "40 cfs"', None),
        ("stops_below='40 cfs'", "stops_below=\"41.2 cfs\"  # was '40 cfs'"),
        ('"stops_below" = "40 cfs"', '"stops_below" = "41.2 cfs"  # was'),
        ('  stops_below   =   "40 cfs"', '  stops_below   =   "41.2 cfs"  # was'),
    ],
)
def test_the_ways_in_which_toml_lets_a_key_be_written(folder, old, new):
    path = settings(folder, TOML.replace('stops_below = "40 cfs"', old))
    take(folder, "41.2 cfs")
    assert (new or 'stops_below = "41.2 cfs"  # was "40 cfs"') in path.read_text()


def test_an_inline_table_and_dotted_keys_are_changed_too(folder):
    inline = '[outlets]\nledge = { title = "Ledge", flow = "system", stops_below = "40 cfs" }\n'
    start, rest = TOML.split("[outlets.ledge]")
    path = settings(folder, f"{start}{inline}\n[surveys]{rest.split('[surveys]')[1]}")
    take(folder, "41.2 cfs")
    assert tomllib.loads(path.read_text())["outlets"]["ledge"]["stops_below"] == "41.2 cfs"
    assert read_workspace_file(folder).outlets["ledge"].level_is_learnt
    dotted = inline.replace("{ title", "X").split("\n")[0] + '\nledge.flow = "system"\nledge.stops_below = "40 cfs"\n'
    path = settings(folder, f"{start}{dotted}\n[surveys]{rest.split('[surveys]')[1]}")
    take(folder, "41.2 cfs")
    assert tomllib.loads(path.read_text())["outlets"]["ledge"]["stops_below"] == "41.2 cfs"
    assert read_workspace_file(folder).outlets["ledge"].level_is_learnt


def test_the_same_words_elsewhere_in_the_file_are_left_alone(folder):
    decoys = '# stops_below = "40 cfs"\ntitle = """\nstops_below = "40 cfs"\n"""\n'
    other = '\n[outlets.pool]\nflow = "system"\nstops_below = "40 cfs"\n'
    text = decoys + TOML.replace('title = "Test springs"\n', "").replace('\n[outlets.pool]\nflow = "system"\n', other)
    path = settings(folder, text)
    take(folder, "12 cfs", "pool")
    after = tomllib.loads(path.read_text())
    assert after["outlets"]["pool"]["stops_below"] == "12 cfs"
    assert after["outlets"]["ledge"]["stops_below"] == "40 cfs"
    assert after["title"] == 'stops_below = "40 cfs"\n'
    assert path.read_text().startswith('# stops_below = "40 cfs"\n')


def test_a_level_is_added_where_none_was_set(folder):
    before = (folder / "workspace.toml").read_text()
    take(folder, "12 cfs", "pool")
    after = (folder / "workspace.toml").read_text()
    line = 'stops_below = "12 cfs"  # was not set until 2026-11-25; learnt from 436 sightings\n'
    line += 'stops_below_learnt = "12 cfs"\n'
    assert after == before.replace('[outlets.pool]\nflow = "system"\n', f'[outlets.pool]\nflow = "system"\n{line}')


def test_a_value_over_several_lines_is_refused_with_what_to_do_by_hand(folder):
    path = settings(folder, TOML.replace('"40 cfs"', '"""\n40 cfs"""'))
    with pytest.raises(LevelNotTakenError, match=r'Set it by hand: stops_below = "41.2 cfs"'):
        plan_change(folder, "ledge", "41.2 cfs", today=DAY, sightings=4)
    assert "40 cfs" in path.read_text()


def test_a_level_above_the_restart_level_is_refused_with_the_reason(demo):
    before = (demo / "workspace.toml").read_bytes()
    with pytest.raises(LevelNotTakenError, match=r"restarts_above.*40 cfs.*at or above stops_below"):
        plan_change(demo, "ledge", "41.2 cfs", today=DAY, sightings=4)
    assert (demo / "workspace.toml").read_bytes() == before


def test_a_file_that_changed_meanwhile_is_not_overwritten(folder):
    change = plan_change(folder, "ledge", "41.2 cfs", today=DAY, sightings=4)
    path = settings(folder, TOML.replace("Test springs", "Other springs"))
    with pytest.raises(LevelNotTakenError, match="has been changed since"):
        write_change(change)
    assert "Other springs" in path.read_text()
    assert '"40 cfs"' in path.read_text()


def test_a_write_protected_file_is_left_alone(folder):
    change = plan_change(folder, "ledge", "41.2 cfs", today=DAY, sightings=4)
    path = folder / "workspace.toml"
    path.chmod(0o444)
    with pytest.raises(LevelNotTakenError, match="write-protected"):
        write_change(change)
    assert path.read_text() == TOML


def test_a_disk_that_fails_leaves_the_old_file_and_no_other(folder, monkeypatch):
    change = plan_change(folder, "ledge", "41.2 cfs", today=DAY, sightings=4)
    names = sorted(p.name for p in folder.iterdir())

    def full(handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(LevelNotTakenError, match="No space left on device"):
        write_change(change)
    assert (folder / "workspace.toml").read_text() == TOML
    assert sorted(p.name for p in folder.iterdir()) == names


def test_the_rights_of_the_file_and_a_link_to_it_are_kept(folder, tmp_path_factory):
    real = tmp_path_factory.mktemp("kept") / "settings.toml"
    real.write_text(TOML)
    real.chmod(0o640)
    (folder / "workspace.toml").unlink()
    (folder / "workspace.toml").symlink_to(real)
    take(folder, "41.2 cfs")
    assert (folder / "workspace.toml").is_symlink()
    assert '"41.2 cfs"' in real.read_text()
    assert real.stat().st_mode & 0o777 == 0o640


def test_a_file_that_is_gone_or_broken_is_said(folder):
    settings(folder, "title = ")
    with pytest.raises(LevelNotTakenError, match="cannot be read"):
        plan_change(folder, "ledge", "41.2 cfs", today=DAY, sightings=4)
    (folder / "workspace.toml").unlink()
    with pytest.raises(LevelNotTakenError, match="cannot be read"):
        plan_change(folder, "ledge", "41.2 cfs", today=DAY, sightings=4)


def test_a_level_is_written_to_three_figures_in_the_unit_it_was_written_in():
    assert level_text(1.055373, "cfs") == "37.3 cfs"  # 1.055373 / 0.3048³ = 37.27
    assert level_text(1.055373, "m3/s") == "1.06 m3/s"
    assert level_text(1.055373, "l/s") == "1060 l/s"
    assert level_text(0.000123456, "m3/s") == "0.000123 m3/s"


@given(st.floats(1e-6, 1e6))
def test_what_is_written_reads_back_within_half_a_unit_of_the_third_figure(level):
    from hydro.units import parse_quantity

    assert parse_quantity(level_text(level, "cfs")).m3s == pytest.approx(level, rel=0.005001)


def test_a_level_chosen_by_hand_changes_one_value_and_says_nothing_of_learning(folder):
    take(folder, "41.2 cfs")
    write_change(plan_change(folder, "ledge", "43 cfs", today=DAY, sightings=None))
    text = (folder / "workspace.toml").read_text()
    assert 'stops_below = "43 cfs"  # was "41.2 cfs" until 2026-11-25; chosen by hand' in text
    assert 'stops_below_learnt = "41.2 cfs"' in text
    assert not load_workspace(folder).outlets["ledge"].level_is_learnt


def test_a_level_chosen_by_hand_is_added_where_none_was_set(folder):
    path = settings(folder, TOML.replace('stops_below = "40 cfs"\n', ""))
    assert "stops_below" not in path.read_text().split("[outlets.ledge]")[1].split("[")[0]
    write_change(plan_change(folder, "ledge", "43 cfs", today=DAY, sightings=None))
    assert 'stops_below = "43 cfs"  # was not set until 2026-11-25; chosen by hand\n' in path.read_text()
    assert "stops_below_learnt" not in path.read_text()
