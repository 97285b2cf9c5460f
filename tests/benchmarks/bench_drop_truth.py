"""Is “lower than expected” said as often as it should be? `python tests/benchmarks/bench_drop_truth.py [SETS]`.

Made surveys whose truth is known (tests/ecology/made_survey.py): flow years of 12 visits, mean 8, dispersion 0.4 of
which the stated spread (squared) lies between years; one year is judged by a model of the others. Counts as the model
has them must be called lower in 3 to 7 of 100, intervals of 95 % must hold 93 to 97 of 100 totals, and a true halving
must be found at least as often as the power formula says less 5 points.

Power formula: variance of the log ratio of two groups of n visits Σ(1/(nμ) + α/n), two-sided 5 %: 0.601 for 8 against 4
at α = 0.4, n = 12 (computed here). It knows no spread between years. The last column is what somebody could find who
knew the true expectation, α and spread and had to say “lower” in no more than 5 of 100. Sets of which nothing can be
said (flow beyond that of all other years) are counted apart and left out of the shares.
"""

from __future__ import annotations

import math
import sys
from statistics import NormalDist

import numpy as np

from ecology.before_after import before_after
from ecology.count_drop import judge_drop
from ecology.not_estimable import NotEstimable
from tests.ecology.made_survey import made_counts, made_survey, year

ALPHA, MEAN, VISITS = 0.4, 8.0, 12
DRAWS = 2_000


def power_formula() -> float:
    variance = (1 / MEAN + 2 / MEAN) / VISITS + 2 * ALPHA / VISITS
    return NormalDist().cdf(math.log(2) / math.sqrt(variance) - NormalDist().inv_cdf(0.975))


def oracle(rng: np.random.Generator, mean: np.ndarray, spread: float) -> float:
    """The count below which 5 of 100 totals lie, for somebody who knows everything but the year's deviation."""
    alpha = ALPHA - spread**2
    moved = mean * np.exp(spread * rng.standard_normal((DRAWS, 1)))
    totals = rng.poisson(moved * rng.gamma(1 / alpha, alpha, moved.shape)).sum(axis=1)
    return float(np.quantile(totals, 0.05))


def run(sets: int, *, years: int, spread: float, effort_missing: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    lower = higher = inside = found = possible = silent = 0
    for k in range(sets):
        made = made_survey(
            rng, years=years, visits_a_year=VISITS, mean=MEAN, alpha=ALPHA, spread=spread, effort_missing=effort_missing
        )
        at = int(rng.integers(1, years))
        judged = year(at)
        design, groups = made.design()
        j = judge_drop(design, groups, baseline=year(at - 1), judged=judged, draws=DRAWS, seed=k + 1)
        if j.predicted is None or j.low is None or j.high is None or j.split is None:
            silent += 1
            continue
        np.testing.assert_allclose(np.prod(j.factors["factor"]), j.split.ratio, rtol=1e-9)
        lower += j.verdict == "lower than expected"
        higher += j.verdict == "higher than expected"
        inside += j.low <= j.judged.count <= j.high
        used = ((made.visits["date"] >= judged[0]) & (made.visits["date"] <= judged[1])).to_numpy()
        used = used & made.visits["effort"].notna().to_numpy()
        # The model never saw the period: a halved count of the same visits meets the same prediction.
        halved = made_counts(rng, 0.5 * made.mean[used], ALPHA - spread**2).sum()
        found += j.predicted.at_most(halved) < 1 - j.level
        possible += halved < oracle(rng, made.mean[used] * np.exp(-made.deviation[used]), spread)
    sets -= silent
    print(
        f"{years - 1:6d} {spread:7.2f} {effort_missing:8.0%} {lower / sets:8.3f} {higher / sets:8.3f} "
        f"{inside / sets:9.3f} {found / sets:8.3f} {power_formula():8.3f} {possible / sets:8.3f} {silent:8d}",
        flush=True,
    )


def run_contrast(sets: int, *, own_spread: float, true_ratio: float, seed: int) -> None:
    """How often the interval of a before-after contrast holds the true ratio, years of both outlets differing."""
    rng = np.random.default_rng(seed)
    holds = apart = silent = 0
    for k in range(sets):
        made = made_survey(
            rng, years=16, visits_a_year=10, outlets=("pool", "shelf"), spread=0.2, own_spread=own_spread
        )
        late = ((made.visits["date"] >= year(12)[0]) & (made.visits["outlet"] == "shelf")).to_numpy()
        count = made_counts(rng, made.mean * np.where(late, true_ratio, 1.0), ALPHA - 0.04)
        design, groups = made.design(made.visits.assign(count=count.astype(float)))
        after = (design.rows["date"] >= year(12)[0]).to_numpy()
        try:
            c = before_after(design, groups, comparison="pool", before=~after, after=after, seed=k + 1)
        except NotEstimable:
            silent += 1
            continue
        holds += c.low <= true_ratio <= c.high
        apart += c.high < 1
    sets -= silent
    print(f"{own_spread:11.2f} {true_ratio:11.2f} {holds / sets:14.3f} {apart / sets:13.3f} {silent:8d}", flush=True)


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000
    fewer = max(sets // 4, 1)
    print(f"{sets} sets in the first two rows, {fewer} in the others")
    print(" years  spread no effort   lower  higher   in 95 %   halved  formula     best   cannot say")
    run(sets, years=21, spread=0.25, effort_missing=0.0, seed=11)
    run(sets, years=21, spread=0.25, effort_missing=0.15, seed=11)
    others(fewer)


def others(sets: int) -> None:
    """Other spreads between years, fewer years, and the contrast with another outlet."""
    for years, spread in ((21, 0.1), (21, 0.4), (9, 0.25), (6, 0.25)):
        run(sets, years=years, spread=spread, effort_missing=0.0, seed=11)
    print(f"\nbefore-after contrast, 12 years before and 4 after, {sets} sets a row")
    print(" own spread  true ratio  in 95 % interval  called fallen  cannot say")
    for own_spread, true_ratio in ((0.0, 1.0), (0.2, 1.0), (0.2, 0.5)):
        run_contrast(sets, own_spread=own_spread, true_ratio=true_ratio, seed=13)


if __name__ == "__main__":
    main()
