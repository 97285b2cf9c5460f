"""Stations kept up to date from services that behave."""

from __future__ import annotations

import csv
import datetime

import numpy as np
import pandas as pd
import pytest

from hydro.problems import InputError
from hydro.services.fetched import UNCHANGED, UPDATED
from hydro.services.kept import REVISIONS, read_copy
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file
from hydro.units import to_m3s
from tests.hydro.services.player import NOW, STATION, as_json, days

DAILY = ["us-daily", "england", "france"]
UNITS = {"us-daily": "cfs", "us-continuous": "cfs", "england": "m3/s", "france": "l/s"}


def series_of(fetched):
    """The kept copy through the door of all gauge files."""
    read = read_gauge_file(fetched.copy.file)
    assert not read.problems
    return read.only_series(ReadChoices())


def asked_from(player, n=-1):
    """First day of the n-th request."""
    args = player.asked[n].args
    return (args.get("time") or args.get("mineq-date") or args.get("date_debut_obs_elab"))[:10]


@pytest.mark.parametrize("rows", [1000, 7])
@pytest.mark.parametrize("service", DAILY)
def test_every_value_comes_on_one_page_or_many_and_is_read_like_a_file(fetch, player, service, rows):
    player.page_rows = rows
    found = fetch(service)
    assert (found.outcome, found.why, found.n_new) == (UPDATED, None, 20)
    series = series_of(found)
    expected = [to_m3s(float(v), UNITS[service]) for v in player.values.values()]
    np.testing.assert_allclose(series.values, expected)
    assert [f"{d:%Y-%m-%d}" for d in series.frame.index] == list(player.values)
    assert series.daily and not series.notes


def test_the_pages_of_france_come_with_code_206_and_are_data(fetch, player):
    player.page_rows = 7
    assert fetch("france").n_new == 20
    codes = [response.status_code for _, response in player.server.log]
    assert codes.count(206) == 2 and 200 in codes


def test_continuous_values_are_asked_by_calendar_years_newest_first(fetch, player):
    stamps = pd.date_range("2022-12-31T23:00Z", "2023-01-01T01:00Z", freq="15min")
    player.values = {f"{t:%Y-%m-%dT%H:%M:%S+00:00}": "7.5" for t in stamps}
    found = fetch("us-continuous", again_from="2022-06-01")
    spans = [r.args["time"] for r in player.asked]
    assert spans == [
        "2024-01-01T00:00:00Z/2024-03-11T23:59:59Z",
        "2023-01-01T00:00:00Z/2023-12-31T23:59:59Z",
        "2022-06-01T00:00:00Z/2022-12-31T23:59:59Z",
    ]
    series = series_of(found)
    assert series.step == "PT15M"
    assert list(series.frame.index) == list(stamps)


def test_the_continuous_record_begins_where_the_service_begins(fetch, player):
    player.values = {"2024-03-01T00:00:00+00:00": "7.5"}
    fetch("us-continuous")
    assert asked_from(player) == "2007-10-01"
    assert len(player.asked) == 2024 - 2007 + 1


@pytest.mark.parametrize("service", DAILY)
def test_later_only_the_newest_days_are_asked_for(fetch, player, clock, service):
    fetch(service)
    clock.at += datetime.timedelta(hours=23)
    player.values |= {"2024-03-11": "99.5", "2024-03-12": "98.5"}
    player.asked.clear()
    found = fetch(service)
    assert (found.outcome, found.n_new, found.n_kept) == (UPDATED, 2, 22)
    assert asked_from(player, 0) == "2024-02-09"  # thirty days before the newest value
    assert found.last.startswith("2024-03-12")


def test_after_an_outage_the_days_since_the_newest_value_are_asked_for_again(fetch, player, clock):
    fetch()
    for _ in range(10):
        clock.at += datetime.timedelta(days=6)
        fetch()
    player.values |= {f"{d}": "1.5" for d in days("2024-03-11", "2024-05-09")}
    found = fetch()
    assert found.n_new == len(days("2024-03-11", "2024-05-09"))


def test_days_that_may_be_revised_are_asked_for_once_a_day(fetch, player, clock):
    fetch()
    clock.at += datetime.timedelta(hours=11)
    fetch()
    assert asked_from(player) == "2024-02-09"
    clock.at += datetime.timedelta(hours=13)
    fetch()
    assert asked_from(player) == f"{datetime.date(2024, 3, 10) - datetime.timedelta(days=400)}"


def test_values_that_changed_are_told_and_kept_with_what_they_were(fetch, player, clock):
    fetch()
    clock.at += datetime.timedelta(days=1)
    player.values |= {"2024-02-28": "11.5", "2024-03-02": "12.5"}
    found = fetch()
    assert found.outcome == UPDATED
    assert found.changes[["time", "was", "is"]].values.tolist() == [
        ["2024-02-28", "58.5", "11.5"],
        ["2024-03-02", "61.5", "12.5"],
    ]
    assert series_of(found).values["2024-02-28"] == pytest.approx(to_m3s(11.5, "cfs"))
    revised = found.copy.revised
    assert (revised.count, revised.first, revised.last) == (2, "2024-02-28", "2024-03-02")
    assert revised.before == NOW
    with (found.copy.folder / REVISIONS).open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0][c] for c in ("time", "was", "is", "unit")) == ("2024-02-28", "58.5", "11.5", "cfs")
    player.values["2024-03-02"] = "13.5"
    again = fetch()
    assert len(again.changes) == 1
    assert len((again.copy.folder / REVISIONS).read_text().splitlines()) == 1 + 2 + 1


