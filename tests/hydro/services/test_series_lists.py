"""A station of which no value came: what the service's own list of its series says.

Members of the list are those of the service's collection of time series metadata; spans are local, without offset.
"""

from __future__ import annotations

import pytest

from hydro.services.fetched import FAILED, UPDATED
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file
from tests.hydro.services.player import STATION, as_json


def listed(parameter="00060", period="Daily", statistic="00003", **other):
    return {
        "id": "aa11",
        "monitoring_location_id": f"USGS-{STATION}",
        "parameter_code": parameter,
        "statistic_id": statistic,
        "computation_identifier": "Mean",
        "computation_period_identifier": period,
        "begin": "1999-02-03T00:00:00.000001",
        "end": "2011-04-05T00:00:00",
        "sublocation_identifier": None,
        **other,
    }


def test_another_parameter_of_discharge_is_named_with_its_span_and_how_to_ask_for_it(fetch, player):
    player.values, player.listed = {}, [listed("30208"), listed("00065", statistic="00011")]
    found = fetch()
    assert found.outcome == FAILED
    assert "discharge 30208 in m3/s, mean, daily, 1999-02-03 to 2011-04-05" in found.why
    assert f"station = “{STATION}:30208”" in found.why
    assert "00065" not in found.why


def test_the_parameter_behind_a_colon_is_asked_for_and_read_in_its_unit(fetch, player):
    feature = player.feature("2024-03-01", "5.5", parameter_code="30208", unit_of_measure="m^3/s")
    player.upset = lambda n, request: as_json({"features": [feature], "numberReturned": 1, "links": []})
    found = fetch(station=f"{STATION}:30208")
    assert (found.outcome, found.n_new) == (UPDATED, 1)
    assert player.asked[0].args["parameter_code"] == "30208"
    assert player.asked[0].args["monitoring_location_id"] == f"USGS-{STATION}"
    series = read_gauge_file(found.copy.file).only_series(ReadChoices())
    assert series.values.tolist() == [5.5]


def test_a_record_of_the_other_kind_is_named_with_its_service(fetch, player):
    player.values, player.listed = {}, [listed(period="Points", statistic="00011", sublocation_identifier="weir")]
    assert "instantaneous, points, weir, 1999-02-03 to 2011-04-05, service = “us-continuous”" in fetch().why


def test_a_long_list_is_cut_short_and_says_so(fetch, player):
    player.values, player.listed = {}, [listed("30208") for _ in range(9)]
    assert fetch().why.endswith("; and 3 more")


def test_a_list_without_discharge_is_said(fetch, player):
    player.values, player.listed = {}, [listed("00010")]
    assert "lists no series of discharge" in fetch().why


@pytest.mark.parametrize("status", [404, 500])
def test_a_list_that_does_not_come_leaves_the_first_answer(fetch, player, status):
    player.values = {}
    player.upset = lambda n, request: as_json({}, status) if "metadata" in request.path else None
    assert fetch(again_from="2024-01-01").why == "the service holds no discharge of this station (is its id right?)"
