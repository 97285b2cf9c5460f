"""Chance of having been seen again by a day, with an interval that stays honest where resampling shows no scatter."""

from __future__ import annotations

import numpy as np
from scipy.special import betaincinv

from ecology.npmle_bootstrap import BootstrapBands

Floats = np.ndarray


def returned_by_interval(low: Floats, high: Floats, bands: BootstrapBands) -> tuple[Floats, Floats]:
    """(low, high) of P(T <= day) for each of `bands.days`.

    low, high  the intervals (low, high] that the bands were made of
    bands      percentile intervals from resampled spells

    Where every resample gives the same answer (0 or 1: all spells, or none, returned by then), the interval is the
    exact binomial one (Clopper and Pearson 1934, Biometrika 26:404–413) of the spells whose answer at that day is
    known. A resample of five returned spells out of five is always five out of five; that does not make the sixth
    certain.
    """
    tail = (1.0 - bands.level) / 2.0
    out_low, out_high = bands.low.copy(), bands.high.copy()
    for i, day in enumerate(bands.days.tolist()):
        if bands.high[i] - bands.low[i] > 1e-9:
            continue
        returned, not_yet = int((high <= day).sum()), int((low >= day).sum())
        n = returned + not_yet
        if n == 0:
            out_low[i], out_high[i] = 0.0, 1.0
            continue
        lower = 0.0 if returned == 0 else float(betaincinv(returned, n - returned + 1, tail))
        upper = 1.0 if returned == n else float(betaincinv(returned + 1, n - returned, 1.0 - tail))
        out_low[i], out_high[i] = min(out_low[i], lower), max(out_high[i], upper)
    return out_low, out_high
