"""Canada's open hydrometric layouts: one named test a trap. Miniature files, invented stations and values."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.hydro.gauge_layouts import canada_narrow, canada_now, canada_service, canada_wide
from tests.hydro.test_sources_contract import only, read_bytes


class TestNarrow:
    def test_level_rows_below_a_repeated_header_are_left_out(self, tmp_path: Path) -> None:
        text = canada_narrow() + " ID,PARAM,Date,Value,SYM\n 99XX001,2,2021/03/01,1.234,\n"
        file = read_bytes(tmp_path, text.encode())
        assert len(only(file).frame) == 6
        assert any("repeated header" in n for n in file.notes)
        assert any("water level" in s for s in file.not_discharge)

    def test_level_alone_is_refused(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, canada_narrow().replace("99XX001,1,", "99XX001,2,").encode())
        assert file.series == () and "water level" in file.problems[0].expected

    def test_a_dry_day_is_zero_and_ice_leaves_the_value(self, tmp_path: Path) -> None:
        rows = ["2021/03/01,,D", "2021/03/02,0.5,B", "2021/03/03,,B", "2021/03/04,1,A", "2021/03/05,2,"]
        text = " ID,PARAM,Date,Value,SYM\n" + "".join(f" 99XX001,1,{r}\n" for r in rows)
        series = only(read_bytes(tmp_path, text.encode()))
        assert series.values.iloc[0] == 0
        assert series.values.iloc[1] == 0.5
        assert np.isnan(series.values.iloc[2])
        assert series.frame["flags"].tolist() == ["dry", "ice", "ice", "partial-day", ""]
        assert (series.frame["approval"] == "unknown").all()  # “A” is a partial day here, no approval

    def test_days_of_the_year(self, tmp_path: Path) -> None:
        text = " ID,PARAM,YEAR,DAY,Value,SYM\n 99XX001,1,2020,60,1.5,\n 99XX001,1,2020,61,2,\n"
        assert only(read_bytes(tmp_path, text.encode())).frame.index[0] == pd.Timestamp("2020-02-29")


class TestWide:
    def test_symbol_columns_share_a_name_and_months_go_by_position(self, tmp_path: Path) -> None:
        assert "AVR,SYM,MAY,SYM" in canada_wide()
        series = only(read_bytes(tmp_path, canada_wide().encode()))
        assert series.frame["flags"].tolist()[3] == "estimated"

    def test_days_that_do_not_exist_are_left_out_when_empty_and_a_problem_when_not(self, tmp_path: Path) -> None:
        lead = ["99XX001", "1", "1", "2021", "30"]
        cells = ["", ""] * 12
        cells[0] = cells[4] = "1"
        head = canada_wide().split("\n")[0]
        series = only(read_bytes(tmp_path, f"{head}\n{','.join([*lead, *cells])}\n".encode()))
        assert pd.Timestamp("2021-01-30") in series.frame.index
        cells[2] = "7"
        file = read_bytes(tmp_path, f"{head}\n{','.join([*lead, *cells])}\n".encode())
        assert "does not exist" in file.problems[0].expected
        assert file.problems[0].row == 2

    def test_the_padding_of_whole_years_is_no_record(self, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, canada_wide().encode()))
        assert series.frame.index[0] == pd.Timestamp("2021-03-01")
        assert series.frame.index[-1] == pd.Timestamp("2021-03-06")

    def test_level_rows_are_left(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, canada_wide().replace("99XX001,1,1", "99XX001,2,9").encode())
        assert file.series == () and "water level" in file.problems[0].expected


class TestService:
    def test_the_mark_and_the_blank_before_the_first_name_do_not_hide_it(self, tmp_path: Path) -> None:
        assert canada_service().startswith("\ufeff ID")
        assert only(read_bytes(tmp_path, canada_service().encode())).origins[0].station == "99XX001"

    def test_a_persons_own_table_with_such_columns_is_not_taken_for_the_services(self, tmp_path: Path) -> None:
        text = "ID,Date,Parameter,Value (cfs)\n" + "".join(f"S1,2021-03-0{d},Discharge,{d}\n" for d in range(1, 8))
        file = read_bytes(tmp_path, text.encode())
        assert file.format == "delimited text"
        assert only(file).origins[0].unit == "cfs"

    def test_a_header_alone_says_that_nothing_was_found(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, canada_service().split("\r\n")[0].encode())
        assert "found nothing" in file.problems[0].expected

    @pytest.mark.parametrize("code", ["46", "3", "water level/niveau d'eau"])
    def test_levels_by_number_or_words_are_refused(self, tmp_path: Path, code: str) -> None:
        file = read_bytes(tmp_path, canada_now().replace(",47,", f",{code},").encode())
        assert file.series == () and "water level" in file.problems[0].expected

    def test_two_stations_are_two_series(self, tmp_path: Path) -> None:
        rows = canada_service().split("\r\n", 1)[1]
        file = read_bytes(tmp_path, (canada_service() + rows.replace("99XX001", "99XX002")).encode())
        assert [s.origins[0].station for s in file.series] == ["99XX001", "99XX002"]


class TestMart:
    HEAD = (
        "ID,Date,Water Level / Niveau d'eau (m),Grade,Symbol / Symbole,QA/QC,"
        "Discharge / Débit (cms),Grade,Symbol / Symbole,QA/QC\n"
    )

    def test_columns_of_one_name_go_by_their_place(self, tmp_path: Path) -> None:
        rows = (
            "99XX001,2021-03-01T00:00:00-06:00,1.2,,B,1,0.5,,E,4\n99XX001,2021-03-01T00:05:00-06:00,1.2,,,1,0.6,,,1\n"
        )
        file = read_bytes(tmp_path, (self.HEAD + rows).encode())
        series = only(file)
        assert series.values.tolist() == [0.5, 0.6]
        assert series.frame["flags"].tolist() == ["estimated", ""]
        assert series.frame["approval"].tolist() == ["approved", "provisional"]
        assert series.frame.index[0] == pd.Timestamp("2021-03-01T06:00Z")
        assert any("Water Level" in s for s in file.not_discharge)
