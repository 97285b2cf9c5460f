"""Which prior on the spread between flow cycles judges best? `python tests/benchmarks/bench_spread_prior.py [SETS]`.

A reduced form of `bench_drop_truth.py` that is quick enough for many sets: the mean ln count of a cycle of 12 visits is
normal with variance σ² + v, v = (1/8 + α)/12 known, α = 0.4 - σ²; some cycles are known and a new one is judged. Each
prior on σ is laid out over a grid. A column holds, for one true σ: null cycles called lower (5 in 100 wanted), inside
the 95 % range, and halvings found; the last row is somebody who knows σ and v and the mean.
"""

from __future__ import annotations

import sys

import numpy as np
from scipy.special import ndtr, ndtri

VISITS, MEAN, ALPHA = 12, 8.0, 0.4
SPREADS, KNOWN = (0.1, 0.25, 0.4, 0.5), (5, 8, 12, 20)
GRID = np.linspace(0.005, 2.5, 300)


def priors(v: float) -> dict[str, np.ndarray]:
    """Log density of σ over the grid."""
    total = GRID**2 + v
    return {
        **{f"half-normal, scale {scale:g}": -0.5 * (GRID / scale) ** 2 for scale in (1.0, 0.5, 0.4, 0.3)},
        "flat": np.zeros(GRID.size),
        "flat in ln(σ² + v)": np.log(GRID / total),
        "uniform shrinkage": np.log(GRID / total**2),
        "1/√(σ² + v)": -0.5 * np.log(total),
        "half-Cauchy, scale √v": -np.log(total),
    }


def judged(known: int, spread: float, sets: int, rng: np.random.Generator) -> dict[str, tuple[float, float, float]]:
    """(called lower, inside, halving found) by prior."""
    alpha = ALPHA - spread**2
    v, halved_v = (1 / MEAN + alpha) / VISITS, (2 / MEAN + alpha) / VISITS
    cycles = rng.normal(0.0, np.sqrt(spread**2 + v), (sets, known))
    centre = cycles.mean(axis=1)[:, None]
    squares = ((cycles - centre) ** 2).sum(axis=1)[:, None]
    null = rng.normal(0.0, np.sqrt(spread**2 + v), sets)
    halved = rng.normal(-np.log(2.0), np.sqrt(spread**2 + halved_v), sets)
    total = GRID**2 + v
    error = np.sqrt(total * (1.0 + 1.0 / known))
    likelihood = -0.5 * (known - 1) * np.log(total) - 0.5 * squares / total
    below_null, below_halved = (ndtr((y[:, None] - centre) / error) for y in (null, halved))
    found = {}
    for name, prior in priors(v).items():
        weight = np.exp(likelihood + prior - (likelihood + prior).max(axis=1, keepdims=True))
        weight /= weight.sum(axis=1, keepdims=True)
        tail = (weight * below_null).sum(axis=1)
        lower = float(np.mean((weight * below_halved).sum(axis=1) < 0.05))
        found[name] = (float(np.mean(tail < 0.05)), float(np.mean((tail > 0.025) & (tail < 0.975))), lower)
    line = ndtri(0.05) * np.sqrt(spread**2 + v)
    found["everything known"] = (0.05, 0.95, float(ndtr((line + np.log(2.0)) / np.sqrt(spread**2 + halved_v))))
    return found


def main() -> None:
    sets = int(sys.argv[1]) if len(sys.argv) > 1 else 4_000
    rng = np.random.default_rng(0)
    for known in KNOWN:
        columns = [judged(known, spread, sets, rng) for spread in SPREADS]
        print(f"\n{known} cycles known, {sets} sets a column" + "".join(f"{f'σ {s:g}':>22}" for s in SPREADS))
        for name in columns[0]:
            cells = ("".join(f"{x:7.3f}" for x in column[name]) for column in columns)
            print(f"  {name:<28}" + " ".join(f"{c:>21}" for c in cells))


if __name__ == "__main__":
    main()
