"""Length and season of the dry spell against outside fits and stated truths."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import optimize, stats

from ecology.return_effects import return_effects


def made(n, seed, *, factor=1.0, wave=1.0):
    """(low, high, dry days, restart): Weibull lags of shape 1.5 whose median of 45 days is multiplied by `factor` with
    each doubling of the dry spell, and `wave` times as long after restarts in early April as in early October."""
    rng = np.random.default_rng(seed)
    dry = np.exp(rng.normal(np.log(60.0), 0.7, n))
    restart = pd.Series(pd.Timestamp("2001-01-01") + pd.to_timedelta(rng.integers(365, size=n), "D"))
    phase = 2.0 * np.pi * restart.dt.day_of_year.to_numpy() / 365.2425
    median = 45.0 * (dry / 60.0) ** np.log2(factor) * np.exp(0.5 * np.log(wave) * np.sin(phase))
    back = np.floor(median * (rng.exponential(size=n) / np.log(2.0)) ** (1.0 / 1.5))
    first = rng.integers(14, size=n)
    number = np.maximum(np.ceil((back - first) / 14.0), 0)
    high = first + 14.0 * number
    return np.where(number == 0, -1.0, high - 14.0), np.where(high > 250, np.inf, high), dry, restart


def test_the_factor_is_that_of_a_general_optimiser_on_the_weibull_likelihood():
    """scipy.optimize on scipy.stats.weibull_min, interval by interval; day d is (d, d + 1]."""
    low, high, dry, restart = made(25, 3, factor=1.4)
    high = np.where(np.arange(25) == 4, np.inf, high)

    def minus_log_likelihood(theta):
        law = stats.weibull_min(np.exp(theta[2]), scale=np.exp(theta[0] + theta[1] * np.log(dry)))
        return -np.sum(np.log(law.cdf(high + 1.0) - law.cdf(low + 1.0)))

    start = np.array([3.0, 0.3, 0.3])
    best = optimize.minimize(
        minus_log_likelihood, start, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 5_000}
    )
    effects = return_effects(low, high, dry, restart)
    assert effects.length is not None
    assert effects.length.factor == pytest.approx(2.0 ** best.x[1], rel=1e-5)
    assert (effects.n, effects.n_found) == (25, int(np.isfinite(high).sum()))


def test_stated_effects_lie_inside_their_intervals():
    """30 made sets of 25 spells. The full table: benchmarks/bench_return_effects.py."""
    held, wave_held, wave_seen = 0, 0, 0
    for seed in range(30):
        effects = return_effects(*made(25, seed, factor=1.5, wave=3.0))
        assert effects.length is not None and effects.season is not None
        held += effects.length.low <= 1.5 <= effects.length.high
        wave_held += effects.season.low <= 3.0 <= effects.season.high
        wave_seen += effects.season.p < 0.05
    # With 95 % coverage fewer than 25 of 30 hold the truth in 2 of 1,000 cases (binomial).
    assert held >= 25 and wave_held >= 25
    assert wave_seen >= 8


def test_without_a_season_the_factor_includes_one():
    outside = sum(return_effects(*made(25, seed)).season.low > 1.0 for seed in range(30))
    assert outside <= 5  # more than 5 of 30 at 5 %: 3 of 1,000 cases (binomial)


def test_the_slowest_season_is_found_where_it_is():
    effects = return_effects(*made(120, 5, wave=6.0))
    assert effects.season is not None
    assert abs(effects.season.slowest_day - 92) < 25  # the sine is highest a quarter of a year in


def test_the_length_can_be_judged_with_the_season_held_fixed():
    effects = return_effects(*made(60, 2, factor=1.5, wave=3.0))
    assert effects.length_season_fixed is not None
    assert effects.length_season_fixed.low <= 1.5 <= effects.length_season_fixed.high


def test_too_few_finds_are_refused_with_the_number_needed():
    low, high, dry, restart = made(8, 1)
    effects = return_effects(low, high, dry, restart)
    found = int(np.isfinite(high).sum())
    assert effects.length is effects.season is effects.length_season_fixed is None
    assert effects.why_length == (f"{found} spells of known length have a find; 3 numbers to estimate need at least 9")


def test_spells_of_unknown_length_are_left_out():
    low, high, dry, restart = made(30, 1)
    hidden = np.where(np.arange(30) < 5, np.nan, dry)
    assert return_effects(low, high, hidden, restart).n == 25


def test_one_length_for_all_says_nothing_of_length():
    low, high, _, restart = made(30, 1)
    effects = return_effects(low, high, np.full(30, 60.0), restart)
    assert effects.length is None
    assert effects.why_length is not None and "constant" in effects.why_length
