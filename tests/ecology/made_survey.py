"""Made surveys with a known truth: daily flow, visits over many flow years, years that differ, a period to judge."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.count_design import CountDesign, count_design
from ecology.flow_history import FlowCycles, OutletWater, log_mean_before
from hydro.combine import combine
from hydro.discharge import Discharge, Origin, make_frame

FIRST = pd.Timestamp("2000-01-01")
FLOW_EFFECT = 0.6
Span = tuple[pd.Timestamp, pd.Timestamp]


@dataclass(frozen=True, eq=False, kw_only=True)
class MadeSurvey:
    """`visits` as `Visits.frame` has them, `mean` the true expectation of each, `deviation` ln of its year's part."""

    visits: pd.DataFrame
    mean: np.ndarray
    deviation: np.ndarray
    water: dict[str, OutletWater]
    cycles: dict[str, FlowCycles]

    def design(self, visits: pd.DataFrame | None = None) -> tuple[CountDesign, np.ndarray]:
        """The count design and the cycle of each of its rows."""
        design = count_design(
            self.visits if visits is None else visits, self.water, self.cycles, outlets=tuple(self.water)
        )
        return design, design.rows["cycle"].astype(str).to_numpy()


def year(number: int) -> Span:
    """First and last day of a flow year."""
    return FIRST + pd.DateOffset(years=number), FIRST + pd.DateOffset(years=number + 1) - pd.Timedelta(days=1)


def made_survey(
    rng: np.random.Generator,
    *,
    years: int = 21,
    visits_a_year: int = 12,
    mean: float = 8.0,
    alpha: float = 0.4,
    spread: float = 0.25,
    own_spread: float = 0.0,
    outlets: tuple[str, ...] = ("pool",),
    effort_missing: float = 0.0,
) -> MadeSurvey:
    """Counts by the model with normal deviations of ln mean between flow years.

    mean    average count of a visit
    alpha   dispersion of a visit as a whole; spread² of it lies between years
    spread  standard deviation of ln mean between years, shared by all outlets; `own_spread` adds one of each outlet's
    """
    days = pd.date_range(FIRST - pd.Timedelta(days=60), FIRST + pd.DateOffset(years=years), freq="D")
    noise = rng.normal(0.0, 0.05, len(days))
    log_flow = np.empty(len(days))
    log_flow[0] = 0.0
    for i in range(1, len(days)):
        log_flow[i] = 0.99 * log_flow[i - 1] + noise[i]
    origin = Origin(file="made", digest="", format="made")
    gauge = Discharge(frame=make_frame(days, np.exp(log_flow)), step="daily", origins=(origin,))
    flow = combine("made", "Made", {"made": gauge})
    starts = pd.DatetimeIndex([FIRST + pd.DateOffset(years=k) for k in range(1, years)])
    n = years * visits_a_year
    tables = []
    for at, outlet in enumerate(outlets):
        day = np.floor((np.arange(n) + rng.random(n)) * 365.2 / visits_a_year).astype(int)
        date = pd.Series(FIRST + pd.to_timedelta(day, unit="D"))
        effort = rng.integers(6, 19, n) * 5.0
        phase = 2 * np.pi * date.dt.day_of_year.to_numpy() / 365.2425
        ln = FLOW_EFFECT * log_mean_before(flow, date, 30).to_numpy() + 0.2 * np.sin(phase) + 0.1 * np.cos(phase)
        tables.append(pd.DataFrame({"date": date, "outlet": outlet, "effort": effort, "ln": ln + 0.4 * at}))
    visits = pd.concat(tables, ignore_index=True).sort_values(["date", "outlet"], ignore_index=True)
    cycles = FlowCycles(starts=starts, by="made year")
    apart = spread * rng.standard_normal(years + 1)
    expected = np.exp(visits["ln"]) * visits["effort"] / 60
    in_year = cycles.of(visits["date"])
    deviation = apart[in_year]
    if own_spread > 0:
        own = own_spread * rng.standard_normal((len(outlets), years + 1))
        deviation = deviation + own[visits["outlet"].map(list(outlets).index).to_numpy(), in_year]
    expected = (expected * mean / expected.mean()).to_numpy() * np.exp(deviation)
    count = made_counts(rng, expected, alpha - spread**2)
    effort = visits["effort"].where(rng.random(len(visits)) >= effort_missing)
    frame = visits[["date", "outlet"]].assign(
        row=np.arange(2, len(visits) + 2), kind="counted", count=count.astype(float), effort=effort
    )
    side = OutletWater(flow=flow, dry=None)
    return MadeSurvey(
        visits=frame,
        mean=expected,
        deviation=deviation,
        water=dict.fromkeys(outlets, side),
        cycles=dict.fromkeys(outlets, cycles),
    )


def made_counts(rng: np.random.Generator, mean: np.ndarray, alpha: float) -> np.ndarray:
    """Negative binomial counts with variance mean + alpha · mean²."""
    return rng.poisson(mean * rng.gamma(1 / alpha, alpha, len(mean)))
