"""Visits in each flow cycle that show a decline with a given chance, and what fewer would still show."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import pandas as pd

from ecology.survey_power import (
    SETS,
    Comparison,
    CountSurvey,
    Power,
    detectable_decline,
    formula_power,
    simulated_power,
)

#: More visits in one cycle than this are not considered: about one a week.
MOST_IN_A_CYCLE = 52
_STEPS = (1, 2, 3, 4, 6, 8, 12, 18, 26, 38, MOST_IN_A_CYCLE)


@dataclass(frozen=True, eq=False, kw_only=True)
class TrendPlan:
    """Visits that show a decline.

    per_cycle       visits in each cycle, None where `MOST_IN_A_CYCLE` are not enough
    visits_needed   visits of all later cycles together
    power           at `per_cycle`, or at the most visits considered
    false_alarm     share of simulated sets without a decline that seem to show one, at the same visits: about half of
                    1 − level where the test keeps its promise
    power_limit     power with any number of visits in these cycles, by the formula (an upper bound)
    if_cycles_differ_more   power at the same visits if cycles differ as much as `between_high` says; None without it
    more_cycles     power with twice the cycles and half the visits in each
    curve           visits (of all later cycles), per_cycle, probability, low, high (Monte Carlo, 95 %), upper_bound
                    (formula), detectable_decline (shown with the chance asked, about)
    """

    survey: CountSurvey
    design: Comparison
    sure: float
    level: float
    seed: int
    per_cycle: int | None
    visits_needed: int | None
    power: Power
    false_alarm: Power
    power_limit: float
    if_cycles_differ_more: Power | None
    more_cycles: Power
    curve: pd.DataFrame


def plan_trend(
    survey: CountSurvey,
    design: Comparison,
    *,
    sure: float,
    level: float = 0.95,
    sets: int = SETS,
    seed: int = 1,
    also: int | None = None,
    between_high: float | None = None,
) -> TrendPlan:
    """Search the least number of visits in a cycle whose simulated power reaches `sure`.

    Coarse steps first, then halving between the last too few and the first enough. The power at the answer carries
    its Monte Carlo interval; with 2000 sets at a power of 0.8 that is 0.018 to either side. `also` is a number of
    visits in a cycle that the curve is to have besides, `between_high` an upper limit of the variance of cycles.
    """
    if not 0.0 < sure < 1.0:
        raise ValueError(f"sure lies between 0 and 1, not at {sure}")
    found: dict[int, Power] = {}

    def power(visits: int) -> Power:
        if visits not in found:
            found[visits] = simulated_power(survey, design, visits, level=level, sets=sets, seed=seed)
        return found[visits]

    enough = next((v for v in _STEPS if power(v).value >= sure), None)
    if enough is not None:
        few = max((v for v in _STEPS if v < enough), default=0)
        while enough - few > 1:
            middle = (few + enough) // 2
            if power(middle).value >= sure:
                enough = middle
            else:
                few = middle
        for v in (math.ceil(0.75 * enough), math.ceil(0.5 * enough), math.ceil(0.25 * enough)):
            power(v)
        for v in _STEPS:  # some way beyond the answer, so that the picture shows what more would bring
            if v <= 2 * enough:
                power(v)
    if also is not None and 1 <= also <= MOST_IN_A_CYCLE:
        power(also)
    used = enough or MOST_IN_A_CYCLE
    none = Comparison(cycles_before=design.cycles_before, cycles_after=design.cycles_after, decline=0.0)
    double = Comparison(
        cycles_before=2 * design.cycles_before, cycles_after=2 * design.cycles_after, decline=design.decline
    )
    half = max(used // 2, 1)
    worse = None
    if between_high is not None:
        differing = replace(survey, between=max(between_high, survey.between))
        worse = simulated_power(differing, design, used, level=level, sets=sets, seed=seed)
    curve = pd.DataFrame(
        {
            "visits": v * design.cycles_after,
            "per_cycle": v,
            "probability": found[v].value,
            "low": found[v].low,
            "high": found[v].high,
            "upper_bound": formula_power(survey, design, v, level=level),
            "detectable_decline": detectable_decline(survey, design, v, power=sure, level=level),
        }
        for v in sorted(found)
    )
    return TrendPlan(
        survey=survey,
        design=design,
        sure=sure,
        level=level,
        seed=seed,
        per_cycle=enough,
        visits_needed=None if enough is None else enough * design.cycles_after,
        power=found[used],
        false_alarm=simulated_power(survey, none, used, level=level, sets=sets, seed=seed),
        power_limit=formula_power(survey, design, math.inf, level=level),
        if_cycles_differ_more=worse,
        more_cycles=simulated_power(survey, double, half, level=level, sets=sets, seed=seed),
        curve=curve,
    )
