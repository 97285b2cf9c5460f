"""What a plan of visits takes for granted, in sentences."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from dashboard.wording.numbers import chance, count_of, days, days_only, figures
from dashboard.wording.plan import basis, more_cycles, span
from ecology.return_watch import WatchPlan
from ecology.survey_plan import AbsencePlan
from ecology.trend_plan import TrendPlan

if TYPE_CHECKING:
    from dashboard.answers.plan_answer import PlanAnswer

INDEPENDENT = (
    "Visits are taken to miss independently. Visits of one day, or all in high or cloudy water, miss together and count "
    "for less than their number."
)
STAYING = "Animals that are there are taken to stay through all the visits. A visit to a dry surface is no search."
NONE_MISSED = (
    "No search after a first find missed, so that only the least chance of finding is known, if all searches are alike. "
    "Soon after a return fewer animals may be back and visits may miss more often: then more visits are needed."
)
ANY_DAY = "A return is taken to fall on any day between two visits alike, and animals that are back to stay."
SEEN_NOT_PRESENT = (
    "Counts are of animals seen. A change in how well they can be seen looks like a decline, and no number of visits "
    "tells the two apart."
)
FLOW_KNOWN = (
    "Flow, season and recovery are taken to act as in the fit of the counts, known exactly; they are estimated, so the "
    "chances are a little too good. Planned visits are taken to be like those of the record, none of them to a dry surface."
)


def assumptions(a: PlanAnswer) -> list[str]:
    """What the plan takes for granted, each as a sentence."""
    if a.request.purpose == "trend":
        return _trend_assumptions(a)
    found = []
    d = None if a.plan is None or isinstance(a.plan, TrendPlan) else a.plan.detection
    if d is not None:
        value = "" if d.value is None or d.value == d.low else f"{chance(d.value)}, interval "
        said = f"A visit finds animals that are there with a chance of {value}{span(d.low, d.high)}, {basis(d)}"
        effort = "" if math.isnan(a.effort) else f"; for an effort of {figures(a.effort)} {a.effort_unit} a visit"
        found.append(f"{said}{effort}.")
        if d.searches is not None and d.value is None:
            found.append(NONE_MISSED)
        if d.low < d.high:
            found.append("The plan holds for the low end of that range, so that it is enough for all of it.")
    if isinstance(a.plan, AbsencePlan):
        n, m = a.plan.visits_needed, a.plan.at_estimate
        if n is not None and m is not None and m < n:
            found.append(f"At the estimate {count_of(m, 'visit')} would do.")
    found.append(INDEPENDENT)
    if a.request.purpose == "absence":
        found.append(STAYING)
        if a.request.prior is not None:
            found.append(
                f"The chance of {chance(a.request.prior)} before looking is your judgement, not something the visits tell."
            )
        if a.per_site is not None:
            found.append(
                f"Over many outlets, of which so large a share has animals, {count_of(a.per_site, 'visit')} to each tells that "
                "share best for a fixed total."
            )
    else:
        found.append(ANY_DAY)
        found.append(_watch_length(a))
        if isinstance(a.plan, WatchPlan) and a.plan.every_days is not None:
            at = a.plan.curve[a.plan.curve["every_days"] == a.plan.every_days]
            if len(at):
                found.append(
                    "If animals come back right after a visit, the chance to know it in time is "
                    f"{chance(float(at['at_worst'].iloc[0]))} at the low end."
                )
    if d is not None:
        found += list(d.caveats)
    return found


def _watch_length(a: PlanAnswer) -> str:
    plan = a.plan or a.assumed[0][1]
    length = days(plan.watch_days) if isinstance(plan, WatchPlan) else ""
    if a.watch_from == "said":
        return f"The watch goes on for {length}, as given."
    if a.watch_from == "lags":
        return (
            f"The watch goes on for {length} after a restart: 90 in 100 of the fitted lags are over by then, with the "
            f"{days_only(a.request.within)} to know it in."
        )
    return f"The watch is taken to go on for {length}: too little is known of the lags here to say how long it must."


def _trend_assumptions(a: PlanAnswer) -> list[str]:
    b, p = a.basis, a.plan
    if b is None or not isinstance(p, TrendPlan):
        return [SEEN_NOT_PRESENT]
    differ = 100 * math.sqrt(b.variation.between)
    found = [
        f"From {count_of(b.visits, 'visit')} in {count_of(b.cycles, 'cycle')} of the count regression: a visit of "
        f"{figures(a.effort)} {a.effort_unit} counts {figures(p.survey.mean)} animals on average; visits of one cycle scatter with "
        f"alpha {figures(p.survey.visit_alpha, 2)}, and whole cycles differ by {differ:.0f} % (standard deviation) beyond what "
        "flow and season explain.",
        f"A cycle is a {b.cycles_by.removeprefix('a ')}, {days_only(b.cycle_days)} long on average.",
        f"Simulated {p.power.sets} times and judged with errors that allow for cycles (CR2, Welch's degrees of freedom) by a "
        f"two-sided test at {100 * (1 - p.level):.3g} %; without any decline {_per_cent(p.false_alarm.value)} of the sets seem to "
        f"show one ({_per_cent(0.5 * (1 - p.level))} promised).",
        f"By the closed formula, an upper bound, no number of visits in these cycles reaches more than {chance(p.power_limit)}.",
    ]
    if p.if_cycles_differ_more is not None:
        found.insert(
            1,
            f"How much cycles differ is itself known from {count_of(b.variation.n_cycles, 'cycle')} only: if it is "
            f"{100 * math.sqrt(b.variation.between_high):.0f} % (upper limit, 90 in 100), {count_of(p.power.visits, 'visit')} a "
            f"cycle show the decline with a chance of {chance(p.if_cycles_differ_more.value)}.",
        )
    if p.visits_needed is not None:
        found.append(more_cycles(p))
    if b.variation.between <= 0.0:
        found.append("Cycles differ no more than visits do: their own variation is taken as none, which is hopeful.")
    return [*found, FLOW_KNOWN, SEEN_NOT_PRESENT]


def _per_cent(share: float) -> str:
    return f"{100 * share:.1f} %"
