"""The share after which animals stay away: given only where searching went on well past the returns seen."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from ecology.never_returned import latest_return, never_returned
from ecology.not_estimable import NotEstimable
from ecology.npmle_bootstrap import bootstrap_npmle

INF = np.inf


def share(low, high):
    low, high = np.array(low, float), np.array(high, float)
    days = np.array([latest_return(high) or 0.0])
    return never_returned(low, high, bootstrap_npmle(low, high, draws=200, seed=1, days=days))


def test_spells_cut_short_do_not_tell_whether_animals_stay_away():
    with pytest.raises(NotEstimable, match="at most until day 60, while returns that were seen had happened by day 50"):
        share([10, 20, 40, 30, 60], [20, 30, 50, INF, INF])


def test_a_spell_followed_long_enough_counts_and_the_plateau_is_the_estimate():
    """By hand: 4 of 5 spells returned, the fifth was searched until day 200 without a find."""
    found = share([10, 20, 40, 30, 200], [20, 30, 50, 45, INF])
    assert found.share == pytest.approx(0.2)
    assert (found.n_returned, found.n_followed, found.n_cut_short) == (4, 1, 0)
    assert found.until_days == 50
    exact = stats.binomtest(1, 5).proportion_ci(0.95, method="exact")
    assert found.low <= exact.low and found.high >= exact.high


def test_a_spell_cut_short_before_the_last_return_is_shared_out_over_what_came_later():
    """By hand, the product of Kaplan and Meier 1958: returns at 20 (of 5) and 30 (of 4), one spell cut short at 35,
    then a return at 50 (of 2): the plateau is 4/5 · 3/4 · 1/2 = 0.3."""
    found = share([19, 29, 35, 49, 200], [20, 30, INF, 50, INF])
    assert found.share == pytest.approx(0.3)
    assert found.n_cut_short == 1


def test_all_returned_leaves_an_exact_upper_limit():
    found = share([10, 20, 40, 30, 20], [20, 30, 50, 45, 28])
    assert (found.share, found.low) == (0.0, 0.0)
    assert found.high == pytest.approx(stats.binomtest(0, 5).proportion_ci(0.95, method="exact").high)


def test_nothing_seen_is_no_share():
    with pytest.raises(NotEstimable, match="No return was seen"):
        share([10, 20], [INF, INF])


def test_bands_of_other_days_are_refused():
    low, high = np.array([1.0, 2.0]), np.array([5.0, 9.0])
    with pytest.raises(ValueError, match="hold no day 9"):
        never_returned(low, high, bootstrap_npmle(low, high, draws=5, seed=1, days=np.array([7.0])))
