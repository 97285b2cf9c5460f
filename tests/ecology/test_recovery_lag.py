"""Lags until half of the expected count."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from ecology.missed_animals import fit_missed_animals
from ecology.recovery_lag import chance_to_reach, counts_before, recovery_lags
from hydro.dry_spells import find_dry_spells

FIRST = pd.Timestamp("2020-01-01")


def record(*dry_spells, days=400):
    """Dry spells of an outlet dry from day a to day b."""
    flow = np.full(days, 60.0)
    for a, b in dry_spells:
        flow[a : b + 1] = 30.0
    index = pd.date_range(FIRST, periods=days, freq="D")
    return find_dry_spells(pd.Series(flow, index=index), 40.0)


def visits(*rows):
    """(day, count, effort)."""
    return pd.DataFrame(
        {
            "date": [FIRST + pd.Timedelta(days=d) for d, _, _ in rows],
            "kind": "counted",
            "surface": "running",
            "count": [float(c) for _, c, _ in rows],
            "effort": [float(e) for _, _, e in rows],
            "row": np.arange(2, len(rows) + 2),
        }
    )


def lags(seen, expected, dry=None):
    by_row = pd.Series(expected, index=seen["row"].to_numpy(), dtype=float)
    return recovery_lags(
        record((100, 149)) if dry is None else dry, seen, by_row.dropna(), FIRST + pd.Timedelta(days=399)
    )


def test_half_is_reached_between_the_last_count_below_and_the_first_at_half():
    found = lags(visits((155, 0, 30), (165, 1, 30), (170, 2, 30), (180, 3, 30)), [6, 6, 6, 6])
    (lag,) = found.lags.lags.to_dict("records")
    assert (lag["low_days"], lag["high_days"], lag["censoring"]) == (20, 30, "interval")
    assert found.lags.searches["share"].tolist() == pytest.approx([0, 1 / 6, 2 / 6, 3 / 6])
    assert found.lags.searches["counted"].tolist() == [0, 1, 2, 3]


def test_a_first_find_is_not_yet_half():
    found = lags(visits((155, 1, 30), (165, 1, 30)), [6, 6])
    assert found.lags.lags["censoring"].tolist() == ["right"]


def test_a_visit_of_which_fewer_than_two_animals_are_expected_is_not_judged():
    found = lags(visits((155, 1, 5), (165, 3, 30)), [1.9, 6])
    assert (found.n_days, found.n_too_few, found.n_no_expectation) == (2, 1, 0)
    assert found.lags.lags["censoring"].tolist() == ["left"]


def test_a_visit_without_an_expectation_is_not_judged():
    found = lags(visits((155, 0, 30), (165, 3, 30)), [np.nan, 6])
    assert found.n_no_expectation == 1
    assert found.lags.lags["searches"].tolist() == [1]


def test_passes_of_one_day_are_one_count():
    found = lags(visits((155, 2, 15), (155, 2, 15)), [4, 4])
    assert found.lags.searches["counted"].tolist() == [4]
    assert found.lags.searches["expected"].tolist() == [8]
    assert found.lags.lags["high_days"].tolist() == [5]


def test_the_simpler_baseline_is_the_rate_of_the_year_before_times_the_effort():
    """By hand: 12 animals in 90 minutes before the spell, so that 45 minutes should give 6."""
    seen = visits((20, 6, 30), (50, 2, 30), (80, 4, 30), (160, 1, 45), (200, 5, np.nan))
    expected = counts_before(seen, record((100, 149)))
    assert expected.to_dict() == {5: pytest.approx(6.0)}


def test_the_baseline_without_any_effort_is_the_mean_count_of_a_visit():
    seen = visits((20, 6, np.nan), (50, 2, np.nan), (80, 4, np.nan), (160, 1, np.nan))
    assert counts_before(seen, record((100, 149))).to_dict() == {5: pytest.approx(4.0)}


def test_the_baseline_needs_visits_to_a_settled_outlet():
    seen = visits((20, 6, 30), (50, 2, 30), (80, 4, 30), (160, 1, 30), (250, 5, 30))
    expected = counts_before(seen, record((100, 149), (200, 219)))
    assert 5 in expected.index
    # Of the second spell only a visit 10 days after the first restart lies before it: too soon and too few.
    assert 6 not in expected.index


@pytest.mark.parametrize("alpha", [0.35, 2.0])
def test_the_chance_to_reach_half_is_that_of_the_negative_binomial(alpha):
    """Reference: scipy.stats.nbinom, n = 1/alpha, p = 1/(1 + alpha·mean)."""
    mean = np.array([2.0, 5.0, 9.5])
    reference = stats.nbinom.sf(np.ceil(mean / 2) - 1, 1 / alpha, 1 / (1 + alpha * mean)).mean()
    assert chance_to_reach(mean, alpha) == pytest.approx(reference)


@pytest.mark.parametrize("alpha", [0.0, np.nan])
def test_without_extra_scatter_it_is_that_of_poisson(alpha):
    mean = np.array([2.0, 5.0, 9.5])
    assert chance_to_reach(mean, alpha) == pytest.approx(stats.poisson.sf(np.ceil(mean / 2) - 1, mean).mean())


def test_the_stated_half_time_comes_back_and_face_value_is_late():
    """12 made sets of 25 spells; counts rise from 35 % over 14 days as in the demo, so that half is reached
    14·ln(0.65/0.5) = 3.67 days after the return. The full table: benchmarks/bench_return_effects.py."""
    rng, alpha, settled = np.random.default_rng(8), 0.35, 5.0
    truth, found, face, held = 45.0 + 14.0 * np.log(0.65 / 0.5), [], [], 0
    for _ in range(12):
        rows, spells, at = [], [], 0
        for back in 45.0 * (rng.exponential(size=25) / np.log(2.0)) ** (1.0 / 1.5):
            spells.append((at, at + 19))
            day = np.arange(rng.integers(7, 14), 200, 14)
            since = day + 0.5 - back
            mean = settled * np.where(since > 0, 1.0 - 0.65 * np.exp(-np.maximum(since, 0) / 14.0), 0.0)
            count = rng.poisson(mean * rng.gamma(1 / alpha, alpha, day.size))
            rows += [(int(at + 20 + d), int(c), 30) for d, c in zip(day, count, strict=True)]
            at += 240
        seen = visits(*rows)
        dry = record(*[(a + 5, b + 5) for a, b in spells], days=at + 10)
        seen["date"] += pd.Timedelta(days=5)
        result = recovery_lags(dry, seen, pd.Series(settled, index=seen["row"].to_numpy()), seen["date"].max())
        fit = fit_missed_animals(result.lags.histories())
        plain = fit.medians_by_detection[0].median_days
        assert fit.median_days is not None and plain is not None
        found.append(fit.median_days.value)
        face.append(plain.value)
        held += fit.median_days.low <= truth <= fit.median_days.high
    assert np.mean(face) > 1.12 * truth
    assert abs(np.mean(found) / truth - 1.0) < 0.08 + 2.0 * np.std(found) / truth / np.sqrt(12)
    assert held >= 9  # fewer at 95 % coverage: 2 of 1,000 cases (binomial)
