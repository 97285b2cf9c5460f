"""How often a discharge is reached, and how low each year went.

Flow duration curve: percent of time a discharge is equalled or exceeded (Searcy 1959, US Geological Survey
Water-Supply Paper 1542-A), with the Weibull plotting position p = i / (n + 1) (as Vogel & Fennessey 1994 use).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

PLOTTING_POSITIONS = ("weibull", "linear", "hazen", "median_unbiased")


def exceeded_discharge(discharge_m3s: pd.Series, percent: Sequence[float], method: str = "weibull") -> pd.Series:
    """The discharge [m³/s] equalled or exceeded `percent` (0-100) % of the time, indexed by percent.

    Days without a value are left out; a series without any gives NaN. Beyond the outermost plotting positions the
    extreme value itself stands. `method` is one of `PLOTTING_POSITIONS`, as numpy.quantile names them.
    """
    if method not in PLOTTING_POSITIONS:
        raise ValueError(f"method is one of {PLOTTING_POSITIONS}")
    share = np.asarray(percent, dtype=np.float64)
    if ((share < 0) | (share > 100)).any():
        raise ValueError("percentages lie between 0 and 100")
    known = discharge_m3s.to_numpy(np.float64)
    known = known[~np.isnan(known)]
    # Each name that numpy types accept is one of the checked ones above.
    values = np.full(len(share), np.nan) if len(known) == 0 else np.quantile(known, 1 - share / 100, method=method)  # type: ignore[call-overload]
    return pd.Series(values, index=pd.Index(share, name="percent"), name="discharge_m3s")


def percent_of_time_at_or_above(discharge_m3s: pd.Series, level_m3s: float) -> float | None:
    """Share of the known days with discharge >= `level_m3s` [%]; None where no day is known."""
    known = discharge_m3s.to_numpy(np.float64)
    known = known[~np.isnan(known)]
    return None if len(known) == 0 else float(100.0 * np.mean(known >= level_m3s))


def annual_minima(discharge_m3s: pd.Series, days: int = 7, first_month: int = 1) -> pd.Series:
    """Lowest mean over `days` consecutive days [m³/s] in each year that is known in full.

    A regular daily series, NaN = not measured. A year starts with `first_month` and is named by the calendar year in
    which it starts; a year with any day missing or unknown is left out, since its lowest days may be those. A mean
    belongs to the year of its last day and may reach back over the year's start.
    """
    index = pd.DatetimeIndex(discharge_m3s.index)
    if len(index) > 1 and (np.diff(index.to_numpy()) != np.timedelta64(1, "D")).any():
        raise ValueError("a daily series without missing rows is needed")
    year = pd.Index(np.asarray(index.year) - (np.asarray(index.month) < first_month), name="year")
    known = discharge_m3s.notna().groupby(year).sum()
    starts = pd.to_datetime({"year": known.index, "month": first_month, "day": 1})
    ends = pd.to_datetime({"year": known.index + 1, "month": first_month, "day": 1})
    whole = known.to_numpy() == (ends - starts).dt.days.to_numpy()
    lowest = discharge_m3s.rolling(days).mean().groupby(year).min()
    return lowest[whole].rename("minimum_m3s")
