"""What came after each alert, and the tally against what was promised: a hand-made record with every outcome known."""

from __future__ import annotations

import errno
import json
import os

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.alert_history import alert_history
from dashboard.cli import main
from dashboard.watch.acknowledged import FILE, Acknowledgement, acknowledge, read_acknowledged
from dashboard.watch.memory import read_memory
from dashboard.watch.tally import Stops, share
from dashboard.wording import alert_history as words
from dashboard.workspace import load_workspace
from hydro.problems import InputError

RULES = """\
level = "55 cfs"
level_clears = "60 cfs"
stopped = true
judged_days = 30
quiet_hours = 0
promised = { lead_days = 5, hit_rate = 0.9, false_alarm_ratio = 0.2 }
"""


def low(days: int) -> list[float]:
    """Days at or below the alert level and above the stop level."""
    return [50.0] * days


DRY, HIGH = [30.0] * 3, [80.0] * 40


@pytest.fixture(scope="module")
def watched(tmp_path_factory):
    """A pass each day over a record with, in this order: a stop 6 days after its alert (hit), 2 days after (late), an
    alert that no stop followed (false), a stop without an alert before it on an earlier day (late, with lead 0), an
    alert whose days hold a gap (not known), and one whose days are not over (open)."""
    from dashboard.watch.one_pass import run_pass
    from tests.dashboard.watch.conftest import Springs

    folder = tmp_path_factory.mktemp("history") / "springs"
    folder.mkdir()
    springs = Springs(folder).settings(rules=RULES, channels="").record(*[80.0] * 10)
    run_pass(folder, environment={}, now=springs.now)
    for block in (low(6), DRY, HIGH, low(2), DRY, HIGH, low(4), HIGH, DRY, HIGH, low(3), [np.nan] * 2, HIGH, low(5)):
        # A pass after the first day of each block is enough: conditions begin there.
        springs.record(block[0])
        if not np.isnan(block[0]):
            run_pass(folder, environment={}, now=springs.now)
        springs.record(*block[1:])
        if not np.isnan(block[-1]):
            run_pass(folder, environment={}, now=springs.now)
    path = folder / "workspace.toml"
    path.write_text(f'as_of = "{springs.day(len(springs.values)):%Y-%m-%d}"\n' + path.read_text())
    return springs


def test_every_outcome_is_as_the_record_was_made(watched):
    h = alert_history(load_workspace(watched.folder))
    warnings = [r for r in reversed(h.rows) if r.alert.kind == "level"]
    assert [r.outcome.word for r in warnings] == ["hit", "late", "false", "same-day", "not-known", "open"]
    assert [r.outcome.lead_days for r in warnings] == [6, 2, None, 0, None, None]
    # Raised at noon of the day after the reading, so that people had a day less than the lead.
    assert [r.outcome.notice_days for r in warnings] == [5, 1, None, -1, None, None]
    assert sum(r.alert.kind == "stopped" for r in h.rows) == 3
    (tally,) = h.tallies
    # An alert on the very day of the stop tells nobody in time: that stop was missed, and the alert was not false.
    assert tally.stops == Stops(hits=1, late=1, missed=1)
    assert (tally.followed, tally.false_alerts, tally.open, tally.not_known) == (2, 1, 1, 1)
    assert (tally.hit_rate.value, tally.false_alarm_ratio.value) == (1 / 3, 1 / 3)


def test_the_history_as_of_a_day_knows_nothing_later(watched):
    first = watched.day(12)
    h = alert_history(load_workspace(watched.folder, as_of=first.date()))
    assert [r.outcome.word for r in h.rows] == ["open"]
    assert h.tallies[0].stops == Stops()


def test_a_stop_that_no_alert_came_before_is_counted_as_missed(springs, at_noon):
    """The rule was watched, the passes were not made: the stop was seen only after it was over."""
    springs.settings(rules=RULES)
    at_noon()
    springs.record(*low(3), *DRY, *HIGH)
    at_noon()
    (tally,) = alert_history(load_workspace(springs.folder)).tallies
    assert tally.stops == Stops(missed=1)


