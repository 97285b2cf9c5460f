"""Dry spells of 30 years of 15-minute values against one bare numpy run-length pass over the same values.

Run: python tests/benchmarks/bench_spells.py
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pandas as pd

from hydro.dry_spells import find_dry_spells

ROWS = 1_051_200


def best(call: Callable[[], object], repeats: int = 15) -> float:
    """The shortest of several runs [s]: what the work costs when nothing else gets in the way."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return min(times)


def series(rows: int) -> pd.Series:
    """A slowly wandering discharge that is below its level a fifth of the time."""
    rng = np.random.default_rng(1)
    walk = np.cumsum(rng.normal(0, 0.01, rows))
    index = pd.date_range("2000-01-01", periods=rows, freq="15min", tz="UTC")
    return pd.Series(np.exp(walk - walk.mean()), index=index)


def bare_run_length(values: np.ndarray, level: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Starts, stops and lengths of the runs below a level, and nothing else."""
    below = np.concatenate(([False], values < level, [False]))
    edges = np.flatnonzero(below[1:] != below[:-1])
    return edges[::2], edges[1::2], edges[1::2] - edges[::2]


def main() -> None:
    for rows in (ROWS // 10, ROWS):
        q = series(rows)
        level = float(q.quantile(0.2))
        values = q.to_numpy()
        bare = best(lambda v=values, x=level: bare_run_length(v, x))
        full = best(lambda s=q, x=level: find_dry_spells(s, x))
        held = best(lambda s=q, x=level: find_dry_spells(s, x, 1.1 * x, stop_days=2))
        n = len(find_dry_spells(q, level).spells)
        print(
            f"{rows:>9} rows, {n} spells: bare {1e3 * bare:.2f} ms, dry spells {full / bare:.1f} times that, "
            f"with hysteresis {held / bare:.1f}"
        )


if __name__ == "__main__":
    main()
