"""How a discharge series moves from day to day, on the log scale."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

_LEAST_CHANGES = 30


@dataclass(frozen=True, kw_only=True)
class FlowVariability:
    """How ln discharge moves, from the series itself.

    wander_per_root_day  root mean square of the day-to-day changes: for days without a reading [ln per √day]
    fade_per_root_day    the same of a typical day (1.4826 x median absolute deviation), free of storms: for what a
                         measured change may have missed [ln per √day]
    spread               standard deviation of ln discharge over the record
    """

    wander_per_root_day: float
    fade_per_root_day: float
    spread: float

    def __post_init__(self) -> None:
        if not (self.wander_per_root_day >= 0 and self.fade_per_root_day >= 0 and self.spread > 0):
            raise ValueError("a flow's variability is 0 or above, its spread above 0")


def flow_variability(discharge_by_day: pd.Series) -> FlowVariability | None:
    """Variability of a daily series [m³/s], days that are missing or 0 or below left out.

    None where fewer than 30 day-to-day changes are known or the discharge never changes.
    """
    q = discharge_by_day.to_numpy(np.float64)
    x = np.log(np.where(q > 0, q, np.nan))
    change = np.diff(x)
    change = change[np.isfinite(change)]
    if len(change) < _LEAST_CHANGES or not change.any():
        return None
    typical = 1.4826 * float(np.median(np.abs(change - np.median(change))))
    return FlowVariability(
        wander_per_root_day=float(np.sqrt(np.mean(change**2))),
        fade_per_root_day=typical,
        spread=float(np.nanstd(x)),
    )
