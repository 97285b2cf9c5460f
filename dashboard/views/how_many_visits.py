"""How many visits? The purpose first, then one curve, the number needed, and what fewer visits would still tell."""

from __future__ import annotations

from functools import partial

import streamlit as st

from dashboard import cache
from dashboard.answers.plan_answer import PlanAnswer
from dashboard.answers.plan_request import (
    MOST_CYCLES,
    PURPOSES,
    USUAL_CYCLES,
    USUAL_DECLINE,
    USUAL_SURE,
    USUAL_WITHIN,
    PlanRequest,
    plan_request,
)
from dashboard.figures.drawing import Drawing
from dashboard.figures.plan_picture import has_picture, plan_key, plan_picture
from dashboard.views.address import take_id
from dashboard.views.parts import answer, caution, key_to, picture, say, say_all, table
from dashboard.views.shown import Shown, shown
from dashboard.views.take_away import take_away
from dashboard.wording import animal_tables, cautions
from dashboard.wording import pages as words
from dashboard.wording import plan as plan_words
from dashboard.wording import plan_page as labels
from dashboard.wording.plan_assumptions import assumptions

PURPOSE, DETECTION, FINDS, PRIOR, ALLOWED = "purpose", "detection", "finds", "prior", "allowed"
WITHIN, DECLINE, CYCLES, CYCLES_BEFORE = "within", "decline", "cycles", "cycles-before"


def _page() -> None:
    s = shown()
    purpose = _choice(PURPOSE, labels.PURPOSE, labels.PURPOSES, PURPOSES[0])
    # The answer stands above the wishes that it follows from.
    place = st.container()
    request = _wishes(purpose)
    found = cache.plan_of(s.workspace, s.revision, s.outlet.id, request, _key(request))
    with place:
        answer(plan_words.answer(found))
        if (within := plan_words.allowed(found)) is not None:
            say(within)
    drawings = _picture(s, found)
    if s.workspace.visits is None:
        say(words.no_visits(plan_words.answer(found)))
    st.subheader(labels.FEWER_VISITS)
    less = plan_words.fewer(found)
    say_all(f"{line}." for line in less) if less else say(labels.NOTHING_FEWER)
    caution(cautions.DISTURBANCE, cautions.PERMIT_VISITS, short=cautions.SHORT_PLAN)
    st.subheader(labels.TAKEN_FOR_GRANTED)
    say_all(assumptions(found))
    say(cautions.PROVISIONAL)
    if not found.curve.empty:
        section = st.expander(words.ROWS_BEHIND, key="rows-plan", on_change="rerun")
        if section.open:
            with section:
                table(found.curve, animal_tables.PLAN_CURVE, s.unit, alt=words.ROWS_BEHIND)
    take_away("plan", found.tables(), drawings, found.as_json)


def _choice(key: str, label: str, options: dict[str, str], default: str) -> str:
    """One of several, in the address by its id or its words."""
    take_id(key, options)
    chosen = st.segmented_control(
        label, list(options), default=default, required=True, format_func=options.__getitem__, key=key,
        bind="query-params", wrap=True,
    )  # fmt: skip
    return chosen if chosen in options else default


def _wishes(purpose: str) -> PlanRequest:
    """What goes with the purpose, each wish kept in the address."""
    finds = None
    if purpose != "trend" and _choice(DETECTION, labels.DETECTION_FROM, labels.DETECTIONS, "own") == "given":
        low, high = st.slider(labels.FINDS, 1, 100, (30, 60), key=FINDS, bind="query-params", width=420)
        finds = f"{low / 100}-{high / 100}"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        usual = round(100 * USUAL_SURE[purpose])
        sure = st.slider(labels.SURE, 50, 99, usual, key=f"sure-{purpose}", bind="query-params", width=300) / 100
        allowed = st.number_input(
            labels.ALLOWED, 1, 1000, None, key=ALLOWED, bind="query-params", width=200, placeholder=labels.NOT_SAID
        )
        if purpose == "return":
            within = st.number_input(labels.WITHIN, 1, 365, USUAL_WITHIN, key=WITHIN, bind="query-params", width=200)
            return plan_request(purpose, sure=sure, detection=finds, allowed=allowed, within=int(within))
        if purpose == "trend":
            share = round(100 * USUAL_DECLINE)
            decline = (
                st.slider(labels.DECLINE, 10, 90, share, step=5, key=DECLINE, bind="query-params", width=300) / 100
            )
            before = _cycles(labels.CYCLES_BEFORE, CYCLES_BEFORE)
            after = _cycles(labels.CYCLES, CYCLES)
            return plan_request(
                purpose, sure=sure, allowed=allowed, decline=decline, cycles=after, cycles_before=before
            )
    asked = _choice(PRIOR, labels.PRIOR, labels.PRIORS, "none")
    prior = None if asked == "none" else int(asked) / 100
    return plan_request(purpose, sure=sure, detection=finds, allowed=allowed, prior=prior)


def _cycles(label: str, key: str) -> int:
    return int(st.number_input(label, 2, MOST_CYCLES, USUAL_CYCLES, key=key, bind="query-params", width=200))


def _key(request: PlanRequest) -> tuple[str, ...]:
    """The wishes as a text that names an answer."""
    return (repr(request),)


def _picture(s: Shown, found: PlanAnswer) -> list[Drawing]:
    """The one curve; none where there is nothing to draw."""
    if not has_picture(found):
        return []
    key = _key(found.request)
    drawing = cache.drawing_of(partial(plan_picture, found), s.revision, f"plan-{found.outlet}", key)
    picture(drawing, key="plan")
    key_to(plan_key(found))
    return [drawing]


_page()
