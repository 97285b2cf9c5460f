"""What a person should look at before trusting a record. The limits are common practice, no source."""

from __future__ import annotations

import numpy as np
import pytest

from hydro.suspicious import sentences, suspicious_runs
from hydro.units import to_m3s


def found(values: list[float], unit: str = "m3/s") -> list[tuple[str, int, int]]:
    stamps = np.arange(len(values)).astype("datetime64[D]").astype("datetime64[us]")
    runs = suspicious_runs(stamps, np.array(values, dtype=float), unit, daily=True)
    assert len(sentences(runs, stamps)) == len({r.kind for r in runs})
    return [(r.kind, r.first, r.last) for r in runs]


WAVES = [10 + (i % 7) for i in range(40)]


def test_a_plain_record_is_not_suspicious() -> None:
    assert found(WAVES) == []
    assert found([5.0]) == found([]) == []
    assert found([float("nan")] * 30) == []


def test_three_weeks_of_one_value_are_stuck_and_twenty_days_are_not() -> None:
    assert found([*WAVES, *[8.0] * 21, *WAVES]) == [("stuck", 40, 60)]
    assert found([*WAVES, *[8.0] * 20, *WAVES]) == []


def test_a_hole_ends_a_stuck_run() -> None:
    assert found([*WAVES, *[8.0] * 15, float("nan"), *[8.0] * 15]) == []


def test_zeros_that_begin_at_once_are_told_and_a_recession_to_zero_is_not() -> None:
    assert ("zeros", 40, 49) in found([*WAVES, *[0.0] * 10, *WAVES])
    assert found([*WAVES, 5, 2, 0.9, 0.4, 0.15, 0.05, *[0.0] * 10, 0.02, 0.1]) == []


@pytest.mark.parametrize("unit", ["m3/s", "cfs", "l/s"])
def test_nines_in_the_files_own_unit_are_fillers(unit: str) -> None:
    values = [float(to_m3s(float(v), unit)) for v in [*WAVES, 9999, 9999, *WAVES]]
    assert ("filler", 40, 41) in found(values, unit)


def test_a_river_that_reaches_999_has_no_filler() -> None:
    assert found([*range(900, 1000), *range(998, 900, -1)]) == []


def test_one_negative_number_again_and_again_is_a_filler() -> None:
    kinds = found([5, -1, 6, 7, -1, 6, 5, -1, 6])
    assert [k for k in kinds if k[0] == "filler"] == [("filler", 1, 1), ("filler", 4, 4), ("filler", 7, 7)]


def test_a_single_value_far_from_both_neighbours_is_a_spike() -> None:
    assert found([*WAVES, 500, *WAVES]) == [("spike", 40, 40)]
    assert found([*WAVES, 0.5, *WAVES]) == [("spike", 40, 40)]


def test_a_flood_that_recedes_is_no_spike() -> None:
    assert found([*WAVES, 500, 300, 180, 110, 70, *WAVES]) == []


def test_a_change_by_a_thousand_that_stays_looks_like_a_change_of_unit() -> None:
    assert found([*WAVES, *(v / 1000 for v in WAVES)]) == [("unit-step", 39, 40)]
    assert found([*WAVES, 0.01, *WAVES]) == [("spike", 40, 40)]
