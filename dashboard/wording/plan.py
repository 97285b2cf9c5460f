"""Sentences about planned visits."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.numbers import chance, clause, count_of, days, days_only
from ecology.return_watch import WatchPlan
from ecology.survey_plan import MOST_VISITS, AbsencePlan, DetectionRange
from ecology.trend_plan import TrendPlan

if TYPE_CHECKING:
    from dashboard.answers.plan_answer import PlanAnswer


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
            f"(simulated, {100 * a.plan.power.low:.0f}–{100 * a.plan.power.high:.0f}). {more_cycles(a.plan)}"
        )
    if a.request.purpose == "trend":
        return f"How many visits to {a.title} would show a decline cannot be said: {a.why}."
    if a.plan is not None:
        return f"No plan for {a.title} reaches {chance(a.request.sure)}: {a.why}. Fewer still tell what stands below."
    return (
        f"How many visits to {a.title} depends on how often a visit finds animals that are there, and that is not known: "
        f"{clause(a.why or '')}. {assumed(a)}"
    )


def more_cycles(p: TrendPlan) -> str:
    """What twice the cycles would show."""
    d = p.design
    return (
        f"{count_of(p.more_cycles.visits, 'visit')} in each of {2 * d.cycles_before} and {2 * d.cycles_after} cycles would show "
        f"it with a chance of {chance(p.more_cycles.value)}."
    )


def assumed(a: PlanAnswer) -> str:
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


def basis(d: DetectionRange) -> str:
    if d.searches is None:
        return "as given"
    searches = count_of(d.searches, "search", "searches")
    if d.value is None:
        return f"judging by {searches} after first finds, all of which found animals"
    return f"judging by {searches} after first finds"


def _absence(a: PlanAnswer, p: AbsencePlan) -> str:
    n = p.visits_needed or 0
    if p.prior is None:
        return (
            f"Plan {count_of(n, 'visit')} to {a.title}: if animals are there, at least one visit finds them with a chance of "
            f"{chance(p.sure)} or more, {_low_end(p.detection)}, {basis(p.detection)}."
        )
    if n == 0:
        return (
            f"No visit to {a.title} is needed: a chance of {chance(p.prior)} that animals are there is already at most "
            f"{chance(1.0 - p.sure)}."
        )
    return (
        f"Plan {count_of(n, 'visit')} to {a.title}: if none finds animals, the chance that they are there falls from "
        f"{chance(p.prior)} to {chance(1.0 - p.sure)} or less, {_low_end(p.detection)}, {basis(p.detection)}."
    )


def _watch(a: PlanAnswer, p: WatchPlan) -> str:
    every = p.every_days or 1
    return (
        f"Visit {a.title} every {_spacing(every)} once water is back: a return is then known within "
        f"{days_only(p.within_days)} with a chance of {chance(p.sure)} or more, {_low_end(p.detection)}, "
        f"{basis(p.detection)}. Over {days(p.watch_days)} that is {count_of(p.visits_needed or 0, 'visit')}."
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
                f"every {_spacing(int(row['every_days']))} ({n}): known in time with a chance of {span(row['low'], row['high'])}"
            )
        elif "present_low" in row:
            found.append(
                f"{n} without a find: animals are there with a chance of {span(row['present_low'], row['present_high'])}"
            )
        else:
            found.append(f"{n}: would find them with a chance of {span(row['low'], row['high'])}")
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
            f"{span(row['low'], row['high'])}"
        )
    elif "present_low" in row:
        said = f"without a find they would leave a chance of {span(row['present_low'], row['present_high'])} that animals are there"
    else:
        said = f"they would find animals that are there with a chance of {span(row['low'], row['high'])}"
    return f"{lead}: {said}."


def span(low: float, high: float) -> str:
    """“88–96 in 100”, one number where both round to the same."""
    a, b = chance(low), chance(high)
    return a if a == b else f"{100 * low:.0f}–{100 * high:.0f} in 100"
