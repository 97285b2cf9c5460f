"""A plan of visits for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.plan import allowed, answer, assumed, fewer
from dashboard.wording.plan_assumptions import assumptions

if TYPE_CHECKING:
    from dashboard.answers.plan_answer import PlanAnswer


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
        lines += ["", f"If nothing were known of detection: {assumed(a)[0].lower()}{assumed(a)[1:]}"]
    lines += ["", cautions.DISTURBANCE, cautions.PERMIT_VISITS, cautions.PROVISIONAL]
    return "\n".join(lines)
