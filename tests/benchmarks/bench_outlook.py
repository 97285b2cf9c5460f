"""How fast the outlook is and how good: time against a bare nearest-neighbour loop, and skill on open series.

Run: OMP_NUM_THREADS=1 python -m tests.benchmarks.bench_outlook

The loop does the least that a neighbour ensemble needs, in numpy and without checks, climatology, regression, skill or
reliability. Skill is out of sample (the year judged is left out), against climatology conditional on season and state.
Besides the whole records it counts, over stretches of 5, 7 and 10 years cut out of them, how often any lead falls below
-0.01. Under each line stands the skill against the same climatology by its plain wording (other calendar years).
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np
import pandas as pd

from hydro.hindcast import hindcast
from hydro.no_recharge import no_recharge_stop
from hydro.outlook import outlook
from hydro.outlook_record import StateRule, make_record
from hydro.skill import LEADS, outlook_skill
from tests.published import open_series
from tests.published.literal_climatology import literal_climatology, skill_against

MEMBERS = 150
DAYS = np.array(LEADS)


def best(call: Callable[[], object], times: int = 3) -> float:
    """Shortest of a few runs [s]."""
    took = []
    for _ in range(times):
        start = time.perf_counter()
        call()
        took.append(time.perf_counter() - start)
    return min(took)


def bare_loop(q: np.ndarray, day_of_year: np.ndarray, year: np.ndarray, level: float, every: int) -> np.ndarray:
    """Chances of being dry by neighbours' changes, one issue date at a time."""
    z = np.log(np.maximum(q, 0) + 0.05 * level)
    change = np.zeros(len(z))
    change[7:] = z[7:] - z[:-7]
    horizon = int(DAYS[-1])
    rows = np.arange(horizon, len(z) - horizon, every)
    donors = np.arange(len(z) - horizon)
    limit = np.log(1.05 * level)
    out = np.empty((len(rows), len(DAYS)))
    for k, row in enumerate(rows):
        apart = np.abs(day_of_year[donors] - day_of_year[row])
        d = donors[(np.minimum(apart, 366 - apart) <= 60) & (year[donors] != year[row])]
        distance = (z[d] - z[row]) ** 2 + (change[d] - change[row]) ** 2
        d = d[np.argpartition(distance, MEMBERS)[:MEMBERS]]
        out[k] = (z[row] + z[d + DAYS[:, None]] - z[d] < limit).mean(axis=1)
    return out


def whole_series() -> dict[str, tuple[pd.Series, float]]:
    intermittent, lez = open_series.lumod_example1(), open_series.smash_lez("Y3204010")
    return {
        "intermittent 0.05": (intermittent, 0.05),
        "intermittent 0.5": (intermittent, 0.5),
        "karst 0.1": (lez, 0.1),
        "karst 0.3": (lez, 0.3),
        "karst, 2nd station 0.5": (open_series.smash_lez("Y3204030"), 0.5),
        "karst, 3rd station 0.3": (open_series.smash_lez("Y3204040"), 0.3),
        "fulda 10": (open_series.spotpy_fulda(), 10.0),
        "fulda 13": (open_series.spotpy_fulda(), 13.0),
        "nordic 0.1": (open_series.lumod_example3(), 0.1),
        "brook 0.001": (open_series.spotpy_hymod(), 0.001),
    }


def stretches() -> Iterator[tuple[str, pd.Series, float]]:
    """Short records cut out of the long ones."""
    intermittent, lez = open_series.lumod_example1(), open_series.smash_lez("Y3204010")
    for length in (5, 7, 10):
        for q, first, last, levels in (
            (intermittent, 1981, 2010, (0.05, 0.2, 0.5, 1.0)),
            (lez, 1975, 2018, (0.07, 0.1, 0.3, 0.6)),
        ):
            for start in range(first, last - length + 2, 3):
                for level in levels:
                    yield f"{start}+{length} {level}", q[str(start) : str(start + length - 1)], level


