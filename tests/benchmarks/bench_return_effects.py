"""What stands beside the returned-by curve against stated truths; prints, asserts nothing.

Run: python tests/benchmarks/bench_return_effects.py [sets a case, default 300]

Length and season of the dry spell (accelerated failure time), the lag until half of the expected count, the share that
never returns, and detection from repeat passes, each from invented sets with a known truth.
"""

from __future__ import annotations

import sys

import numpy as np
import pandas as pd

from ecology.missed_animals import SpellSearches, fit_missed_animals
from ecology.never_returned import latest_return, never_returned
from ecology.not_estimable import NotEstimable
from ecology.npmle_bootstrap import bootstrap_npmle
from ecology.return_effects import return_effects

MEDIAN, SHAPE = 45.0, 1.5


def weibull(rng: np.random.Generator, median: float | np.ndarray, n: int) -> np.ndarray:
    return median * (rng.exponential(size=n) / np.log(2.0)) ** (1.0 / SHAPE)


def between_visits(
    rng: np.random.Generator, back: np.ndarray, every: int, follow_up: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """(low, high] in whole days for visits every `every` days from a random first day until `follow_up`."""
    first = rng.integers(every, size=back.size)
    day = np.floor(back)
    number = np.ceil((day - first) / every)
    high = np.where(number <= 0, first, first + number * every).astype(float)
    low = np.where(number <= 0, -1.0, high - every)
    unseen = high > follow_up
    last = first + np.floor((follow_up - first) / every) * every
    return np.where(unseen, np.maximum(last, 0.0), low), np.where(unseen, np.inf, high)


def bench_effects(sets: int) -> None:
    print("Length and season of the dry spell: 95 % intervals of the factor per doubling, share of p below 0.05")
    print("  spells  true factor  coverage  rejected   season: true factor  rejected  coverage")
    for n in (12, 20, 40):
        for factor, wave in ((1.0, 1.0), (1.5, 2.5)):
            rng = np.random.default_rng(n)
            held, rejected, refused, season_rejected, season_held, season_refused = 0, 0, 0, 0, 0, 0
            for _ in range(sets):
                dry = np.exp(rng.normal(np.log(60.0), 0.7, n))
                restart = pd.Series(pd.Timestamp("2001-01-01") + pd.to_timedelta(rng.integers(365, size=n), "D"))
                phase = 2.0 * np.pi * restart.dt.day_of_year.to_numpy() / 365.2425
                median = MEDIAN * (dry / 60.0) ** np.log2(factor) * np.exp(0.5 * np.log(wave) * np.sin(phase))
                low, high = between_visits(rng, weibull(rng, median, n), 14, np.full(n, 250.0))
                e = return_effects(low, high, dry, restart)
                if e.length is None:
                    refused += 1
                else:
                    held += e.length.low <= factor <= e.length.high
                    rejected += e.length.p < 0.05
                if e.season is None:
                    season_refused += 1
                else:
                    season_rejected += e.season.p < 0.05
                    season_held += e.season.low <= wave <= e.season.high
            done, waves = max(sets - refused, 1), max(sets - season_refused, 1)
            print(
                f"  {n:6d}  {factor:11g}  {held / done:8.1%}  {rejected / done:8.1%}   {wave:19g}  "
                f"{season_rejected / waves:8.1%}  {season_held / waves:8.1%}   refused {refused}, {season_refused}",
                flush=True,
            )


def bench_half(sets: int) -> None:
    """Counts as the demo makes them: 35 % of the settled mean on return, rising over 14 days, negative binomial."""
    print("Lag until half of the expected count; the true median is that of return + 3.7 days")
    alpha, settled = 0.35, 5.0
    truth = MEDIAN - 14.0 * np.log(0.5 / 0.65)
    for n in (15, 30):
        for every in (7, 14):
            rng = np.random.default_rng(n + every)
            face, corrected, held = [], [], 0
            for _ in range(sets):
                spells = []
                for back in weibull(rng, MEDIAN, n):
                    days = np.arange(rng.integers(every), 200, every).astype(float)
                    since = days + 0.5 - back
                    mean = settled * np.where(since >= 0, 1.0 - 0.65 * np.exp(-np.maximum(since, 0.0) / 14.0), 0.0)
                    count = rng.poisson(mean * rng.gamma(1.0 / alpha, alpha, days.size))
                    found = count >= 0.5 * settled
                    spells.append(SpellSearches(days=days, found=found, effort=np.ones(days.size)))
                fit = fit_missed_animals(spells)
                plain = fit.medians_by_detection[0].median_days
                if fit.median_days is None or plain is None:
                    continue
                face.append(plain.value)
                corrected.append(fit.median_days.value)
                held += fit.median_days.low <= truth <= fit.median_days.high
            done = len(face)
            print(
                f"  {n} spells, every {every} days: face value {np.mean(face) / truth - 1:+.1%}, corrected "
                f"{np.mean(corrected) / truth - 1:+.1%}, coverage {held / max(done, 1):.1%}, {sets - done} refused",
                flush=True,
            )


def bench_never(sets: int) -> None:
    print("Share after which animals stay away, some spells followed for 250 days, the others cut short")
    for share in (0.0, 0.1, 0.3):
        for n in (15, 40):
            rng = np.random.default_rng(int(100 * share) + n)
            held, refused, estimates = 0, 0, []
            for _ in range(sets):
                back = np.where(rng.random(n) < share, np.inf, weibull(rng, MEDIAN, n))
                follow_up = np.where(rng.random(n) < 0.3, rng.integers(10, 80, n), 250).astype(float)
                low, high = between_visits(rng, np.minimum(back, 1e6), 14, follow_up)
                last = latest_return(high)
                try:
                    if last is None:
                        raise NotEstimable("none")
                    bands = bootstrap_npmle(low, high, draws=60, seed=rng, days=np.array([last]))
                    found = never_returned(low, high, bands)
                except NotEstimable:
                    refused += 1
                    continue
                estimates.append(found.share)
                held += found.low <= share <= found.high
            done = max(sets - refused, 1)
            print(
                f"  true {share:.0%}, {n} spells: mean {np.mean(estimates):.1%}, coverage {held / done:.1%}, "
                f"{refused} refused",
                flush=True,
            )


def bench_passes(sets: int) -> None:
    print("Two passes a visit, and no visit after the one with the first find; p = 0.4 a pass")
    for n in (20, 40):
        rng = np.random.default_rng(n)
        medians, p, held, p_held = [], [], 0, 0
        for _ in range(sets):
            spells = []
            for back in weibull(rng, MEDIAN, n):
                days = np.repeat(np.arange(rng.integers(14), 280, 14), 2).astype(float)
                found = (days >= np.floor(back)) & (rng.random(days.size) < 0.4)
                upto = days <= days[np.argmax(found)] if found.any() else np.ones(days.size, dtype=bool)
                spells.append(SpellSearches(days=days[upto], found=found[upto], effort=np.ones(int(upto.sum()))))
            fit = fit_missed_animals(spells)
            if fit.median_days is None or fit.detection is None:
                continue
            medians.append(fit.median_days.value)
            p.append(fit.detection.value)
            held += fit.median_days.low <= MEDIAN <= fit.median_days.high
            p_held += fit.detection.low <= 0.4 <= fit.detection.high
        done = max(len(medians), 1)
        print(
            f"  {n} spells: median {np.mean(medians) / MEDIAN - 1:+.1%}, coverage {held / done:.1%}; "
            f"p {np.mean(p):.3f}, coverage {p_held / done:.1%}; {sets - len(medians)} refused",
            flush=True,
        )


if __name__ == "__main__":
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 300
    bench_effects(number)
    bench_half(number)
    bench_never(number)
    bench_passes(number)
