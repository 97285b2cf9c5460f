"""Bias and coverage of `fit_missed_animals` against stated truths, and its speed; prints, asserts nothing.

Run: python tests/benchmarks/bench_missed_animals.py [sets per case, default 400]

Each set is invented: lags are Weibull (or another) with a median of 45 days, searches come every 14 days from a random
first day for 280 days (20 a spell), efforts vary around the typical one, and every search after the return finds with
the stated probability. The face-value median is that of the interval-censored fit to first finds. The last cases
break the assumptions: detection that grows after the return, animals that leave again, lags of another shape.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ecology.missed_animals import MissedAnimalsFit, SpellSearches, fit_missed_animals

MEDIAN = 45.0


@dataclass(frozen=True)
class Case:
    """One kind of set. `grows_over` days after a return detection rises from a quarter of p to p; `leave_mean` is the
    mean stay in days; `slack` the days within which the restart may lie."""

    name: str
    spells: int
    p: float
    every: int = 14
    follow_up: int = 280
    lag: str = "weibull"
    shape: float = 1.5
    grows_over: float = 0.0
    leave_mean: float = np.inf
    slack: int = 0


PROMISED = tuple(Case(f"{n} spells, p = {p}", n, p) for n in (20, 40, 80) for p in (0.3, 0.5, 0.8))
FURTHER = (
    Case("15 spells, p = 0.4", 15, 0.4),
    Case("40 spells, p = 0.4", 40, 0.4),
    Case("40 spells, p = 0.4, lag shape 0.8", 40, 0.4, shape=0.8),
    Case("40 spells, p = 0.4, lag shape 3", 40, 0.4, shape=3.0),
    Case("40 spells, p = 0.4, lognormal lags", 40, 0.4, lag="lognormal"),
    Case("40 spells, p = 0.4, restart within 15 days", 40, 0.4, slack=15),
    Case("40 spells, p = 0.4 reached over 60 days", 40, 0.4, grows_over=60.0),
    Case("40 spells, p = 0.4, animals stay 120 days", 40, 0.4, leave_mean=120.0),
)


def one_set(case: Case, rng: np.random.Generator) -> list[SpellSearches]:
    spells = []
    for _ in range(case.spells):
        if case.lag == "lognormal":
            back = MEDIAN * np.exp(0.8 * rng.normal())
        else:
            back = MEDIAN * (rng.exponential() / np.log(2.0)) ** (1.0 / case.shape)
        days = np.arange(int(rng.integers(case.every)), case.follow_up, case.every).astype(float)
        effort = rng.choice([0.5, 1.0, 1.0, 1.0, 2.0], days.size)
        restart = int(rng.integers(case.slack + 1))
        there = days + 1.0 - restart - back
        p = np.full(days.size, case.p)
        if case.grows_over:
            p *= 0.25 + 0.75 * np.clip(there / case.grows_over, 0.0, 1.0)
        gone = rng.exponential(case.leave_mean) if np.isfinite(case.leave_mean) else np.inf
        found = (there > 0.0) & (there < gone) & (rng.random(days.size) < 1.0 - (1.0 - p) ** effort)
        spells.append(SpellSearches(days=days, found=found, effort=effort, restart_slack=float(case.slack)))
    return spells


@dataclass(frozen=True)
class Score:
    """Over the sets of a case."""

    face_value: float  # mean median at face value ÷ true − 1
    bias: float  # mean corrected median ÷ true − 1
    of_middle: float  # median of the corrected medians ÷ true − 1
    coverage: float
    p_bias: float
    p_coverage: float
    refused: int


def score(case: Case, sets: int, seed: int, **options: float) -> Score:
    rng = np.random.default_rng(seed)
    fits: list[MissedAnimalsFit] = []
    refused = 0
    for _ in range(sets):
        fit = fit_missed_animals(one_set(case, rng), **options)  # type: ignore[arg-type]
        refused += fit.median_days is None
        if fit.median_days is not None:
            fits.append(fit)
    median = np.array([(f.median_days.value, f.median_days.low, f.median_days.high) for f in fits if f.median_days])
    p = np.array([(f.detection.value, f.detection.low, f.detection.high) for f in fits if f.detection])
    face = [f.medians_by_detection[0].median_days for f in fits]
    return Score(
        face_value=float(np.mean([m.value for m in face if m is not None])) / MEDIAN - 1.0,
        bias=float(median[:, 0].mean()) / MEDIAN - 1.0,
        of_middle=float(np.median(median[:, 0])) / MEDIAN - 1.0,
        coverage=float(np.mean((median[:, 1] <= MEDIAN) & (median[:, 2] >= MEDIAN))),
        p_bias=float(p[:, 0].mean()) / case.p - 1.0,
        p_coverage=float(np.mean((p[:, 1] <= case.p) & (p[:, 2] >= case.p))),
        refused=refused,
    )


def bench_truth(sets: int) -> None:
    print(f"True median {MEDIAN:g} days; {sets} sets a case; 95 % intervals")
    print(f"  {'':44s} face value  corrected (its middle)  coverage    p  coverage  refused")
    for number, case in enumerate(PROMISED + FURTHER):
        s = score(case, sets, number)
        print(
            f"  {case.name:44s} {s.face_value:+9.1%}  {s.bias:+9.1%} ({s.of_middle:+6.1%}) {s.coverage:13.1%} "
            f"{s.p_bias:+7.1%} {s.p_coverage:6.1%} {s.refused:7d}",
            flush=True,
        )
    for within in (30.0, 60.0, np.inf):
        s = score(Case("", 40, 0.4, grows_over=60.0), sets, 99, within_days=within)
        print(f"  p reached over 60 days, searches within {within:g} days: {s.bias:+.1%}, coverage {s.coverage:.1%}")


def best_seconds(work: Callable[[], object], repeats: int = 7) -> float:
    work()
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def bench_speed() -> None:
    spells = one_set(Case("", 40, 0.4), np.random.default_rng(5))
    one = best_seconds(lambda: fit_missed_animals(spells))
    three = best_seconds(lambda: fit_missed_animals(spells, distribution="lowest-aic"))
    told: list[int] = []
    begin = time.perf_counter()
    fit = fit_missed_animals(spells, draws=500, progress=lambda done, _: told.append(done))
    drawn = time.perf_counter() - begin
    print(f"40 spells, {fit.n_searches} searches: Weibull {one:.3f} s, best of three {three:.3f} s (promised 0.3 s)")
    print(f"  with 500 bootstrap draws {drawn:.2f} s, told {len(told)} times, {fit.bootstrap_failed} failed")
    print(f"  median {fit.median_days}; bootstrap {fit.bootstrap_median_days}")
    for n in (40, 400, 4_000):
        more = one_set(Case("", n, 0.4), np.random.default_rng(6))
        took = best_seconds(lambda more=more: fit_missed_animals(more), 3)  # type: ignore[misc]
        print(f"  {n:5d} spells, {20 * n:6d} searches: {took:.3f} s")


if __name__ == "__main__":
    bench_speed()
    bench_truth(int(sys.argv[1]) if len(sys.argv) > 1 else 400)
