"""US tab-delimited agency files: hand-written miniature files in the agency's layouts, invented stations and values.

The layouts follow “About the tab-delimited output format” (help.waterdata.usgs.gov).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydro.discharge import Discharge
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.recognise import read_gauge_file

CFS = 0.3048**3  # 1 ft = 0.3048 m exactly (NIST SP 811, appendix B)
HEAD = """# ---------------------------------- WARNING ----------------------------------------
# Invented data.
# File-format description:  http://example.org
# retrieved: 2013-07-02 22:08:51 EDT       (zzww01)
#
# Data provided for site 09999991
#    DD parameter statistic   Description
#    06   00060     00003     Discharge, cubic feet per second (Mean)
#    07   00060     00001     Discharge, cubic feet per second (Maximum)
#    02   00065     00003     Gage height, feet (Mean)
#
# Data-value qualification codes included in this output:
#     A  Approved for publication -- Processing and review completed.
#
"""
NAMES = "agency_cd\tsite_no\tdatetime\t06_00060_00003\t06_00060_00003_cd\n"
TYPES = "5s\t15s\t20d\t14n\t10s\n"


def rows(*pairs: tuple[str, str], station: str = "09999991", start: str = "2012-07-01") -> str:
    days = pd.date_range(start, periods=len(pairs))
    return "".join(f"USGS\t{station}\t{d.date()}\t{v}\t{c}\n" for d, (v, c) in zip(days, pairs, strict=True))


def read(folder: Path, text: str | bytes, name: str = "gauge.txt", **choices: object) -> GaugeFile:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_gauge_file(path, ReadChoices(**choices), shown_as=name)  # type: ignore[arg-type]


def only(file: GaugeFile) -> Discharge:
    assert file.problems == ()
    (series,) = file.series
    return series


def cfs(series: Discharge) -> list[float]:
    return [round(v / CFS, 6) for v in series.values]


class TestDaily:
    def test_a_daily_file_is_read_whole(self, tmp_path: Path) -> None:
        file = read(tmp_path, HEAD + NAMES + TYPES + rows(("171", "A"), ("190", "A:e"), ("40", "P")))
        series = only(file)
        assert series.step == "daily"
        assert series.values.iloc[2] == pytest.approx(1.13267386368, abs=1e-14)
        assert series.frame["approval"].tolist() == ["approved", "approved", "provisional"]
        assert series.frame["flags"].tolist() == ["", "estimated", ""]
        assert series.frame["row"].tolist() == [17, 18, 19]
        origin = series.origins[0]
        assert origin.station == "09999991"
        assert origin.retrieved == "2013-07-02 22:08:51 EDT"
        assert origin.description == "Discharge, cubic feet per second (Mean)"
        assert (origin.parameter, origin.statistic, origin.series) == ("00060", "mean", "06_00060_00003")
        assert (origin.unit, origin.unit_from) == ("cfs", "parameter 00060")
        assert file.format == "US tab-delimited (RDB)"

    def test_the_definition_row_may_have_been_deleted(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, HEAD + NAMES + rows(("171", "A"), ("190", "A"))))
        assert cfs(series) == [171, 190]
        assert series.frame["row"].tolist() == [16, 17]

    def test_a_file_without_comments(self, tmp_path: Path) -> None:
        assert cfs(only(read(tmp_path, NAMES + TYPES + rows(("1", "A"), ("2", "A"))))) == [1, 2]

    def test_series_ids_of_six_digits(self, tmp_path: Path) -> None:
        text = (NAMES + TYPES + rows(("1", "A"))).replace("06_00060", "149854_00060")
        file = read(tmp_path, text)
        assert file.only_series(ReadChoices(series="149854")).origins[0].series == "149854_00060_00003"

    def test_cubic_metres_have_a_parameter_of_their_own(self, tmp_path: Path) -> None:
        text = (NAMES + TYPES + rows(("1.5", "A"))).replace("00060", "30208")
        assert only(read(tmp_path, text)).values.iloc[0] == 1.5

    def test_codes_that_replace_the_number(self, tmp_path: Path) -> None:
        words = [
            "Ssn",
            "Ice",
            "Pr",
            "Rat",
            "Nd",
            "Eqp",
            "Fld",
            "Dry",
            "Dis",
            "Bkw",
            "Mnt",
            "ZFL",
            "Tst",
            "--",
            "***",
            "",
        ]
        series = only(read(tmp_path, HEAD + NAMES + TYPES + rows(*[(w, "A") for w in words])))
        assert series.frame["flags"].tolist() == [
            "seasonal", "ice", "partial-record", "rating", "not-determined", "equipment", "flood-damage", "dry",
            "discontinued", "backwater", "maintenance", "dry", "test", "not-determined", "unavailable", "",
        ]  # fmt: skip
        dry = series.frame["flags"] == "dry"
        assert (series.values[dry] == 0).all()
        assert series.values[~dry].isna().all()
        assert series.raw.tolist() == words[:-1]

    def test_the_filler_number_is_missing_and_smaller_fillers_are_numbers(self, tmp_path: Path) -> None:
        series = only(read(tmp_path, NAMES + TYPES + rows(("-999999", "P"), ("-999", "P"), ("5", "P"))))
        assert series.frame["flags"].tolist() == ["sentinel", "", ""]
        assert cfs(series)[1] == -999

    @pytest.mark.parametrize(
        ("code", "approval", "flags"),
        [
            ("A", "approved", ""),
            ("P", "provisional", ""),
            ("A:e", "approved", "estimated"),
            ("Ae", "approved", "estimated"),
            ("Pe", "provisional", "estimated"),
            ("P:~", "provisional", "interpolated"),
            ("P Ice", "provisional", "ice"),
            ("A:<", "approved", "less-than"),
            ("A:1", "approved", "1"),
            ("A [91]", "approved", "91"),
            ("['P', 'e']", "provisional", "estimated"),
            ("", "unknown", ""),
            ("Zz", "unknown", "Zz"),
        ],
    )
    def test_the_grammar_of_code_cells(self, tmp_path: Path, code: str, approval: str, flags: str) -> None:
        series = only(read(tmp_path, NAMES + TYPES + rows(("5", code), ("6", "A"))))
        assert (series.frame["approval"].iloc[0], series.frame["flags"].iloc[0]) == (approval, flags)

    def test_surplus_empty_fields_are_dropped_and_noted(self, tmp_path: Path) -> None:
        file = read(tmp_path, NAMES + TYPES + rows(("5", "A\t\t"), ("6", "A")))
        assert cfs(only(file)) == [5, 6]
        assert any("surplus" in note for note in file.notes)

    def test_a_surplus_filled_field_is_a_problem(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, NAMES + TYPES + rows(("5", "A\tx"), ("6", "A"))).problems
        assert (problem.row, problem.value) == (3, "x")

    def test_blanks_around_values_are_harmless(self, tmp_path: Path) -> None:
        assert cfs(only(read(tmp_path, NAMES + TYPES + rows((" 5 ", "A"), ("6", " P "))))) == [5, 6]

    def test_other_text_is_a_problem_with_its_row(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, NAMES + TYPES + rows(("5", "A"), ("much", "A"))).problems
        assert (problem.row, problem.column, problem.value) == (4, "06_00060_00003", "much")

    def test_only_the_mean_counts_unless_another_series_is_named(self, tmp_path: Path) -> None:
        names = "agency_cd\tsite_no\tdatetime\t07_00060_00001\t07_00060_00001_cd\t06_00060_00003\t06_00060_00003_cd\n"
        text = HEAD + names + "USGS\t09999991\t2012-07-01\t99\tA\t40\tA\n"
        file = read(tmp_path, text)
        assert cfs(only(file)) == [40]
        assert "maximum" in file.not_discharge[0]
        chosen = read(tmp_path, text, series="07_00060_00001").only_series(ReadChoices(series="07_00060_00001"))
        assert (cfs(chosen), chosen.origins[0].statistic) == ([99], "maximum")

    def test_two_series_of_one_parameter_are_both_listed(self, tmp_path: Path) -> None:
        names = "agency_cd\tsite_no\tdatetime\t11_00060_00003\t11_00060_00003_cd\t12_00060_00003\t12_00060_00003_cd\n"
        file = read(tmp_path, names + "USGS\t09999991\t2012-07-01\t1\tA\t2\tP\n")
        assert [s.origins[0].series for s in file.series] == ["11_00060_00003", "12_00060_00003"]
        assert file.series[1].frame["approval"].tolist() == ["provisional"]

    def test_a_file_without_discharge_is_refused_and_told_what_it_holds(self, tmp_path: Path) -> None:
        text = HEAD + (NAMES + TYPES + rows(("1.5", "A"))).replace("06_00060", "02_00065")
        file = read(tmp_path, text)
        assert file.series == ()
        assert "Gage height" in file.not_discharge[0]
        assert "00060" in file.problems[0].expected

    def test_sites_one_below_the_other_are_separate_series(self, tmp_path: Path) -> None:
        one = HEAD + NAMES + TYPES + rows(("1", "A"), ("2", "A"))
        two = HEAD + NAMES + TYPES + rows(("5", "A"), station="09999992")
        file = read(tmp_path, one + two)
        assert [s.origins[0].station for s in file.series] == ["09999991", "09999992"]
        assert file.series[1].frame["row"].tolist() == [35]
        assert cfs(file.only_series(ReadChoices(series="09999992"))) == [5]

    def test_blocks_without_comments_between_them(self, tmp_path: Path) -> None:
        block = NAMES + TYPES + rows(("1", "A"), ("2", "A"))
        file = read(tmp_path, block + block.replace("09999991", "09999992"))
        assert [len(s.frame) for s in file.series] == [2, 2]
        assert file.series[1].frame["row"].tolist() == [7, 8]

    def test_sites_mixed_in_one_block(self, tmp_path: Path) -> None:
        text = NAMES + TYPES + rows(("1", "A"), ("2", "A")) + rows(("3", "A"), station="09999992")
        assert [s.origins[0].station for s in read(tmp_path, text).series] == ["09999991", "09999992"]

    def test_the_very_old_daily_layout(self, tmp_path: Path) -> None:
        names, types = "agency_cd\tsite_no\tdv_dt\tdv_va\tdv_cd\n", "5s\t15s\t10d\t12n\t3s\n"
        text = "# Discharge, cubic feet per second (Mean)\n" + names + types + rows(("40", ""), ("41", "e"))
        series = only(read(tmp_path, text))
        assert cfs(series) == [40, 41]
        assert series.frame["flags"].tolist() == ["", "estimated"]

    def test_the_very_old_layout_without_a_parameter_asks(self, tmp_path: Path) -> None:
        text = "agency_cd\tsite_no\tdv_dt\tdv_va\tdv_cd\n5s\t15s\t10d\t12n\t3s\n" + rows(("40", ""))
        assert "unit" in read(tmp_path, text).problems[0].expected
        assert cfs(only(read(tmp_path, text, unit="cfs"))) == [40]

    def test_web_page_markup_below_the_data_is_left_out(self, tmp_path: Path) -> None:
        file = read(tmp_path, NAMES + TYPES + rows(("1", "A")) + "</pre>\n<hr>\nfooter</body></html>\n")
        assert cfs(only(file)) == [1]
        assert any("markup" in note for note in file.notes)

    def test_comments_alone_say_that_nothing_was_found(self, tmp_path: Path) -> None:
        (problem,) = read(tmp_path, HEAD).problems
        assert "nothing" in problem.expected

    def test_a_station_of_seven_digits_is_noted_and_kept_as_text(self, tmp_path: Path) -> None:
        text = NAMES + TYPES + rows(("1", "A"), station="9999991")
        file = read(tmp_path, text)
        assert only(file).origins[0].station == "9999991"
        assert any("09999991" in note for note in file.notes)

    def test_a_chosen_unit_against_the_parameter_is_a_problem(self, tmp_path: Path) -> None:
        assert read(tmp_path, NAMES + TYPES + rows(("1", "A")), unit="m3/s").problems[0].value == "m3/s"
        assert cfs(only(read(tmp_path, NAMES + TYPES + rows(("1", "A")), unit="ft3/s"))) == [1]

    def test_windows_line_ends(self, tmp_path: Path) -> None:
        text = (HEAD + NAMES + TYPES + rows(("1", "A"), ("2", "P"))).replace("\n", "\r\n")
        series = only(read(tmp_path, text))
        assert cfs(series) == [1, 2]
        assert series.frame["row"].tolist() == [17, 18]


class TestInstantaneous:
    NAMES = "agency_cd\tsite_no\tdatetime\ttz_cd\t06_00060\t06_00060_cd\t02_00065\t02_00065_cd\n"
    TYPES = "5s\t15s\t20d\t6s\t14n\t10s\t14n\t10s\n"

    def text(self, *stamps: tuple[str, str]) -> str:
        data = "".join(f"USGS\t09999991\t{t}\t{z}\t{i}\tP\t1.{i}\tP\n" for i, (t, z) in enumerate(stamps))
        return self.NAMES + self.TYPES + data

    def test_each_row_is_converted_with_its_own_zone_code(self, tmp_path: Path) -> None:
        stamps = [("2014-03-09 01:30", "EST"), ("2014-03-09 01:45", "EST"), ("2014-03-09 03:00", "EDT")]
        series = only(read(tmp_path, self.text(*stamps)))
        assert [str(t) for t in series.frame.index] == [
            "2014-03-09 06:30:00+00:00", "2014-03-09 06:45:00+00:00", "2014-03-09 07:00:00+00:00",
        ]  # fmt: skip
        assert series.step == "PT15M"
        assert series.origins[0].statistic == "instantaneous"

    def test_the_hour_that_repeats_is_keyed_on_the_instant(self, tmp_path: Path) -> None:
        clock = [("01:00", "EDT"), ("01:30", "EDT"), ("01:00", "EST"), ("01:30", "EST"), ("02:00", "EST")]
        series = only(read(tmp_path, self.text(*[(f"2014-11-02 {t}", z) for t, z in clock])))
        assert len(series.frame) == 5
        assert series.step == "PT30M"
        assert "duplicate" not in set(series.frame["flags"])

    def test_an_unknown_zone_code_is_a_problem(self, tmp_path: Path) -> None:
        file = read(tmp_path, self.text(("2014-11-02 01:00", "EDT"), ("2014-11-02 01:30", "XYZ")))
        (problem,) = file.problems
        assert (problem.row, problem.value) == (4, "XYZ")

    def test_gage_height_beside_discharge_is_listed(self, tmp_path: Path) -> None:
        file = read(tmp_path, self.text(("2014-11-02 01:00", "EDT"), ("2014-11-02 01:15", "EDT")))
        assert "00065" in file.not_discharge[0]

    def test_holes_in_a_quarter_hour_record_are_gaps(self, tmp_path: Path) -> None:
        clock = ["00:00", "00:15", "00:30", "00:45", "01:00", "01:15", "03:00", "03:15", "03:30", "03:45"]
        series = only(read(tmp_path, self.text(*[(f"2014-06-02 {t}", "EDT") for t in clock])))
        assert series.step == "PT15M"
        assert series.gaps()["first"].tolist() == [pd.Timestamp("2014-06-02 05:30", tz="UTC")]


class TestClientColumns:
    def test_r_client_columns_saved_as_csv(self, tmp_path: Path) -> None:
        text = (
            "agency_cd,site_no,Date,X_00060_00003,X_00060_00003_cd\n"
            "USGS,09999991,2020-01-01,40,A\n"
            "USGS,09999991,2020-01-02,41,P e\n"
        )
        series = only(read(tmp_path, text, "r.csv"))
        assert cfs(series) == [40, 41]
        assert series.origins[0].station == "09999991"
        assert series.frame["flags"].tolist() == ["", "estimated"]

    def test_r_client_columns_with_a_row_name_and_a_described_series(self, tmp_path: Path) -> None:
        text = (
            '"","agency_cd","site_no","dateTime","X_..2.._00060_00000","X_..2.._00060_00000_cd","tz_cd"\n'
            '"1","USGS","09999991","2020-01-01 00:00:00","40","A","UTC"\n'
            '"2","USGS","09999991","2020-01-01 00:15:00","41","A","UTC"\n'
        )
        series = only(read(tmp_path, text, "r.csv"))
        assert series.step == "PT15M"
        assert series.frame.index[0] == pd.Timestamp("2020-01-01", tz="UTC")

    def test_python_client_columns_saved_as_csv(self, tmp_path: Path) -> None:
        text = (
            "datetime,site_no,00060_Mean,00060_Mean_cd\n"
            "2020-01-01 00:00:00+00:00,09999991,40,A\n"
            '2020-01-02 00:00:00+00:00,09999991,Ice,"A, e"\n'
        )
        series = only(read(tmp_path, text, "p.csv"))
        assert series.step == "daily"
        assert series.values.iloc[0] == pytest.approx(40 * CFS)
        assert np.isnan(series.values.iloc[1])
        assert series.frame["flags"].tolist() == ["", "estimated ice"]

    def test_python_client_instantaneous(self, tmp_path: Path) -> None:
        text = "datetime,00060,00060_cd\n2020-01-01 00:00:00-05:00,40,A\n2020-01-01 00:15:00-05:00,41,A\n"
        series = only(read(tmp_path, text, "p.csv"))
        assert series.frame.index[0] == pd.Timestamp("2020-01-01 05:00", tz="UTC")

    def test_agency_columns_saved_by_a_spreadsheet_keep_their_definition_row(self, tmp_path: Path) -> None:
        text = (NAMES + TYPES + rows(("40", "A"), ("41", "P"))).replace("\t", ",").replace("09999991", "9999991")
        file = read(tmp_path, text, "s.csv")
        assert cfs(only(file)) == [40, 41]
        assert only(file).frame["row"].tolist() == [3, 4]
        assert any("leading zero" in note for note in file.notes)
        assert file.format == "US tab-delimited (RDB), saved as delimited text"

    def test_clock_times_without_zone_code_are_asked_about(self, tmp_path: Path) -> None:
        text = "site_no,datetime,00060\n09999991,2020-01-01 00:00,40\n09999991,2020-01-01 00:15,41\n"
        assert "time_zone" in read(tmp_path, text, "p.csv").problems[0].expected
        assert only(read(tmp_path, text, "p.csv", time_zone="UTC-05:00")).step == "PT15M"


def test_a_blank_line_inside_agency_data_is_passed_over(tmp_path: Path) -> None:
    series = only(read(tmp_path, NAMES + TYPES + rows(("1", "A")) + "\n" + rows(("2", "A"), start="2012-07-02")))
    assert cfs(series) == [1, 2]
    assert series.frame["row"].tolist() == [3, 5]
