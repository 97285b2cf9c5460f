"""Properties of the interval-censored estimate and of the count fit that hold whatever the data."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ecology.count_model import fit_counts
from ecology.interval_censored import Npmle, npmle

Rows = list[tuple[int, int, str]]

# (start, length, kind): small integers make ties between ends of all kinds frequent.
ROWS = st.lists(
    st.tuples(st.integers(0, 12), st.integers(1, 6), st.sampled_from(["interval", "exact", "right", "left"])),
    min_size=1,
    max_size=25,
)


def _intervals(rows: Rows) -> tuple[np.ndarray, np.ndarray]:
    ends = {
        "interval": lambda s, d: (s, s + d),
        "exact": lambda s, d: (s, s),
        "right": lambda s, d: (s, np.inf),
        "left": lambda s, d: (-1, s + d),
    }
    table = np.array([ends[kind](s, d) for s, d, kind in rows], dtype=float)
    return table[:, 0], table[:, 1]


def _same(a: Npmle, b: Npmle) -> None:
    assert a.log_likelihood == pytest.approx(b.log_likelihood, abs=1e-6)
    # Masses near 0 may be exactly 0 in one of them: compare survival at every end of either.
    for t in np.concatenate((a.high, b.high, a.low, b.low)):
        np.testing.assert_allclose(a.not_yet_bounds(t)[1], b.not_yet_bounds(t)[1], atol=2e-4)


@settings(max_examples=150, deadline=None)
@given(ROWS)
def test_masses_sum_to_one_and_the_gradient_never_exceeds_the_number_of_rows(rows: Rows) -> None:
    """The Kuhn-Tucker conditions, computed here row by row from the definition."""
    low, high = _intervals(rows)
    fit = npmle(low, high)
    assert fit.converged
    assert fit.mass.sum() == pytest.approx(1.0, abs=1e-12)
    assert np.all(fit.mass > 0)
    inside = np.where(
        (low == high)[:, None],
        (fit.low == low[:, None]) & (fit.high == high[:, None]),
        (fit.high <= high[:, None]) & (fit.low >= low[:, None]) & ~((fit.low == fit.high) & (fit.low == low[:, None])),
    )
    probability = inside @ fit.mass
    assert np.log(probability).sum() == pytest.approx(fit.log_likelihood, abs=1e-9)
    on_support = (inside / probability[:, None]).sum(axis=0)
    assert np.all(on_support <= len(rows) + 1e-6)
    assert on_support @ fit.mass == pytest.approx(len(rows))
    assert fit.max_gradient <= len(rows) + 1e-8


@settings(max_examples=60, deadline=None)
@given(ROWS, st.randoms(use_true_random=False))
def test_the_order_of_rows_does_not_matter(rows: Rows, random) -> None:  # type: ignore[no-untyped-def]
    shuffled = list(rows)
    random.shuffle(shuffled)
    _same(npmle(*_intervals(rows)), npmle(*_intervals(shuffled)))


@settings(max_examples=60, deadline=None)
@given(ROWS, st.data())
def test_repeating_rows_is_weighting_them(rows: Rows, data: st.DataObject) -> None:
    times = np.array(data.draw(st.lists(st.integers(1, 4), min_size=len(rows), max_size=len(rows))))
    low, high = _intervals(rows)
    _same(npmle(np.repeat(low, times), np.repeat(high, times)), npmle(low, high, weights=times.astype(float)))


@settings(max_examples=60, deadline=None)
@given(ROWS)
def test_stretching_time_keeps_the_masses(rows: Rows) -> None:
    """Only the order of the ends matters: t → t³ + 5t moves the intervals and leaves the masses."""
    low, high = _intervals(rows)
    plain, stretched = npmle(low, high), npmle(low**3 + 5 * low, high**3 + 5 * high)
    np.testing.assert_array_equal(plain.mass, stretched.mass)
    np.testing.assert_allclose(stretched.high, plain.high**3 + 5 * plain.high)


@pytest.mark.parametrize("seed", range(6))
def test_a_plain_self_consistency_iteration_reaches_the_same_likelihood(seed: int) -> None:
    """Turnbull 1976: 20,000 steps of mass ← mass·gradient/n, written here without any of the package's parts."""
    rng = np.random.default_rng(seed)
    low = rng.integers(0, 15, 30).astype(float)
    high = np.where(rng.random(30) < 0.25, np.inf, low + rng.integers(1, 9, 30))
    ends = np.unique(np.concatenate((low, high)))
    # All elementary intervals between neighbouring ends, innermost or not: EM empties the others.
    left, right = ends[:-1], ends[1:]
    covers = ((left >= low[:, None]) & (right <= high[:, None])).astype(float)
    mass = np.full(left.size, 1 / left.size)
    for _ in range(20_000):
        mass = mass * (covers.T @ (1 / (covers @ mass))) / 30
    fit = npmle(low, high)
    slow = float(np.log(covers @ mass).sum())
    assert slow - 1e-9 <= fit.log_likelihood <= slow + 1e-3
    for t, survival in zip(right, 1 - np.cumsum(mass), strict=True):
        assert fit.not_yet_bounds(t)[0] - 0.02 <= survival <= fit.not_yet_bounds(t)[1] + 0.02


