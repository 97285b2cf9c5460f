"""Whether counts drift over the years beside what flow, effort and season make of them, flow cycle by flow cycle."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.model_checks import Fit
from ecology.not_estimable import NotEstimable
from ecology.rank_trend import RankTrend, rank_trend

#: Fewer cycles than this are not tested: one odd cycle would decide (common practice, no source).
FEWEST_CYCLES = 10
_YEAR_DAYS = 365.25


@dataclass(frozen=True, eq=False, kw_only=True)
class CycleTrend:
    """`trend` of ln (observed ÷ expected) of each cycle, per year; `cycles` has a row a cycle: first, last, visits,
    observed, expected.
    """

    trend: RankTrend
    cycles: pd.DataFrame

    @property
    def percent_a_year(self) -> tuple[float, float, float]:
        """(value, low, high) of the change [% a year]; a limit is NaN where it cannot be given."""
        t = self.trend
        value, low, high = (100.0 * float(np.expm1(v)) for v in (t.slope, t.low, t.high))
        return value, low, high


def trend_left_over(fit: Fit, dates: pd.Series, groups: np.ndarray, *, level: float = 0.95) -> CycleTrend:
    """Kendall's test and Sen's slope over the flow cycles of a fit that has no trend of its own.

    dates, groups   day and flow cycle of every row of the fit

    One half is added to both sides of each ratio, so that a cycle without animals counts too. Raises NotEstimable with
    fewer than `FEWEST_CYCLES` cycles, or where cycles of different flows fall on the same days.
    """
    table = pd.DataFrame({"date": dates.to_numpy(), "group": groups, "observed": fit.count, "expected": fit.mean})
    by = table.groupby("group", sort=False)
    cycles = by.agg(
        first=("date", "min"),
        last=("date", "max"),
        visits=("date", "size"),
        observed=("observed", "sum"),
        expected=("expected", "sum"),
    )
    days = (table["date"] - pd.Timestamp(2000, 1, 1)).dt.days
    cycles["year"] = days.groupby(table["group"], sort=False).mean() / _YEAR_DAYS
    cycles = cycles.sort_values("year")
    if len(cycles) < FEWEST_CYCLES:
        few = "1 flow cycle shows" if len(cycles) == 1 else f"{len(cycles)} flow cycles show"
        raise NotEstimable(f"{few} no trend: at least {FEWEST_CYCLES} are needed.")
    if not (np.diff(cycles["year"]) > 0).all():
        raise NotEstimable("Cycles of different flows fall on the same days: judge outlets on one flow at a time.")
    left = np.log((cycles["observed"] + 0.5) / (cycles["expected"] + 0.5)).to_numpy(np.float64)
    found = rank_trend(left, cycles["year"].to_numpy(np.float64), level=level)
    return CycleTrend(trend=found, cycles=cycles.drop(columns="year").reset_index(drop=True))
