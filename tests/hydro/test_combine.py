"""Gauge records and combined discharge: missing stays missing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydro.combine import combine
from hydro.discharge import APPROVALS, Discharge, Origin, make_frame
from hydro.gauge_record import daily_record

NAN = np.nan


def gauge(values, first="2020-01-01", approval="approved", file="a"):
    index = pd.date_range(first, periods=len(values), freq="D")
    code = np.full(len(values), APPROVALS.index(approval), np.int8)
    frame = make_frame(
        index, np.array(values, float), approval=pd.Categorical.from_codes(code, categories=list(APPROVALS))
    )
    return Discharge(frame=frame, step="daily", origins=(Origin(file=file, digest="", format="t"),))


def flow(bridge_days=0, **gauges):
    return combine("system", "System", gauges, bridge_days=bridge_days)


def test_a_day_without_one_gauge_has_no_sum():
    result = flow(a=gauge([1, NAN, 3]), b=gauge([1, 1, 1]))
    assert result.values.tolist()[0::2] == [2.0, 4.0]
    assert np.isnan(result.values.iloc[1])
    assert result.frame["missing"].tolist() == ["", "a", ""]


def test_an_absent_row_is_as_missing_as_a_blank_one():
    a = gauge([1, 1, 1])
    a = Discharge(frame=a.frame.drop(a.frame.index[1]), step="daily", origins=a.origins)
    assert np.isnan(flow(a=a, b=gauge([1, 1, 1])).values.iloc[1])


def test_the_record_runs_from_the_first_to_the_last_day_with_a_sum():
    result = flow(a=gauge([1, 1, 1, 1]), b=gauge([NAN, 1, 1], "2020-01-01"))
    assert result.frame.index[0] == pd.Timestamp("2020-01-02")
    assert result.frame.index[-1] == pd.Timestamp("2020-01-03")


def test_gauges_that_never_overlap_have_no_sum():
    assert flow(a=gauge([1, 1]), b=gauge([1, 1], "2021-01-01")).empty
    assert flow(a=gauge([NAN, NAN]), b=gauge([1, 1])).empty


def test_short_holes_are_bridged_in_the_logarithm_and_marked():
    result = flow(bridge_days=2, a=gauge([1, NAN, 4]))
    assert result.values.tolist() == pytest.approx([1, 2, 4])
    assert result.frame["bridged"].tolist() == [False, True, False]


def test_longer_holes_and_holes_beside_zero_stay_open():
    assert flow(bridge_days=1, a=gauge([1, NAN, NAN, 4])).frame["bridged"].sum() == 0
    assert flow(bridge_days=3, a=gauge([0, NAN, 4])).frame["bridged"].sum() == 0


def test_a_hole_at_the_end_of_a_record_is_not_bridged():
    assert flow(bridge_days=3, a=gauge([1, 1, NAN])).frame.index[-1] == pd.Timestamp("2020-01-02")


def test_one_provisional_gauge_makes_the_sum_provisional():
    result = flow(a=gauge([1, 1]), b=gauge([1, 1], approval="provisional"))
    assert result.frame["provisional"].all()


def test_the_error_of_a_sum_of_independent_gauges():
    # 30 within 10 % and 12 within 15 % give 42 within sqrt(3² + 1.8²)/42 = 8.33 % (root sum of squares by hand).
    result = combine("s", "S", {"a": gauge([30]), "b": gauge([12])}, errors_percent={"a": 10.0, "b": 15.0})
    assert result.frame["error_percent"].iloc[0] == pytest.approx(100 * np.hypot(3, 1.8) / 42)


def test_instantaneous_series_are_refused():
    frame = make_frame(pd.date_range("2020", periods=2, freq="h", tz="UTC"), np.ones(2))
    hourly = Discharge(frame=frame, step="PT1H", origins=(Origin(file="f", digest="", format="t"),))
    with pytest.raises(ValueError, match="daily"):
        combine("s", "S", {"a": hourly})


values = st.lists(st.one_of(st.floats(0.01, 100), st.just(NAN)), min_size=1, max_size=30)


@given(values, values, st.integers(0, 4))
def test_the_sum_is_known_exactly_where_all_members_are(a, b, bridge):
    left, right = gauge(a), gauge(b)
    before = left.frame.copy()
    result = flow(bridge_days=bridge, a=left, b=right)
    pd.testing.assert_frame_equal(left.frame, before)
    for day, total in result.values.items():
        members = result.members.loc[day]
        assert np.isnan(total) == members.isna().any()
        if not np.isnan(total):
            assert total == pytest.approx(members.sum())
    untouched = result.frame.index[~result.frame["bridged"]]
    for name, series in (("a", left), ("b", right)):
        own = series.values.reindex(untouched)
        known = own.notna()
        assert result.members.loc[untouched, name][known].tolist() == own[known].tolist()


def test_published_days_come_before_means_of_instantaneous_values():
    index = pd.date_range("2020-01-01", "2020-01-04", freq="h", tz="UTC", inclusive="left")
    hourly = Discharge(
        frame=make_frame(index, np.full(72, 9.0)), step="PT1H", origins=(Origin(file="h", digest="", format="t"),)
    )
    record = daily_record([hourly, gauge([1, NAN])], "UTC")
    assert record.values.tolist() == [1.0, 9.0, 9.0]
    files = [record.origins[o].file for o in record.frame["origin"]]
    assert files == ["a", "h", "h"]


def test_of_two_files_with_the_same_day_the_first_stands_and_differences_are_noted():
    record = daily_record([gauge([1, 2]), gauge([1, 3, 4], file="b")], "UTC")
    assert record.values.tolist() == [1, 2, 4]
    assert any("1 days have two different" in note for note in record.notes)


def test_a_missing_value_in_one_file_is_filled_from_the_other():
    assert daily_record([gauge([NAN, 2]), gauge([7, 2], file="b")], "UTC").values.tolist() == [7, 2]


def test_the_error_of_a_gauge_that_is_not_in_the_sum_does_not_touch_it():
    result = combine("a", "A", {"a": gauge([30, 40])}, errors_percent={"a": 8, "elsewhere": 15})
    assert result.frame["error_percent"].tolist() == pytest.approx([8, 8])