def test_an_approval_alone_is_no_changed_value(fetch, player):
    fetch()
    player.approval = "Approved"
    found = fetch()
    assert (len(found.changes), found.n_judged) == (0, 20)
    assert set(series_of(found).frame["approval"]) == {"approved"}


def test_a_number_written_in_another_way_is_the_same_number(fetch, player):
    fetch()
    player.values = {t: f"{v}0" for t, v in player.values.items()}
    assert fetch().outcome == UNCHANGED


def test_nothing_new_leaves_the_file_of_values_as_it_was(fetch, player):
    file = fetch().copy.file
    before = file.read_bytes(), file.stat().st_mtime_ns
    found = fetch()
    assert found.outcome == UNCHANGED
    assert (file.read_bytes(), file.stat().st_mtime_ns) == before


@pytest.mark.parametrize("service", DAILY)
def test_a_value_that_is_no_longer_given_is_kept_and_marked(fetch, player, service):
    fetch(service)
    gone = player.values.pop("2024-03-01")
    found = fetch(service)
    assert (found.n_withdrawn, found.n_kept) == (1, 20)
    row = series_of(found).frame.loc["2024-03-01"]
    assert row["discharge_m3s"] == pytest.approx(to_m3s(float(gone), UNITS[service]))
    assert "withdrawn" in row["flags"]
    assert fetch(service).outcome == UNCHANGED
    player.values["2024-03-01"] = gone
    back = fetch(service)
    assert (back.n_restored, len(back.changes)) == (1, 0)
    assert "withdrawn" not in series_of(back).frame.loc["2024-03-01", "flags"]


def test_of_two_versions_of_a_value_the_newer_stands(fetch, player):
    older = player.feature("2024-03-01", "1.5", last_modified="2023-01-01T00:00:00+00:00")
    features = [older, player.feature("2024-03-01", "61.5")]
    player.upset = lambda n, request: as_json({"features": features, "numberReturned": 2, "links": []})
    found = fetch()
    assert (found.n_new, found.n_twice) == (1, 0)
    assert series_of(found).values.tolist() == [pytest.approx(to_m3s(61.5, "cfs"))]


def test_two_numbers_of_one_version_are_marked_as_contradicting(fetch, player):
    features = [player.feature("2024-03-01", "1.5"), player.feature("2024-03-01", "61.5")]
    player.upset = lambda n, request: as_json({"features": features, "numberReturned": 2, "links": []})
    found = fetch()
    assert (found.n_new, found.n_twice) == (1, 1)
    assert "duplicate" in series_of(found).frame["flags"].iloc[0]


def test_qualifiers_come_through_as_marks(fetch, player):
    player.values["2024-03-02"] = None
    player.qualifiers = {"2024-03-01": ["ICE", "ESTIMATED"], "2024-03-02": ["EQUIP"]}
    frame = series_of(fetch()).frame
    assert set(frame.loc["2024-03-01", "flags"].split()) == {"ice", "estimated"}
    assert np.isnan(frame.loc["2024-03-02", "discharge_m3s"])  # not measured, never 0


def test_a_day_to_begin_with_is_remembered(fetch, player, clock):
    found = fetch(again_from="2024-03-01")
    assert (found.n_new, asked_from(player)) == (10, "2024-03-01")
    clock.at += datetime.timedelta(days=8)
    player.asked.clear()
    assert fetch().n_kept == 10
    assert asked_from(player, 0) == "2024-03-01"
    earlier = fetch(again_from="2024-02-20")
    assert (earlier.n_new, earlier.n_kept) == (10, 20)


def test_asking_again_from_a_day_finds_revisions_of_long_ago(fetch, player, clock):
    player.values |= {f"{d}": "5.5" for d in days("2019-01-01", "2019-01-31")}
    fetch()
    player.values["2019-01-15"] = "6.5"
    assert len(fetch().changes) == 0
    assert fetch(again_from="2019-01-01").changes["time"].tolist() == ["2019-01-15"]


def test_a_page_that_came_just_now_answers_again_and_says_when_it_came(fetch, player):
    clock_of_pages = datetime.datetime.now(datetime.UTC)
    fetch()
    first = len(player.asked)
    found = fetch(pages="kept")
    # The second fetch asks for other days and so asks the service; the third asks for the same ones.
    again = fetch(pages="kept")
    assert len(player.asked) == first + found.requests
    assert (again.requests, again.pages_from_cache) == (0, 1)
    assert abs((again.copy.retrieved - clock_of_pages).total_seconds()) < 60


def test_progress_names_the_days_and_the_pages(fetch, player):
    said = []
    player.page_rows = 7
    fetch(progress=said.append)
    assert any("page 2" in s for s in said)
    assert all(STATION in s for s in said)


def test_several_series_of_a_station_are_listed_and_one_has_to_be_chosen(fetch, player):
    both = [player.feature("2024-03-01", "5.5"), player.feature("2024-03-01", "7.5", time_series_id="bb22")]
    player.upset = lambda n, request: as_json({"features": both, "links": []})
    read = read_gauge_file(fetch().copy.file)
    with pytest.raises(InputError, match=r"aa11.*bb22"):
        read.only_series(ReadChoices())
    assert read.only_series(ReadChoices(series="bb22")).values.tolist() == [pytest.approx(to_m3s(7.5, "cfs"))]


def test_two_gauges_of_one_station_share_a_copy(fetch, tmp_path):
    fetch()
    assert read_copy(tmp_path, "us-daily", STATION).has_values
    odd = read_copy(tmp_path, "us-daily", "../escape")
    assert not odd.has_values
    assert odd.folder.parent == read_copy(tmp_path, "us-daily", "1").folder.parent
