"""Sections about planned visits: each purpose with its usual wishes, at the first outlet that can stop."""

from __future__ import annotations

from dashboard.answers.plan import plan
from dashboard.answers.plan_answer import PlanAnswer
from dashboard.answers.plan_request import PURPOSES, plan_request
from dashboard.figures.plan_picture import has_picture, plan_key, plan_picture
from dashboard.report.section import Plate, Section
from dashboard.report.sections_water import Scope
from dashboard.wording import cautions
from dashboard.wording import pages as words
from dashboard.wording import plan as plan_words
from dashboard.wording import plan_page as labels
from dashboard.wording.plan_assumptions import assumptions


def plan_sections(scope: Scope) -> list[Section]:
    """What visits are needed for, and what fewer would still tell."""
    w = scope.workspace
    outlet = next((o for o in scope.outlets if not w.outlets[o].perennial), None)
    if w.visits is None or outlet is None:
        return []
    found = [plan(w, plan_request(p), outlets=(outlet,), level=scope.level, seed=scope.seed) for p in PURPOSES]
    return [_section(one) for one in found]


def _section(found: PlanAnswer) -> Section:
    fewer = [f"{labels.FEWER_VISITS}: {sentence}." for sentence in plan_words.fewer(found)]
    return Section(
        name=f"plan-{found.request.purpose}-{found.outlet}",
        question=words.HOW_MANY_VISITS,
        about=f"{found.title}: {labels.PURPOSES[found.request.purpose].lower()}",
        answer=plan_words.answer(found),
        details=(*fewer, *assumptions(found)),
        plates=(Plate(drawing=plan_picture(found), key=plan_key(found)),) if has_picture(found) else (),
        cautions=(cautions.DISTURBANCE, cautions.PERMIT_VISITS),
        unknown=(plan_words.answer(found),) if found.visits_needed is None else (),
        tables=tuple(found.tables()),
    )