def test_what_stood_before_the_rule_was_watched_says_nothing_about_the_rule(springs, at_noon):
    springs.settings(rules=RULES).record(*low(5))
    at_noon()
    springs.record(*low(5), *DRY)
    at_noon()
    h = alert_history(load_workspace(springs.folder))
    assert [r.outcome.word for r in h.rows if r.outcome] == ["stood-already"]
    # The stop was told all the same: the lead counts from the day on which the rule was first watched.
    assert h.tallies[0].stops == Stops(hits=1)
    assert (h.tallies[0].followed, h.tallies[0].false_alerts) == (0, 0)


def test_a_warning_given_again_within_a_fortnight_counts_once(springs, at_noon):
    springs.settings(rules=RULES)
    at_noon()
    for block in (low(3), [80.0] * 3, low(8), DRY):
        springs.record(block[0])
        at_noon()
        springs.record(*block[1:])
        at_noon()
    h = alert_history(load_workspace(springs.folder))
    assert [r.outcome.word for r in h.rows if r.outcome] == ["hit", "false"]
    assert (h.tallies[0].stops, h.tallies[0].followed, h.tallies[0].false_alerts) == (Stops(hits=1), 1, 0)


def test_a_warning_that_still_stands_when_the_water_comes_back_warns_of_the_next_stop_too(springs, at_noon):
    """No new message goes out; the lead counts from the first running day, and 3 days cannot be 5."""
    springs.settings(rules=RULES)
    at_noon()
    for block in (low(6), DRY, low(8), DRY, low(3)[:2], HIGH):
        springs.record(block[0])
        at_noon()
        springs.record(*block[1:])
        at_noon()
    (tally,) = alert_history(load_workspace(springs.folder)).tallies
    # join_days = 5 draws nothing together here: 8 running days lie between the two stops.
    assert tally.stops == Stops(hits=2)
    assert (tally.followed, tally.false_alerts) == (1, 0)


def test_a_stop_soon_after_the_last_is_counted_apart(springs, at_noon):
    path = springs.settings(rules=RULES.replace("lead_days = 5", "lead_days = 12")).folder / "workspace.toml"
    at_noon()
    springs.record(*low(20), *DRY, *low(8), *DRY, *HIGH)
    at_noon()
    (tally,) = alert_history(load_workspace(path.parent)).tallies
    assert (tally.stops.too_soon, tally.stops.missed) == (1, 1)


def test_another_level_starts_its_own_tally(watched):
    path = watched.folder / "workspace.toml"
    text = path.read_text()
    path.write_text(text.replace("55 cfs", "56 cfs"))
    try:
        assert alert_history(load_workspace(watched.folder)).tallies == ()
    finally:
        path.write_text(text)


@pytest.mark.parametrize(
    ("hits", "n", "low", "high"),
    [
        # Exact binomial limits as tables of them have it: 0 of 10 and 10 of 10 are 1 - 0.025^(1/10) and its mirror
        # image, in closed form; 5 of 10 is 0.1871 to 0.8129 (Clopper and Pearson's limits; value from memory).
        (0, 10, 0.0, 1 - 0.025**0.1),
        (10, 10, 0.025**0.1, 1.0),
        (5, 10, 0.1871, 0.8129),
    ],
)
def test_shares_carry_exact_binomial_limits(hits, n, low, high):
    s = share(hits, n)
    assert (s.low, s.high) == (pytest.approx(low, abs=5e-5), pytest.approx(high, abs=5e-5))


def test_a_share_of_nothing_is_not_a_zero():
    assert share(0, 0).value is None


def test_few_cases_do_not_judge_a_promise_and_many_do():
    few, many, bad = (words._against("Hit rate", share(k, n), 0.9) for k, n in ((4, 4), (9, 10), (2, 10)))
    assert "cannot tell" in few
    assert "consistent with the promised 0.90" in many
    assert "below the promised 0.90" in bad


