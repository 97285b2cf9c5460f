"""Do animals sometimes stay away for good? Only where some spells were searched well past the latest return known.

A spell whose searches ended early says nothing of it: the animals may have come the week after. The share is the
plateau of the nonparametric curve, read at the latest return known.

Source: Maller and Zhou 1992, Biometrika 79:731–739 (the plateau as estimate, sufficient follow-up; cited from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import betaincinv

from ecology.not_estimable import NotEstimable
from ecology.npmle_bootstrap import BootstrapBands

#: A spell without a find counts as followed where its last search came so many times later than the latest return.
WELL_PAST = 1.5


@dataclass(frozen=True, eq=False, kw_only=True)
class NeverReturned:
    """The share of dry spells after which animals were not back by the time by which all returns known had happened.

    share, low, high, level   an interval that holds both the resampled and the exact binomial one (Clopper and Pearson
                              1934, Biometrika 26:404–413) of the spells whose answer at that day is known
    until_days                the latest return known lies by this day
    n_returned                spells with a find
    n_followed                spells without one that were searched at least `WELL_PAST` times as long
    n_cut_short               spells without one that were not
    """

    share: float
    low: float
    high: float
    level: float
    until_days: float
    n_returned: int
    n_followed: int
    n_cut_short: int


def latest_return(high: np.ndarray) -> float | None:
    """The day by which every return that was seen had happened; None where none was."""
    seen = high[np.isfinite(high)]
    return float(seen.max()) if seen.size else None


def never_returned(low: np.ndarray, high: np.ndarray, bands: BootstrapBands) -> NeverReturned:
    """The share for intervals (low, high] of lags; `bands` are theirs, with `latest_return(high)` among the days.

    Raises NotEstimable where nothing was seen to return, or no spell without a find was followed long enough.
    """
    until = latest_return(high)
    if until is None:
        raise NotEstimable("No return was seen after any spell: how long to wait for one cannot be told.")
    at = np.flatnonzero(bands.days == until)
    if not at.size:
        raise ValueError(f"the bands hold no day {until:g}, the latest return known")
    unseen = np.isinf(high)
    followed = unseen & (low >= WELL_PAST * until)
    n_returned, n_followed = int((~unseen).sum()), int(followed.sum())
    n_short = int(unseen.sum()) - n_followed
    if n_short and not n_followed:
        longest = float(np.maximum(low[unseen], 0.0).max())
        raise NotEstimable(
            f"None of the {n_short} spells without a find was searched long enough: at most until day {longest:.0f}, "
            f"while returns that were seen had happened by day {until:.0f}. Whether animals sometimes stay away for "
            "good cannot be told."
        )
    tail = (1.0 - bands.level) / 2.0
    stayed = int((unseen & (low >= until)).sum())
    known = n_returned + stayed
    exact_low = 0.0 if stayed == 0 else float(betaincinv(stayed, known - stayed + 1, tail))
    exact_high = float(betaincinv(stayed + 1, known - stayed, 1.0 - tail))
    i = int(at[0])
    return NeverReturned(
        share=max(1.0 - float(bands.by_high[i]), 0.0),
        low=max(min(1.0 - float(bands.high[i]), exact_low), 0.0),
        high=min(max(1.0 - float(bands.low[i]), exact_high), 1.0),
        level=bands.level,
        until_days=until,
        n_returned=n_returned,
        n_followed=n_followed,
        n_cut_short=n_short,
    )
