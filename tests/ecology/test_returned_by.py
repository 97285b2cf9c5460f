"""The interval of "seen again by day N" where resampling shows no scatter."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import binomtest

from ecology.npmle_bootstrap import bootstrap_npmle
from ecology.returned_by import returned_by_interval


def interval(low, high, days):
    low, high = np.array(low, float), np.array(high, float)
    bands = bootstrap_npmle(low, high, draws=200, seed=1, days=np.array(days, float))
    return bands, *returned_by_interval(low, high, bands)


def test_all_returned_is_not_certainty_but_the_exact_binomial_limit():
    bands, low, high = interval([5, 8, 10, 12, 20], [9, 12, 15, 18, 30], [60])
    assert bands.low[0] == bands.high[0] == 1
    # Reference: scipy.stats.binomtest, exact (Clopper–Pearson) interval of 5 of 5.
    exact = binomtest(5, 5).proportion_ci(0.95, method="exact")
    assert low[0] == pytest.approx(exact.low)
    assert high[0] == 1


def test_none_returned_has_an_upper_limit_too():
    _, low, high = interval([15, 18, 20, 22, 20], [19, 22, 25, 28, np.inf], [7])
    exact = binomtest(0, 5).proportion_ci(0.95, method="exact")
    assert low[0] == 0
    assert high[0] == pytest.approx(exact.high)


def test_where_resampling_scatters_its_interval_stands():
    bands, low, high = interval([5, 8, 10, 12, 20], [9, 12, 15, 18, 30], [13])
    assert bands.high[0] > bands.low[0]
    assert (low[0], high[0]) == (bands.low[0], bands.high[0])


def test_spells_whose_answer_is_not_known_do_not_count():
    # On day 60 two of five were last searched on day 3: only three tell.
    _, low, _ = interval([5, 8, 10, 3, 3], [9, 12, 15, np.inf, np.inf], [60])
    assert low[0] <= binomtest(3, 3).proportion_ci(0.95, method="exact").low + 1e-12
