"""Whole tables as typed, for survey tables and gauges alike."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pytest

from hydro.problems import InputError
from hydro.sources.text_table import read_text_table


def write(folder: Path, text: str | bytes) -> Path:
    path = folder / "visits.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def test_cells_are_kept_as_typed(tmp_path: Path) -> None:
    table = read_text_table(write(tmp_path, "date,outlet,count,id\n2020-01-05,shelf,03,007\n2020-01-06,head,,1e3\n"))
    assert table.columns == ["date", "outlet", "count", "id"]
    assert table.cells["count"].tolist() == ["03", ""]
    assert table.cells["id"].tolist() == ["007", "1e3"]
    assert table.cells["date"].tolist() == ["2020-01-05", "2020-01-06"]
    assert table.rows.tolist() == [2, 3]


def test_quoted_cells_may_hold_separators_quotes_and_line_ends(tmp_path: Path) -> None:
    text = 'date,note\n2020-01-05,"cold, ""clear""\nand calm"\n2020-01-06,ok\n'
    table = read_text_table(write(tmp_path, text))
    assert table.cells["note"].tolist() == ['cold, "clear"\nand calm', "ok"]
    assert table.rows.tolist() == [2, 4]


def test_blank_lines_do_not_shift_line_numbers(tmp_path: Path) -> None:
    table = read_text_table(write(tmp_path, "date,n\n\n2020-01-05,1\n\n2020-01-06,2\n"))
    assert table.rows.tolist() == [3, 5]


def test_a_header_without_rows_is_an_empty_table(tmp_path: Path) -> None:
    table = read_text_table(write(tmp_path, "date,outlet,count\n"))
    assert table.columns == ["date", "outlet", "count"]
    assert len(table.cells) == 0


def test_words_that_look_like_missing_values_are_kept(tmp_path: Path) -> None:
    table = read_text_table(write(tmp_path, "date,outlet\n2020-01-05,NA\n2020-01-06,None\n"))
    assert table.cells["outlet"].tolist() == ["NA", "None"]


def test_a_table_of_words_alone(tmp_path: Path) -> None:
    table = read_text_table(write(tmp_path, "date;outlet;surface\n05.01.2020;shelf;dry\n06.01.2020;shelf;running\n"))
    assert table.separator == ";"
    assert table.cells["surface"].tolist() == ["dry", "running"]


def test_repeated_and_blank_names_are_told_apart(tmp_path: Path) -> None:
    table = read_text_table(write(tmp_path, "date,note,note,\n2020-01-05,a,b,c\n2020-01-06,a,b,\n"))
    assert table.columns == ["date", "note", "note (column 3)", "column 4"]


def test_a_sheet_gives_the_same_cells(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in (["date", "outlet", "count"], ["2020-01-05", "shelf", 3], ["2020-01-06", "head", None]):
        book.active.append(row)
    book.save(tmp_path / "visits.xlsx")
    table = read_text_table(tmp_path / "visits.xlsx")
    assert table.cells["count"].tolist() == ["3", ""]
    assert table.rows.tolist() == [2, 3]
    assert table.encoding == "xlsx"


@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02\x03" * 50])
def test_files_without_a_table_raise_with_the_problem(tmp_path: Path, content: bytes) -> None:
    with pytest.raises(InputError) as raised:
        read_text_table(write(tmp_path, content), shown_as="visits.csv")
    assert raised.value.problems[0].file == "visits.csv"


def test_a_missing_file_raises_with_the_problem(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="exists"):
        read_text_table(tmp_path / "none.csv")


def test_rows_with_too_many_cells_raise_all_at_once(tmp_path: Path) -> None:
    with pytest.raises(InputError) as raised:
        read_text_table(write(tmp_path, "date,n\n2020-01-05,1,2\n2020-01-06,2\n2020-01-07,3,4\n"))
    assert [p.row for p in raised.value.problems] == [2, 4]


def test_a_large_table_is_read_whole_with_right_line_numbers(tmp_path: Path) -> None:
    lines = [f"2020-01-01,{i},word {i}" for i in range(30_000)]
    lines[20_000] = '2020-01-01,20000,"two\nlines"'
    table = read_text_table(write(tmp_path, "date,n,text\n" + "\n".join(lines) + "\n"))
    assert len(table.cells) == 30_000
    assert table.rows[[19_999, 20_000, 20_001]].tolist() == [20_001, 20_002, 20_004]
