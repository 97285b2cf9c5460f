"""People's own tables: every trap of delimited gauge files as a named test. Stations and values are invented."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydro.discharge import Discharge
from hydro.problems import InputError
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.recognise import read_gauge_file

CFS = 0.3048**3  # 1 ft = 0.3048 m exactly (NIST SP 811, appendix B)


def read(folder: Path, text: str | bytes, name: str = "gauge.csv", **choices: object) -> GaugeFile:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_gauge_file(path, ReadChoices(**choices), shown_as=name)  # type: ignore[arg-type]


def only(file: GaugeFile) -> Discharge:
    assert file.problems == ()
    (series,) = file.series
    return series


def values(series: Discharge) -> list[float]:
    return [round(v, 9) for v in series.values]


DAYS = "2020-01-01,{}\n2020-01-02,{}\n2020-01-03,{}\n2020-01-04,{}\n"


def daily(header: str, *cells: str) -> str:
    rows = [f"2020-01-{i:02d},{cell}" for i, cell in enumerate(cells, start=1)]
    return "\n".join([header, *rows]) + "\n"


class TestLayouts:
    def test_a_plain_daily_table_is_read(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, daily("Date,Flow (cfs)", "40", "41.5", "0", "39")))
        assert series.step == "daily"
        assert series.values.iloc[0] == pytest.approx(1.13267386368, abs=1e-14)  # 40 × 0.3048³
        assert series.values.iloc[2] == 0.0
        assert series.frame["row"].tolist() == [2, 3, 4, 5]
        origin = series.origins[0]
        assert (origin.unit, origin.unit_from, origin.series, origin.format) == (
            "cfs", "header", "Flow (cfs)", "delimited text",
        )  # fmt: skip
        assert len(origin.digest) == 64

    @pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
    def test_each_separator_is_found(self, tmp_path: Path, separator: str) -> None:
        text = daily("Date,Q [m3/s]", "1.5", "1.25", "1.1").replace(",", separator)
        assert values(only(read(tmp_path, text))) == [1.5, 1.25, 1.1]

    def test_blanks_separate_too(self, tmp_path: Path) -> None:
        text = "date flow_m3s\n2020-01-01  1.5\n2020-01-02   1.25\n"
        assert values(only(read(tmp_path, text))) == [1.5, 1.25]

    def test_a_sep_line_is_obeyed(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "sep=;\nDate;Q (l/s)\n2020-01-01;1,5\n2020-01-02;2,5\n"))
        assert values(series) == [0.0015, 0.0025]
        assert series.frame["row"].tolist() == [3, 4]

    @pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
    def test_encodings(self, tmp_path: Path, encoding: str) -> None:
        text = "Datum;Abfluss [m³/s]\n31.01.2020;1,5\n01.02.2020;1,6\n".encode(encoding)
        series = only(read(tmp_path, text))
        assert values(series) == [1.5, 1.6]
        assert series.origins[0].unit == "m3/s"

    @pytest.mark.parametrize("end", ["\r\n", "\r"])
    def test_line_ends_of_other_systems(self, tmp_path: Path, end: str) -> None:
        text = daily("Date,Flow (cfs)", "1", "2", "3").replace("\n", end)
        assert only(read(tmp_path, text.encode())).frame["row"].tolist() == [2, 3, 4]

    def test_lines_above_the_header_are_passed_over(self, tmp_path: Path) -> None:
        text = "Fernless springs\nPeriod from,2020-01-01\nPeriod to,2020-01-03\nExported,2021-05-05\n\n"
        series = only(read(tmp_path, text + daily("Date,Flow (cfs)", "1", "2", "3")))
        assert series.frame["row"].tolist() == [7, 8, 9]

    def test_a_preamble_of_marked_lines_with_a_marked_header(self, tmp_path: Path) -> None:
        text = (
            "#station_name;Invented beck\n#station_no;99901\n#ts_unitsymbol;m³/s\n#rows;2\n"
            "#Timestamp;Value;Quality Code\n2026-03-07T16:35:00.000Z;0.5;31\n2026-03-07T16:50:00.000Z;0.6;254\n"
        )
        series = only(read(tmp_path, text))
        assert values(series) == [0.5, 0.6]
        assert series.step == "PT15M"
        assert series.frame["approval"].tolist() == ["approved", "provisional"]
        assert series.origins[0].unit_from == "header lines"

    def test_units_in_a_second_row(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Date,Discharge\nyyyy-mm-dd,L/s\n2020-01-01,40\n2020-01-02,41\n"))
        assert values(series) == [0.04, 0.041]
        assert series.origins[0].unit_from == "second row"

    def test_a_logger_with_four_quoted_lines_above(self, tmp_path: Path) -> None:
        text = (
            '"ENV","Invented logger"\n"TIMESTAMP","RECORD","Flow","Batt"\n"TS","RN","m3/s","V"\n"","","Avg","Min"\n'
            '"2004-11-11 15:03:45",0,13.7,12.1\n"2004-11-11 15:18:45",1,"NAN",12.1\n"2004-11-11 15:33:45",2,13.5,12.0\n'
        )
        series = only(read(tmp_path, text, time_zone="UTC"))
        assert values(series)[0] == 13.7
        assert np.isnan(series.values.iloc[1])
        assert series.frame["flags"].tolist() == ["", "missing", ""]
        assert series.frame["row"].tolist() == [5, 6, 7]

    def test_no_header_asks_for_the_unit(self, tmp_path: Path) -> None:
        text = "2020-01-01,5\n2020-01-02,6\n"
        (problem,) = read(tmp_path, text).problems
        assert "unit" in problem.expected
        assert values(only(read(tmp_path, text, unit="m3/s"))) == [5, 6]

    def test_a_quoted_cell_may_hold_separators_and_line_ends(self, tmp_path: Path) -> None:
        text = 'Date,Note,Flow (m3/s)\n2020-01-01,"ice, then\nthaw",1\n2020-01-02,,2\n'
        series = only(read(tmp_path, text))
        assert series.frame["row"].tolist() == [2, 4]

    def test_trailing_separators_of_a_spreadsheet_are_harmless(self, tmp_path: Path) -> None:
        text = "Datum;Q [m³/s];;\n31.01.2020;1,5;;\n01.02.2020;1,6;;\n;;;\n;;;\n"
        file = read(tmp_path, text)
        assert values(only(file)) == [1.5, 1.6]

    def test_totals_below_the_data_are_left_out_and_noted(self, tmp_path: Path) -> None:
        file = read(tmp_path, daily("Date,Flow (m3/s)", "1", "2", "3") + "Mean,2\nMax,3\n")
        assert values(only(file)) == [1, 2, 3]
        assert any("below the data" in note for note in file.notes)

    def test_a_header_repeated_inside_is_left_out(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s)\n2020-01-01,1\nDate,Flow (m3/s)\n2020-01-02,2\n2020-01-03,3\n")
        assert values(only(file)) == [1, 2, 3]
        assert any("repeated header" in note for note in file.notes)

    def test_a_row_with_too_many_cells_is_a_problem_with_its_row(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (cfs)\n2020-01-01,900\n2020-01-02,1,234\n2020-01-03,950\n")
        (problem,) = file.problems
        assert (problem.row, problem.value) == (3, "234")

    def test_surplus_empty_cells_are_mended_and_noted(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (cfs)\n2020-01-01,900\n2020-01-02,905,,\n")
        assert len(only(file).frame) == 2
        assert any("surplus empty" in note for note in file.notes)

    def test_a_cut_off_last_line_is_noted(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (cfs)\n2020-01-01,900\n2020-01-02")
        assert any("cut off" in note for note in file.notes)


class TestDates:
    def test_day_first_is_proven_by_the_whole_column(self, tmp_path: Path) -> None:
        text = "Date,Flow (m3/s)\n" + "".join(f"{d:02d}/02/2020,{d}\n" for d in range(1, 15))
        series = only(read(tmp_path, text))
        assert series.frame.index[0] == pd.Timestamp("2020-02-01")
        assert "proven by “13/02/2020”" in series.origins[0].clock

    def test_an_open_order_of_day_and_month_is_asked_for(self, tmp_path: Path) -> None:
        text = "Date,Flow (m3/s)\n03/04/2020,1\n04/04/2020,2\n"
        (problem,) = read(tmp_path, text).problems
        assert "day_first" in problem.expected
        assert only(read(tmp_path, text, day_first=True)).frame.index[0] == pd.Timestamp("2020-04-03")
        assert only(read(tmp_path, text, day_first=False)).frame.index[0] == pd.Timestamp("2020-03-04")

    def test_a_choice_against_the_proof_is_a_problem(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, "Date,Flow (m3/s)\n13/04/2020,1\n14/04/2020,2\n", day_first=False).problems
        assert "13/04/2020" in problem.expected

    def test_a_column_with_both_orders_is_refused_whole(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s)\n13/04/2020,1\n04/14/2020,2\n")
        assert file.series == ()
        assert "only month first" in file.problems[-1].expected

    def test_two_digit_years_are_refused(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s)\n03/24/11,1\n03/25/11,2\n")
        assert {p.row for p in file.problems} == {2, 3}
        assert "four digits" in file.problems[0].expected

    def test_an_impossible_date_is_a_problem_with_its_row(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s)\n2020-02-28,1\n2020-02-30,2\n2020-03-01,3\n")
        (problem,) = file.problems
        assert (problem.row, problem.column, problem.value) == (3, "Date", "2020-02-30")
        assert len(file.series[0].frame) == 2

    def test_dates_half_changed_by_a_spreadsheet_are_a_problem(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s)\n2020-01-31,1\n01/02/2020,2\n2020-02-02,3\n")
        assert [p.row for p in file.problems] == [3]

    def test_a_blank_date_is_a_problem(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, "Date,Flow (m3/s)\n2020-01-31,1\n,2\n2020-02-02,3\n").problems
        assert problem.row == 3

    def test_year_and_day_of_year_in_columns_of_their_own(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Year,DOY,Q (m3/s)\n2020,59,1\n2020,60,2\n2020,61,3\n"))
        assert [str(d.date()) for d in series.frame.index] == ["2020-02-28", "2020-02-29", "2020-03-01"]

    def test_a_day_of_year_that_does_not_exist_is_a_problem(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, "Year,DOY,Q (m3/s)\n2019,365,1\n2019,366,2\n2020,1,3\n").problems
        assert problem.row == 3

    def test_month_names(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Date,Flow (m3/s)\n1-Mar-2020,1\n2-Mar-2020,2\n"))
        assert series.frame.index[0] == pd.Timestamp("2020-03-01")

    def test_two_date_columns_that_differ_are_asked_about(self, tmp_path: Path) -> None:
        text = "Date,Day,Flow (m3/s)\n2020-01-01,2021-01-01,1\n2020-01-02,2021-01-02,2\n"
        (problem,) = read(tmp_path, text).problems
        assert "date_column" in problem.expected
        assert only(read(tmp_path, text, date_column="day")).frame.index[0] == pd.Timestamp("2021-01-01")

    def test_day_numbers_of_a_spreadsheet_in_text_are_no_dates(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s)\n43831,1\n43832,2\n43833,3\n")
        assert file.series == ()
        assert [p.row for p in file.problems] == [2, 3, 4]
        assert "spreadsheet's number of a day" in file.problems[0].expected


class TestClock:
    QUARTERS = "Date,Time,Flow (m3/s)\n2020-01-31,00:00,1\n2020-01-31,00:15,2\n2020-01-31,00:30,3\n"

    def test_date_and_time_in_separate_columns(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, self.QUARTERS, time_zone="UTC-06:00"))
        assert series.step == "PT15M"
        assert series.frame.index[0] == pd.Timestamp("2020-01-31 06:00", tz="UTC")

    def test_a_clock_without_zone_is_asked_for(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, self.QUARTERS).problems
        assert "time_zone" in problem.expected

    def test_an_unknown_zone_is_a_problem(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, self.QUARTERS, time_zone="Middle/Earth").problems
        assert problem.value == "Middle/Earth"

    def test_a_date_with_a_blank_time_is_a_problem(self, tmp_path: Path) -> None:
        text = self.QUARTERS.replace("00:15", "")
        (problem,) = read(tmp_path, text, time_zone="UTC").problems
        assert problem.row == 3

    def test_am_and_pm(self, tmp_path: Path) -> None:
        text = "When,Flow (m3/s)\n12/31/2020 11:45:00 PM,1\n01/01/2021 12:00:00 AM,2\n01/01/2021 12:15:00 AM,3\n"
        series = only(read(tmp_path, text, time_zone="UTC"))
        assert series.frame.index[1] == pd.Timestamp("2021-01-01", tz="UTC")

    def test_2400_is_the_end_of_the_day(self, tmp_path: Path) -> None:
        text = "When,Flow (m3/s)\n2020-01-31 23:00,1\n2020-01-31 24:00,2\n2020-02-01 01:00,3\n"
        series = only(read(tmp_path, text, time_zone="UTC"))
        assert series.step == "PT1H"
        assert series.frame.index[1] == pd.Timestamp("2020-02-01", tz="UTC")

    def test_daily_stamps_at_2400_belong_to_the_day_that_ended(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "When,Flow (m3/s)\n2020-01-31 24:00,1\n2020-02-01 24:00,2\n"))
        assert [str(d.date()) for d in series.frame.index] == ["2020-01-31", "2020-02-01"]

    def test_stamps_once_a_day_are_civil_days(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "When,Flow (m3/s)\n2020-01-31T09:00:00,1\n2020-02-01T09:00:00,2\n"))
        assert series.step == "daily"
        assert series.frame.index[0] == pd.Timestamp("2020-01-31")

    def test_an_offset_in_the_header_is_used(self, tmp_path: Path) -> None:
        text = '"Date Time, GMT-05:00","Flow, cfs"\n2020-06-30 00:00,1\n2020-06-30 00:15,2\n2020-06-30 00:30,3\n'
        file = read(tmp_path, text, time_zone="America/Chicago")
        assert only(file).frame.index[0] == pd.Timestamp("2020-06-30 05:00", tz="UTC")
        assert any("not America/Chicago" in note for note in file.notes)

    def test_offsets_in_the_stamps_are_used_row_by_row(self, tmp_path: Path) -> None:
        text = "t,Flow (m3/s)\n2020-10-25T02:45:00+02:00,1\n2020-10-25T02:00:00+01:00,2\n2020-10-25T02:15:00+01:00,3\n"
        series = only(read(tmp_path, text))
        assert series.frame.index[0] == pd.Timestamp("2020-10-25 00:45", tz="UTC")
        assert series.step == "PT15M"

    def test_letters_for_a_zone_are_asked_about_and_not_guessed(self, tmp_path: Path) -> None:
        file = read(tmp_path, "time,Flow (cfs)\n2021-03-01 00:00 CST,1\n2021-03-01 00:15 CST,2\n")
        assert file.series == ()
        assert [(p.row, p.value) for p in file.problems] == [(2, "2021-03-01 00:00 CST"), (3, "2021-03-01 00:15 CST")]
        assert "time_zone" in file.problems[0].expected

    def test_a_naive_stamp_among_zoned_ones_needs_a_zone(self, tmp_path: Path) -> None:
        text = "t,Flow (m3/s)\n2026-06-19T08:00:00Z,1\n2026-06-19T08:15:00Z,2\n2026-06-19T08:30:00,3\n"
        (problem,) = read(tmp_path, text).problems
        assert problem.row == 4
        assert only(read(tmp_path, text, time_zone="UTC")).step == "PT15M"

    def test_both_passes_of_the_repeated_hour_are_told_apart(self, tmp_path: Path) -> None:
        clock = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
        text = "t,Flow (m3/s)\n" + "".join(f"2020-11-01 {c},{i}\n" for i, c in enumerate(clock))
        series = only(read(tmp_path, text, time_zone="America/Chicago"))
        assert series.step == "PT30M"
        assert series.values.tolist() == [0, 1, 2, 3, 4, 5]
        assert series.frame.index[0] == pd.Timestamp("2020-11-01 05:30", tz="UTC")

    def test_a_repeated_hour_in_a_file_that_runs_backwards(self, tmp_path: Path) -> None:
        clock = ["00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
        rows = [f"2020-11-01 {c},{i}\n" for i, c in enumerate(clock)]
        series = only(read(tmp_path, "t,Flow (m3/s)\n" + "".join(rows[::-1]), time_zone="America/Chicago"))
        assert series.values.tolist() == [0, 1, 2, 3, 4, 5]

    def test_a_single_pass_of_the_repeated_hour_is_noted(self, tmp_path: Path) -> None:
        clock = ["00:00", "00:30", "01:00", "01:30", "02:00", "02:30"]
        text = "t,Flow (m3/s)\n" + "".join(f"2020-11-01 {c},{i}\n" for i, c in enumerate(clock))
        file = read(tmp_path, text, time_zone="America/Chicago")
        assert any("2020-11-01" in note and "only once" in note for note in file.notes)

    def test_a_clock_time_that_does_not_exist_is_a_problem(self, tmp_path: Path) -> None:
        text = "t,Flow (m3/s)\n2020-03-08 01:30,1\n2020-03-08 02:00,2\n2020-03-08 02:30,3\n2020-03-08 03:00,4\n"
        file = read(tmp_path, text, time_zone="America/Chicago")
        assert [p.row for p in file.problems] == [3, 4]
        assert len(only(read(tmp_path, text, time_zone="UTC-06:00")).frame) == 4

    def test_an_irregular_step_is_said(self, tmp_path: Path) -> None:
        text = "t,Flow (m3/s)\n2020-03-08T01:30Z,1\n2020-03-08T02:00Z,2\n2020-03-08T02:07Z,3\n2020-03-08T05:00Z,4\n"
        series = only(read(tmp_path, text))
        assert series.step == "irregular"
        assert series.gaps().empty

    def test_a_step_that_changes_within_a_file_is_said_with_both_steps(self, tmp_path: Path) -> None:
        clocks = [f"{h:02d}:{m:02d}" for h in range(12) for m in (0, 15, 30, 45)]
        clocks += [f"{h:02d}:{m:02d}" for h in range(12, 24) for m in (0, 30)]
        text = "t,Flow (m3/s)\n" + "".join(f"2020-03-08T{c}Z,{i}\n" for i, c in enumerate(clocks, start=1))
        (note,) = only(read(tmp_path, text)).notes
        assert "PT15M 48 times and PT30M 23 times" in note


class TestNumbers:
    def test_a_blank_is_not_a_zero(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, daily("Date,Flow (cfs)", "5", "", "0")))
        assert np.isnan(series.values.iloc[1])
        assert series.values.iloc[2] == 0
        assert series.raw.empty

    def test_exact_fillers_become_missing_before_the_unit_is_converted(self, tmp_path: Path) -> None:
        file = read(tmp_path, daily("Date,Flow (cfs)", "5", "-999", "-9999.0", "-998", "-999999"))
        series = only(file)
        assert series.frame["flags"].tolist() == ["", "sentinel", "sentinel", "", "sentinel"]
        assert series.values.iloc[3] == pytest.approx(-998 * CFS)
        assert series.raw.tolist() == ["-999", "-9999.0", "-999999"]
        assert any("filler" in note for note in file.notes)

    def test_codes_instead_of_numbers(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, daily("Date,Flow (cfs)", "5", "Ice", "Dry", "Eqp", "***", "n/a", "6")))
        assert series.frame["flags"].tolist() == ["", "ice", "dry", "equipment", "unavailable", "missing", ""]
        assert series.values.iloc[2] == 0
        assert series.values.isna().tolist() == [False, True, False, True, True, True, False]
        assert series.raw.tolist() == ["Ice", "Dry", "Eqp", "***", "n/a"]

    def test_other_text_is_a_problem_with_its_row(self, tmp_path: Path) -> None:
        file = read(tmp_path, daily("Date,Flow (cfs)", "5", "about six", "7", "8"))
        (problem,) = file.problems
        assert (problem.row, problem.value) == (3, "about six")
        assert len(file.series[0].frame) == 3

    def test_a_spreadsheet_error_is_a_problem(self, tmp_path: Path) -> None:
        assert read(tmp_path, daily("Date,Flow (cfs)", "5", "#DIV/0!", "7", "8")).problems[0].row == 3

    def test_decimal_commas(self, tmp_path: Path) -> None:
        text = "Datum;Q (m3/s)\n31.01.2020;1,5\n01.02.2020;1.234,25\n02.02.2020;12\n"
        assert values(only(read(tmp_path, text))) == [1.5, 1234.25, 12]

    def test_grouped_thousands(self, tmp_path: Path) -> None:
        text = 'Date,Flow (cfs)\n2020-01-01,"1,234"\n2020-01-02,950\n2020-01-03,"12,345,678.5"\n'
        assert only(read(tmp_path, text)).values.iloc[0] == pytest.approx(1234 * CFS)

    def test_a_comma_that_could_be_either_is_asked_about(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, "Datum;Q (m3/s)\n31.01.2020;1,234\n01.02.2020;980\n").problems
        assert "1234 or 1.234" in problem.expected

    def test_a_dot_that_could_group_thousands_is_asked_about(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, "Datum;Q (m3/s)\n31.01.2020;1.234\n01.02.2020;980\n").problems
        assert "1234 or 1,234" in problem.expected

    def test_two_decimal_marks_in_one_column_are_a_problem(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Datum;Q (m3/s)\n31.01.2020;1,5\n01.02.2020;1,234,567\n")
        assert "decimal mark" in file.problems[0].expected

    def test_a_dot_in_a_column_of_commas_is_a_problem(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Datum;Q (m3/s)\n31.01.2020;1,5\n01.02.2020;2.5\n02.02.2020;3,5\n")
        assert [p.row for p in file.problems] == [3]

    def test_exponents(self, tmp_path: Path) -> None:
        assert values(only(read(tmp_path, daily("Date,Q (l/s)", "1E+03", "2.5e1")))) == [1, 0.025]

    def test_letters_behind_numbers_become_flags(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, daily("Date,Flow (m3/s)", "5", "6e", "7 P", "8 A")))
        assert series.frame["flags"].tolist() == ["", "estimated", "", ""]
        assert series.frame["approval"].tolist() == ["unknown", "unknown", "provisional", "approved"]

    def test_a_bound_is_no_measurement(self, tmp_path: Path) -> None:
        file = read(tmp_path, daily("Date,Flow (m3/s)", "5", "<0.01", "7"))
        series = only(file)
        assert np.isnan(series.values.iloc[1])
        assert series.frame["flags"].iloc[1] == "less-than"
        assert any("bound" in note for note in file.notes)

    def test_negative_discharge_is_kept_and_noted(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, daily("Date,Flow (m3/s)", "5", "-0.5", "7")))
        assert series.values.iloc[1] == -0.5
        assert any("negative" in note for note in series.notes)


class TestUnits:
    @pytest.mark.parametrize(
        ("header", "unit", "forty"),
        [
            ("Flow (cfs)", "cfs", 1.13267386368),
            ("Discharge, cubic feet per second (Mean)", "cfs", 1.13267386368),
            ("Abfluss [m³/s]", "m3/s", 40.0),
            ("Q_m3s", "m3/s", 40.0),
            ("flow_cfs", "cfs", 1.13267386368),
            ("Débit (L/s)", "l/s", 0.04),
            ("caudal_l_s", "l/s", 0.04),
            ("Flow ML/d", "ML/d", 40 / 86.4),
            ("streamflow (ft&#179;/s)", "cfs", 1.13267386368),
        ],
    )
    def test_units_in_the_header(self, tmp_path: Path, header: str, unit: str, forty: float) -> None:
        series = only(read(tmp_path, daily(f'Date,"{header}"', "40", "40")))
        assert series.origins[0].unit == unit
        assert series.values.iloc[0] == pytest.approx(forty, rel=1e-12)

    def test_a_unit_that_nobody_states_is_asked_for(self, tmp_path: Path) -> None:
        text = daily("Date,Flow", "40", "41")
        (problem,) = read(tmp_path, text).problems
        assert problem.column == "Flow"
        assert "unit" in problem.expected
        series = only(read(tmp_path, text, unit="cubic feet per second"))
        assert (series.origins[0].unit, series.origins[0].unit_from) == ("cfs", "asked for")

    def test_a_chosen_unit_against_the_file_is_a_problem(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, daily("Date,Flow (cfs)", "40", "41"), unit="m3/s").problems
        assert problem.value == "m3/s"

    def test_a_unit_in_the_lines_above(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Station,Invented weir\nUnit,cfs\n" + daily("Date,Flow", "40", "41")))
        assert series.origins[0].unit_from == "lines above the table"

    def test_an_ambiguous_unit_is_asked_about_and_can_be_settled(self, tmp_path: Path) -> None:
        text = daily("Date,Flow (MGD)", "40", "41")
        (problem,) = read(tmp_path, text).problems
        assert "US MGD" in problem.expected
        assert only(read(tmp_path, text, unit="US MGD")).origins[0].unit == "US MGD"
        assert read(tmp_path, text, unit="cfs").problems

    def test_units_in_cells(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, daily("Date,Flow", "40 cfs", "41 cfs")))
        assert (series.origins[0].unit, series.origins[0].unit_from) == ("cfs", "cells")

    def test_mixed_units_in_cells_are_a_problem(self, tmp_path: Path) -> None:
        file = read(tmp_path, daily("Date,Flow", "3 cfs", "0.1 m3/s"))
        assert file.series == ()
        assert "one unit" in file.problems[0].expected

    def test_header_and_second_row_that_disagree_are_a_problem(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (cfs)\n,m3/s\n2020-01-01,40\n2020-01-02,41\n")
        assert "“cfs”" in file.problems[0].expected
        assert "“m3/s”" in file.problems[0].expected

    @pytest.mark.parametrize(
        "header",
        ["Stage (ft)", "Flow (ft)", "Water temp (°C)", "Abs Pres, kPa", "Level", "Rain (mm/d)", "Pegel", "Q (m)"],
    )
    def test_other_quantities_are_refused(self, tmp_path: Path, header: str) -> None:
        file = read(tmp_path, daily(f'Date,"{header}"', "4", "5"), unit="cfs")
        assert file.series == ()
        assert file.problems
        assert file.not_discharge

    def test_discharge_is_found_beside_stage_and_temperature(self, tmp_path: Path) -> None:
        text = "Date,Stage (ft),Flow (cfs),Water temp (C)\n2020-01-01,1.2,40,8\n2020-01-02,1.3,41,8\n"
        file = read(tmp_path, text)
        assert only(file).origins[0].series == "Flow (cfs)"
        assert len(file.not_discharge) == 2


class TestSeries:
    TWO = "Date,North (cfs),South (cfs)\n2020-01-01,1,10\n2020-01-02,2,20\n"

    def test_several_discharge_columns_are_all_listed(self, tmp_path: Path) -> None:
        file = read(tmp_path, self.TWO)
        assert file.problems == ()
        assert [s.origins[0].series for s in file.series] == ["North (cfs)", "South (cfs)"]
        with pytest.raises(InputError, match="North"):
            file.only_series(ReadChoices())
        chosen = file.only_series(ReadChoices(series="south (cfs)"))
        assert chosen.values.iloc[0] == pytest.approx(10 * CFS)
        with pytest.raises(InputError, match="South"):
            file.only_series(ReadChoices(series="east"))

    def test_a_column_can_be_chosen(self, tmp_path: Path) -> None:
        assert only(read(tmp_path, self.TWO, column="South (cfs)")).origins[0].series == "South (cfs)"
        (problem,) = read(tmp_path, self.TWO, column="West").problems
        assert "North" in problem.expected

    def test_unnamed_number_columns_are_asked_about(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, "Date,a,b\n2020-01-01,1,10\n2020-01-02,2,20\n", unit="cfs").problems
        assert "column" in problem.expected

    def test_only_the_mean_of_mean_minimum_and_maximum_is_taken(self, tmp_path: Path) -> None:
        text = (
            "Datum;Mittelwert [m³/s];Maximum [m³/s];Minimum [m³/s];Prüfstatus\n"
            "2020-01-31;1,5;2,5;1,0;Geprueft\n"
            "2020-02-01;1,4;;;Ungeprueft\n"
        )
        file = read(tmp_path, text)
        series = only(file)
        assert values(series) == [1.5, 1.4]
        assert series.frame["approval"].tolist() == ["approved", "provisional"]
        assert len(file.not_discharge) == 2
        assert values(read(tmp_path, text, series="Maximum [m³/s]").series[0])[0] == 2.5

    def test_stations_below_each_other_are_taken_apart(self, tmp_path: Path) -> None:
        text = "station,date,flow_cfs\n" + "".join(f"0{s},2020-01-0{d},{s}{d}\n" for s in (1, 2) for d in range(1, 5))
        file = read(tmp_path, text)
        assert [s.origins[0].station for s in file.series] == ["01", "02"]
        assert len(file.only_series(ReadChoices(series="02")).frame) == 4

    def test_stations_with_few_rows_each_are_not_taken_for_one(self, tmp_path: Path) -> None:
        text = "site,date,flow_cfs\nA,2020-01-01,1\nA,2020-01-02,2\nB,2020-01-01,5\nB,2020-01-02,6\n"
        file = read(tmp_path, text)
        assert [(s.origins[0].station, len(s.frame)) for s in file.series] == [("A", 2), ("B", 2)]
        assert file.notes == ()

    def test_a_column_that_numbers_the_rows_is_no_station(self, tmp_path: Path) -> None:
        text = "id,date,flow_cfs\n1,2020-01-01,1\n2,2020-01-02,2\n3,2020-01-03,3\n"
        assert len(only(read(tmp_path, text)).frame) == 3

    def test_rows_of_other_parameters_are_left_out(self, tmp_path: Path) -> None:
        text = (
            "Date,Parameter,Value\n"
            "2020-01-01,discharge,1\n"
            "2020-01-02,discharge,2\n"
            "2020-01-01,level,0.5\n"
            "2020-01-02,level,0.6\n"
        )
        file = read(tmp_path, text, unit="m3/s")
        assert values(only(file)) == [1, 2]
        assert "level" in file.not_discharge[0]


class TestFlags:
    def test_approval_and_remarks_beside_the_value(self, tmp_path: Path) -> None:
        text = (
            "Date,Flow (m3/s),Quality\n"
            "2020-01-01,1,A\n"
            "2020-01-02,2,P:e\n"
            "2020-01-03,3,provisional\n"
            "2020-01-04,,ice\n"
            "2020-01-05,5,house rule 7\n"
        )
        series = only(read(tmp_path, text))
        assert series.frame["approval"].tolist() == ["approved", "provisional", "provisional", "unknown", "unknown"]
        assert series.frame["flags"].tolist() == ["", "estimated", "", "ice", "house-rule-7"]

    def test_a_blank_marked_dry_is_zero(self, tmp_path: Path) -> None:
        file = read(tmp_path, "Date,Flow (m3/s),Flag\n2020-01-01,1,\n2020-01-02,,dry\n2020-01-03,,\n")
        series = only(file)
        assert series.values.iloc[1] == 0
        assert np.isnan(series.values.iloc[2])
        assert any("marked as dry" in note for note in file.notes)

    def test_symbols_of_canadian_exports_have_their_own_meaning(self, tmp_path: Path) -> None:
        text = "Date,Flow (m3/s),SYM\n2020/01/01,1,A\n2020/01/02,2,B\n2020/01/03,0,D\n2020/01/04,4,E\n"
        series = only(read(tmp_path, text))
        assert series.frame["flags"].tolist() == ["partial-day", "ice", "dry", "estimated"]
        assert set(series.frame["approval"]) == {"unknown"}


class TestOrder:
    def test_repeats_with_the_same_value_are_dropped_and_noted(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Date,Flow (m3/s)\n2020-01-01,1\n2020-01-01,1\n2020-01-02,2\n"))
        assert len(series.frame) == 2
        assert any("same stamp and value" in note for note in series.notes)
        assert "duplicate" not in set(series.frame["flags"])

    def test_repeats_with_different_values_keep_the_first_and_flag_it(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Date,Flow (m3/s)\n2020-01-01,1\n2020-01-01,9\n2020-01-02,2\n"))
        assert values(series) == [1, 2]
        assert series.frame["flags"].tolist() == ["duplicate", ""]
        assert series.frame["row"].tolist() == [2, 4]

    def test_a_number_is_kept_before_a_blank(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Date,Flow (m3/s)\n2020-01-01,\n2020-01-01,9\n2020-01-02,2\n"))
        assert values(series) == [9, 2]

    def test_reversed_rows_are_sorted_and_noted(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, "Date,Flow (m3/s)\n2020-01-03,3\n2020-01-02,Ice\n2020-01-01,1\n"))
        assert series.frame["row"].tolist() == [4, 3, 2]
        assert series.raw.index.tolist() == [pd.Timestamp("2020-01-02")]
        assert any("backwards" in note for note in series.notes)

    def test_a_stuck_sensor_is_doubted(self, tmp_path: Path) -> None:
        rows = [
            f"{d.date()},{7.1 if 10 < i < 40 else i}\n" for i, d in enumerate(pd.date_range("2020-01-01", periods=60))
        ]
        series = only(read(tmp_path, "Date,Flow (m3/s)\n" + "".join(rows)))
        assert any("stuck" in note and "2020-01-12 to 2020-02-09" in note for note in series.notes)

    def test_zeros_that_begin_at_once_are_doubted_and_a_slow_end_is_not(self, tmp_path: Path) -> None:
        sudden = only(read(tmp_path, daily("Date,Flow (m3/s)", "5", "5.1", "0", "0", "5.2")))
        slow = only(read(tmp_path, daily("Date,Flow (m3/s)", "5", "1", "0.05", "0", "0")))
        assert any("exactly 0" in note for note in sudden.notes)
        assert not any("exactly 0" in note for note in slow.notes)

    def test_monthly_dates_are_doubted(self, tmp_path: Path) -> None:
        rows = "".join(f"2020-{m:02d}-01,{m}\n" for m in range(1, 13))
        assert any("monthly" in note for note in only(read(tmp_path, "Date,Flow (m3/s)\n" + rows)).notes)


class TestLineNumbers:
    """Rows are lines of the file, whichever way it has to be read."""

    @pytest.mark.parametrize(
        ("text", "rows"),
        [
            ("t,flow_m3s\n2020-01-01,1\n\n2020-01-02,2\n2020-01-03,3\n", [2, 4, 5]),
            ("t,flow_m3s\r\n2020-01-01,1\r\n\r\n2020-01-02,2\r\n2020-01-03,3", [2, 4, 5]),
            ("t,flow_m3s\n2020-01-01,\n,\n2020-01-02,2\n2020-01-03,3\n\n\n", [2, 4, 5]),
            ('t,flow_m3s,x\n2020-01-01,1,"a\nb"\n2020-01-02,2,c\n2020-01-03,3,\n', [2, 4, 5]),
            ("\n\nt,flow_m3s\n2020-01-01,1\n2020-01-02,2\n2020-01-03,3\n", [4, 5, 6]),
            ("t flow_m3s\n2020-01-01 1\n\n2020-01-02 2\n2020-01-03 3\n", [2, 4, 5]),
        ],
    )
    def test_rows_are_lines(self, tmp_path: Path, text: str, rows: list[int]) -> None:
        assert only(read(tmp_path, text)).frame["row"].tolist() == rows