def times() -> None:
    q = open_series.lumod_example1()
    index = pd.DatetimeIndex(q.index)
    values, day, year = q.to_numpy(), np.asarray(index.day_of_year), np.asarray(index.year)
    rule, slow = StateRule(stop_m3s=0.5, restart_m3s=0.5), StateRule(stop_m3s=0.5, restart_m3s=0.7, stop_days=2)
    loop = best(lambda: bare_loop(values, day, year, 0.5, 5))
    rows = {
        "bare neighbour loop (2,150 issue dates)": loop,
        "hindcast, 2,190 issue dates": best(lambda: hindcast(make_record(q, rule), DAYS)),
        "hindcast, 1,095 issue dates": best(lambda: hindcast(make_record(q, rule), DAYS, every=10)),
        "hindcast, 10,957 issue dates": best(lambda: hindcast(make_record(q, rule), DAYS, every=1), 1),
        "hindcast, two levels and two days": best(lambda: hindcast(make_record(q, slow), DAYS)),
        "skill table with reliability": best(lambda: outlook_skill(q, stop_level_m3s=0.5)),
        "outlook of one outlet, 180 days": best(lambda: outlook(q, index[-1], stop_level_m3s=0.5)),
        "stop without recharge": best(lambda: no_recharge_stop(q, index[-1], stop_level_m3s=0.5)),
    }
    for name, seconds in rows.items():
        print(f"{name:42s} {seconds:8.3f} s   {seconds / loop:6.2f} x the loop")


def by_plain_wording(q: pd.Series, level: float) -> np.ndarray:
    known = q.loc[q.first_valid_index() : q.last_valid_index()]
    record = make_record(known, StateRule(stop_m3s=level, restart_m3s=level))
    cast = hindcast(record, DAYS)
    return skill_against(literal_climatology(record, cast), cast)


def skills() -> None:
    print(f"\n{'skill at lead':28s}" + "".join(f"{lead:>8d}" for lead in LEADS) + "   years events")
    table, plain = {}, {}
    for name, (q, level) in whole_series().items():
        found = outlook_skill(q, stop_level_m3s=level)
        table[name] = found.table["skill_vs_conditional_climatology"].to_numpy()
        shown = "".join(f"{gain:8.3f}" for gain in table[name])
        print(f"{name:28s}{shown}   {found.table['n_years'].max():5d} {found.n_events:6d}")
        plain[name] = by_plain_wording(q, level)
        print(f"{'':28s}" + "".join(f"{gain:8.3f}" for gain in plain[name]))
    for each in (table, plain):
        mean = np.mean(list(each.values())[:4], axis=0)
        print(f"{'mean of the first four':28s}" + "".join(f"{gain:8.3f}" for gain in mean))
    gains, n_below, plain_gains = [], 0, []
    for name, q, level in stretches():
        first, last = q.first_valid_index(), q.last_valid_index()
        if first is None or (last - first).days < 5 * 365 - 10 or q.isna().mean() > 0.3:
            continue
        gain = outlook_skill(q, stop_level_m3s=level, resamples=2).table["skill_vs_conditional_climatology"].to_numpy()
        if np.isnan(gain).all():
            continue
        gains.append(gain)
        plain_gains.append(by_plain_wording(q, level))
        if (gain < -0.01).any():
            n_below += 1
            print(f"  below -0.01: {name:16s}" + "".join(f"{g:8.3f}" for g in gain))
    print(f"{len(gains)} short records, {n_below} of them below -0.01 at some lead; mean and lowest:")
    for row in (np.mean(gains, axis=0), np.min(gains, axis=0)):
        print(" " * 28 + "".join(f"{gain:8.3f}" for gain in row))
    below = np.array(plain_gains) < -0.01
    print(f"by the plain wording {below.any(axis=1).sum()}; how many by lead, mean and lowest:")
    print(" " * 28 + "".join(f"{n:8d}" for n in below.sum(axis=0)))
    for row in (np.mean(plain_gains, axis=0), np.min(plain_gains, axis=0)):
        print(" " * 28 + "".join(f"{gain:8.3f}" for gain in row))


if __name__ == "__main__":
    times()
    skills()
