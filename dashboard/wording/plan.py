"""Sentences about planned visits."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import chance, count_of, days, days_only, figures
from ecology.return_watch import WatchPlan
from ecology.survey_plan import MOST_VISITS, AbsencePlan, DetectionRange
from ecology.trend_plan import TrendPlan

if TYPE_CHECKING:
    from dashboard.answers.plan_answer import PlanAnswer

INDEPENDENT = (
    "Visits are taken to miss independently. Visits of one day, or all in high or cloudy water, miss together and count "
    "for less than their number."
)
STAYING = "Animals that are there are taken to stay through all the visits. A visit to a dry surface is no search."
ANY_DAY = "A return is taken to fall on any day between two visits alike, and animals that are back to stay."
SEEN_NOT_PRESENT = (
    "Counts are of animals seen. A change in how well they can be seen looks like a decline, and no number of visits "
    "tells the two apart."
)
FLOW_KNOWN = (
    "Flow, season and recovery are taken to act as in the fit of the counts, known exactly; they are estimated, so the "
    "chances are a little too good. Planned visits are taken to be like those of the record, none of them to a dry surface."
)


def answer(a: PlanAnswer) -> str:
    """The first sentence."""
    if a.plan is None or a.plan.visits_needed is None:
        return _cannot(a)
    if isinstance(a.plan, AbsencePlan):
        return _absence(a, a.plan)
    if isinstance(a.plan, WatchPlan):
        return _watch(a, a.plan)
    return _trend(a, a.plan)


def _cannot(a: PlanAnswer) -> str:
    if isinstance(a.plan, TrendPlan):
        d = a.plan.design
        return (
            f"No plan shows {_decline(d.decline)} at {a.title} with a chance of {chance(a.request.sure)} in {d.cycles_before} and "
            f"{d.cycles_after} flow cycles: {a.why}; they would show it with a chance of {chance(a.plan.power.value)} "
            f"(simulated, {100 * a.plan.power.low:.0f}–{100 * a.plan.power.high:.0f}). {_more_cycles(a.plan)}"
        )
    if a.request.purpose == "trend":
        return f"How many visits to {a.title} would show a decline cannot be said: {a.why}."
    if a.plan is not None:
        return f"No plan for {a.title} reaches {chance(a.request.sure)}: {a.why}. Fewer still tell what stands below."
    return (
        f"How many visits to {a.title} depends on how often a visit finds animals that are there, and that is not known: "
        f"{a.why}. {_assumed(a)}"
    )


def _more_cycles(p: TrendPlan) -> str:
    """What twice the cycles would show."""
    d = p.design
    return (
        f"{count_of(p.more_cycles.visits, 'visit')} in each of {2 * d.cycles_before} and {2 * d.cycles_after} cycles would show "
        f"it with a chance of {chance(p.more_cycles.value)}."
    )


def _assumed(a: PlanAnswer) -> str:
    """The numbers for assumed detections."""
    parts = []
    for p, plan in a.assumed:
        if isinstance(plan, WatchPlan):
            said = (
                "not even a visit every day"
                if plan.every_days is None
                else f"a visit every {_spacing(plan.every_days)}"
            )
        else:
            n = plan.visits_needed
            said = f"more than {MOST_VISITS} visits" if n is None else count_of(n, "visit")
        parts.append(f"{said} if it finds {chance(p)}")
    return f"It would be {'; '.join(parts)}."


def _spacing(every: int) -> str:
    return "day" if every == 1 else days_only(every)


def _low_end(d: DetectionRange) -> str:
    """Which detection the plan holds for."""
    if d.value is not None and d.low == d.value:
        return f"if a visit finds animals that are there with a chance of {chance(d.low)}"
    middle = f" (estimate {chance(d.value)})" if d.value is not None else ""
    return f"even if a visit finds animals that are there only with a chance of {chance(d.low)}{middle}"


def _basis(d: DetectionRange) -> str:
    if d.searches is None:
        return "as given"
    return f"judging by {count_of(d.searches, 'search', 'searches')} after first finds"


def _absence(a: PlanAnswer, p: AbsencePlan) -> str:
    n = p.visits_needed or 0
    if p.prior is None:
        return (
            f"Plan {count_of(n, 'visit')} to {a.title}: if animals are there, at least one visit finds them with a chance of "
            f"{chance(p.sure)} or more, {_low_end(p.detection)}, {_basis(p.detection)}."
        )
    if n == 0:
        return (
            f"No visit to {a.title} is needed: a chance of {chance(p.prior)} that animals are there is already at most "
            f"{chance(1.0 - p.sure)}."
        )
    return (
        f"Plan {count_of(n, 'visit')} to {a.title}: if none finds animals, the chance that they are there falls from "
        f"{chance(p.prior)} to {chance(1.0 - p.sure)} or less, {_low_end(p.detection)}, {_basis(p.detection)}."
    )


def _watch(a: PlanAnswer, p: WatchPlan) -> str:
    every = p.every_days or 1
    return (
        f"Visit {a.title} every {_spacing(every)} once water is back: a return is then known within "
        f"{days_only(p.within_days)} with a chance of {chance(p.sure)} or more, {_low_end(p.detection)}, "
        f"{_basis(p.detection)}. Over {days(p.watch_days)} that is {count_of(p.visits_needed or 0, 'visit')}."
    )


def _trend(a: PlanAnswer, p: TrendPlan) -> str:
    d, n = p.design, p.per_cycle or 0
    return (
        f"Plan {count_of(n, 'visit')} to {a.title} in each flow cycle, {count_of(p.visits_needed or 0, 'visit')} in "
        f"{d.cycles_after} cycles: {_decline(d.decline)} is then shown with a chance of {chance(p.power.value)} "
        f"(simulated, {100 * p.power.low:.0f}–{100 * p.power.high:.0f}), against {d.cycles_before} cycles with as many visits "
        "before it."
    )


def _decline(share: float) -> str:
    return f"a decline by {100 * share:.0f} %"


def fewer(a: PlanAnswer) -> list[str]:
    """What fewer visits would still tell."""
    found = []
    for row in a.fewer().to_dict("records"):
        n = count_of(int(row["visits"]), "visit")
        if isinstance(a.plan, TrendPlan):
            found.append(
                f"{count_of(int(row['per_cycle']), 'visit')} a cycle ({n}): shown with a chance of {chance(row['probability'])}; "
                f"to be shown as surely as asked for, a decline must be about {100 * row['detectable_decline']:.0f} %"
            )
        elif a.request.purpose == "return":
            found.append(
                f"every {_spacing(int(row['every_days']))} ({n}): known in time with a chance of {_span(row['low'], row['high'])}"
            )
        elif "present_low" in row:
            found.append(
                f"{n} without a find: animals are there with a chance of {_span(row['present_low'], row['present_high'])}"
            )
        else:
            found.append(f"{n}: would find them with a chance of {_span(row['low'], row['high'])}")
    if isinstance(a.plan, WatchPlan) and a.plan.start_day and a.plan.visits_needed and a.plan.visits_from_start:
        saved = a.plan.visits_needed - a.plan.visits_from_start
        if saved > 0:
            found.append(
                f"beginning {days(a.plan.start_day)} after the restart: {count_of(saved, 'visit')} fewer, and the outlet is "
                f"left alone while water is coming back; {chance(a.plan.share_before_start or 0.0)} of the returns come earlier and "
                "are known by the first visit at best"
            )
    if not found and a.visits_needed == 1:
        found.append("one visit is the fewest that tells anything")
    return found


def allowed(a: PlanAnswer) -> str | None:
    """What the visits that are allowed would tell; None where nobody says how many are."""
    n = a.request.allowed
    if n is None:
        return None
    if a.visits_needed is not None and a.visits_needed <= n:
        return f"The plan stays within the {count_of(n, 'visit')} that {'is' if n == 1 else 'are'} allowed."
    row = a.allowed()
    if row is None:
        return f"What the {count_of(n, 'visit')} that {'is' if n == 1 else 'are'} allowed would tell cannot be said."
    lead = f"Only {count_of(n, 'visit')} {'is' if n == 1 else 'are'} allowed"
    if isinstance(a.plan, TrendPlan):
        said = f"{count_of(int(row['per_cycle']), 'visit')} a cycle would show the decline with a chance of {chance(row['probability'])}"
    elif isinstance(a.plan, WatchPlan):
        said = (
            f"every {_spacing(int(row['every_days']))} they would know a return in time with a chance of "
            f"{_span(row['low'], row['high'])}"
        )
    elif "present_low" in row:
        said = f"without a find they would leave a chance of {_span(row['present_low'], row['present_high'])} that animals are there"
    else:
        said = f"they would find animals that are there with a chance of {_span(row['low'], row['high'])}"
    return f"{lead}: {said}."


def _span(low: float, high: float) -> str:
    """“88–96 in 100”, one number where both round to the same."""
    a, b = chance(low), chance(high)
    return a if a == b else f"{100 * low:.0f}–{100 * high:.0f} in 100"


def assumptions(a: PlanAnswer) -> list[str]:
    """What the plan takes for granted, each as a sentence."""
    if a.request.purpose == "trend":
        return _trend_assumptions(a)
    found = []
    d = None if a.plan is None or isinstance(a.plan, TrendPlan) else a.plan.detection
    if d is not None:
        value = "" if d.value is None or d.value == d.low else f"{chance(d.value)}, interval "
        said = f"A visit finds animals that are there with a chance of {value}{_span(d.low, d.high)}, {_basis(d)}"
        effort = "" if math.isnan(a.effort) else f"; for an effort of {figures(a.effort)} {a.effort_unit} a visit"
        found.append(f"{said}{effort}.")
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
        found.append(_more_cycles(p))
    if b.variation.between <= 0.0:
        found.append("Cycles differ no more than visits do: their own variation is taken as none, which is hopeful.")
    return [*found, FLOW_KNOWN, SEEN_NOT_PRESENT]


def _per_cent(share: float) -> str:
    return f"{100 * share:.1f} %"


def as_text(a: PlanAnswer) -> str:
    """The whole answer for a terminal."""
    h = a.header
    lines = [f"{h.title}, as of {h.as_of}", "", answer(a)]
    if (within := allowed(a)) is not None:
        lines.append(within)
    if less := fewer(a):
        lines += ["", "Fewer visits:", *(f"  {sentence}" for sentence in less)]
    lines += ["", "This takes for granted:", *(f"  {sentence}" for sentence in assumptions(a))]
    if a.plan is not None and a.assumed:
        lines += ["", f"If nothing were known of detection: {_assumed(a)[0].lower()}{_assumed(a)[1:]}"]
    lines += ["", cautions.DISTURBANCE, cautions.PERMIT_VISITS, cautions.PROVISIONAL]
    return "\n".join(lines)
