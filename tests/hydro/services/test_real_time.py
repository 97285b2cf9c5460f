"""Values that a service holds for a month only. Quantity, unit (litres per second) and codes are the service's own; the
shortest month has 28 days."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

from hydro.services.fetched import UNCHANGED, UPDATED
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file

SERVICE = "france-real-time"


@pytest.fixture
def observed(player):
    """Three hours of ten-minute values, today."""
    stamps = pd.date_range("2024-03-10T09:00Z", "2024-03-10T11:50Z", freq="10min")
    player.values = {f"{t:%Y-%m-%dT%H:%M:%SZ}": f"{1500 + i}" for i, t in enumerate(stamps)}
    return stamps


def series_of(found):
    return read_gauge_file(found.copy.file).only_series(ReadChoices())


@pytest.mark.parametrize("rows", [1000, 7])
def test_every_value_comes_and_is_read_in_litres_per_second(fetch, player, observed, rows):
    player.page_rows = rows
    found = fetch(SERVICE)
    assert (found.outcome, found.why, found.n_new) == (UPDATED, None, 18)
    series = series_of(found)
    assert series.step == "PT10M"
    assert list(series.frame.index) == list(observed)
    np.testing.assert_allclose(series.values, (1500 + np.arange(18)) / 1000)
    assert set(series.frame["approval"]) == {"provisional"}


def test_no_day_is_asked_for_that_the_shortest_month_would_not_hold(fetch, player, observed):
    fetch(SERVICE, again_from="2020-01-01")
    first = min(r.args["date_debut_obs"] for r in player.asked)
    assert datetime.date(2024, 3, 10) - datetime.date.fromisoformat(first[:10]) < datetime.timedelta(days=28)
    assert {r.args["grandeur_hydro"] for r in player.asked} == {"Q"}


def test_what_the_service_has_let_go_of_stays_and_is_not_called_withdrawn(fetch, player, clock, observed):
    fetch(SERVICE)
    clock.at += datetime.timedelta(days=45)
    player.values = {"2024-04-24T09:00:00Z": "1400"}
    found = fetch(SERVICE)
    assert (found.outcome, found.n_new, found.n_kept, found.n_withdrawn) == (UPDATED, 1, 19, 0)
    assert min(r.args["date_debut_obs"] for r in player.asked[1:]) > "2024-03-28"


def test_a_value_of_this_month_that_is_no_longer_given_is_marked(fetch, player, observed):
    fetch(SERVICE)
    player.values.pop("2024-03-10T10:00:00Z")
    assert fetch(SERVICE).n_withdrawn == 1
    frame = series_of(fetch(SERVICE)).frame
    assert list(frame.index[frame["flags"].str.contains("withdrawn")]) == [pd.Timestamp("2024-03-10T10:00Z")]


def test_a_value_that_was_corrected_is_told(fetch, player, observed):
    fetch(SERVICE)
    player.values["2024-03-10T10:00:00Z"] = "1400"
    changes = fetch(SERVICE).changes
    assert changes[["was", "is"]].to_numpy().tolist() == [["1506.0", "1400.0"]]
    assert fetch(SERVICE).outcome == UNCHANGED
