"""US WaterML 1.1, XML and JSON: one named test a trap. Hand-written miniature files, invented stations and values."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydro.problems import InputError
from hydro.sources.gauge_file import ReadChoices
from tests.hydro.gauge_layouts import CFS, waterml_json, waterml_series, waterml_xml
from tests.hydro.test_sources_contract import only, read_bytes


def point(time: str, value: str, qualifiers: str | Sequence[str] = ("A",)) -> dict[str, object]:
    marks = qualifiers if isinstance(qualifiers, str) else list(qualifiers)
    return {"value": value, "qualifiers": marks, "dateTime": time}


def xml_points(*points: tuple[str, str, str]) -> str:
    return "".join(f'<a:value qualifiers="{q}" dateTime="{t}">{v}</a:value>' for t, v, q in points)


class TestJson:
    def test_the_variables_own_number_for_no_data_is_missing_before_units_are_converted(self, tmp_path: Path) -> None:
        points = [point("2021-03-01T00:00:00.000", "-12345.0"), point("2021-03-02T00:00:00.000", "-999999")]
        points.append(point("2021-03-03T00:00:00.000", "5"))
        series = only(read_bytes(tmp_path, waterml_json(waterml_series(points, no_data=-12345)).encode()))
        assert series.values.isna().tolist() == [True, True, False]
        assert series.raw.tolist() == ["-12345.0", "-999999"]

    def test_ice_and_discontinued_are_unknown_and_never_zero(self, tmp_path: Path) -> None:
        points = [
            point("2021-01-01T00:00:00.000", "-999999", ["P", "Ice"]),
            point("2021-01-02T00:00:00.000", "-999999", ["P", "Dis"]),
            point("2021-01-03T00:00:00.000", "5", ["P"]),
        ]
        series = only(read_bytes(tmp_path, waterml_json(waterml_series(points)).encode()))
        assert series.frame["flags"].tolist() == ["ice sentinel", "discontinued sentinel", ""]
        assert series.values.isna().tolist() == [True, True, False]
        assert (series.frame["approval"] == "provisional").all()

    def test_qualifiers_as_one_string_are_read_as_a_list_is(self, tmp_path: Path) -> None:
        points = [point("2021-01-01T00:00:00.000", "5", "P Ice"), point("2021-01-02T00:00:00.000", "6", ["A", "e"])]
        series = only(read_bytes(tmp_path, waterml_json(waterml_series(points)).encode()))
        assert series.frame["flags"].tolist() == ["ice", "estimated"]
        assert series.frame["approval"].tolist() == ["provisional", "approved"]

    def test_two_methods_of_one_parameter_are_two_series_and_one_is_asked_for(self, tmp_path: Path) -> None:
        both = waterml_series(method=11111, sensor="[left bank]")
        both["values"] += waterml_series(method=22222, sensor="[right bank]")["values"]  # type: ignore[operator]
        file = read_bytes(tmp_path, waterml_json(both).encode())
        assert file.problems == ()
        assert len(file.series) == 2
        with pytest.raises(InputError, match=r"2021-03-01 to 2021-03-06") as told:
            file.only_series(ReadChoices())
        assert "left bank" in str(told.value) and "right bank" in str(told.value)
        assert "right bank" in file.only_series(ReadChoices(series="22222")).origins[0].description

    def test_an_entry_without_points_is_named_and_not_a_series(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, waterml_json(waterml_series([], method=1), waterml_series(method=2)).encode())
        assert len(file.series) == 1
        assert any("has no values" in s for s in file.not_discharge)

    def test_an_empty_answer_says_that_nothing_was_found(self, tmp_path: Path) -> None:
        text = json.dumps({"name": "x", "value": {"queryInfo": {}, "timeSeries": []}})
        file = read_bytes(tmp_path, text.encode())
        assert "found nothing" in file.problems[0].expected

    def test_daily_stamps_without_offset_are_civil_days(self, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, waterml_json().encode(), time_zone="America/Denver"))
        assert series.frame.index[0] == pd.Timestamp("2021-03-01")

    def test_offsets_that_change_inside_a_series_are_each_used(self, tmp_path: Path) -> None:
        """Clocks go back on 7 November 2021: 01:45-04:00 is followed by 01:00-05:00, and forward on 14 March."""
        times = [f"2021-11-07T01:{m:02d}:00.000-04:00" for m in (0, 15, 30, 45)]
        times += [f"2021-11-07T01:{m:02d}:00.000-05:00" for m in (0, 15, 30, 45)]
        points = [point(t, str(i)) for i, t in enumerate(times)]
        series = only(read_bytes(tmp_path, waterml_json(waterml_series(points, statistic="00000")).encode()))
        assert (series.frame.index == pd.date_range("2021-11-07T05:00Z", periods=8, freq="15min")).all()
        assert series.values.tolist() == pytest.approx([i * CFS for i in range(8)])
        spring = ["2021-03-14T01:45:00.000-05:00", "2021-03-14T03:00:00.000-04:00", "2021-03-14T03:15:00.000-04:00"]
        points = [point(t, "1") for t in spring]
        series = only(read_bytes(tmp_path, waterml_json(waterml_series(points, statistic="00000")).encode()))
        assert (series.frame.index == pd.date_range("2021-03-14T06:45Z", periods=3, freq="15min")).all()

    def test_a_day_that_occurs_twice_with_one_value_is_dropped_and_noted(self, tmp_path: Path) -> None:
        points = [point("2021-01-01T00:00:00.000", "5"), point("2021-01-02T00:00:00.000", "6")]
        file = read_bytes(tmp_path, waterml_json(waterml_series([*points, points[1]])).encode())
        assert len(only(file).frame) == 2
        assert any("repeated" in n for n in file.notes)

    def test_the_unit_of_the_name_is_unescaped_twice(self, tmp_path: Path) -> None:
        text = waterml_json(waterml_series(name="Streamflow, ft&amp;#179;/s"))
        assert "ft³/s" in only(read_bytes(tmp_path, text.encode())).origins[0].description

    @pytest.mark.parametrize(
        ("parameter", "unit", "name"),
        [("00065", "ft", "Gage height, ft"), ("00010", "deg C", "Temperature"), ("00045", "in", "Precipitation")],
    )
    def test_level_temperature_and_rain_are_refused(self, tmp_path: Path, parameter: str, unit: str, name: str) -> None:
        file = read_bytes(tmp_path, waterml_json(waterml_series(parameter=parameter, unit=unit, name=name)).encode())
        assert file.series == ()
        assert name in file.problems[0].expected

    def test_a_unit_that_the_parameter_cannot_have_is_a_problem(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, waterml_json(waterml_series(unit="m3/s")).encode())
        assert "cfs" in file.problems[0].expected and file.series == ()

    def test_daily_extremes_wait_for_being_named(self, tmp_path: Path) -> None:
        file = read_bytes(
            tmp_path, waterml_json(waterml_series(statistic="00001", method=5), waterml_series()).encode()
        )
        assert only(file).origins[0].statistic == "mean"
        assert any("maximum" in s for s in file.not_discharge)

    def test_the_inner_object_alone_is_read_too(self, tmp_path: Path) -> None:
        inner = json.loads(waterml_json())["value"]
        assert len(only(read_bytes(tmp_path, json.dumps(inner).encode())).frame) == 6

    def test_a_value_that_is_no_number_is_a_problem_with_its_point(self, tmp_path: Path) -> None:
        points = [point("2021-01-01T00:00:00.000", "5"), point("2021-01-02T00:00:00.000", "5x7")]
        (problem,) = read_bytes(tmp_path, waterml_json(waterml_series(points)).encode()).problems
        assert (problem.row, problem.value) == ("point 2", "5x7")


class TestXml:
    def test_any_prefix_of_the_namespace_will_do(self, tmp_path: Path) -> None:
        text = waterml_xml().replace("<a:", "<").replace("</a:", "</").replace("xmlns:a=", "xmlns=")
        assert len(only(read_bytes(tmp_path, text.encode())).frame) == 6

    def test_the_older_namespace_of_other_providers(self, tmp_path: Path) -> None:
        text = waterml_xml().replace("/waterML/1.1/", "/waterML/1.0/").replace(">00060<", ">Q1<")
        assert only(read_bytes(tmp_path, text.encode())).origins[0].parameter == "Q1"
        level = text.replace("ft3/s", "ft").replace("Streamflow", "Gauge height")
        assert read_bytes(tmp_path, level.encode()).series == ()

    def test_qualifiers_are_one_attribute_of_words(self, tmp_path: Path) -> None:
        points = xml_points(("2021-01-01T00:00:00.000", "-999999", "P Ice"), ("2021-01-02T00:00:00.000", "5", "P e"))
        series = only(read_bytes(tmp_path, waterml_xml(points=points).encode()))
        assert series.frame["flags"].tolist() == ["ice sentinel", "estimated"]
        assert np.isnan(series.values.iloc[0])

    def test_stations_one_after_another_keep_their_own_names(self, tmp_path: Path) -> None:
        one = waterml_xml()
        second = one[one.index("<a:timeSeries ") : one.index("</a:timeSeriesResponse>")].replace("09999991", "09999992")
        file = read_bytes(tmp_path, waterml_xml(tail=second).encode())
        assert [s.origins[0].station for s in file.series] == ["09999991", "09999992"]

    def test_more_points_than_are_kept_at_once(self, tmp_path: Path) -> None:
        times = pd.date_range("2021-01-01", periods=51_000, freq="15min")
        points = xml_points(*[(f"{t:%Y-%m-%dT%H:%M:%S}.000Z", str(i), "A") for i, t in enumerate(times)])
        series = only(read_bytes(tmp_path, waterml_xml(daily=False, points=points).encode()))
        assert series.values.tolist() == pytest.approx([i * CFS for i in range(51_000)])
        assert series.frame["row"].tolist() == list(range(1, 51_001))
