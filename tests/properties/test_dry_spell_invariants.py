"""What must hold for every series and every pair of levels."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from hydro.dry_spells import find_dry_spells

# Whole numbers around the levels make ties, touching runs and hysteresis bands common.
discharges = st.lists(
    st.one_of(st.integers(30, 50).map(float), st.floats(0, 100, allow_nan=False), st.just(float("nan"))),
    min_size=1,
    max_size=60,
)
levels = st.integers(35, 45).map(float)


def spells(values, level, restart=None, **options):
    index = pd.date_range("2001-01-01", periods=len(values), freq="D")
    return find_dry_spells(pd.Series(values, index=index, dtype=float), level, restart, **options)


@given(discharges, levels)
def test_spells_tile_exactly_the_dry_days(values, level):
    found = spells(values, level)
    expected = np.array([v < level for v in values])
    assert ((found.states == "dry").to_numpy() == expected).all()
    assert found.spells["days"].sum() == expected.sum()
    assert (found.states.to_numpy() == "unknown").tolist() == [v != v for v in values]


@given(discharges, levels, st.integers(0, 6))
def test_joining_more_never_makes_more_spells_nor_fewer_days(values, level, join_days):
    less, more = (
        spells(values, level, join_days=join_days).joined,
        spells(values, level, join_days=join_days + 1).joined,
    )
    assert len(more) <= len(less)
    assert more["days"].sum() >= less["days"].sum()
    assert more["dry_days"].sum() == less["dry_days"].sum()
    assert np.isclose(more["deficit_m3"].sum(), less["deficit_m3"].sum())


@given(discharges, levels, st.floats(0, 5))
def test_a_higher_level_never_shortens_the_dry_days(values, level, extra):
    low, high = spells(values, level).states == "dry", spells(values, level + extra).states == "dry"
    assert (low <= high).all()


@given(discharges, levels, st.floats(0, 8))
def test_hysteresis_only_adds_dry_days(values, level, band):
    plain, held = spells(values, level).states == "dry", spells(values, level, level + band).states == "dry"
    assert (plain <= held).all()


@given(discharges, levels)
def test_reversing_time_reverses_the_spells_when_the_levels_are_equal(values, level):
    forward, backward = spells(values, level), spells(values[::-1], level)
    assert forward.spells["days"].tolist() == backward.spells["days"].tolist()[::-1]
    assert np.allclose(forward.spells["deficit_m3"], backward.spells["deficit_m3"][::-1].to_numpy())
    assert forward.spells["start_certain"].tolist() == backward.spells["end_certain"].tolist()[::-1]


@given(discharges, levels, st.integers(1, 4), st.integers(1, 4), st.floats(0, 8))
def test_states_agree_with_walking_through_the_days_one_by_one(values, level, stop_days, restart_days, band):
    found = spells(values, level, level + band, stop_days=stop_days, restart_days=restart_days)
    assert found.states.tolist() == walk(values, level, level + band, stop_days, restart_days)


def walk(values, stop, restart, stop_days, restart_days):
    """The rule as one would do it with pencil and paper."""
    states, state = [], "unknown"
    for i, value in enumerate(values):
        if value != value:
            state = "unknown"
        elif value < stop and run_length(values, i, lambda v: v < stop) >= stop_days:
            state = "dry"
        elif value >= restart and run_length(values, i, lambda v: v >= restart) >= restart_days:
            state = "running"
        states.append(state)
    return states


def run_length(values, i, inside):
    """Length of the run of days around day i that satisfy `inside`."""
    first = i
    while first > 0 and inside(values[first - 1]):
        first -= 1
    last = i
    while last + 1 < len(values) and inside(values[last + 1]):
        last += 1
    return last - first + 1


@given(discharges, levels, st.floats(0, 8), st.integers(0, 5))
def test_minimum_lies_inside_its_spell_and_is_the_lowest(values, level, band, join_days):
    found = spells(values, level, level + band, join_days=join_days)
    series = pd.Series(values, index=found.index)
    for table in (found.spells, found.joined):
        for row in table.itertuples():
            inside = series[row.first : row.last]
            assert inside.min() == row.minimum_m3s
            assert inside[row.minimum_at] == row.minimum_m3s
