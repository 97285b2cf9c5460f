"""The returned-by picture of one outlet's answer, the same on the page and in the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from dashboard.figures.drawing import Drawing
from dashboard.figures.return_rows import horizon
from dashboard.figures.returned_by import returned_by
from dashboard.wording import returns as words

if TYPE_CHECKING:
    from dashboard.answers.returns import OutletReturns


def outlet_curve(o: OutletReturns) -> Drawing:
    """The curve with both half-way times; ValueError where the outlet has none."""
    if o.curve is None or o.bands is None or o.lags is None:
        raise ValueError("there is no curve to draw")
    median = None if o.corrected is None else o.corrected.median_days
    # The axis ends beyond every bound and both medians.
    end = max(horizon(o.lags.lags), 0.0 if median is None else 1.2 * median.value)
    return returned_by(
        id=o.outlet,
        title=o.title,
        low=o.curve.low,
        high=o.curve.high,
        mass=o.curve.mass,
        days=np.asarray(o.bands.days, float).tolist(),
        band_low=o.returned_low,
        band_high=o.returned_high,
        median=o.bands.quantile_bounds,
        corrected=None if median is None else (median.value, median.low, median.high),
        end=end,
        alt=words.answer(o),
    )
