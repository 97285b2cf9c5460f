"""Daily means from instantaneous values."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.daily import DERIVED_FLAG, daily_means
from hydro.discharge import APPROVALS, Discharge, Origin, make_frame

ZONE = "CST6CDT"


def quarter_hours(first, last, value=1.0, **columns):
    index = pd.date_range(first, last, freq="15min", tz=ZONE, inclusive="left").tz_convert("UTC")
    frame = make_frame(index, np.full(len(index), value, float))
    return Discharge(frame=frame.assign(**columns), step="PT15M", origins=(Origin(file="f", digest="", format="t"),))


def without(series, keep):
    return Discharge(frame=series.frame[keep], step=series.step, origins=series.origins)


def test_a_day_is_the_local_day_also_where_clocks_change():
    # 2024-03-10 has 23 hours and 2024-11-03 has 25 under the CST6CDT rules.
    for day, hours in (("2024-03-10", 23), ("2024-11-03", 25)):
        following = pd.Timestamp(day) + pd.Timedelta(days=1)
        series = quarter_hours(day, following)
        assert len(series.frame) == hours * 4
        result = daily_means(series, ZONE, completeness=1.0)
        assert result.frame.index.tolist() == [pd.Timestamp(day)]


def test_a_short_day_is_complete_with_fewer_values_than_a_long_one():
    series = quarter_hours("2024-11-03", "2024-11-04")
    short = without(series, np.arange(100) < 92)
    assert daily_means(short, ZONE, completeness=0.95).frame.empty
    assert len(daily_means(short, ZONE, completeness=0.9).frame) == 1


def test_the_mean_is_of_the_values_present_and_a_thin_day_has_none():
    series = quarter_hours("2024-06-01", "2024-06-03")
    frame = series.frame.copy()
    frame["discharge_m3s"] = np.r_[np.full(48, 1.0), np.full(48, 3.0), np.full(96, 5.0)]
    frame.loc[frame.index[96:130], "discharge_m3s"] = np.nan
    result = daily_means(Discharge(frame=frame, step="PT15M", origins=series.origins), ZONE)
    assert result.values.tolist() == [2.0]


def test_the_lowest_value_of_a_day_is_another_statistic():
    series = quarter_hours("2024-06-01", "2024-06-02")
    frame = series.frame.copy()
    frame["discharge_m3s"] = np.linspace(1.0, 2.0, 96)
    same = Discharge(frame=frame, step="PT15M", origins=series.origins)
    assert daily_means(same, ZONE, statistic="minimum").values.tolist() == [1.0]
    assert daily_means(same, ZONE).values.tolist() == pytest.approx([1.5])


def test_a_day_is_provisional_when_any_of_its_values_is_and_carries_their_flags():
    series = quarter_hours("2024-06-01", "2024-06-03")
    approval = pd.Categorical(["approved"] * 191 + ["provisional"], categories=list(APPROVALS))
    flags = pd.Categorical(["ice"] + [""] * 191)
    marked = Discharge(frame=series.frame.assign(approval=approval, flags=flags), step="PT15M", origins=series.origins)
    result = daily_means(marked, ZONE).frame
    assert result["approval"].tolist() == ["approved", "provisional"]
    assert result["flags"].tolist() == [f"{DERIVED_FLAG} ice", DERIVED_FLAG]
    assert result["row"].tolist() == [1, 97]


def test_an_irregular_series_needs_values_spread_over_the_day():
    index = pd.date_range("2024-06-01", periods=60, freq="1min", tz=ZONE).tz_convert("UTC")
    bunched = Discharge(
        frame=make_frame(index, np.ones(60)), step="irregular", origins=(Origin(file="f", digest="", format="t"),)
    )
    assert daily_means(bunched, ZONE).frame.empty


def test_a_series_without_values_has_no_daily_means():
    series = quarter_hours("2024-06-01", "2024-06-02", value=np.nan)
    assert daily_means(series, ZONE).frame.empty


@pytest.mark.parametrize("completeness", [0.0, 1.1])
def test_a_completeness_outside_its_range_is_refused(completeness):
    with pytest.raises(ValueError, match="completeness"):
        daily_means(quarter_hours("2024-06-01", "2024-06-02"), ZONE, completeness=completeness)
