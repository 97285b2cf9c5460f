"""Columns of dates read without any gauge around them."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

from hydro.sources import dates
from hydro.sources.dates import parse_date_column


def iso(texts: list[str], **options: bool) -> list[str]:
    return [str(v)[:19] for v in parse_date_column(texts, **options).values]


@pytest.mark.parametrize(
    ("text", "meaning"),
    [
        # ISO 8601-1:2019, 5.2 and 5.3
        ("2020-03-31", "2020-03-31T00:00:00"),
        ("20200331", "2020-03-31T00:00:00"),
        ("2020-03-31T23:59:59", "2020-03-31T23:59:59"),
        ("20200331T2359", "2020-03-31T23:59:00"),
        ("2020-03-31 23:59Z", "2020-03-31T23:59:00"),
        # common practice, no source
        ("2020/3/31", "2020-03-31T00:00:00"),
        ("31.3.2020", "2020-03-31T00:00:00"),
        ("31/03/2020 5:06", "2020-03-31T05:06:00"),
        ("3/31/2020 12:06 AM", "2020-03-31T00:06:00"),
        ("3/31/2020 12:06:07 p.m.", "2020-03-31T12:06:07"),
        ("31-Mar-2020", "2020-03-31T00:00:00"),
        ("March 31, 2020", "2020-03-31T00:00:00"),
        ("31. März 2020", "2020-03-31T00:00:00"),
        ("31 mars 2020", "2020-03-31T00:00:00"),
        ("2020-03-31 24:00", "2020-04-01T00:00:00"),
    ],
)
def test_layouts(text: str, meaning: str) -> None:
    assert iso([text]) == [meaning]


@pytest.mark.parametrize(
    "text", ["2020-02-30", "1951-01-00", "2020-13-01", "0201-01-01", "2020-01-01 25:00",
     "2020-01-01 24:15", "31/31/2020",
             "12/31/2020 13:00 PM", "Mean", "2020-1", "12:00"]
)  # fmt: skip
def test_what_is_no_date_is_named_with_its_position(text: str) -> None:
    column = parse_date_column(["2020-01-01", text, "2020-01-03"])
    assert [(p, t) for p, t, _ in column.bad] == [(1, text)]
    assert np.isnat(column.values).tolist() == [False, True, False]


def test_every_day_of_four_centuries_boundary_years_agrees_with_the_calendar() -> None:
    days = [datetime.date(y, 1, 1) + datetime.timedelta(days=d) for y in (1900, 2000, 2023, 2024) for d in range(365)]
    for layout in ("%d/%m/%Y", "%m/%d/%Y", "%Y.%m.%d", "%d-%b-%Y", "%Y%m%d"):
        assert [v[:10] for v in iso([d.strftime(layout) for d in days])] == [d.isoformat() for d in days]


def test_the_order_is_proven_by_any_row() -> None:
    assert iso(["01/02/2020", "02/02/2020", "13/02/2020"])[0] == "2020-02-01T00:00:00"
    assert iso(["01/02/2020", "02/02/2020", "02/13/2020"])[0] == "2020-01-02T00:00:00"


def test_an_unproven_order_is_a_question_and_no_value() -> None:
    column = parse_date_column(["01/02/2020", "02/02/2020"])
    assert column.question is not None
    assert np.isnat(column.values).all()
    assert iso(["01/02/2020", "02/03/2020"], day_first=True)[0] == "2020-02-01T00:00:00"


def test_equal_day_and_month_need_no_answer() -> None:
    assert iso(["01/01/2020", "02/02/2020"]) == ["2020-01-01T00:00:00", "2020-02-02T00:00:00"]


def test_offsets_are_kept_beside_the_wall_clock() -> None:
    column = parse_date_column(["2020-01-01T00:15:00+02:00", "2020-01-01 00:30-0500", "2020-01-01 00:45"])
    assert column.offset_minutes is not None
    assert column.offset_minutes[:2].tolist() == [120, -300]
    assert np.isnan(column.offset_minutes[2])


def test_blank_cells_are_nat_and_not_reported() -> None:
    column = parse_date_column(["2020-01-01", "", " "])
    assert np.isnat(column.values).tolist() == [False, True, True]
    assert column.bad == ()


def test_times_in_a_second_column() -> None:
    column = parse_date_column(["31/01/2020", "31/01/2020", "31/01/2020"], times=["0015", "1:30 PM", ""])
    assert [str(v)[11:16] for v in column.values[:2]] == ["00:15", "13:30"]
    assert "clock time" in column.bad[0][2]


@pytest.mark.parametrize("layout", ["%d.%m.%Y %H:%M", "%m/%d/%Y %I:%M %p", "%Y/%m/%d %H:%M+01:00", "%d/%m/%Y"])
@pytest.mark.parametrize("extra", [[], ["", " "], ["soon"], ["32.01.2020 00:00"], ["14/01/2020 24:00"]])
def test_a_long_column_is_read_like_a_short_one(layout, extra, monkeypatch):
    """Days and times of day of a long column are read once each: every cell, question and mistake stays the same."""
    column = [*pd.date_range("2020-01-01", periods=1500, freq="30min").strftime(layout), *extra]
    monkeypatch.setattr(dates, "LONG", 10**9)
    one = parse_date_column(column)
    monkeypatch.setattr(dates, "LONG", 100)
    two = parse_date_column(column)
    np.testing.assert_array_equal(one.values, two.values)
    np.testing.assert_array_equal(one.day_ended, two.day_ended)
    np.testing.assert_array_equal(one.offset_minutes, two.offset_minutes)
    assert (one.bad, one.has_clock, one.question) == (two.bad, two.has_clock, two.question)


def test_a_long_column_that_leaves_the_order_of_its_parts_open_is_asked_about(monkeypatch):
    monkeypatch.setattr(dates, "LONG", 2)
    column = parse_date_column(["03/04/2020 00:00", "03/04/2020 00:30", "04/04/2020 00:00", "05/04/2020 00:00"])
    assert "day_first" in column.question
    assert np.isnat(column.values).all()
