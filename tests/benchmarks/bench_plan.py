"""What simulated power costs and how well it keeps its promises; prints, asserts nothing.

Run: python tests/benchmarks/bench_plan.py [sets, default 20000]

Times are ratios to numpy drawing the same numbers of negative binomial counts and nothing else. The tables show the
share of sets without a decline that seem to show one (2.5 % promised), power against the closed formula, and how often
a plan made from an estimated variation keeps its power in truth.
"""

from __future__ import annotations

import sys
import time

import numpy as np

from ecology.cycle_variation import cycle_variation
from ecology.survey_plan import visits_for_absence
from ecology.survey_power import SETS, Comparison, CountSurvey, formula_power, simulated_power
from ecology.trend_plan import plan_trend

SURVEY = CountSurvey(expected=np.array([4.0]), visit_alpha=0.4, between=0.07)


def best_of(run, times: int = 5) -> float:
    found = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        found.append(time.perf_counter() - start)
    return min(found)


def speed() -> None:
    rng = np.random.default_rng(1)
    print("visits a cycle   power of 2000 sets [ms]   times bare numpy draws")
    for visits in (5, 10, 20, 40):
        design = Comparison(cycles_before=5, cycles_after=5, decline=0.5)
        ours = best_of(lambda: simulated_power(SURVEY, design, visits))  # noqa: B023
        bare = best_of(lambda: rng.negative_binomial(2.5, 0.4, size=(SETS, 10, visits)))  # noqa: B023
        print(f"{visits:14d}{1e3 * ours:26.1f}{ours / bare:25.2f}")
    design = Comparison(cycles_before=5, cycles_after=5, decline=0.5)
    print(f"a whole plan, curve and all: {best_of(lambda: plan_trend(SURVEY, design, sure=0.8), 3):.2f} s")
    each = best_of(lambda: [visits_for_absence(0.01 * p, 0.05) for p in range(1, 100)]) / 99
    print(f"visits to conclude absence: {1e6 * each:.1f} µs each\n")


def promises(sets: int) -> None:
    print(f"{sets} sets; expected 4 a visit, alpha 0.4 within and variance 0.07 between cycles")
    print("cycles a side   visits a cycle   false alarm   power at −50 %   formula")
    for cycles in (2, 3, 5, 10, 20):
        for visits in (4, 12):
            alarm = simulated_power(
                SURVEY, Comparison(cycles_before=cycles, cycles_after=cycles, decline=0.0), visits, sets=sets
            )
            design = Comparison(cycles_before=cycles, cycles_after=cycles, decline=0.5)
            power = simulated_power(SURVEY, design, visits, sets=sets)
            formula = formula_power(SURVEY, design, visits)
            print(f"{cycles:13d}{visits:17d}{alarm.value:14.4f}{power.value:17.3f}{formula:10.3f}")
    print("the same, 3 cycles after against 12 before, 12 visits:", end=" ")
    uneven = Comparison(cycles_before=12, cycles_after=3, decline=0.0)
    print(f"false alarm {simulated_power(SURVEY, uneven, 12, sets=sets).value:.4f}\n")


def plans_from_estimates(records: int = 60) -> None:
    """Plans from invented records of 20 cycles with 15 visits; the power in truth of each plan that was made."""
    rng = np.random.default_rng(2)
    design = Comparison(cycles_before=5, cycles_after=5, decline=0.5)
    cycle = np.repeat(np.arange(20), 15)
    spread = np.sqrt(np.log1p(SURVEY.between))
    total = (1 + SURVEY.visit_alpha) * (1 + SURVEY.between) - 1
    truth, none, held = [], 0, 0
    for seed in range(1, records + 1):
        shared = np.exp(spread * rng.standard_normal(20) - 0.5 * spread**2)[cycle]
        own = SURVEY.visit_alpha * rng.standard_gamma(1 / SURVEY.visit_alpha, cycle.size)
        count = rng.poisson(4.0 * shared * own).astype(float)
        found = cycle_variation(count, np.full(cycle.size, count.mean()), total, cycle)
        held += found.between_high >= SURVEY.between
        survey = CountSurvey.of(np.array([count.mean()]), found)
        plan = plan_trend(survey, design, sure=0.8, sets=500, seed=seed)
        if plan.per_cycle is None:
            none += 1
        else:
            truth.append(simulated_power(SURVEY, design, plan.per_cycle, sets=2000).value)
    low, middle, high = np.quantile(truth, (0.1, 0.5, 0.9))
    print(
        f"plans for power 0.8 from {records} estimated variations: {none} found no number of visits enough; power in "
        f"truth of the others {middle:.2f} in the middle, {low:.2f} to {high:.2f} for 80 in 100 of them; the upper "
        f"limit of the variation held in {held}"
    )


if __name__ == "__main__":
    speed()
    promises(int(sys.argv[1]) if len(sys.argv) > 1 else 20_000)
    plans_from_estimates()