def _counts(seed: int, n: int = 60, alpha: float = 0.5) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    design = np.column_stack((np.ones(n), rng.normal(size=n)))
    return rng.poisson(np.exp(design @ [1.0, 0.4]) * rng.gamma(1 / alpha, alpha, n)), design


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000))
def test_the_order_of_visits_does_not_matter_to_the_count_fit(seed: int) -> None:
    y, design = _counts(seed)
    order = np.random.default_rng(seed + 1).permutation(len(y))
    a = fit_counts(y, design, terms=["one", "flow"])
    b = fit_counts(y[order], design[order], terms=["one", "flow"])
    np.testing.assert_allclose(a.estimate, b.estimate, atol=1e-7)
    assert a.alpha == pytest.approx(b.alpha, rel=1e-6)
    np.testing.assert_allclose(a.covariance, b.covariance, rtol=1e-6)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.floats(-5, 5))
def test_more_effort_everywhere_moves_only_the_intercept(seed: int, shift: float) -> None:
    y, design = _counts(seed)
    a = fit_counts(y, design, terms=["one", "flow"])
    b = fit_counts(y, design, terms=["one", "flow"], offset=np.full(len(y), shift))
    np.testing.assert_allclose(b.estimate, a.estimate - [shift, 0], atol=1e-6)
    assert b.log_likelihood == pytest.approx(a.log_likelihood, abs=1e-8)
    np.testing.assert_allclose(a.covariance, b.covariance, rtol=1e-5)
    assert b.alpha_high == pytest.approx(a.alpha_high, rel=1e-5)


def test_intervals_of_the_flow_effect_cover_the_truth_about_as_often_as_they_say() -> None:
    """Simulated with known truth: 95 % intervals from the observed information, 300 data sets of 80 visits."""
    covered = 0
    for seed in range(300):
        y, design = _counts(seed, n=80)
        fit = fit_counts(y, design, terms=["one", "flow"])
        covered += abs(fit.estimate[1] - 0.4) <= 1.96 * fit.standard_error[1]
    # Maximum likelihood intervals are a little short in small samples; 4 binomial standard errors are 0.05.
    assert 0.90 <= covered / 300 <= 0.99


def test_profile_intervals_cover_alpha_about_as_often_as_they_say() -> None:
    """Simulated with known truth: 95 % profile intervals of α, 200 data sets of 150 visits."""
    covered = 0
    for seed in range(200):
        y, design = _counts(seed, n=150)
        fit = fit_counts(y, design, terms=["one", "flow"])
        covered += fit.alpha_low <= 0.5 <= fit.alpha_high
    assert 0.88 <= covered / 200 <= 0.995
