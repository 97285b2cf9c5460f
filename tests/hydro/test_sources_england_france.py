"""England's and France's open services: one named test a trap. Miniature answers, invented stations and values."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydro.problems import InputError
from hydro.sources.gauge_file import ReadChoices
from tests.hydro.gauge_layouts import england_csv, england_json, france_csv, france_json, france_rows
from tests.hydro.test_sources_contract import only, read_bytes

QUARTERS = "abcd-0001-flow-i-900-m3s-qualified"


class TestEngland:
    def test_daily_rows_use_the_date_and_not_the_stamp_beside_it(self, tmp_path: Path) -> None:
        text = england_csv().replace("2021-03-01T09:00:00,2021-03-01", "2021-03-02T09:00:00,2021-03-01")
        assert only(read_bytes(tmp_path, text.encode())).frame.index[0] == pd.Timestamp("2021-03-01")

    def test_stamps_without_a_zone_are_gmt_all_year_and_may_be_mixed_with_stamps_that_have_one(
        self, tmp_path: Path
    ) -> None:
        measure = f"http://example.org/id/measures/{QUARTERS}"
        stamps = ["2021-06-19T07:45:00", "2021-06-19 08:00:00+00:00", "2021-06-19T08:15:00"]
        rows = [f"{measure},{t},2021-06-19,{i}.5,,Good," for i, t in enumerate(stamps)]
        text = "\n".join(["measure,dateTime,date,value,completeness,quality,qcode", *rows])
        series = only(read_bytes(tmp_path, text.encode(), time_zone="America/Chicago"))
        assert (series.frame.index == pd.date_range("2021-06-19T07:45Z", periods=3, freq="15min")).all()
        assert "GMT" in series.origins[0].clock

    def test_a_missing_row_has_a_blank_and_is_no_zero(self, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, england_csv().encode()))
        assert np.isnan(series.values.iloc[1])
        assert series.frame["flags"].iloc[1] == "missing"

    def test_quality_words_become_approval_and_marks(self, tmp_path: Path) -> None:
        text = england_csv().replace(",,Good,\n", ",Complete,Suspect,Edited\n", 1)
        series = only(read_bytes(tmp_path, text.encode()))
        assert series.frame["flags"].iloc[0] == "edited suspect"
        assert series.frame["approval"].tolist() == ["unknown", "unknown", "approved", "unknown", *["provisional"] * 2]

    def test_incomplete_days_are_marked_and_a_blank_says_nothing(self, tmp_path: Path) -> None:
        text = england_csv().replace(",,Good,\n", ",Incomplete,Good,\n", 1)
        flags = only(read_bytes(tmp_path, text.encode())).frame["flags"].tolist()
        assert flags[0] == "partial-day" and flags[2] == ""

    @pytest.mark.parametrize(
        ("measure", "word"),
        [
            ("x1-level-i-900-m-qualified", "level"),
            ("x1-rainfall-t-900-mm-qualified", "rainfall"),
            ("x1-flow-max-86400-m3s-qualified", "maximum"),
        ],
    )
    def test_level_rain_and_extremes_are_not_taken(self, tmp_path: Path, measure: str, word: str) -> None:
        file = read_bytes(tmp_path, england_csv(measure).encode())
        assert file.series == () and word in file.problems[0].expected

    def test_two_measures_in_one_file_are_asked_about(self, tmp_path: Path) -> None:
        second = england_csv("abcd-0002-flow-m-86400-m3s-qualified").split("\n", 1)[1]
        file = read_bytes(tmp_path, (england_csv() + second).encode())
        with pytest.raises(InputError, match="abcd-0002"):
            file.only_series(ReadChoices())
        assert file.only_series(ReadChoices(series="abcd-0002")).origins[0].station == "abcd-0002"

    def test_no_items_say_that_nothing_was_found(self, tmp_path: Path) -> None:
        assert json.loads(england_json())["items"]
        text = json.dumps({"meta": {"measure": "", "value": ""}, "items": []})
        assert "found nothing" in read_bytes(tmp_path, text.encode()).problems[0].expected

    def test_a_measure_that_cannot_be_read_is_a_problem(self, tmp_path: Path) -> None:
        assert "name of a measure" in read_bytes(tmp_path, england_csv("nonsense").encode()).problems[0].expected


class TestFrance:
    def test_discharge_is_in_litres_per_second(self, tmp_path: Path) -> None:
        series = only(read_bytes(tmp_path, france_json(france_rows()).encode()))
        assert series.origins[0].unit == "l/s"
        assert series.values.iloc[0] == pytest.approx(0.0015, rel=1e-14)

    def test_rows_of_the_site_repeat_its_station_and_are_left_out(self, tmp_path: Path) -> None:
        for text in (
            france_json([*france_rows(), *france_rows(code_station=None)]),
            france_csv([*france_rows(), *france_rows(code_station=None)]),
        ):
            file = read_bytes(tmp_path, text.encode())
            assert only(file).origins[0].station == "Z999000101"
            assert any("without a station" in n for n in file.notes)

    def test_a_site_without_stations_is_read_as_a_whole(self, tmp_path: Path) -> None:
        origin = only(read_bytes(tmp_path, france_json(france_rows(code_station=None)).encode())).origins[0]
        assert origin.station == "Z9990001" and "site as a whole" in origin.description

    def test_two_stations_of_a_site_are_asked_about(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, france_json([*france_rows(), *france_rows(code_station="Z999000102")]).encode())
        with pytest.raises(InputError, match="Z999000102"):
            file.only_series(ReadChoices())

    @pytest.mark.parametrize("quantity", ["QmM", "HIXnJ", "QIXnJ"])
    def test_months_extremes_and_levels_are_not_taken(self, tmp_path: Path, quantity: str) -> None:
        file = read_bytes(tmp_path, france_json(france_rows(grandeur_hydro_elab=quantity)).encode())
        assert file.series == () and quantity in file.problems[0].expected

    def test_the_older_name_of_daily_means(self, tmp_path: Path) -> None:
        assert only(read_bytes(tmp_path, france_json(france_rows(grandeur_hydro_elab="QmJ")).encode())).daily

    def test_observations_run_backwards_in_utc_and_levels_are_left(self, tmp_path: Path) -> None:
        rows: list[dict[str, object]] = [
            {
                "code_site": "Z9990001",
                "code_station": "Z999000101",
                "grandeur_hydro": what,
                "date_obs": f"2021-03-01T0{h}:00:00Z",
                "resultat_obs": -12.0 if h == 0 else 100.0 * h,
                "code_statut": 4,
                "code_qualification_obs": 12 if h == 1 else 16,
            }
            for what in ("Q", "H")
            for h in (3, 2, 1, 0)
        ]
        file = read_bytes(tmp_path, france_json(rows).encode())
        series = only(file)
        assert series.values.tolist() == pytest.approx([-0.012, 0.1, 0.2, 0.3])
        assert series.frame.index[0] == pd.Timestamp("2021-03-01T00:00Z")
        assert series.frame["flags"].tolist() == ["", "suspect", "", ""]
        assert any("water level" in s for s in file.not_discharge)
        assert any("negative" in n for n in file.notes)

    def test_the_misspelt_key_of_the_status_is_known(self, tmp_path: Path) -> None:
        rows = [r | {"code_slibelle_statuttatut": r["code_statut"], "code_statut": None} for r in france_rows()]
        features = [{"type": "Feature", "geometry": None, "properties": r} for r in rows]
        text = json.dumps({"type": "FeatureCollection", "features": features})
        series = only(read_bytes(tmp_path, text.encode()))
        assert series.frame["approval"].iloc[0] == "approved" and series.frame["approval"].iloc[5] == "provisional"

    def test_a_next_page_is_told(self, tmp_path: Path) -> None:
        file = read_bytes(tmp_path, france_json(france_rows(), next="https://example.org/?cursor=x").encode())
        assert any("next page" in n for n in file.notes)

    def test_no_data_say_that_nothing_was_found(self, tmp_path: Path) -> None:
        text = '{"count": 0, "first": "?grandeur_hydro=Q", "data": [], "grandeur_hydro": "", "code_site": ""}'
        assert "found nothing" in read_bytes(tmp_path, text.encode()).problems[0].expected

    def test_a_record_that_flips_its_unit_is_doubted(self, tmp_path: Path) -> None:
        days = pd.date_range("2021-01-01", periods=60)
        rows = [
            france_rows()[0]
            | {"date_obs_elab": f"{d:%Y-%m-%d}", "resultat_obs_elab": (900 + i) * (1 if i < 30 else 0.001)}
            for i, d in enumerate(days)
        ]
        file = read_bytes(tmp_path, france_json(rows).encode())
        assert len(only(file).frame) == 60
        assert any("1000 times" in n and "2021-01-31" in n for n in file.notes)
