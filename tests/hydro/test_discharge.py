"""A discharge series keeps what it was given: its frame and the caller's are independent under pandas' copy-on-write.

Source of the rule: pandas user guide, “Copy-on-Write (CoW)”, the only mode from pandas 3.0: an object derived from
another behaves as a copy of it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
import pytest

from hydro.discharge import COLUMNS, Discharge, Origin, make_frame

ORIGINS = (Origin(file="f.csv", digest="", format="t"),)


def _frame() -> pd.DataFrame:
    index = pd.date_range("2020-01-01", periods=4, freq="D")
    flags = pd.Categorical(["", "ice", "", ""], categories=["", "ice"])
    return make_frame(index, np.array([1.0, np.nan, 3.0, 4.0]), flags=flags)


def _write_a_cell(frame: pd.DataFrame) -> None:
    frame.iloc[0, 0] = 99.0


def _write_by_label(frame: pd.DataFrame) -> None:
    frame.loc[frame.index[2], ["discharge_m3s", "approval", "flags"]] = [99.0, "approved", "ice"]


def _write_a_column(frame: pd.DataFrame) -> None:
    frame["row"] = 0


def _write_where(frame: pd.DataFrame) -> None:
    frame.loc[frame["discharge_m3s"] > 2, "discharge_m3s"] = np.nan


def _fill_in_place(frame: pd.DataFrame) -> None:
    frame.fillna({"discharge_m3s": 0.0}, inplace=True)


def _take_a_column_out(frame: pd.DataFrame) -> None:
    frame.pop("origin")


def _move_the_index(frame: pd.DataFrame) -> None:
    frame.index = frame.index + pd.Timedelta(days=1)


def _multiply_in_place(frame: pd.DataFrame) -> None:
    frame["discharge_m3s"] *= 2.0


CHANGES = [
    _write_a_cell,
    _write_by_label,
    _write_a_column,
    _write_where,
    _fill_in_place,
    _take_a_column_out,
    _move_the_index,
    _multiply_in_place,
]
Change = Callable[[pd.DataFrame], None]


@pytest.mark.parametrize("change", CHANGES)
def test_changing_the_callers_frame_afterwards_leaves_the_series_as_it_was(change: Change) -> None:
    given, before = _frame(), _frame()
    series = Discharge(frame=given, step="daily", origins=ORIGINS)
    change(given)
    assert not given.equals(before), "the change must be one"
    pd.testing.assert_frame_equal(series.frame, before)


@pytest.mark.parametrize("change", CHANGES)
def test_changing_the_frame_of_a_series_leaves_the_callers_as_it_was(change: Change) -> None:
    given, before = _frame(), _frame()
    series = Discharge(frame=given, step="daily", origins=ORIGINS)
    change(series.frame)
    assert not series.frame.equals(before), "the change must be one"
    pd.testing.assert_frame_equal(given, before)


@pytest.mark.parametrize("change", CHANGES)
def test_a_shortened_series_and_the_whole_one_do_not_reach_into_each_other(change: Change) -> None:
    whole = Discharge(frame=_frame(), step="daily", origins=ORIGINS)
    short = whole.until(pd.Timestamp("2020-01-03"))
    change(short.frame)
    pd.testing.assert_frame_equal(whole.frame, _frame())
    short = whole.until(pd.Timestamp("2020-01-03"))
    change(whole.frame)
    pd.testing.assert_frame_equal(short.frame, _frame().iloc[:3], check_freq=False)


@pytest.mark.parametrize("zone", [None, "UTC"])
def test_a_series_without_texts_kept_can_be_shortened(zone: str | None) -> None:
    index = pd.date_range("2020-01-01", periods=4, freq="D", tz=zone)
    step = "daily" if zone is None else "PT24H"
    series = Discharge(frame=make_frame(index, np.arange(4.0)), step=step, origins=ORIGINS)
    short = series.until(index[1])
    assert short.values.tolist() == [0.0, 1.0]
    assert short.raw.empty


def test_arrays_behind_the_values_refuse_to_be_written_to() -> None:
    given = _frame()
    series = Discharge(frame=given, step="daily", origins=ORIGINS)
    for frame in (given, series.frame):
        with pytest.raises(ValueError, match="read-only"):
            frame["discharge_m3s"].to_numpy()[0] = 99.0
        with pytest.raises(ValueError, match="read-only"):
            frame["row"].to_numpy()[0] = 99


def test_making_a_frame_copies_the_arrays_it_is_made_from() -> None:
    index = pd.date_range("2020-01-01", periods=3, freq="D")
    values, rows = np.array([1.0, 2.0, 3.0]), np.array([7, 8, 9])
    approval = pd.Categorical(["approved"] * 3, categories=["approved", "provisional", "unknown"])
    flags = pd.Categorical([""] * 3, categories=["", "ice"])
    frame = make_frame(index, values, approval=approval, flags=flags, row=rows)
    series = Discharge(frame=frame, step="daily", origins=ORIGINS)
    values[0], rows[0], approval[0], flags[0] = 99.0, 0, "unknown", "ice"
    for each in (frame, series.frame):
        assert each.iloc[0].tolist() == [1.0, "approved", "", 7, 0]


def test_columns_beyond_the_rules_are_left_out_and_the_rest_put_in_order() -> None:
    given = _frame().assign(remark="x")[["remark", *reversed(COLUMNS)]]
    series = Discharge(frame=given, step="daily", origins=ORIGINS)
    assert list(series.frame.columns) == list(COLUMNS)
    _write_a_cell(series.frame)
    assert given["discharge_m3s"].iloc[0] == 1.0