def test_the_command_tells_the_history_and_keeps_the_shared_header(watched, capsys):
    assert main(["watch", str(watched.folder), "--history", "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert {"workspace", "as_of", "warnings", "method_version", "history", "tally"} <= set(answer)
    assert answer["tally"][0]["hit_rate"]["n"] == 3
    assert main(["watch", str(watched.folder), "--history"]) == 0
    text = capsys.readouterr().out
    assert "6 warnings of a stop among them: 1 in time, 1 too late, 1 as it stopped, 1 for nothing, 1 not over" in text
    assert "dry on 17 Jan 2020, 6 days after it began, 5 days after it was raised" in text
    assert "fewer than 5 cases cannot tell" in text and "provisional" in text


def test_a_history_without_a_pass_says_so(demo, capsys):
    assert main(["watch", str(demo), "--history"]) == 0
    assert "Nothing has been raised here yet" in capsys.readouterr().out


# ---- who has seen to it


def test_who_has_seen_to_an_alert_is_kept_in_a_file_of_the_workspace(watched, capsys):
    alert = read_memory(watched.folder).alerts[0]
    command = ["watch", str(watched.folder), "--acknowledge", alert.id]
    assert main([*command, "--by", "Ilse Brandt", "--note", "went there,\nit ran"]) == 0
    assert "Ilse Brandt" in capsys.readouterr().out
    assert main([*command, "--by", "O. Fenn"]) == 0
    rows = read_acknowledged(watched.folder)
    assert [(r.alert, r.by, r.note) for r in rows] == [
        (alert.id, "Ilse Brandt", "went there, it ran"),
        (alert.id, "O. Fenn", ""),
    ]
    seen = [r for r in alert_history(load_workspace(watched.folder)).rows if r.alert.id == alert.id]
    assert [a.by for a in seen[0].acknowledged] == ["Ilse Brandt", "O. Fenn"]
    assert pd.Timestamp(rows[0].at).utcoffset() == pd.Timedelta(hours=-6)  # the workspace's clock
    (watched.folder / FILE).unlink()


@pytest.mark.parametrize(("id", "by", "row"), [("0" * 16, "me", "--acknowledge"), (None, "  ", "--by")])
def test_an_acknowledgement_needs_an_alert_and_a_name(watched, capsys, id, by, row):
    id = id or read_memory(watched.folder).alerts[0].id
    assert main(["watch", str(watched.folder), "--acknowledge", id, "--by", by]) == 2
    assert row in capsys.readouterr().err
    assert not (watched.folder / FILE).exists()


def test_a_file_of_acknowledgements_that_is_something_else_is_not_added_to(tmp_path):
    (tmp_path / FILE).write_text("a,b\n1,2\n", encoding="utf-8")
    row = Acknowledgement(alert="a", outlet="b", kind="level", since="c", by="d", at="2020-01-01T00:00:00+00:00")
    with pytest.raises(InputError, match=r"acknowledged\.csv"):
        acknowledge(tmp_path, row)
    assert (tmp_path / FILE).read_text() == "a,b\n1,2\n"


def test_rows_that_lost_a_cell_are_all_named(tmp_path):
    head = ",".join(Acknowledgement.__dataclass_fields__)
    (tmp_path / FILE).write_text(f"{head}\na,b\n,,,,,,\na,b,c,d,e,f,g\nx\n", encoding="utf-8")
    with pytest.raises(InputError) as wrong:
        read_acknowledged(tmp_path)
    assert [p.row for p in wrong.value.problems] == [2, 5]


ROW = Acknowledgement(alert="a", outlet="b", kind="level", since="c", by="d", at="2020-01-01T00:00:00+00:00")


def test_a_last_line_that_an_editor_left_open_does_not_swallow_the_next_row(tmp_path):
    acknowledge(tmp_path, ROW)
    (tmp_path / FILE).write_bytes((tmp_path / FILE).read_bytes().rstrip())
    acknowledge(tmp_path, ROW)
    assert read_acknowledged(tmp_path) == [ROW, ROW]


@pytest.mark.parametrize("step", ["write", "fsync"])
def test_a_full_disk_leaves_no_half_row(tmp_path, monkeypatch, step):
    acknowledge(tmp_path, ROW)
    before = (tmp_path / FILE).read_bytes()
    write = os.write

    def fails(handle, data=b""):
        if step == "fsync":
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(handle, data[:7])

    with monkeypatch.context() as patch:
        patch.setattr(os, step, fails)
        with pytest.raises(InputError, match="No space left"):
            acknowledge(tmp_path, ROW)
    assert (tmp_path / FILE).read_bytes() == before
