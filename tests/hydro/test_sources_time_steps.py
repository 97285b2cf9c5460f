"""Steps of series, and local clocks against pandas' own zone arithmetic."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd
import pytest

from hydro.sources.time_steps import find_step, iso_duration, parse_zone, to_instants


def stamps(*texts: str) -> np.ndarray:
    return np.array(texts, dtype="datetime64[us]")


@pytest.mark.parametrize(
    ("minutes", "text"),
    [(15, "PT15M"), (60, "PT1H"), (90, "PT1H30M"), (0.5, "PT30S"), (1440, "PT24H"), (1 / 120, "PT0.5S")],
)
def test_durations_are_iso_8601(minutes: float, text: str) -> None:
    assert iso_duration(round(minutes * 60e6)) == text
    assert pd.Timedelta(text) == pd.Timedelta(minutes=minutes)  # pandas reads ISO 8601 durations


def test_a_step_needs_four_in_five_differences() -> None:
    regular = pd.date_range("2020-01-01", periods=11, freq="15min").to_numpy().astype("datetime64[us]")
    assert find_step(np.delete(regular, [5])) == "PT15M"  # 1 of 9 differences is another
    assert find_step(np.delete(regular, [1, 4, 7])) == "irregular"  # 3 of 7
    assert find_step(regular[:1]) == "irregular"


@pytest.mark.parametrize(
    ("text", "minutes"),
    [("UTC-06:00", -360), ("GMT+1", 60), ("+05:30", 330), ("UTC", 0), ("Z", 0), ("UTC−06:00", -360), ("utc+0200", 120)],
)
def test_fixed_offsets(text: str, minutes: int) -> None:
    assert parse_zone(text) == minutes


@pytest.mark.parametrize("text", ["", "Nowhere/City", "UTC+25:00", "../etc/passwd", "UTC+01:75"])
def test_what_is_no_zone_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"zone|UTC"):
        parse_zone(text)


@pytest.mark.parametrize(
    "name", ["America/Chicago", "Europe/Berlin", "Australia/Lord_Howe", "America/Phoenix", "Asia/Kolkata"]
)
def test_local_clocks_agree_with_pandas_through_a_whole_year(name: str) -> None:
    utc = pd.date_range("2019-12-31", "2021-01-02", freq="30min", tz="UTC", unit="us")
    wall = utc.tz_convert(name).tz_localize(None).to_numpy()
    instants = to_instants(wall, ZoneInfo(name), "test")
    assert not instants.nonexistent.any()
    np.testing.assert_array_equal(instants.values, utc.tz_localize(None).to_numpy())


def test_missing_stamps_stay_missing() -> None:
    wall = stamps("2020-06-01T00:00", "NaT", "2020-11-01T01:30")
    values = to_instants(wall, ZoneInfo("America/Chicago"), "test").values
    assert np.isnat(values).tolist() == [False, True, False]
    assert values[0] == np.datetime64("2020-06-01T05:00")


def test_a_clock_sorted_by_wall_time_gives_each_second_mention_to_the_second_pass() -> None:
    wall = stamps("2020-11-01T00:30", "2020-11-01T01:00", "2020-11-01T01:00", "2020-11-01T01:30", "2020-11-01T01:30")
    values = to_instants(wall, ZoneInfo("America/Chicago"), "test").values
    assert [str(v)[11:16] for v in values] == ["05:30", "06:00", "07:00", "06:30", "07:30"]
