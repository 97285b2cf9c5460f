"""Speed of the statistical cores: run with `python tests/benchmarks/bench_statistics.py`; prints, asserts nothing.

The interval estimate is timed over sizes (growth near 1 is linear); the count fit as a ratio to one statsmodels fit of
the same negative binomial model, which gives no profile interval for α.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import statsmodels.api as sm

from ecology.count_model import fit_counts
from ecology.interval_censored import npmle
from ecology.interval_fits import fit_intervals
from ecology.npmle_bootstrap import bootstrap_npmle


def best_seconds(work: Callable[[], object], repeats: int = 5) -> float:
    """The shortest of several runs, after one that is not counted."""
    work()
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def lags(n: int, *, whole_days: bool, exact_share: float, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Made times up to some 3,000 days between visits about 100 days apart, some exact, some never seen."""
    rng = np.random.default_rng(seed)
    event = 1_000 * rng.weibull(1.3, n)
    apart = rng.exponential(100, n) + 1
    low = np.floor(event / apart) * apart
    high = low + apart
    given_up = rng.uniform(0, 3_900, n)
    exact = rng.random(n) < exact_share
    low, high = np.where(exact, event, low), np.where(exact, event, high)
    unseen = given_up < event
    low, high = np.where(unseen, given_up, low), np.where(unseen, np.inf, high)
    if whole_days:
        low, high = np.where(exact & ~unseen, np.ceil(low), np.floor(low)), np.ceil(high)
    return low, high


def bench_npmle() -> None:
    print("NPMLE of interval-censored times")
    for whole_days in (True, False):
        for exact_share in (0.0, 0.3, 1.0):
            seconds = {}
            for n in (400, 2_500, 10_000):
                low, high = lags(n, whole_days=whole_days, exact_share=exact_share, seed=n)
                seconds[n] = best_seconds(lambda low=low, high=high: npmle(low, high), 3)  # type: ignore[misc]
            fit = npmle(low, high)
            growth = np.log(seconds[10_000] / seconds[2_500]) / np.log(4)
            print(
                f"  {'days' if whole_days else 'continuous':10s} exact {exact_share:3.0%}: "
                + ", ".join(f"{n:,} rows {1e3 * s:6.1f} ms" for n, s in seconds.items())
                + f"; growth n^{growth:.2f}; gap {fit.max_gradient - fit.n:.0e}, {fit.mass.size} intervals with mass"
            )
    low, high = lags(15, whole_days=True, exact_share=0.0, seed=1)
    days = np.array([30.0, 90.0, 365.0])
    drawn = best_seconds(lambda: bootstrap_npmle(low, high, draws=200, seed=1, days=days), 2)
    print(f"  bootstrap of 15 rows: {1e3 * drawn / 200:.2f} ms a draw")
    low, high = lags(400, whole_days=True, exact_share=0.0, seed=1)
    print(f"  Weibull fit of 400 rows: {1e3 * best_seconds(lambda: fit_intervals(low, high, 'weibull')):.1f} ms")


def bench_counts() -> None:
    rng = np.random.default_rng(0)
    design = np.column_stack((np.ones(2_000), rng.normal(size=(2_000, 7))))
    mean = np.exp(1 + design[:, 1:] @ rng.normal(0, 0.2, 7))
    y = rng.poisson(mean * rng.gamma(2.0, 0.5, 2_000))
    terms = [f"term {i}" for i in range(8)]
    own = best_seconds(lambda: fit_counts(y, design, terms=terms), 10)
    poisson = best_seconds(lambda: fit_counts(y, design, terms=terms, family="poisson"), 10)
    outside = best_seconds(lambda: sm.NegativeBinomial(y, design).fit(disp=0), 10)
    print("Count fit, 2,000 rows, 8 terms")
    print(
        f"  negative binomial with its profile interval: {1e3 * own:.1f} ms = {own / outside:.2f} × one statsmodels fit"
    )
    print(f"  Poisson: {1e3 * poisson:.1f} ms; statsmodels negative binomial: {1e3 * outside:.1f} ms")


if __name__ == "__main__":
    bench_npmle()
    bench_counts()
