"""Speed of `explain`: `python tests/benchmarks/bench_explain.py`; prints ratios of one run, asserts nothing.

From the visits table to verdict and factors with 2,000 predictive draws, against one bare statsmodels NB2 fit of the
same design (wanted: at most 60 times), and at ten times the visits (wanted: at most 11 times the time).
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import statsmodels.api as sm

from ecology.count_drop import DropJudgement, judge_drop
from tests.ecology.made_survey import MadeSurvey, made_survey, year

OUTLETS = ("ledge", "trough", "grotto", "pool")


def best_seconds(work: Callable[[], object], repeats: int) -> float:
    """The least processor time of several runs, after one that is not counted: others may be using the machine."""
    work()
    times = []
    for _ in range(repeats):
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def judged(made: MadeSurvey, draws: int) -> DropJudgement:
    design, groups = made.design()
    return judge_drop(design, groups, baseline=year(22), judged=year(23), draws=draws)


def bare_fit(made: MadeSurvey) -> object:
    design, _ = made.design()
    y = design.rows["count"].to_numpy()

    def fit() -> object:
        return sm.NegativeBinomial(y, design.matrix, offset=design.offset).fit(disp=0, maxiter=100)

    return fit


def main() -> None:
    seconds = {}
    for visits in (2_000, 20_000):
        made = made_survey(
            np.random.default_rng(3), years=25, visits_a_year=visits // 100, outlets=OUTLETS, spread=0.25
        )
        for draws in (2_000, 10_000):
            seconds[visits, draws] = best_seconds(lambda made=made, d=draws: judged(made, d), 2)  # type: ignore[misc]
        if visits == 2_000:
            fit = best_seconds(bare_fit(made), 5)  # type: ignore[arg-type]
            print(f"bare statsmodels NB2 fit of {visits} visits: {1_000 * fit:.0f} ms")
        for draws in (2_000, 10_000):
            s = seconds[visits, draws]
            print(f"explain, {visits} visits, {draws} draws: {s:.2f} s = {s / fit:.1f} fits of 2,000 visits")
    for draws in (2_000, 10_000):
        ratio = seconds[20_000, draws] / seconds[2_000, draws]
        print(f"ten times the visits, {draws} draws: {ratio:.1f} times the time")


if __name__ == "__main__":
    main()
