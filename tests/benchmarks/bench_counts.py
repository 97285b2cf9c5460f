"""Speed and calibration of the count regression: run with `python tests/benchmarks/bench_counts.py`; asserts nothing.

Speed, in units of one bare statsmodels NB2 fit of the same design: the whole `counts` answer (design, cross-validation
of three windows, fit, both kinds of errors, all checks) on 2,000 visits, at most 150 wanted; and its growth to 20,000
visits, at most 11. Calibration, on the demo's own visits and flow cycles with counts drawn from a known model and noise
that a whole flow cycle shares: how often the intervals hold the true effect of flow, how often each check fails.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import statsmodels.api as sm

from dashboard.answers.count_rows import groups_of
from dashboard.answers.counts import counts
from dashboard.workspace import Workspace, load_workspace
from ecology.cluster_errors import robust_errors
from ecology.count_checks import all_checks
from ecology.count_cross_validation import compare_windows
from ecology.count_design import CountDesign, count_design
from ecology.count_model import fit_counts

DEMO = Path(__file__).parents[2] / "demo_data" / "quillmere"
SLOPE, ALPHA = 0.6, 0.35


def best(call: Callable[[], object], times: int = 3) -> float:
    """Shortest of a few runs [s]."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        took.append(time.perf_counter() - start)
    return min(took)


def with_visits(demo: Workspace, n: int, seed: int) -> Workspace:
    """The demo with `n` visits on random days of its record, counts drawn at random around a mean of 6."""
    if demo.visits is None:
        raise ValueError("the demo has visits")
    rng = np.random.default_rng(seed)
    frame = demo.visits.frame
    counted = frame[(frame["kind"] == "counted") & frame["effort"].notna()]
    made = counted.iloc[rng.integers(0, len(counted), n)].copy()
    days = demo.flow_of("grotto").values.dropna().index[120:]
    made["date"] = days[rng.integers(0, len(days), n)]
    made["count"] = rng.negative_binomial(2, 0.25, n).astype(float)
    made["row"] = np.arange(2, n + 2)
    made = made.sort_values(["date", "row"]).reset_index(drop=True)
    return replace(demo, visits=replace(demo.visits, frame=made))


def speed() -> None:
    demo = load_workspace(DEMO)
    took = {}
    for n in (2_000, 20_000):
        workspace = with_visits(demo, n, 1)
        answer = counts(workspace)
        if answer.design is None or answer.fit is None:
            raise ValueError("nothing was fitted")
        d = answer.design
        y = d.rows["count"].to_numpy()
        bare = best(lambda y=y, d=d: sm.NegativeBinomial(y, d.matrix, offset=d.offset).fit(disp=0, maxiter=200), 5)
        took[n] = best(lambda w=workspace: counts(w))
        fits = 0 if answer.cross_validation is None else len(answer.cross_validation.blocks)
        print(
            f"{n:6d} visits ({len(y)} in the model): statsmodels fit {bare * 1e3:.1f} ms, counts "
            f"{took[n] * 1e3:.1f} ms = {took[n] / bare:5.1f} fits, with {fits} fits of cross-validation"
        )
    print(f"10 times the visits: {took[20_000] / took[2_000]:.1f} times as long")


def drawn(d: CountDesign, groups: np.ndarray, noise: float, rng: np.random.Generator) -> np.ndarray:
    """Counts from the model of `d` with a slope of `SLOPE` and log-normal noise of a whole cycle."""
    beta = np.zeros(len(d.terms))
    truth = {"intercept": -2.4, d.flow_term: SLOPE, "season_sin": 0.25, "log_days_since_restart": 0.8}
    for term, value in truth.items():
        beta[d.terms.index(term)] = value
    member = np.unique(groups, return_inverse=True)[1]
    shared = rng.normal(0.0, noise, member.max() + 1)[member]
    mean = np.exp(d.offset + d.matrix @ beta + shared)
    return rng.poisson(mean * rng.gamma(1 / ALPHA, ALPHA, len(mean))).astype(float)


def calibration(sets: int, noise: float) -> None:
    demo = load_workspace(DEMO)
    if demo.visits is None:
        raise ValueError("the demo has visits")
    names = list(demo.outlets)
    cycles = {o: demo.cycles_of(demo.outlets[o].flow) for o in names}
    d = count_design(demo.visits.frame, demo.water, cycles, outlets=names)
    every = count_design(demo.visits.frame, demo.water, cycles, outlets=names, windows=(7, 90))
    groups, at = groups_of(demo, d), d.terms.index(d.flow_term)
    inside, failed, right = Counter[str](), Counter[str](), 0
    for seed in range(sets):
        rng = np.random.default_rng([11, seed])
        y = drawn(d, groups, noise, rng)
        fit = fit_counts(y, d.matrix, terms=d.terms, offset=d.offset)
        robust = robust_errors(fit, kind="CL1", groups=groups)
        low, high = robust.intervals(fit.estimate)
        inside["by group"] += bool(low[at] <= SLOPE <= high[at])
        inside["observed information"] += bool(abs(fit.estimate[at] - SLOPE) <= 1.96 * fit.standard_error[at])
        now = dict.fromkeys(names, float("nan"))
        seen = replace(d, rows=d.rows.assign(count=y))
        for c in all_checks(fit, seen, groups, robust, effort=None, why_no_effort=None, now=now, seed=1):
            failed[c.name] += c.passed is False
        if seed < sets // 5:
            by_row = pd.Series(y, index=pd.MultiIndex.from_frame(d.rows[["row", "outlet"]]))
            keys = pd.MultiIndex.from_frame(every.rows[["row", "outlet"]])
            there = replace(every, rows=every.rows.assign(count=by_row.reindex(keys).to_numpy()))
            right += compare_windows(there, groups_of(demo, there)).best == 30
    print(f"noise of a cycle {noise}: {sets} sets of {len(d.rows)} visits in {len(np.unique(groups))} cycles")
    for kind, n in inside.items():
        print(f"  95 % interval of the slope, {kind}: holds the truth in {n / sets:.3f}")
    print(f"  30 days chosen out of 7, 30 and 90 in {right} of {sets // 5}")
    print("  checks that failed: " + ", ".join(f"{name} {n / sets:.3f}" for name, n in failed.items()))


if __name__ == "__main__":
    speed()
    for cycle_noise in (0.0, 0.3):
        calibration(int(sys.argv[1]) if len(sys.argv) > 1 else 200, cycle_noise)
