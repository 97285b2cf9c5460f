"""Many tasks in several processes: the same answers in the same order as one after the other."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.alert_levels import Task, judge_outlet
from dashboard.side_by_side import WORTH_IT, side_by_side
from hydro.alert_choice import AlertNeeds
from hydro.dry_spells import find_dry_spells
from hydro.outlet import Outlet
from hydro.problems import InputError, Problem
from hydro.units import Quantity


def task(k: int) -> Task:
    """Three years of ups and downs around 1 m³/s."""
    rng = np.random.default_rng(k)
    days = pd.date_range("2001-01-01", periods=1100)
    values = pd.Series(np.exp(np.cos(2 * np.pi * days.day_of_year / 365.25) + rng.normal(0, 0.1, 1100)), index=days)
    return Task(
        outlet=Outlet(id=f"o{k}", title=f"O{k}", flow="f", stops_below=Quantity(0.6, "m3/s")),
        values=values,
        dry=find_dry_spells(values, 0.6),
        unit="m3/s",
        needs=AlertNeeds(),
        tries=(),
    )


def test_many_outlets_are_judged_as_one_after_the_other_judges_them():
    tasks = [task(k) for k in range(WORTH_IT)]
    found = side_by_side(judge_outlet, tasks)
    assert [o.outlet.id for o in found] == [f"o{k}" for k in range(WORTH_IT)]
    for k in (0, 11, WORTH_IT - 1):
        alone = judge_outlet(tasks[k])
        assert alone.levels is not None and found[k].levels is not None
        pd.testing.assert_frame_equal(found[k].levels.table, alone.levels.table)
        pd.testing.assert_frame_equal(found[k].chances.table, alone.chances.table)
        assert found[k].levels.recommended.candidate == alone.levels.recommended.candidate


def wrong(k: int) -> int:
    """Task 30 cannot be done."""
    if k == 30:
        raise InputError([Problem(file="a.csv", row=k, expected="a number") for k in (3, 4)])
    return k


def test_what_is_wrong_comes_whole_from_another_process():
    with pytest.raises(InputError) as found:
        side_by_side(wrong, range(WORTH_IT + 10))
    assert [p.row for p in found.value.problems] == [3, 4]
