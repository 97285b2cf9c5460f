"""What holds for every set of sightings."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from hydro.threshold import LevelEstimate, estimate_level

discharges = st.floats(min_value=0.5, max_value=50.0)


@st.composite
def sightings(draw: st.DrawFn) -> pd.DataFrame:
    """2 to 40 sightings, a week to a month apart, of any surface at any discharge."""
    n = draw(st.integers(2, 40))
    steps = draw(st.lists(st.integers(7, 31), min_size=n, max_size=n))
    return pd.DataFrame(
        {
            "date": pd.Timestamp("2012-01-01") + pd.to_timedelta(np.cumsum(steps), unit="D"),
            "surface": draw(st.lists(st.sampled_from(["running", "dry", "pooled"]), min_size=n, max_size=n)),
            "discharge_m3s": draw(st.lists(discharges, min_size=n, max_size=n)),
            "row": np.arange(n) + 2,
            "source": "visit",
        }
    )


def numbers(found: LevelEstimate) -> list[float]:
    level = found.stop_level
    return [math.nan if v is None else v for v in (level.value_m3s, level.low_m3s, level.high_m3s)]


@given(sightings())
def test_a_level_lies_in_its_interval_or_says_why_not(table: pd.DataFrame) -> None:
    found = estimate_level(table, draws=0)
    level = found.stop_level
    if level.value_m3s is None:
        assert level.why and level.low_m3s is None and level.high_m3s is None
        return
    assert level.value_m3s > 0 and level.inflation >= 1
    assert level.low_m3s is None or level.low_m3s <= level.value_m3s
    assert level.high_m3s is None or level.high_m3s >= level.value_m3s
    assert (level.why is None) == (level.low_m3s is not None and level.high_m3s is not None)
    assert found.one_sided is None


@given(sightings())
def test_every_row_is_counted_once(table: pd.DataFrame) -> None:
    found = estimate_level(table, draws=0)
    assert found.n_running + found.n_dry + found.n_pooled + len(found.left_out) == len(table)
    assert found.n_spells <= found.n_running + found.n_dry


@given(sightings(), st.floats(min_value=0.01, max_value=100.0))
def test_another_unit_of_discharge_gives_the_same_level_in_that_unit(table: pd.DataFrame, factor: float) -> None:
    plain = numbers(estimate_level(table, draws=0))
    scaled = numbers(estimate_level(table.assign(discharge_m3s=table["discharge_m3s"] * factor), draws=0))
    assert np.asarray(scaled) / factor == pytest.approx(plain, rel=1e-4, nan_ok=True)


@given(sightings(), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_does_not_matter(table: pd.DataFrame, shuffle: object) -> None:
    order = list(range(len(table)))
    shuffle.shuffle(order)  # type: ignore[attr-defined]
    assert numbers(estimate_level(table.iloc[order], draws=0)) == pytest.approx(
        numbers(estimate_level(table, draws=0)), rel=1e-6, nan_ok=True
    )


@given(sightings())
def test_a_wider_confidence_gives_a_wider_interval(table: pd.DataFrame) -> None:
    """nan = unbounded: once unbounded at 80 %, unbounded at 95 %."""
    narrow, wide = (numbers(estimate_level(table, draws=0, level=level)) for level in (0.8, 0.95))
    assert narrow[0] == pytest.approx(wide[0], nan_ok=True)
    for small, large, side in zip(narrow[1:], wide[1:], (-1, 1), strict=True):
        assert not (math.isnan(small) and not math.isnan(large))
        if not math.isnan(large):
            assert side * (large - small) >= -1e-6 * abs(large)


@example([1.0, 2.0, 31.0, 35.0, 41.0, 44.0, 45.0, 46.0, 47.0, 48.0], 9)
@example([1.0, 2.0, 13.0, 18.0, 19.0, 23.0, 24.0, 35.0, 36.0, 37.0, 38.0, 1.5], 8)  # two maxima in the slope
@example([1.0, 20.0, 41.0, 42.0, 42.75, 43.0, 44.0], 6)  # the penalised curve has no slope
@given(st.lists(discharges, min_size=2, max_size=12, unique=True), st.integers(1, 11))
def test_separated_sightings_have_their_level_in_the_bracket_and_the_bracket_in_the_interval(
    q: list[float], cut: int
) -> None:
    ordered = np.sort(q)
    cut = min(cut, len(ordered) - 1)
    table = pd.DataFrame(
        {
            "date": pd.date_range("2012-01-01", periods=len(ordered), freq="14D"),
            "surface": np.where(np.arange(len(ordered)) < cut, "dry", "running"),
            "discharge_m3s": ordered,
            "row": np.arange(len(ordered)),
            "source": "note",
        }
    )
    found = estimate_level(table, draws=0)
    assert found.separated
    level, floor, ceiling = found.stop_level, found.bracket.highest_dry_m3s, found.bracket.lowest_running_m3s
    assert level.value_m3s is not None and floor is not None and ceiling is not None
    assert floor * (1 - 1e-12) <= level.value_m3s <= ceiling * (1 + 1e-12)
    assert level.low_m3s is None or level.low_m3s <= floor * (1 + 1e-12)
    assert level.high_m3s is None or level.high_m3s >= ceiling * (1 - 1e-12)
