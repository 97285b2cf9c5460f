"""Visits and captures: what is kept apart, and what is refused."""

from __future__ import annotations

import pandas as pd
import pytest

from ecology.captures import read_captures
from ecology.visits import outside_record, read_visits
from hydro.problems import InputError

TODAY = pd.Timestamp("2024-12-31")


def visits(tmp_path, text, **options):
    path = tmp_path / "visits.csv"
    path.write_text(text, encoding="utf-8")
    return read_visits(path, outlets=["ledge", "pool"], today=TODAY, shown_as="visits.csv", **options)


def problems(tmp_path, text, **options):
    with pytest.raises(InputError) as error:
        visits(tmp_path, text, **options)
    return error.value.problems


def test_a_dry_visit_a_zero_a_blank_and_no_search_are_four_things(tmp_path):
    frame = visits(
        tmp_path,
        "date,outlet,surface,searched,count,effort\n"
        "2024-01-01,ledge,dry,,,\n"
        "2024-01-02,ledge,running,,0,30\n"
        "2024-01-03,ledge,running,yes,,30\n"
        "2024-01-04,ledge,running,no,,\n"
        "2024-01-05,ledge,running,,,\n"
        "2024-01-06,ledge,pooled,yes,3,\n",
    ).frame
    assert frame["kind"].tolist() == ["dry", "counted", "searched-uncounted", "not-searched", "not-searched", "counted"]
    assert frame["count"].isna().tolist() == [True, False, True, True, True, False]
    assert frame["searched"].tolist() == [False, True, True, False, False, True]


def test_a_count_at_a_dry_surface_stays_a_dry_visit_and_is_mentioned(tmp_path):
    read = visits(tmp_path, "date,outlet,surface,count\n2024-01-01,ledge,dry,2\n")
    assert read.frame["kind"].tolist() == ["dry"]
    assert "dry surface counted animals" in read.notes[0]


def test_unknown_columns_are_kept_as_they_are(tmp_path):
    frame = visits(tmp_path, 'date,outlet,count,moss cover,x\n2024-01-01,ledge,1,"a, b",007\n').frame
    assert frame[["moss cover", "x"]].iloc[0].tolist() == ["a, b", "007"]


def test_every_problem_of_the_file_is_said_at_once_with_row_column_and_value(tmp_path):
    found = problems(
        tmp_path,
        "date,outlet,surface,searched,count,effort,gravid,water_temp_c\n"
        "2024-13-01,ledge,running,yes,1,10,,\n"
        "2024-01-02,spring,running,yes,1,10,,\n"
        "2024-01-03,ledge,wet,yes,1,10,,\n"
        "2024-01-04,ledge,running,maybe,1,10,,\n"
        "2024-01-05,ledge,running,yes,-1,10,,\n"
        "2024-01-06,ledge,running,yes,1.5,10,,\n"
        "2024-01-07,ledge,running,yes,many,10,,\n"
        "2024-01-08,ledge,running,yes,1,0,,\n"
        "2024-01-09,ledge,running,no,1,10,,\n"
        "2024-01-10,ledge,running,yes,1,10,2,\n"
        "2024-01-11,ledge,running,yes,1,10,,720\n"
        "2030-01-12,ledge,running,yes,1,10,,\n"
        ",ledge,running,yes,1,10,,\n",
    )
    cells = {(p.row, p.column, p.value) for p in found}
    assert {
        (2, "date", "2024-13-01"),
        (3, "outlet", "spring"),
        (4, "surface", "wet"),
        (5, "searched", "maybe"),
        (6, "count", "-1"),
        (7, "count", "1.5"),
        (8, "count", "many"),
        (9, "effort", "0"),
        (10, "searched", "no"),
        (11, "gravid", "2"),
        (12, "water_temp_c", "720"),
        (13, "date", "2030-01-12"),
        (14, "date", ""),
    } <= cells
    assert all(p.file == "visits.csv" and p.expected for p in found)


def test_a_missing_column_is_said_with_what_the_file_has(tmp_path):
    found = problems(tmp_path, "day,place,count\n2024-01-01,ledge,1\n")
    assert {p.column for p in found} == {"date", "outlet"}
    assert "day, place, count" in found[0].expected


def test_column_names_of_the_user_are_mapped(tmp_path):
    text = "Survey date,outlet,Total\n2024-01-01,ledge,4\n"
    frame = visits(tmp_path, text, columns={"date": "Survey date", "count": "Total"}).frame
    assert frame["count"].tolist() == [4]


def test_an_order_of_day_and_month_that_the_column_leaves_open_is_asked_for(tmp_path):
    text = "date,outlet,count\n03/04/2024,ledge,1\n05/06/2024,ledge,1\n"
    assert len(problems(tmp_path, text)) == 1
    assert visits(tmp_path, text, day_first=True).frame["date"].tolist() == [
        pd.Timestamp("2024-04-03"),
        pd.Timestamp("2024-06-05"),
    ]
    proven = visits(tmp_path, "date,outlet,count\n03/04/2024,ledge,1\n25/06/2024,ledge,1\n").frame
    assert proven["date"].iloc[0] == pd.Timestamp("2024-04-03")


def test_semicolons_and_decimal_commas_are_understood(tmp_path):
    frame = visits(tmp_path, "date;outlet;count;effort\n2024-01-01;ledge;1;12,5\n").frame
    assert frame["effort"].tolist() == [12.5]


def test_visits_outside_the_record_of_their_outlet_are_named(tmp_path):
    read = visits(tmp_path, "date,outlet,count\n1999-01-01,ledge,1\n2024-01-20,ledge,1\n2024-06-01,ledge,1\n")
    spans = {"ledge": (pd.Timestamp("2000-01-01"), pd.Timestamp("2024-01-01"))}
    assert [p.value for p in outside_record(read.frame, read.file, spans, 31)] == ["1999-01-01", "2024-06-01"]


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02\xff\xfe binary \x00", b"\n\n"])
def test_empty_and_binary_files_are_one_clear_problem(tmp_path, content):
    path = tmp_path / "visits.csv"
    path.write_bytes(content)
    with pytest.raises(InputError):
        read_visits(path, outlets=["ledge"], today=TODAY)


def test_a_missing_file_is_a_problem(tmp_path):
    with pytest.raises(InputError):
        read_visits(tmp_path / "none.csv", outlets=["ledge"], today=TODAY)


def test_nothing_dated_later_is_left_by_until(tmp_path):
    read = visits(tmp_path, "date,outlet,count\n2024-01-01,ledge,1\n2024-02-01,ledge,1\n")
    assert len(read.until(pd.Timestamp("2024-01-15")).frame) == 1


def test_captures_need_an_individual_and_a_confidence_between_0_and_1(tmp_path):
    path = tmp_path / "captures.csv"
    path.write_text("date,outlet,individual,match_confidence\n2024-01-01,ledge,,0.5\n2024-01-01,ledge,Q1,1.5\n")
    with pytest.raises(InputError) as error:
        read_captures(path, outlets=["ledge"], today=TODAY)
    assert {(p.row, p.column) for p in error.value.problems} == {(2, "individual"), (3, "match_confidence")}
