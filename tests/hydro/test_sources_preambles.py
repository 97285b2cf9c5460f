"""Text with header lines above it: “#” headers, GRDC, Bavaria. One named test a trap; invented stations and values."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydro.problems import InputError
from hydro.sources.gauge_file import ReadChoices
from tests.hydro.gauge_layouts import bavaria, grdc, hash_header
from tests.hydro.test_sources_contract import only, read_bytes


class TestHashHeader:
    def test_the_header_row_that_begins_with_a_hash_is_the_header(self, tmp_path: Path) -> None:
        origin = only(read_bytes(tmp_path, hash_header().encode())).origins[0]
        assert (origin.station, origin.unit, origin.unit_from) == ("99901", "m3/s", "header lines")

    def test_quality_numbers(self, tmp_path: Path) -> None:
        numbers = ["31", "36", "46", "101", "254", "99"]
        rows = [f"2021-03-01T0{i}:00:00.000Z;1.5;{q}" for i, q in enumerate(numbers)]
        head = "\n".join(hash_header().split("\n")[:5])
        file = read_bytes(tmp_path, "\n".join([head, *rows]).encode())
        series = only(file)
        assert series.frame["flags"].tolist() == ["", "fair", "suspect", "erroneous", "", "quality-99"]
        assert series.frame["approval"].tolist()[4] == "provisional"
        assert any("erroneous" in n for n in file.notes)

    @pytest.mark.parametrize("quality", ["-1", "255"])
    def test_a_quality_that_says_missing_outweighs_the_number_beside_it(self, tmp_path: Path, quality: str) -> None:
        text = hash_header().replace("00:45:00.000Z;0.75;110", f"00:45:00.000Z;0.75;{quality}")
        file = read_bytes(tmp_path, text.encode())
        assert np.isnan(only(file).values.iloc[3])
        assert any("were read as missing" in n for n in file.notes)

    def test_names_of_qualities_come_with_loggers_that_keep_gmt(self, tmp_path: Path) -> None:
        head = "#station_no;99902\n#ts_unitsymbol;m³/s\n#Timestamp;Value;Quality Code Name\n"
        rows = "2024-07-01 01:00:00;0.5;Good\n2024-07-01 01:15:00;;Suspect\n2024-07-01 01:30:00;0.7;Unchecked\n"
        series = only(read_bytes(tmp_path, (head + rows).encode(), time_zone="America/Chicago"))
        assert series.frame.index[0] == pd.Timestamp("2024-07-01T01:00Z")
        assert np.isnan(series.values.iloc[1])
        assert series.frame["flags"].tolist() == ["", "suspect", ""]
        assert series.frame["approval"].tolist() == ["approved", "unknown", "provisional"]

    def test_other_stamps_without_a_zone_ask_for_it(self, tmp_path: Path) -> None:
        text = hash_header().replace(".000Z", "")
        assert "time zone" in read_bytes(tmp_path, text.encode()).problems[0].expected
        series = only(read_bytes(tmp_path, text.encode(), time_zone="UTC+01:00"))
        assert series.frame.index[0] == pd.Timestamp("2021-02-28T23:00Z")

    @pytest.mark.parametrize("unit", ["m", "°C", "mm"])
    def test_level_temperature_and_rain_are_refused(self, tmp_path: Path, unit: str) -> None:
        file = read_bytes(tmp_path, hash_header(unit).encode())
        assert file.series == () and "unit of" in file.problems[0].expected

    def test_a_unit_that_is_not_said_is_asked_for(self, tmp_path: Path) -> None:
        text = hash_header().replace("#ts_unitsymbol;m³/s\n", "")
        assert "unit" in read_bytes(tmp_path, text.encode()).problems[0].expected
        assert only(read_bytes(tmp_path, text.encode(), unit="ML/d")).origins[0].unit_from == "asked for"

    def test_blocks_below_each_other_are_series_of_their_own(self, tmp_path: Path) -> None:
        text = hash_header() + hash_header().replace("99901", "99902") + hash_header("m").replace("99901", "99903")
        file = read_bytes(tmp_path, text.encode())
        assert [s.origins[0].station for s in file.series] == ["99901", "99902"]
        assert file.series[1].frame["row"].iloc[0] == 17
        with pytest.raises(InputError, match="99902"):
            file.only_series(ReadChoices())

    def test_a_ragged_row_is_mended_or_reported(self, tmp_path: Path) -> None:
        text = hash_header().replace("00:45:00.000Z;0.75;110", "00:45:00.000Z;0.75;110;surplus")
        (problem,) = read_bytes(tmp_path, text.encode()).problems
        assert problem.row == 9 and problem.value == "surplus"

    def test_zero_is_a_number_like_any_other(self, tmp_path: Path) -> None:
        text = hash_header("cumec").replace(";1.5;", ";0.000;")
        assert only(read_bytes(tmp_path, text.encode())).values.iloc[0] == 0


class TestGrdc:
    def test_a_flag_of_minus_999_says_no_correction_and_the_value_stands(self, tmp_path: Path) -> None:
        head = grdc("YYYY-MM-DD;hh:mm; Original; Calculated; Flag").split("2021-03-01")[0]
        rows = ["2021-03-01;--:--;   2.500;   2.500; -999;", "2021-03-02;--:--;   3.500; -999.000;  99;"]
        series = only(read_bytes(tmp_path, (head + "\r\n".join(rows)).encode()))
        assert series.values.tolist() == [2.5, 3.5]
        assert series.frame["flags"].tolist() == ["", "flag-99"]

    def test_a_calculated_value_fills_a_missing_original_and_says_so(self, tmp_path: Path) -> None:
        head = grdc("YYYY-MM-DD;hh:mm; Original; Calculated; Flag").split("2021-03-01")[0]
        rows = ["2021-03-01;--:--; -999.000;   2.500; 1;", "2021-03-02;--:--;  -999.000; -999.000; -999;"]
        series = only(read_bytes(tmp_path, (head + "\r\n".join(rows)).encode()))
        assert series.values.iloc[0] == 2.5 and np.isnan(series.values.iloc[1])
        assert "calculated" in series.frame["flags"].iloc[0]

    def test_days_that_do_not_exist_are_padding_and_minus_ten_elsewhere_is_a_value(self, tmp_path: Path) -> None:
        text = grdc().replace("2021-03-06;--:--; 2.5;", "2021-02-30;--:--; -10.000;\r\n2021-03-06;--:--; -10.000;")
        file = read_bytes(tmp_path, text.replace("Data lines: 6", "Data lines: 7").encode())
        series = only(file)
        assert series.values.iloc[-1] == -10
        assert any("do not exist" in n for n in file.notes)
        assert any("negative" in n for n in file.notes)

    def test_a_value_on_a_day_that_does_not_exist_is_a_problem(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, grdc().replace("2021-03-06;--:--; 2.5;", "2021-02-30;--:--; 2.5;").encode())
        assert file.problems[0].value is not None and "2021-02-30" in file.problems[0].value

    def test_monthly_files_are_refused(self, tmp_path: Path) -> None:
        text = grdc()
        for d in range(1, 7):
            text = text.replace(f"2021-03-0{d}", f"2021-0{d}-00")
        assert "monthly" in read_bytes(tmp_path, text.encode()).problems[0].expected

    def test_latin_1_bytes_do_not_hide_the_unit(self, tmp_path: Path) -> None:
        assert only(read_bytes(tmp_path, grdc().encode("latin-1"))).origins[0].unit == "m3/s"

    def test_fewer_lines_than_promised_are_told(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, grdc().replace("Data lines: 6", "Data lines: 9").encode())
        assert any("cut off" in n for n in file.notes)

    def test_a_file_without_its_comment_lines(self, tmp_path: Path) -> None:
        text = grdc()[grdc().index("YYYY-MM-DD") :]
        assert len(only(read_bytes(tmp_path, text.encode())).frame) == 6


class TestBavaria:
    def test_decimal_commas_and_words_for_approval(self, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, bavaria().encode("utf-8-sig")))
        assert series.values.iloc[3] == 0.75
        assert series.origins[0].station == "99999999"

    def test_latin_1_is_read_too(self, tmp_path: Path) -> None:
        assert only(read_bytes(tmp_path, bavaria().encode("latin-1"))).frame["approval"].iloc[5] == "provisional"

    def test_the_extremes_beside_the_mean_are_named_and_left(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, bavaria().replace("1,5;;;", "1,5;2,5;0,5;").encode())
        assert only(file).values.iloc[0] == 1.5
        assert len(file.not_discharge) == 2

    def test_water_levels_are_refused(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, bavaria("Wasserstand [cm]").encode())
        assert file.series == () and "water level" in file.problems[0].expected

    def test_a_preamble_without_a_unit_asks(self, tmp_path: Path) -> None:
        text = bavaria().replace("Wert:;Abfluss [m³/s]\n", "")
        assert "unit" in read_bytes(tmp_path, text.encode()).problems[0].expected
        assert only(read_bytes(tmp_path, text.encode(), unit="m3/s")).values.iloc[0] == 1.5

    def test_a_raised_digit_in_the_number_of_lines_is_no_number(self, tmp_path: Path) -> None:
        text = grdc().replace("Data lines: 6", "Data lines: ³6").replace("\r\n2021-03-06;--:--; 2.5;", "")
        assert not any("promises" in n for n in read_bytes(tmp_path, text.encode()).notes)
