"""A short series worked through by hand with the rules of run theory.

Rules: threshold-level method with strict "<" (Yevjevich 1967, Hydrology Paper 23, Colorado State University, from
memory); inter-event time pooling (Zelenhasić and Salvai 1987, Water Resources Research 23:156–168). The series and its
spells were worked out by hand and by an independent program; they are not printed in those papers.
"""

from __future__ import annotations

import pandas as pd
import pytest

from hydro.dry_spells import find_dry_spells

SERIES = [50, 46, 41, 39, 38, 41, 43, 39, 37, 45, 46, 42, 39, 44.5, 50, 52, 39.5, 46, 47.0]


def spans(table: pd.DataFrame) -> list[tuple[int, int]]:
    return list(zip(table["first"].tolist(), table["last"].tolist(), strict=True))


def test_spells_below_forty_with_their_lengths_and_deficits():
    found = find_dry_spells(pd.Series(SERIES), 40.0, step_seconds=1.0).spells
    assert spans(found) == [(3, 4), (7, 8), (12, 12), (16, 16)]
    assert found["days"].tolist() == [2, 2, 1, 1]
    assert found["deficit_m3"].tolist() == [3.0, 4.0, 1.0, 0.5]
    assert found["minimum_m3s"].tolist() == [38, 37, 39, 39.5]
    assert found["minimum_at"].tolist() == [4, 8, 12, 16]
    assert (found["status"] == "ended").all()


def test_a_higher_restart_level_keeps_the_outlet_dry_between_the_levels():
    assert spans(find_dry_spells(pd.Series(SERIES), 40.0, 44.0).spells) == [(3, 8), (12, 12), (16, 16)]


@pytest.mark.parametrize(
    ("join_days", "expected"),
    [
        (1, [(3, 4), (7, 8), (12, 12), (16, 16)]),
        (2, [(3, 8), (12, 12), (16, 16)]),
        (3, [(3, 16)]),
    ],
)
def test_joining_over_short_interruptions(join_days, expected):
    assert spans(find_dry_spells(pd.Series(SERIES), 40.0, join_days=join_days).joined) == expected


def test_joined_deficits_add_up_and_their_days_span_the_interruptions():
    joined = find_dry_spells(pd.Series(SERIES), 40.0, join_days=3, step_seconds=1.0).joined
    assert joined["deficit_m3"].tolist() == [8.5]
    assert joined["days"].tolist() == [14]
    assert joined["dry_days"].tolist() == [6]
    assert joined["parts"].tolist() == [4]


def test_discharge_equal_to_the_level_is_running():
    assert find_dry_spells(pd.Series([41.0, 40.0, 41.0]), 40.0).spells.empty
