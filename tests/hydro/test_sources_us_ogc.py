"""The US Water Data API's GeoJSON and CSV: one named test a trap. Miniature answers, invented stations and values."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from hydro.problems import InputError
from hydro.sources.gauge_file import ReadChoices
from tests.hydro.gauge_layouts import CFS, DAYS, ogc_csv, ogc_json, ogc_rows
from tests.hydro.test_sources_contract import only, read_bytes


def read_rows(folder: Path, rows: list[dict[str, object]], **more: object):  # type: ignore[no-untyped-def]
    return read_bytes(folder, ogc_json(rows, **more).encode())


class TestGeojson:
    def test_the_order_of_points_is_not_given_and_is_restored(self, tmp_path: Path) -> None:
        series = only(read_rows(tmp_path, ogc_rows()[::-1]))
        assert series.frame.index.strftime("%Y-%m-%d").tolist() == DAYS

    def test_two_series_of_one_parameter_are_told_apart_and_asked_about(self, tmp_path: Path) -> None:
        file = read_rows(tmp_path, [*ogc_rows(), *ogc_rows(time_series_id="bbbb2222")])
        with pytest.raises(InputError, match="bbbb2222"):
            file.only_series(ReadChoices())
        assert file.only_series(ReadChoices(series="bbbb2222")).origins[0].series == "bbbb2222"

    def test_a_point_that_comes_twice_counts_once_whatever_its_id(self, tmp_path: Path) -> None:
        file = read_rows(tmp_path, [*ogc_rows(), *ogc_rows()])
        assert len(only(file).frame) == 6

    def test_of_two_versions_of_a_point_the_newest_stands_and_is_marked(self, tmp_path: Path) -> None:
        rows = [*ogc_rows(), {**ogc_rows()[5], "value": "9", "last_modified": "2021-05-01T00:00:00+00:00"}]
        for order in (rows, rows[::-1]):
            series = only(read_rows(tmp_path, order))
            assert series.values.iloc[5] == pytest.approx(9 * CFS)
            assert "duplicate" in series.frame["flags"].iloc[5]

    @pytest.mark.parametrize(
        ("qualifier", "flags"),
        [
            (None, ""),
            ("ICE", "ice"),
            ("Estimated", "estimated"),
            (["ICE", "ESTIMATED"], "estimated ice"),
            ("['ICE', 'ESTIMATED']", "estimated ice"),
            ("ICE, REGULATED", "ice regulated"),
            (["EQUIP", "LESSTHAN", "UNKNOWNREGULATION"], "equipment less-than unknownregulation"),
        ],
    )
    def test_qualifiers_in_every_form_and_case(self, tmp_path: Path, qualifier: object, flags: str) -> None:
        assert only(read_rows(tmp_path, ogc_rows(qualifier=qualifier))).frame["flags"].iloc[0] == flags

    def test_no_approval_is_unknown(self, tmp_path: Path) -> None:
        assert (only(read_rows(tmp_path, ogc_rows(approval_status=None))).frame["approval"] == "unknown").all()

    def test_stage_beside_discharge_is_named_and_left(self, tmp_path: Path) -> None:
        stage = ogc_rows(parameter_code="00065", unit_of_measure="ft", time_series_id="cccc")
        file = read_rows(tmp_path, [*ogc_rows(), *stage])
        assert len(file.series) == 1
        assert "00065" in file.not_discharge[0]
        assert read_rows(tmp_path, stage).series == ()

    def test_continuous_values_are_instants(self, tmp_path: Path) -> None:
        rows = [
            {**row, "time": f"2025-01-01T00:{15 * i:02d}:00+00:00", "statistic_id": "00011"}
            for i, row in enumerate(ogc_rows()[:4])
        ]
        series = only(read_rows(tmp_path, rows))
        assert series.step == "PT15M"
        assert series.frame.index[3] == pd.Timestamp("2025-01-01T00:45Z")

    def test_a_next_link_says_that_the_file_is_one_page(self, tmp_path: Path) -> None:
        file = read_rows(tmp_path, ogc_rows(), links=[{"rel": "next", "href": "https://example.org/items?cursor=1"}])
        assert any("next page" in n for n in file.notes)

    def test_no_features_say_that_nothing_was_found(self, tmp_path: Path) -> None:
        text = json.dumps({"type": "FeatureCollection", "features": [], "note": "monitoring_location_id"})
        text = text.replace('"note"', '"monitoring_location_id"')
        file = read_bytes(tmp_path, text.encode())
        assert "found nothing" in file.problems[0].expected

    def test_an_error_message_is_told_as_one(self, tmp_path: Path) -> None:
        for answer in (
            {"code": "InvalidQuery", "description": "unknown parameter"},
            {"error": {"code": "OVER_RATE_LIMIT", "message": "unknown parameter"}},
        ):
            file = read_bytes(tmp_path, json.dumps(answer).encode())
            assert "error message" in file.problems[0].expected and "unknown parameter" in file.problems[0].expected

    def test_several_collections_in_one_file_are_each_looked_at(self, tmp_path: Path) -> None:
        peaks = {"features": [{"properties": {"monitoring_location_id": "x", "value": "9", "time": "2020-01-01"}}]}
        text = json.dumps({"daily": json.loads(ogc_json(ogc_rows())), "peaks": peaks})
        file = read_bytes(tmp_path, text.encode())
        assert len(only(file).frame) == 6
        assert any("peaks" in s for s in file.not_discharge)

    def test_values_may_be_numbers_or_texts(self, tmp_path: Path) -> None:
        rows = [{**r, "value": None if r["value"] is None else float(str(r["value"]))} for r in ogc_rows()]
        assert only(read_rows(tmp_path, rows)).values.iloc[0] == pytest.approx(1.5 * CFS)


class TestCsv:
    def test_columns_may_stand_in_any_order(self, tmp_path: Path) -> None:
        rows = [dict(reversed(row.items())) for row in ogc_rows()]
        series = only(read_bytes(tmp_path, ogc_csv(rows).encode()))
        assert series.origins[0].station == "USGS-09999991"

    def test_stamps_with_a_blank_in_place_of_the_t(self, tmp_path: Path) -> None:
        rows = [
            {**row, "time": f"2024-01-01 0{i}:00:00+00:00", "statistic_id": "00011"}
            for i, row in enumerate(ogc_rows()[:4])
        ]
        series = only(read_bytes(tmp_path, ogc_csv(rows).encode()))
        assert series.frame.index[3] == pd.Timestamp("2024-01-01T03:00Z")

    def test_exactly_a_page_of_rows_may_have_been_cut_off(self, tmp_path: Path) -> None:
        days = pd.date_range("1990-01-01", periods=10_000)
        row = ogc_rows()[0]
        rows = [{**row, "time": f"{d:%Y-%m-%d}"} for d in days]
        file = read_bytes(tmp_path, ogc_csv(rows).encode())
        assert any("cut off" in n for n in file.notes)
        assert not any("cut off" in n for n in read_bytes(tmp_path, ogc_csv(rows[1:]).encode()).notes)

    def test_codes_that_lost_their_zeros_in_a_spreadsheet_are_filled_up_and_noted(self, tmp_path: Path) -> None:
        text = ogc_csv(ogc_rows(parameter_code="60", statistic_id="3"))
        file = read_bytes(tmp_path, text.encode())
        assert only(file).origins[0].parameter == "00060"
        assert any("leading zeros" in n for n in file.notes)

    def test_a_header_without_rows_says_that_nothing_was_found(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, ogc_csv(ogc_rows()).split("\n")[0].encode() + b"\n")
        assert "found nothing" in file.problems[0].expected
