"""Alert levels: what choosing among them costs on years that had no part in it, and how long 200 outlets take.

Run: python tests/benchmarks/bench_alert_levels.py [runs]
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pandas as pd

from hydro.alert_choice import AlertNeeds, choose
from hydro.alert_level import judge_levels
from hydro.alert_outcomes import stop_record
from hydro.count_limits import rate_limits, share_limits
from hydro.dry_spells import find_dry_spells

LEVELS = np.geomspace(1.0, 4.0, 30)[1:].tolist()


def river(years: int, seed: int) -> pd.Series:
    """Recessions between winter storms [m³/s], as fast as the year has it, with noise: below 1 in most late summers."""
    rng = np.random.default_rng(seed)
    n = int(365.25 * years)
    days = pd.date_range("1980-01-01", periods=n)
    wet = np.cos(2 * np.pi * days.day_of_year / 365.25)
    storm = (rng.random(n) < 0.04 * (1.05 + wet)) * rng.exponential(0.9, n)
    rate = np.repeat(rng.uniform(0.006, 0.02, years + 2), 366)[:n]
    log_q, noise = np.empty(n), np.empty(n)
    level = wobble = 1.0
    for k, (rain, down, e) in enumerate(
        zip(storm.tolist(), rate.tolist(), rng.normal(0, 0.03, n).tolist(), strict=True)
    ):
        level = level + rain - down * (level + 1.0)
        wobble = 0.8 * wobble + e
        log_q[k], noise[k] = level, wobble
    return pd.Series(np.exp(log_q + noise) + 0.2, index=days, name="discharge_m3s")


def true_rates(rivers: int = 40, years: int = 100) -> tuple[np.ndarray, np.ndarray]:
    """Share of stops announced in time and false alerts a year of each level, on so many other rivers of the kind."""
    hits, judged, false = (np.zeros(len(LEVELS)) for _ in range(3))
    for seed in range(10_000, 10_000 + rivers):
        q = river(years, seed)
        s = judge_levels(stop_record(find_dry_spells(q, 1.0)), q.to_numpy(), LEVELS, AlertNeeds()).by_year.sums()
        hits += s.hits
        judged += s.hits + s.late + s.misses
        false += s.false_alerts
    return hits / judged, false / (rivers * years)


def optimism(runs: int, years: int = 30) -> None:
    """Half of the years choose, the other half judges; and what leaving out one year at a time says beforehand."""
    true_rate, true_false = true_rates()
    for asked in (0.9, 0.75):
        rows = []
        for seed in range(runs):
            q = river(years, seed)
            record = stop_record(find_dry_spells(q, 1.0))
            t = judge_levels(record, q.to_numpy(), LEVELS, AlertNeeds(hit_rate=asked))
            even = t.by_year.year % 2 == 0
            k = choose(t.by_year.sums(even), t.needs)
            r = t.recommended
            if k is None or r.candidate is None or r.held_out is None:
                continue
            row = []
            for which in (even, ~even):
                s = t.by_year.sums(which)
                n = int(s.hits[k] + s.late[k] + s.misses[k])
                row += [s.hits[k] / n, s.false_alerts[k] / (years / 2), n]
            low, high = share_limits(round(row[3] * row[5]), row[5])
            judged = int(r.held_out["hits"] + r.held_out["late"] + r.held_out["misses"])
            bounds = share_limits(int(r.held_out["hits"]), judged)
            rates = rate_limits(int(r.held_out["false_alerts"]), r.held_out["years"])
            truth, false = true_rate[r.candidate], true_false[r.candidate]
            row += [low <= true_rate[k] <= high, high >= asked, t.table["hit_rate"].iloc[r.candidate]]
            row += [r.held_out["hit_rate"], truth, bounds[0] <= truth <= bounds[1]]
            row += [t.table["false_per_year"].iloc[r.candidate], r.held_out["false_per_year"], false]
            row += [rates[0] <= false <= rates[1], truth >= asked]
            rows.append(row)
        m = np.array(rows, dtype=np.float64).mean(axis=0)
        print(f"hit rate asked {asked:.2f}, {len(rows)} runs of {years} years, {m[2] + m[5]:.0f} stops each")
        print(f"  on the half that chose {m[0]:.3f}, on the other half {m[3]:.3f}: optimism {m[0] - m[3]:.3f}")
        print(f"  false alerts a year {m[1]:.2f} and {m[4]:.2f}")
        print(f"  95 % interval on the other half holds the truth {m[6]:.3f}, reaches up to what was asked {m[7]:.3f}")
        print(f"  whole record claims {m[8]:.3f}, one year left out at a time {m[9]:.3f}, truth {m[10]:.3f}")
        print(f"  interval from the years left out holds the truth {m[11]:.3f}; it reaches the rate asked {m[16]:.3f}")
        print(f"  false alerts a year: claims {m[12]:.2f}, left out {m[13]:.2f}, truth {m[14]:.2f}, held {m[15]:.3f}")


def _processor_seconds() -> float:
    """Of this process and of those that it has started and that are over [s]."""
    return sum(os.times()[:4])


def many_outlets(outlets: int = 200, years: int = 20) -> None:
    """A workspace of so many outlets, each on a gauge of its own, judged in one command."""
    from dashboard.answers.alert_levels import alert_levels
    from dashboard.workspace import load_workspace

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        lines = ['title = "Many"', 'time_zone = "UTC"', 'display_unit = "m3/s"']
        for k in range(outlets):
            river(years, k).rename("discharge (m3/s)").rename_axis("date").to_csv(folder / f"g{k}.csv")
            lines += [f"[gauges.g{k}]", f'file = "g{k}.csv"', f"[outlets.o{k}]", f'flow = "g{k}"']
            lines += ['stops_below = "1 m3/s"']
        (folder / "workspace.toml").write_text("\n".join(lines), encoding="utf-8")
        start = time.perf_counter()
        workspace = load_workspace(folder)
        _ = workspace.dry_spells
        read = time.perf_counter() - start
        start, busy = time.perf_counter(), _processor_seconds()
        found = alert_levels(workspace)
        took, busy = time.perf_counter() - start, _processor_seconds() - busy
        start = time.perf_counter()
        _ = [o.levels.recommended for o in found.outlets if o.levels is not None]
        _ = found.as_json()
        told = time.perf_counter() - start
    start = time.perf_counter()
    for k in range(outlets):
        values = np.exp(np.random.default_rng(k).normal(size=int(365.25 * years)))
        for level in LEVELS:
            low = values <= level
            np.flatnonzero(low[1:] & ~low[:-1])
    bare = time.perf_counter() - start
    print(f"{outlets} outlets, {years} years: reading {read:.1f} s, choosing and JSON {told:.1f} s")
    print(f"  judging {took:.1f} s, {busy:.1f} s of processor time")
    print(f"  bare crossings of {len(LEVELS)} levels {bare:.2f} s: judging takes {took / bare:.0f} times that")


if __name__ == "__main__":
    optimism(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    many_outlets()
