"""Exact limits of shares and rates against tables and a general library."""

from __future__ import annotations

import pytest

from hydro.count_limits import rate_limits, share_limits


def test_limits_of_a_share_are_those_of_statsmodels() -> None:
    # statsmodels.stats.proportion.proportion_confint(method="beta"), Clopper-Pearson.
    from statsmodels.stats.proportion import proportion_confint

    for of in (1, 5, 14, 60):
        for count in range(of + 1):
            for level in (0.8, 0.95):
                expected = proportion_confint(count, of, alpha=1 - level, method="beta")
                assert share_limits(count, of, level) == pytest.approx(expected, abs=1e-9)


def test_no_failure_in_n_is_the_closed_form() -> None:
    # With n of n the lower limit is (alpha / 2)^(1 / n) (Clopper & Pearson 1934).
    assert share_limits(10, 10) == pytest.approx((0.025 ** (1 / 10), 1.0))
    assert share_limits(0, 0) == (0.0, 1.0)


def test_limits_of_a_rate_are_those_of_the_table() -> None:
    # Garwood 1936, table of 95 % limits of a Poisson mean; values from memory.
    for count, low, high in ((0, 0.0, 3.689), (1, 0.0253, 5.572), (5, 1.623, 11.668), (10, 4.795, 18.390)):
        assert rate_limits(count, 1.0) == pytest.approx((low, high), abs=6e-4)
    assert rate_limits(10, 20.0) == pytest.approx((4.795 / 20, 18.390 / 20), abs=6e-5)


def test_limits_of_a_rate_are_those_of_scipys_chi_square() -> None:
    from scipy.stats import chi2

    for count in range(1, 40, 3):
        expected = (chi2.ppf(0.025, 2 * count) / 2, chi2.ppf(0.975, 2 * count + 2) / 2)
        assert rate_limits(count, 1.0) == pytest.approx(expected)


def test_impossible_counts_are_refused() -> None:
    for wrong in ((3, 2), (-1, 2)):
        with pytest.raises(ValueError, match="count"):
            share_limits(*wrong)
    for count, exposure in ((-1, 2.0), (1, 0.0)):
        with pytest.raises(ValueError, match="count"):
            rate_limits(count, exposure)
