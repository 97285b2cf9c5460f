"""The flow behind a visit."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.flow_history import OutletWater, flow_cycles, log_mean_before, visit_flow_history
from hydro.combine import combine
from hydro.discharge import Discharge, Origin, make_frame
from hydro.dry_spells import find_dry_spells


def water(values, level=40.0, first="2020-01-01"):
    index = pd.date_range(first, periods=len(values), freq="D")
    origin = Origin(file="f", digest="", format="t")
    gauge = Discharge(frame=make_frame(index, np.array(values, float)), step="daily", origins=(origin,))
    flow = combine("g", "G", {"g": gauge})
    return OutletWater(flow=flow, dry=None if level is None else find_dry_spells(flow.values, level))


def days(*dates):
    return pd.Series(pd.to_datetime(list(dates)))


def history(side, *dates, windows=(1, 7)):
    visits = pd.DataFrame({"date": days(*dates), "outlet": "o"})
    return visit_flow_history(visits, {"o": side}, windows=windows)


def test_a_window_ends_on_the_day_before_the_visit():
    side = water(np.exp([1.0, 2.0, 3.0, 4.0]))
    assert log_mean_before(side.flow, days("2020-01-04"), 2).tolist() == pytest.approx([2.5])
    # The visit's own day and later ones cannot change it.
    changed = water([*np.exp([1.0, 2.0, 3.0]), 99.0])
    assert log_mean_before(changed.flow, days("2020-01-04"), 2).tolist() == pytest.approx([2.5])


def test_a_visit_the_day_after_the_record_still_has_a_window():
    assert log_mean_before(water(np.exp([1.0, 2.0])).flow, days("2020-01-03"), 2).tolist() == pytest.approx([1.5])


def test_a_window_with_too_many_missing_or_zero_days_has_no_mean():
    thin = water([1, np.nan, np.nan, 1, 1, 1, 1, 1, 1, 1])
    assert np.isnan(log_mean_before(thin.flow, days("2020-01-06"), 5)).all()
    assert not np.isnan(log_mean_before(thin.flow, days("2020-01-09"), 5)).any()
    assert np.isnan(log_mean_before(water([1, 0, 1]).flow, days("2020-01-03"), 1)).all()


def test_a_visit_long_before_or_after_the_record_has_no_flow():
    found = log_mean_before(water([1.0] * 10).flow, days("2010-01-01", "2030-01-01"), 7)
    assert found.isna().all()


def test_days_since_the_restart_count_from_zero_and_the_spell_before_is_told():
    found = history(water([50, 30, 30, 30, 50, 50]), "2020-01-03", "2020-01-05", "2020-01-06")
    assert found["state"].tolist() == ["dry", "running", "running"]
    assert found["days_since_restart"].tolist()[1:] == [0, 1]
    assert np.isnan(found["days_since_restart"].iloc[0])
    assert found["dry_days_before"].tolist()[1:] == [3, 3]


def test_without_a_restart_in_sight_days_since_it_are_not_invented():
    found = history(water([50, 50, 50]), "2020-01-03")
    assert np.isnan(found["days_since_restart"].iloc[0])
    gap = history(water([50, 30, np.nan, 50, 50]), "2020-01-05")
    assert np.isnan(gap["days_since_restart"].iloc[0])


def test_a_perennial_outlet_has_flow_and_no_restart():
    found = history(water([50, 50, 50], level=None), "2020-01-02")
    assert found["state"].tolist() == ["perennial"]
    assert found["discharge_m3s"].tolist() == [50]


def test_cycles_start_with_the_dry_spells_of_the_outlet_that_stops_first():
    values = [50, 50, *([30, 50, 50, 50, 50, 50, 50, 50] * 6)]
    side = water(values)
    cycles = flow_cycles(side.flow, [("low", water(values, 20.0).dry), ("ledge", side.dry)])
    assert "ledge" in cycles.by
    assert cycles.of(days("2020-01-02", "2020-01-03", "2020-01-10", "2020-01-11")).tolist() == [0, 1, 1, 2]


def test_with_few_spells_hydrological_years_group_the_visits():
    values = np.where(pd.date_range("2020-01-01", "2023-12-31").month == 3, 90.0, 50.0)
    side = water(values)
    cycles = flow_cycles(side.flow, [("ledge", side.dry)])
    assert "month 3" in cycles.by
    assert len(set(cycles.of(days("2021-02-28", "2021-03-01", "2022-02-28")).tolist())) == 2
