"""Paths are held against the level as a gauge with steps would give it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.analogues import Donors, states_on
from hydro.outlook_record import OutlookRecord, StateRule, make_record
from hydro.state_runs import DRY
from hydro.value_step import level_edges

NOTHING = np.array([0]), np.array([-1])


def record_of(values: np.ndarray, stop: float = 0.05, restart: float | None = None) -> OutlookRecord:
    q = pd.Series(values, index=pd.date_range("2001-01-01", periods=len(values)))
    return make_record(q, StateRule(stop_m3s=stop, restart_m3s=stop if restart is None else restart))


def edges_m3s(record: OutlookRecord, first: np.ndarray = NOTHING[0], last: np.ndarray = NOTHING[1]) -> np.ndarray:
    return np.array([record.rule.discharge(edge) for edge in level_edges(record, first, last)])


def test_the_edge_is_where_rounding_goes_down_to_the_value_below() -> None:
    values = np.tile(np.arange(0, 30) / 100, 20)
    # 0.05 is published for 0.045 to 0.055, and a level between two values parts them where they round apart.
    assert edges_m3s(record_of(values))[:, 0] == pytest.approx([0.045, 0.045])
    assert edges_m3s(record_of(values, 0.0475, 0.1))[:, 0] == pytest.approx([0.045, 0.095])
    assert edges_m3s(record_of(values, 0.0425))[:, 0] == pytest.approx([0.045, 0.045])


def test_a_sum_of_gauges_has_the_step_of_its_gauges() -> None:
    rng = np.random.default_rng(1)
    values = rng.integers(0, 20, 800) * 0.01 + rng.integers(0, 3, 800) * 0.01
    assert len(np.unique(values)) > 25  # rounding makes more values than there are
    assert edges_m3s(record_of(values))[0, 0] == pytest.approx(0.045, abs=1e-8)


def test_without_steps_or_with_too_few_values_the_level_is_its_own_edge() -> None:
    rng = np.random.default_rng(2)
    assert edges_m3s(record_of(np.exp(rng.normal(-3, 1, 4000))))[0, 0] == pytest.approx(0.05, rel=1e-3)
    for few in (np.array([0.2, 0.4] * 50), np.full(30, np.nan), np.linspace(0.001, 0.04, 99)):
        assert edges_m3s(record_of(few))[0, 0] == pytest.approx(0.05)
    # One value far above a level in a gap does not pull the edge from it by more than half a step.
    gap = np.concatenate((np.arange(1, 30) / 1000, 1.0 + np.arange(30) / 1000))
    assert abs(edges_m3s(record_of(gap, 0.5))[0, 0] - 0.5) <= 0.0005 + 1e-9


def test_the_step_is_that_of_the_values_outside_the_range() -> None:
    values = np.tile(np.arange(0, 30) / 100, 20)
    values[100:200] = np.linspace(0.0401, 0.0599, 100)
    record = record_of(values)
    found = edges_m3s(record, np.array([100, 0]), np.array([199, -1]))[0]
    assert found[0] == pytest.approx(0.045)
    assert found[1] == pytest.approx(0.05, abs=0.0002)


@pytest.mark.parametrize(("restart", "stop_days"), [(0.05, 1), (0.05, 2), (0.08, 1)])
def test_a_river_on_its_level_is_not_dry_for_a_fall_that_its_gauge_would_not_show(
    restart: float, stop_days: int
) -> None:
    """Donors that fall by 1 % a day, in steps that are small where they are: 0.05 falls to 0.0495, and shows 0.05."""
    values = np.concatenate((np.repeat(np.arange(1, 30) / 100, 3), np.round(np.geomspace(2.0, 1.0, 70), 2), [0.05]))
    q = pd.Series(values, index=pd.date_range("2001-01-01", periods=len(values)))
    record = make_record(q, StateRule(stop_m3s=0.05, restart_m3s=restart, stop_days=stop_days))
    start = np.array([len(record) - 1])
    donors = Donors(row=np.arange(90, 120, dtype=np.int32)[None, :])
    fall = record.z[donors.row + 1] - record.z[donors.row]
    assert (fall < 0).all() and (np.exp(2 * fall) > 0.97).all()
    as_it_stands = np.zeros(1), np.full(1, record.rule.log_restart)
    found = [
        states_on(record, start, donors, np.array([1, 2]), edges)
        for edges in (as_it_stands, level_edges(record, *NOTHING))
    ]
    assert (found[1] != DRY).all()
    assert (found[0][stop_days - 1] == DRY).all()
