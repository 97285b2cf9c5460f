"""States and dry spells: censoring, consecutive days, summaries."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.dry_spells import find_dry_spells
from hydro.dry_summary import summarise

NAN = np.nan


def daily(values, first="2020-01-01"):
    return pd.Series(np.array(values, float), index=pd.date_range(first, periods=len(values), freq="D"))


def statuses(values, **options):
    return find_dry_spells(daily(values), 40.0, **options).spells["status"].tolist()


def test_a_missing_day_is_unknown_neither_dry_nor_running():
    states = find_dry_spells(daily([50, NAN, 30, NAN, 50]), 40.0).states
    assert states.tolist() == ["running", "unknown", "dry", "unknown", "running"]


@pytest.mark.parametrize(
    ("values", "expected"),
    [
        ([50, 30, 50], ["ended"]),
        ([50, 30, 30], ["ongoing"]),
        ([30, 30, 50], ["starts-before-record"]),
        ([50, NAN, 30, 50], ["starts-in-gap"]),
        ([50, 30, NAN, 50], ["ends-in-gap"]),
        ([50, 30, NAN, 30, 50], ["ends-in-gap", "starts-in-gap"]),
        ([30, 30, 30], ["ongoing"]),
        ([NAN, 30, NAN], ["ends-in-gap"]),
    ],
)
def test_a_spell_says_how_much_of_it_was_seen(values, expected):
    assert statuses(values) == expected


def test_unknown_days_beside_a_spell_are_counted_and_not_bridged():
    spell = find_dry_spells(daily([50, NAN, NAN, 30, 30, NAN, 50]), 40.0).spells.iloc[0]
    assert spell["days"] == 2
    assert spell["unknown_days"] == 3
    assert not spell["start_certain"]
    assert not spell["end_certain"]


def test_spells_are_not_joined_across_unknown_days():
    found = find_dry_spells(daily([50, 30, NAN, 30, 50, 30, 50]), 40.0, join_days=5)
    assert found.joined["parts"].tolist() == [1, 2]
    assert found.joined["status"].tolist() == ["ends-in-gap", "starts-in-gap"]


def test_a_spell_counts_from_the_first_of_the_days_that_make_it_dry():
    found = find_dry_spells(daily([50, 30, 50, 30, 30, 50, 50]), 40.0, stop_days=2)
    assert found.spells["first"].tolist() == [pd.Timestamp("2020-01-04")]
    assert found.spells["days"].tolist() == [2]


def test_running_again_needs_the_stated_number_of_days():
    found = find_dry_spells(daily([50, 30, 50, 30, 50, 50, 50]), 40.0, restart_days=2)
    assert found.spells["days"].tolist() == [3]


def test_between_the_levels_after_a_gap_the_state_is_unknown():
    states = find_dry_spells(daily([50, 30, NAN, 42, 42, 45, 42]), 40.0, 44.0).states
    assert states.tolist() == ["running", "dry", "unknown", "unknown", "unknown", "running", "running"]


def test_between_the_levels_at_the_start_of_the_record_the_state_is_unknown():
    assert find_dry_spells(daily([42, 42, 39]), 40.0, 44.0).states.tolist() == ["unknown", "unknown", "dry"]


def test_a_restart_level_below_the_stop_level_is_refused():
    with pytest.raises(ValueError, match="restart"):
        find_dry_spells(daily([50, 30]), 40.0, 39.0)


def test_the_deficit_of_a_day_is_its_shortfall_times_its_seconds():
    assert find_dry_spells(daily([50, 39, 50]), 40.0).spells["deficit_m3"].tolist() == [86400.0]


def test_dry_days_are_added_up_by_calendar_year_across_a_year_end():
    values = [50, *[30] * 5, 50]
    summary = summarise(find_dry_spells(daily(values, "2019-12-28"), 40.0))
    assert summary.by_year["dry_days"].to_dict() == {2019: 3, 2020: 2}
    assert summary.dry_days == 5
    assert summary.record_days == 7
    assert summary.median_days == 5


def test_the_median_rests_on_whole_spells_alone():
    summary = summarise(find_dry_spells(daily([30, 50, 30, 30, 50, 30]), 40.0))
    assert summary.n_spells == 3
    assert summary.n_whole == 1
    assert summary.median_days == 2


def test_without_a_whole_spell_there_is_no_median():
    summary = summarise(find_dry_spells(daily([30, 30, 50]), 40.0))
    assert summary.median_days is None
    assert summary.longest_is_at_least


def test_an_empty_series_has_no_spells():
    found = find_dry_spells(daily([]), 40.0)
    assert found.spells.empty
    assert found.joined.empty
    assert summarise(found).record_days == 0


def test_a_record_of_missing_days_has_no_spells():
    found = find_dry_spells(daily([NAN, NAN]), 40.0)
    assert found.spells.empty
    assert summarise(found).unknown_days == 2


def test_the_series_is_not_changed():
    series = daily([50, 30, NAN, 50])
    before = series.copy()
    find_dry_spells(series, 40.0, 44.0, stop_days=2)
    pd.testing.assert_series_equal(series, before)
