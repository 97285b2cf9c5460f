"""Past states: kept without loss, and compared day by day."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from dashboard.watch.past import PastStates, past_from_json, past_states, revision_of

LEVELS = (1.0, 1.2, 1, 1)
FIRST = pd.Timestamp("2020-01-01")
RECORD = st.lists(st.sampled_from([0.5, 1.1, 2.0, np.nan]), min_size=3, max_size=60)


def series(values, first=FIRST):
    return pd.Series(np.array(values, float), index=pd.date_range(first, periods=len(values), freq="D"))


@given(st.lists(st.integers(0, 2), min_size=1, max_size=80))
def test_kept_states_come_back_as_they_were(codes):
    past = PastStates(first=FIRST, states=np.array(codes, np.int8), settings="s")
    back = past_from_json(past.as_json())
    assert back.first == past.first and back.settings == "s" and back.states.tolist() == codes
    assert back.last == FIRST + pd.Timedelta(days=len(codes) - 1)


def test_kept_states_that_were_damaged_are_not_used():
    kept = json.loads(PastStates(first=FIRST, states=np.array([1, 1, 2], np.int8), settings="s").as_json())
    kept["runs"][0][1] = 3
    assert past_from_json(json.dumps(kept)) is None


@given(RECORD, RECORD)
def test_new_days_never_revise_old_ones(old, new):
    before = past_states(series(old), *LEVELS, "s")
    assert revision_of(before, series([*old, *new]), LEVELS) is None


@given(RECORD, st.data())
def test_a_changed_day_is_found_where_its_state_changes_and_only_known_states_count(old, data):
    """Against the states of both records worked out and compared one by one."""
    at = data.draw(st.integers(0, len(old) - 2))
    new = [*old[:at], data.draw(st.sampled_from([0.5, 1.1, 2.0, np.nan])), *old[at + 1 :]]
    before, after = past_states(series(old), *LEVELS, "s"), past_states(series(new), *LEVELS, "s")
    changed = [i for i, (a, b) in enumerate(zip(before.states, after.states, strict=True)) if a != b and a != 0]
    found = revision_of(before, series(new), LEVELS)
    if not changed:
        assert found is None
        return
    assert found.days == len(changed) == found.now_dry + found.now_running + found.now_unknown
    ends = [f"{FIRST + pd.Timedelta(days=i):%Y-%m-%d}" for i in (changed[0], changed[-1])]
    assert [found.first, found.last] == ends


def test_a_record_that_now_begins_later_is_compared_where_both_have_days():
    old, new = series([2.0] * 10), series([2.0, 0.5, 2.0, 2.0, 2.0, 2.0], FIRST + pd.Timedelta(days=4))
    found = revision_of(past_states(old, *LEVELS, "s"), new, LEVELS)
    assert (found.days, found.first) == (1, "2020-01-06")
    assert revision_of(past_states(old, *LEVELS, "s"), series([2.0], FIRST + pd.Timedelta(days=50)), LEVELS) is None
