"""The one door for files: nothing in a file makes it raise, and refusals say what was expected."""

from __future__ import annotations

import datetime
import hashlib
import zipfile
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from hydro.problems import InputError
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file


def expected(path: Path) -> str:
    file = read_gauge_file(path)
    assert file.series == ()
    problem = file.problems[0]
    with pytest.raises(InputError):
        file.only_series(ReadChoices())
    return problem.expected


def test_a_missing_file_is_a_problem(tmp_path: Path) -> None:
    assert "exists" in expected(tmp_path / "none.csv")


def test_a_folder_is_a_problem(tmp_path: Path) -> None:
    assert "folder" in expected(tmp_path)


@pytest.mark.parametrize("content", [b"", b"\n \n", b"\xef\xbb\xbf", b"\xff\xfe"])
def test_an_empty_file_is_a_problem(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "f.csv").write_bytes(content)
    assert "empty" in expected(tmp_path / "f.csv")


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (bytes(range(256)) * 4, "binary"),
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "binary"),
        (b"%PDF-1.7\n", "PDF"),
        (b"\x1f\x8b\x08\x00\x00", "whole"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "XLS"),
        (b"<!DOCTYPE html>\n<html><body>Error 503</body></html>", "web page"),
        (b"  <html>\n<head></head></html>", "web page"),
        (b'<?xml version="1.0"?>\n<a/>', "XML"),
        (b"<ns1:timeSeriesResponse/>", "XML"),
        (b'{"value": []}', "JSON"),
        (b'[{"timestamp": "2020-01-01"}]', "JSON"),
        (b"PK\x03\x04 and no more", "workbook"),
        (b"just some words\nand more of them\n", "discharge"),
        (b"Date,Flow (cfs)\n", "rows of data"),
        (b'Date,Flow (cfs)\n2020-01-01,"5\n2020-01-02,6\n', "quotes"),
    ],
)
def test_files_that_hold_no_gauge_table_are_refused_in_words(tmp_path: Path, content: bytes, word: str) -> None:
    path = tmp_path / "f.csv"
    path.write_bytes(content)
    assert word in expected(path)
    assert read_gauge_file(path).digest == hashlib.sha256(content).hexdigest()


def test_an_archive_without_a_gauge_file_is_refused_and_its_members_named(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "a.zip", "w") as archive:
        archive.writestr("photo.png", b"\x89PNG\r\n\x1a\n\x00\x00")
    assert "photo.png" in expected(tmp_path / "a.zip")


def test_a_table_of_no_known_layout_says_which_were_tried(tmp_path: Path) -> None:
    (tmp_path / "f.csv").write_text("date,stage (ft)\n2020-01-01,1\n2020-01-02,2\n")
    assert "England hydrology readings (CSV)" in expected(tmp_path / "f.csv")


def test_the_file_is_named_as_the_caller_shows_it(tmp_path: Path) -> None:
    file = read_gauge_file(tmp_path / "none.csv", shown_as="discharge/north.csv")
    assert file.problems[0].file == "discharge/north.csv"


def workbook(path: Path, rows: list[list[object]], more: dict[str, list[list[object]]] | None = None) -> Path:
    book = openpyxl.Workbook()
    for name, content in {"Flow": rows, **(more or {})}.items():
        sheet = book.active if name == "Flow" else book.create_sheet(name)
        sheet.title = name
        for row in content:
            sheet.append(row)
    book.save(path)
    return path


class TestSpreadsheet:
    def test_date_cells_and_numbers(self, tmp_path: Path) -> None:
        days = [datetime.datetime(2020, 1, d) for d in range(1, 5)]
        flows: list[object] = [40, 41.5, None, "Ice"]
        codes: list[object] = ["A", "e", None, None]
        cells: list[list[object]] = [list(row) for row in zip(days, flows, codes, strict=True)]
        path = workbook(tmp_path / "f.xlsx", [["North weir"], [], ["Date", "Flow (cfs)", "Flag"], *cells])
        file = read_gauge_file(path)
        (series,) = file.series
        assert file.problems == ()
        assert file.format == "spreadsheet"
        assert series.step == "daily"
        assert series.values.iloc[0] == pytest.approx(1.13267386368)
        assert series.frame["row"].tolist() == [4, 5, 6, 7]
        assert series.frame["flags"].tolist() == ["", "estimated", "", "ice"]

    def test_clock_times_come_back_whole(self, tmp_path: Path) -> None:
        stamps = [datetime.datetime(2020, 1, 1) + datetime.timedelta(minutes=15 * i) for i in range(200)]
        path = workbook(tmp_path / "f.xlsx", [["When", "Q (m3/s)"], *[[t, 1 + i] for i, t in enumerate(stamps)]])
        (series,) = read_gauge_file(path, ReadChoices(time_zone="UTC")).series
        assert series.step == "PT15M"
        assert series.frame.index[-1] == pd.Timestamp(stamps[-1], tz="UTC")

    def test_day_numbers_of_the_1900_system(self, tmp_path: Path) -> None:
        # 43831 = 2020-01-01 (ECMA-376 part 1, 18.17.4.1: serial 1 is 1900-01-01, with the 1900 leap day counted)
        path = workbook(tmp_path / "f.xlsx", [["Date", "Q (m3/s)"], [43831, 1], [43832, 2], [43833, 3]])
        (series,) = read_gauge_file(path).series
        assert series.frame.index[0] == pd.Timestamp("2020-01-01")

    def test_only_the_first_sheet_is_read_and_that_is_noted(self, tmp_path: Path) -> None:
        rows: list[list[object]] = [["Date", "Q (m3/s)"], ["2020-01-01", 1], ["2020-01-02", 2]]
        file = read_gauge_file(workbook(tmp_path / "f.xlsx", rows, {"Other": rows}))
        assert any("Other" in note for note in file.notes)

    def test_a_formula_without_a_stored_result_is_a_problem(self, tmp_path: Path) -> None:
        path = workbook(tmp_path / "f.xlsx", [["Date", "Q (m3/s)"], ["2020-01-01", 1], ["2020-01-02", "=B2*2"]])
        assert "B3" in expected(path)

    def test_an_empty_workbook_is_a_problem(self, tmp_path: Path) -> None:
        assert "empty" in expected(workbook(tmp_path / "f.xlsx", []))
