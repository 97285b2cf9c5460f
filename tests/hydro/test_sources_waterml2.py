"""OGC WaterML 2.0 (10-126r4): one named test a rule or trap. Hand-written observations of an invented station."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from hydro.sources.waterml2_codes import seconds_of
from tests.hydro.gauge_layouts import NIL, QUALIFIER, ROOT, waterml2, waterml2_collection, waterml2_point
from tests.hydro.test_sources_contract import only, read_bytes


def read(folder: Path, *observations: str, **choices: object):  # type: ignore[no-untyped-def]
    return read_bytes(folder, waterml2_collection(*observations).encode(), **choices)


def daily(stamps: list[str], kind: str) -> str:
    return waterml2("".join(waterml2_point(t, str(i + 1)) for i, t in enumerate(stamps)), kind=kind)


MIDNIGHTS = [f"2016-01-0{d}T00:00:00+10:00" for d in range(2, 7)]
EQUIDISTANT = (
    "<wml2:metadata><wml2:MeasurementTimeseriesMetadata><wml2:baseTime>2021-03-01T00:00:00+01:00</wml2:baseTime>"
    "<wml2:spacing>{}</wml2:spacing></wml2:MeasurementTimeseriesMetadata></wml2:metadata>"
)


class TestDayLabels:
    def test_a_stamp_that_ends_its_interval_belongs_to_the_day_before(self, tmp_path: Path) -> None:
        """Mean of the preceding interval (AveragePrec): the stamp 2 January 00:00 is the mean of 1 January."""
        series = only(read(tmp_path, daily(MIDNIGHTS, "AveragePrec")))
        assert series.frame.index[0] == pd.Timestamp("2016-01-01")
        assert series.origins[0].statistic == "mean"

    def test_a_stamp_that_begins_its_interval_is_that_day(self, tmp_path: Path) -> None:
        assert only(read(tmp_path, daily(MIDNIGHTS, "AverageSucc"))).frame.index[0] == pd.Timestamp("2016-01-02")

    @pytest.mark.parametrize(("kind", "day"), [("AveragePrec", "2016-01-01"), ("AverageSucc", "2016-01-02")])
    def test_days_that_begin_at_nine_go_by_their_greater_part(self, tmp_path: Path, kind: str, day: str) -> None:
        series = only(read(tmp_path, daily([t.replace("T00", "T09") for t in MIDNIGHTS], kind)))
        assert series.frame.index[0] == pd.Timestamp(day)

    def test_the_last_second_of_a_day_ends_that_day(self, tmp_path: Path) -> None:
        stamps = [t.replace("00:00:00", "23:59:59") for t in MIDNIGHTS]
        assert only(read(tmp_path, daily(stamps, "AveragePrec"))).frame.index[0] == pd.Timestamp("2016-01-02")

    def test_numbers_for_types_are_read_as_their_names(self, tmp_path: Path) -> None:
        assert only(read(tmp_path, daily(MIDNIGHTS, "604"))).frame.index[0] == pd.Timestamp("2016-01-01")
        assert only(read(tmp_path, daily(MIDNIGHTS, "603"))).frame.index[0] == pd.Timestamp("2016-01-02")

    def test_a_bare_date_is_the_day_itself(self, tmp_path: Path) -> None:
        stamps = [t[:10] for t in MIDNIGHTS]
        assert only(read(tmp_path, daily(stamps, "AveragePrec"))).frame.index[0] == pd.Timestamp("2016-01-02")

    def test_daily_means_of_no_stated_interval_are_doubted(self, tmp_path: Path) -> None:
        text = daily(MIDNIGHTS, "").replace("http://x/p", "http://x/tstypes/Pat4_DailyMean")
        file = read(tmp_path, text)
        assert only(file).frame.index[0] == pd.Timestamp("2016-01-02")
        assert any("begins or ends its day" in n for n in file.notes)

    def test_a_daily_stamp_is_never_moved_through_utc(self, tmp_path: Path) -> None:
        east = [t.replace("+10:00", "+13:00") for t in MIDNIGHTS]
        assert only(read(tmp_path, daily(east, "AverageSucc"))).frame.index[0] == pd.Timestamp("2016-01-02")

    def test_totals_of_intervals_are_no_discharge(self, tmp_path: Path) -> None:
        file = read(tmp_path, daily(MIDNIGHTS, "TotalPrec"))
        assert file.series == () and "totals" in file.problems[0].expected

    def test_maxima_wait_for_being_named(self, tmp_path: Path) -> None:
        assert read(tmp_path, daily(MIDNIGHTS, "MaxPrec")).series == ()
        assert len(read(tmp_path, daily(MIDNIGHTS, "MaxPrec"), series="o1").series) == 1


class TestPointMetadata:
    def test_defaults_hold_where_a_point_says_nothing(self, tmp_path: Path) -> None:
        points = waterml2_point("2021-03-01", "1") + waterml2_point("2021-03-02", "2", QUALIFIER.format("110"))
        series = only(read(tmp_path, waterml2(points, default=QUALIFIER.format("90"))))
        assert series.frame["flags"].tolist() == ["quality-90", "estimated"]

    def test_an_own_qualifier_drops_all_default_qualifiers(self, tmp_path: Path) -> None:
        default = QUALIFIER.format("P") + QUALIFIER.format("Ice")
        points = waterml2_point("2021-03-01", "1") + waterml2_point("2021-03-02", "2", QUALIFIER.format("A"))
        series = only(read(tmp_path, waterml2(points, default=default)))
        assert series.frame["flags"].tolist() == ["ice", ""]
        assert series.frame["approval"].tolist() == ["provisional", "approved"]

    def test_an_own_quality_leaves_the_default_qualifiers(self, tmp_path: Path) -> None:
        own = '<wml2:quality xlink:href="http://www.opengis.net/def/waterml/2.0/quality/suspect"/>'
        points = waterml2_point("2021-03-01", "1", own)
        series = only(read(tmp_path, waterml2(points, default=QUALIFIER.format("P"))))
        assert series.frame["flags"].tolist() == ["suspect"]
        assert series.frame["approval"].tolist() == ["provisional"]

    def test_a_nil_value_is_missing_with_its_reason(self, tmp_path: Path) -> None:
        withheld = NIL.replace("missing", "withheld")
        points = waterml2_point("2021-03-01", "", "", withheld) + waterml2_point("2021-03-02", "0")
        series = only(read(tmp_path, waterml2(points)))
        assert np.isnan(series.values.iloc[0]) and series.values.iloc[1] == 0
        assert series.frame["flags"].tolist() == ["withheld", ""]

    def test_a_nil_value_with_a_number_inside_is_missing_all_the_same(self, tmp_path: Path) -> None:
        points = waterml2_point("2021-03-01", "-999", "", NIL) + waterml2_point("2021-03-02", "1")
        assert np.isnan(only(read(tmp_path, waterml2(points))).values.iloc[0])

    def test_a_censored_number_is_flagged_and_kept(self, tmp_path: Path) -> None:
        own = '<wml2:censoredReason xlink:href="http://www.opengis.net/def/nil/OGC/0/BelowDetectionRange"/>'
        series = only(read(tmp_path, waterml2(waterml2_point("2021-03-01", "0.01", own))))
        assert series.values.iloc[0] == 0.01
        assert series.frame["flags"].tolist() == ["less-than"]

    def test_an_empty_point_is_passed_over_and_noted(self, tmp_path: Path) -> None:
        empty = "<wml2:point><wml2:MeasurementTVP><wml2:metadata><wml2:TVPMeasurementMetadata/></wml2:metadata>"
        empty += "</wml2:MeasurementTVP></wml2:point>"
        file = read(tmp_path, waterml2(empty + waterml2_point("2021-03-01", "1")))
        assert len(only(file).frame) == 1
        assert any("empty point" in n for n in file.notes)

    def test_an_own_unit_is_converted(self, tmp_path: Path) -> None:
        points = waterml2_point("2021-03-01", "1500", '<wml2:uom code="l/s"/>') + waterml2_point("2021-03-02", "1.5")
        assert only(read(tmp_path, waterml2(points))).values.tolist() == pytest.approx([1.5, 1.5], rel=1e-14)


class TestUnits:
    @pytest.mark.parametrize("uom", ['<wml2:uom code="cumec"/>', '<wml2:uom xlink:title="m3/s"/>'])
    def test_code_or_title(self, tmp_path: Path, uom: str) -> None:
        assert only(read(tmp_path, waterml2(uom=uom))).origins[0].unit == "m3/s"

    def test_no_unit_is_asked_for(self, tmp_path: Path) -> None:
        file = read(tmp_path, waterml2(uom=""))
        assert "unit = " in file.problems[0].expected
        assert only(read(tmp_path, waterml2(uom=""), unit="l/s")).values.iloc[0] == pytest.approx(0.0015)

    @pytest.mark.parametrize(
        ("observed", "uom"), [("Water Course Level", "m"), ("Rainfall", "mm"), ("Water Temperature", "degC")]
    )
    def test_level_rain_and_temperature_are_refused(self, tmp_path: Path, observed: str, uom: str) -> None:
        file = read(tmp_path, waterml2(observed=observed, uom=f'<wml2:uom code="{uom}"/>'))
        assert file.series == () and observed in file.problems[0].expected


class TestEquidistant:
    def test_points_without_times_are_counted_from_the_base(self, tmp_path: Path) -> None:
        points = "".join(waterml2_point("", v, "", "" if v else NIL) for v in ("1", "", "3"))
        text = waterml2(points, metadata=EQUIDISTANT.format("PT15M"))
        series = only(read(tmp_path, text))
        assert (series.frame.index == pd.date_range("2021-02-28T23:00Z", periods=3, freq="15min")).all()
        assert series.values.isna().tolist() == [False, True, False]

    def test_a_spacing_in_months_is_asked_about_and_not_taken_for_minutes(self, tmp_path: Path) -> None:
        file = read(tmp_path, waterml2(waterml2_point("", "1"), metadata=EQUIDISTANT.format("P15M")))
        assert file.series == () and "15 months" in file.problems[0].expected

    @pytest.mark.parametrize(
        ("text", "seconds"),
        [
            ("PT1M", 60),
            ("PT15M", 900),
            ("P1D", 86_400),
            ("P1W", 604_800),
            ("PT1H30M", 5400),
            ("P15M", None),
        ],
    )
    def test_durations(self, text: str, seconds: float | None) -> None:
        """ISO 8601: M before the T is months, behind it minutes."""
        assert seconds_of(text) == seconds

    @pytest.mark.parametrize("text", ["", "P", "PT", "15M", "PT0S", "PT99999999999H"])
    def test_what_is_no_duration(self, text: str) -> None:
        assert seconds_of(text) is None


class TestWrapping:
    def test_an_answer_inside_a_soap_envelope(self, tmp_path: Path) -> None:
        inner = waterml2().replace("wml2:observationMember", "sos:observationData")
        text = (
            '<soap12:Envelope xmlns:soap12="http://www.w3.org/2003/05/soap-envelope" '
            f'xmlns:sos="http://www.opengis.net/sos/2.0" {ROOT}><soap12:Body><sos:GetObservationResponse>{inner}'
            "</sos:GetObservationResponse></soap12:Body></soap12:Envelope>"
        )
        assert only(read_bytes(tmp_path, text.encode())).origins[0].station == "999001"

    def test_several_observations_are_several_series(self, tmp_path: Path) -> None:
        file = read(tmp_path, waterml2(), waterml2(identifier="o2"), waterml2(observed="Water Course Level"))
        assert [s.origins[0].series for s in file.series] == ["o1", "o2"]
        assert len(file.not_discharge) == 1

    def test_defaults_of_one_observation_do_not_reach_the_next(self, tmp_path: Path) -> None:
        file = read(tmp_path, waterml2(default=QUALIFIER.format("P")), waterml2(default="", identifier="o2"))
        assert file.series[0].frame["approval"].iloc[0] == "provisional"
        assert file.series[1].frame["approval"].iloc[0] == "unknown"

    def test_a_document_without_observations_says_so(self, tmp_path: Path) -> None:
        assert "holds none" in read_bytes(tmp_path, f"<wml2:Collection {ROOT}/>".encode()).problems[0].expected

    def test_a_us_observation_id_names_station_parameter_and_statistic(self, tmp_path: Path) -> None:
        origin = only(read(tmp_path, waterml2(identifier="obs.USGS.09999991.00060.1.00003"))).origins[0]
        assert (origin.station, origin.parameter, origin.statistic) == ("09999991", "00060", "mean")

    def test_points_out_of_order_are_sorted_and_noted(self, tmp_path: Path) -> None:
        points = waterml2_point("2021-03-02", "2") + waterml2_point("2021-03-01", "1")
        file = read(tmp_path, waterml2(points))
        assert only(file).values.tolist() == [1, 2]
        assert any("sorted" in n for n in file.notes)
