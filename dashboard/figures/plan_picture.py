"""The one picture of a plan, for pages and reports alike."""

from __future__ import annotations

from dashboard.answers.plan_answer import PlanAnswer
from dashboard.figures.drawing import Drawing
from dashboard.figures.plan_curve import assumed_curves, plan_curve
from dashboard.wording import figures as words
from dashboard.wording import plan as plan_words
from ecology.survey_plan import AbsencePlan
from ecology.trend_plan import TrendPlan


def has_picture(found: PlanAnswer) -> bool:
    """Whether there is anything to draw."""
    return found.plan is not None or bool(found.assumed)


def plan_key(found: PlanAnswer) -> str:
    """The key to the marks of its picture."""
    return words.PLAN_ASSUMED_KEY if found.plan is None else words.PLAN_KEYS[found.request.purpose]


def plan_picture(found: PlanAnswer) -> Drawing:
    """The curve of the plan; where nothing is known, one for each assumed detection. ValueError without either."""
    if not has_picture(found):
        raise ValueError("there is no plan to draw")
    kind, target = str(found.request.purpose), found.request.sure
    if found.request.prior is not None:
        kind, target = "present", 1.0 - found.request.sure
    said, p = plan_words.answer(found), found.plan
    if p is None:
        curves = [(detection, plan.curve) for detection, plan in found.assumed]
        return assumed_curves(curves, kind=kind, id=found.outlet, title=found.title, target=target, alt=said)
    if isinstance(p, AbsencePlan):
        needed = p.visits_needed
    else:
        needed = p.per_cycle if isinstance(p, TrendPlan) else p.every_days
    return plan_curve(
        p.curve, kind=kind, id=found.outlet, title=found.title, target=target, needed=needed, fewer=found.fewer(),
        alt=said,
    )  # fmt: skip
