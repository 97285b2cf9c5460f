"""Individuals: speed and known truth, printed anew; nothing is asserted.

`python tests/benchmarks/bench_individuals.py [sets]` prints how long the open-population fits take as animals grow
tenfold, against one pass of pandas that counts captures by animal and occasion, then bias and coverage over simulated
sets (200 unless said).

Truth: animals join at random, live by a yearly survival that is lower over dry intervals, and are met with a chance on
each occasion; while it is dry none can be met. `taken as searches` is the same with dry occasions taken for searches
without a find. The last cases break assumptions: animals that differ in their chance of being met, animals that move.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.capture_chances import CaptureChances
from ecology.encounters import encounters
from ecology.jolly_seber import jolly_seber, marked_counts
from ecology.release_counts import releases_of
from ecology.survival import SurvivalFit, fit_survival
from ecology.survival_likelihood import SurvivalModel
from ecology.survival_models import BY_DRY_INTERVAL, WITH, WITHOUT, survival_models

START = pd.Timestamp("2010-01-15")


@dataclass(frozen=True)
class Case:
    """`away` is the yearly survival over dry intervals; `spread` the sd of logit p among animals; `moves` the chance of
    settling at the other of two outlets between occasions; the first of them is dry at times, the second never."""

    name: str
    animals: int
    occasions: int
    running: float = 0.5
    away: float = 0.2
    p: float = 0.3
    dry_every: int = 5
    spread: float = 0.0
    moves: float = 0.0


CASES = (
    Case("100 animals, 24 occasions, p 0.3", 100, 24),
    Case("300 animals, 24 occasions, p 0.3", 300, 24),
    Case("300 animals, 24 occasions, p 0.1", 300, 24, p=0.1),
    Case("300 animals, 60 occasions, p 0.1", 300, 60, p=0.1),
    Case("300 animals, p differs (sd of logit 1)", 300, 24, spread=1.0),
    Case("300 animals, 3 in 100 move an occasion", 300, 24, moves=0.03),
)


def captures(case: Case, rng: np.random.Generator) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """Captures; whether outlet a is dry on each occasion; days between occasions."""
    T = case.occasions
    days = np.cumsum(rng.integers(20, 45, T))
    dry = np.arange(T) % case.dry_every == case.dry_every - 1
    gaps = np.diff(days) / 365.25
    joined = rng.integers(0, T - 1, case.animals)
    p = 1 / (1 + np.exp(-(np.log(case.p / (1 - case.p)) + case.spread * rng.normal(size=case.animals))))
    home = (rng.random(case.animals) < 0.5).astype(int)
    alive = np.zeros(case.animals, bool)
    rows = []
    for t in range(T):
        if t:
            low = (home == 0) & (dry[t - 1] | dry[t])
            alive &= rng.random(case.animals) < np.where(low, case.away, case.running) ** gaps[t - 1]
            home = np.where(rng.random(case.animals) < case.moves, 1 - home, home)
        alive |= joined == t
        met = alive & ~((home == 0) & dry[t]) & ((rng.random(case.animals) < p) | (joined == t))
        rows += [(days[t], "ab"[home[i]], i) for i in np.flatnonzero(met)]
    table = pd.DataFrame(rows, columns=["day", "outlet", "individual"])
    table["date"] = START + pd.to_timedelta(table["day"], unit="D")
    return table, dry, days


def fits(case: Case, rng: np.random.Generator) -> tuple[SurvivalFit | None, SurvivalFit]:
    """Fits with the chance fixed at 0 while dry, and with dry occasions taken for searches."""
    table, dry, days = captures(case, rng)
    found = encounters(table, "visit")
    at = np.searchsorted(days, ((found.occasions["first"] - START).dt.days).to_numpy())
    shape = (len(found.outlets), found.n_occasions)
    available = np.ones(shape, bool)
    available[0] = ~dry[at]
    touched = np.add.reduceat((dry[1:] | dry[:-1]).astype(float), at[:-1]) if shape[1] > 1 else np.zeros(0)
    dry_days = np.zeros((shape[0], shape[1] - 1))
    dry_days[0] = touched
    made = []
    for could in (available, np.ones(shape, bool)):
        chances = CaptureChances(
            available=could, fixed=np.where(could, "", "dry"), looks=np.ones(shape), dry_days=dry_days,
            unknown_days=np.zeros_like(dry_days),
        )  # fmt: skip
        models = {m.name: m for m in survival_models(found.gap_years, chances, found.outlets)}
        made.append(fit_survival(releases_of(found, could), models[BY_DRY_INTERVAL]))
    return made[0], made[1]


def bench_truth(sets: int) -> None:
    print(f"{sets} sets a case, 95 % intervals: mean estimate (coverage); truth 0.50 running, 0.20 dry")
    print(f"  {'':40s} {'running':>15s} {'dry':>15s} {'met':>15s}   taken as searches: {'running':>15s} {'met':>15s}")
    for number, case in enumerate(CASES):
        rng = np.random.default_rng([number, 1])
        truth = {WITHOUT: case.running, WITH: case.away, "an occasion": case.p}
        values: dict[tuple[int, str], list[tuple[float, bool]]] = {}
        for _ in range(sets):
            for which, fit in enumerate(fits(case, rng)):
                for name, true in truth.items():
                    r = fit.rate(name)
                    if r.value is not None and r.low is not None and r.high is not None:
                        values.setdefault((which, name), []).append((r.value, r.low <= true <= r.high))
        said = {k: f"{np.mean([a for a, _ in v]):.3f} ({np.mean([b for _, b in v]):.3f})" for k, v in values.items()}
        right = " ".join(f"{said[0, name]:>15s}" for name in truth)
        wrong = f"{said[1, WITHOUT]:>15s} {said[1, 'an occasion']:>15s}"
        print(f"  {case.name:40s} {right}                      {wrong}", flush=True)


def bench_jolly(sets: int) -> None:
    rng = np.random.default_rng(9)
    inside, bias = [], []
    for _ in range(sets):
        alive, born, rows, true = np.arange(150), 150, [], []
        for t in range(8):
            true.append(len(alive))
            rows += [(START + pd.DateOffset(months=t), "a", i) for i in alive[rng.random(len(alive)) < 0.3]]
            new = rng.poisson(30)
            alive = np.concatenate((alive[rng.random(len(alive)) < 0.8], np.arange(born, born + new)))
            born += new
        table = pd.DataFrame(rows, columns=["date", "outlet", "individual"])
        found = jolly_seber(marked_counts(encounters(table))).iloc[1:7]
        inside.append(((found["abundance_low"] <= true[1:7]) & (true[1:7] <= found["abundance_high"])).to_numpy())
        bias.append(found["abundance"].to_numpy() / true[1:7] - 1)
    print(f"Abundance by occasion, {sets} sets: bias {np.nanmean(bias):+.1%}, coverage {np.mean(inside):.3f}")


def best_seconds(work: Callable[[], object], repeats: int = 3) -> float:
    work()
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times)


def by_time(model: SurvivalModel, gaps: np.ndarray) -> SurvivalModel:
    """Every interval and occasion with a rate of its own."""
    n = len(gaps)
    years = np.zeros((n, 2, n))
    years[np.arange(n), :, np.arange(n)] = gaps[:, None]
    return SurvivalModel(
        name="both by time", years=years, looks=np.ones((2, n + 1)), look_class=np.tile(np.arange(-1, n), (2, 1)),
        survival_names=tuple(f"s{i}" for i in range(n)), recapture_names=tuple(f"p{i}" for i in range(n)),
    )  # fmt: skip


def bench_speed() -> None:
    print("Open population, 60 occasions, from the rows of the captures table to the fit:")
    earlier = None
    for animals in (500, 5_000, 50_000):
        table, _, _ = captures(Case("", animals, 60, dry_every=61), np.random.default_rng(3))

        def constant(table: pd.DataFrame = table) -> SurvivalFit:
            found = encounters(table, "visit")
            shape = (2, found.n_occasions)
            open_ = CaptureChances(
                available=np.ones(shape, bool), fixed=np.full(shape, ""), looks=np.ones(shape),
                dry_days=np.zeros((2, shape[1] - 1)), unknown_days=np.zeros((2, shape[1] - 1)),
            )  # fmt: skip
            return fit_survival(
                releases_of(found, open_.available), survival_models(found.gap_years, open_, found.outlets)[0]
            )

        def full(table: pd.DataFrame = table) -> SurvivalFit:
            fit = constant(table)
            return fit_survival(fit.counts, by_time(fit.model, encounters(table, "visit").gap_years))

        def bare(table: pd.DataFrame = table) -> pd.Series:
            return table.groupby(["individual", "date"]).size()

        simple, both, least = best_seconds(constant), best_seconds(full, 2), best_seconds(bare)
        more = ""
        if earlier is not None:
            more = f"; 10 times the data: {simple / earlier[0]:.1f} and {both / earlier[1]:.1f} times"
        earlier = simple, both
        k = full().n_estimable
        print(
            f"  {animals:6,} animals, {len(table):7,} captures: two rates {simple:.3f} s "
            f"({simple / least:.1f} times a bare count), {k} rates {both:.2f} s{more}",
            flush=True,
        )


if __name__ == "__main__":
    bench_speed()
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    bench_jolly(n)
    bench_truth(n)
