"""Do things given a chance of 30 % happen 30 % of the time: reliability bins and the scatter to be expected of them.

Consistency bars after Bröcker & Smith 2007, Weather and Forecasting 22:651-661 (cited from memory): outcomes are drawn
from the forecasts themselves, so that the bars show how far a bin of a perfectly reliable forecast would stray.
Forecasts issued a few days apart share their outcome; drawing those outcomes as if independent, as the paper does,
makes bars that are far too narrow. Here they may be drawn dependent: a Gaussian autoregression in time decides each
outcome. The forecasts are kept as issued, in their order.
"""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from hydro.state_runs import Floats


def bin_edges(n: int) -> Floats:
    """Ten bins of chance, or five where there are fewer than 100 forecasts."""
    return np.linspace(0.0, 1.0, (5 if n < 100 else 10) + 1)


def outcome_correlation(chance: Floats, happened: Floats) -> float:
    """Correlation of successive standardised forecast errors, 0 at least; 0 where it cannot be told."""
    spread = np.sqrt(np.maximum(chance * (1.0 - chance), 1e-3))
    error = (happened - chance) / spread
    before, after = error[:-1], error[1:]
    scale = float(np.sqrt(np.sum(before**2) * np.sum(after**2)))
    return 0.0 if scale == 0 else max(0.0, float(np.sum(before * after)) / scale)


def reliability_bins(
    chance: Floats,
    happened: Floats,
    rng: np.random.Generator,
    *,
    correlation: float = 0.0,
    level: float = 0.95,
    resamples: int = 400,
) -> pd.DataFrame:
    """One row a bin that holds forecasts: forecast (mean chance), observed (share that happened), n, bar_low, bar_high.

    chance, happened   in order of issue; happened is 0 or 1
    correlation        of successive outcomes given the forecasts, 0 to 1 (see `outcome_correlation`)
    level              share of reliable forecasts whose bin stays within its bar
    """
    if len(chance) == 0:
        return pd.DataFrame({name: [] for name in ("forecast", "observed", "n", "bar_low", "bar_high")})
    edges = bin_edges(len(chance))
    group = np.clip(np.searchsorted(edges, chance, side="right") - 1, 0, len(edges) - 2)
    member = np.zeros((len(edges) - 1, len(chance)), dtype=np.float32)
    member[group, np.arange(len(chance))] = 1.0
    n = member.sum(axis=1)
    member, n = member[n > 0], n[n > 0]
    shares = (member @ _draws(chance, rng, correlation, resamples)) / n[:, None]
    low, high = np.quantile(shares, [(1.0 - level) / 2.0, (1.0 + level) / 2.0], axis=1)
    return pd.DataFrame(
        {
            "forecast": (member @ chance) / n,
            "observed": (member @ happened) / n,
            "n": n.astype(np.int64),
            "bar_low": low.astype(np.float64),
            "bar_high": high.astype(np.float64),
        }
    )


def _draws(chance: Floats, rng: np.random.Generator, correlation: float, resamples: int) -> np.ndarray:
    """Outcomes of a reliable forecast, shape (forecasts, resamples)."""
    from scipy.special import ndtri

    noise = rng.standard_normal((len(chance), resamples), dtype=np.float32)
    if correlation > 0:
        # Two yes-no outcomes of even odds correlate by 2 asin(r) / π where their normal scores correlate by r.
        r = math.sin(math.pi / 2.0 * min(correlation, 1.0))
        innovation = math.sqrt(1.0 - r * r)
        for k in range(1, len(chance)):
            noise[k] = r * noise[k - 1] + innovation * noise[k]
    return (noise < ndtri(chance)[:, None]).astype(np.float32)
