"""Abundance in an open population, occasion by occasion, in closed form.

Jolly 1965 (Biometrika 52:225–247) and Seber 1965 (52:249–259); the bias-corrected forms, as in Seber 1982, The
Estimation of Animal Abundance, chapter 5.
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pandas as pd

from ecology.encounters import Encounters


def marked_counts(found: Encounters) -> pd.DataFrame:
    """The counts that the estimates need, a row an occasion: n (met), m (of those, known before), R (released: all
    met), r (of those, met again later), z (known before, met later, not met on the occasion)."""
    meetings = found.meetings
    animal, occasion = meetings["animal"].to_numpy(np.int64), meetings["occasion"].to_numpy(np.int64)
    k = found.n_occasions
    first = np.ones(len(animal), bool)
    first[1:] = animal[1:] != animal[:-1]
    again = np.append(~first[1:], False) if len(animal) else first
    n = np.bincount(occasion, minlength=k)
    alive = np.zeros(k + 1)
    np.add.at(alive, occasion[again] + 1, 1)
    np.add.at(alive, occasion[~first], -1)
    return pd.DataFrame(
        {
            "n": n,
            "m": np.bincount(occasion[~first], minlength=k),
            "R": n,
            "r": np.bincount(occasion[again], minlength=k),
            "z": np.cumsum(alive)[:k].astype(np.int64),
        }
    )


def jolly_seber(counts: pd.DataFrame, *, bias_corrected: bool = True, level: float = 0.95) -> pd.DataFrame:
    """Marked animals alive, abundance, recapture chance and survival from `counts` (n, m, R, r, z as in
    `marked_counts`).

    Columns marked_alive (M), abundance (N), abundance_se, abundance_low, abundance_high, recapture (of occasion i),
    survival (from i to i + 1; it may exceed 1, as the estimates are not bounded); NaN where they are not defined
    (first and last occasion, nothing met again). The standard error is Jolly's, for the animals that were there; the
    interval is lognormal for those not met. Marks are assumed not lost, all animals alike in survival and in the
    chance of being met, emigration permanent.
    """
    n, m, R, r, z = (counts[c].to_numpy(np.float64) for c in ("n", "m", "R", "r", "z"))
    one = 1.0 if bias_corrected else 0.0
    with np.errstate(divide="ignore", invalid="ignore"):
        marked = m + (R + one) * z / (r + one)
        abundance = marked * (n + one) / (m + one)
        recapture = m / marked
    inner = np.zeros(len(n), bool)
    inner[1:-1] = True
    inner &= (m > 0) & (r > 0)
    with np.errstate(divide="ignore", invalid="ignore"):
        survival = np.append(marked[1:], np.nan) / (marked - m + R)
    if len(n):
        # Nothing is marked before the first occasion, so that its survival rests on those released then.
        survival[0] = marked[1] / R[0] if len(n) > 1 and R[0] > 0 else np.nan
    next_inner = np.append(inner[1:], False)
    error = _abundance_error(n, m, R, r, marked, abundance)
    z = NormalDist().inv_cdf(0.5 * (1.0 + level))
    with np.errstate(divide="ignore", invalid="ignore"):
        unseen = np.maximum(abundance - n, 0.0)
        factor = np.exp(z * np.sqrt(np.log1p((error / unseen) ** 2)))
        low, high = n + np.where(unseen > 0, unseen / factor, 0.0), n + np.where(unseen > 0, unseen * factor, 0.0)
    return pd.DataFrame(
        {
            "marked_alive": np.where(inner, marked, np.nan),
            "abundance": np.where(inner, abundance, np.nan),
            "abundance_se": np.where(inner, error, np.nan),
            "abundance_low": np.where(inner, low, np.nan),
            "abundance_high": np.where(inner, high, np.nan),
            "recapture": np.where(inner, recapture, np.nan),
            "survival": np.where(next_inner & (inner | (np.arange(len(n)) == 0)), survival, np.nan),
        },
        index=counts.index,
    )


def _abundance_error(
    n: np.ndarray, m: np.ndarray, R: np.ndarray, r: np.ndarray, marked: np.ndarray, abundance: np.ndarray
) -> np.ndarray:
    """Standard error of the abundance, given the animals that were there (Jolly 1965; Seber 1982, chapter 5)."""
    with np.errstate(divide="ignore", invalid="ignore"):
        spread = (marked - m + R) / marked * (1 / r - 1 / R) + (1 - m / n) / m
        return np.sqrt(np.maximum(abundance * (abundance - n) * spread, 0.0))
