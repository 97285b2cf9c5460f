"""The chance of stopping within so many days."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.analogues import find_donors, paths, run_rule
from hydro.first_passage import passed_by
from hydro.outlook_record import OutlookRecord, StateRule, make_record
from hydro.scores import brier
from hydro.state_runs import DRY, RUNNING, UNKNOWN
from hydro.stop_within import StopWithin, _share_passing, passage, stop_within
from hydro.value_step import level_edges
from tests.hydro.test_outlook import LEVEL, invented

RULES = [
    StateRule(stop_m3s=LEVEL, restart_m3s=LEVEL),
    StateRule(stop_m3s=LEVEL, restart_m3s=1.3 * LEVEL, stop_days=3, restart_days=2),
]


@pytest.fixture(scope="module")
def river() -> pd.Series:
    q = invented(12)
    q.iloc[1500:1560] = np.nan
    return q


@pytest.fixture(scope="module", params=RULES, ids=["plain", "held"])
def record(river: pd.Series, request: pytest.FixtureRequest) -> OutlookRecord:
    return make_record(river, request.param)


def test_a_passage_is_any_dry_day_among_the_next_ones(record: OutlookRecord) -> None:
    found = passage(record.state, 30)
    for row in np.random.default_rng(1).integers(0, len(record), 300):
        ahead = record.state[row + 1 : row + 31]
        if (ahead == DRY).any():
            assert found[row] == DRY
        elif len(ahead) == 30 and not (ahead == UNKNOWN).any():
            assert found[row] == RUNNING
        else:
            assert found[row] == UNKNOWN


def test_the_share_of_members_is_that_of_the_rule_run_along_each_course(record: OutlookRecord) -> None:
    # Reference: the outlook's own way, which runs the rule day by day along every path.
    rows = np.arange(0, len(record), 37)
    rows = rows[record.usable[rows] & (record.known_state[rows] == RUNNING) & (record.below[rows] == 0)]
    nothing = np.full(len(rows), len(record)), np.full(len(rows), len(record) - 1)
    stop_days = record.rule.stop_days
    donors = find_donors(record, rows, *nothing, members=60, horizon=30 + stop_days)
    edges = level_edges(record, *nothing)
    share = _share_passing(record, rows, donors.row, 30, edges[0])
    for k, row in enumerate(rows):
        one = type(donors)(row=donors.row[[k]])
        z = paths(record, record.z[[row]], one, 30 + stop_days - 1)[:, 0, :]
        if np.isnan(z).any():
            continue  # lost from sight: the outlook's own way weighs such members by the time they were watched
        known = np.array(RUNNING, np.int8), record.below[row], record.above[row]
        states = run_rule(record.rule, z, *known, edges=(edges[0][k], edges[1][k]))
        reference = passed_by(states[:30], DRY)[-1]
        assert share[k] == pytest.approx((reference * 60 + 0.5) / 61)


def test_chances_are_issued_on_running_days_and_beat_the_base_rate() -> None:
    record = make_record(invented(20), RULES[1])
    s = stop_within(record, every=7)
    assert (record.known_state[s.row] == RUNNING).all()
    assert ((s.chance > 0) & (s.chance < 1)).all()
    known = ~np.isnan(s.outcome)
    base = s.outcome[known].mean()
    assert brier(s.chance[known], s.outcome[known]) < 0.7 * base * (1 - base)
    high = s.chance[known] > 0.5
    assert s.outcome[known][high].mean() > 0.5 > s.outcome[known][~high].mean()


def test_no_chance_changes_with_the_rest_of_the_year_that_it_is_judged_in(river: pd.Series) -> None:
    rng = np.random.default_rng(5)
    for year, day in ((3, 150), (7, 200), (5, 60)):
        rows = np.flatnonzero(river.index.year == 2000 + year)
        cut = int(rows[day])
        other = river.copy()
        n = int(rows[-1]) - cut
        other.iloc[cut + 1 : rows[-1] + 1] = np.where(rng.random(n) < 0.1, np.nan, np.exp(rng.normal(0.3, 0.8, n)))
        one, two = (stop_within(make_record(q, RULES[0]), every=9) for q in (river, other))
        before = [(s.row >= rows[0]) & (s.row <= cut) for s in (one, two)]
        assert one.row[before[0]].tolist() == two.row[before[1]].tolist()
        np.testing.assert_allclose(one.chance[before[0]], two.chance[before[1]], atol=1e-7)


def test_between_issues_the_last_chance_stands() -> None:
    s = StopWithin(days=30, row=np.array([0, 5, 15]), chance=np.array([0.1, 0.2, 0.3]), outcome=np.zeros(3), every=5)
    expected = [0.1] * 5 + [0.2] * 5 + [np.nan] * 5 + [0.3] * 3
    assert s.by_row(18).tolist() == pytest.approx(expected, nan_ok=True)


def test_arguments_out_of_range_are_refused(record: OutlookRecord) -> None:
    for wrong in ({"days": 0}, {"every": 0}, {"members": 0}):
        with pytest.raises(ValueError, match="at least 1"):
            stop_within(record, **wrong)
