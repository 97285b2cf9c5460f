"""Sentences about the contrast with another outlet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.explain import places, times
from dashboard.wording.numbers import clause, count_of, figures, long_date, whole

if TYPE_CHECKING:
    from dashboard.answers.explain import ExplainAnswer

COUNTED_TWICE = "An animal that moved from one outlet to the other counts as a loss here and a gain there."


def comparison(a: ExplainAnswer) -> str | None:
    """The contrast with another outlet."""
    if a.control is None:
        return None
    there, here = a.titles[a.control], places(a)
    if a.contrast is None:
        return f"A comparison of {here} with {there} cannot be made: {clause(a.why_no_contrast or '')}."
    c = a.contrast
    percent = f"{100 * c.level:g} % interval"
    when = f"since {long_date(a.change)}" if a.change is not None else "from the baseline to the period judged"
    if c.high < 1:
        lead = f"fell against {there}"
    elif c.low > 1:
        lead = f"rose against {there}"
    else:
        lead = f"did not clearly change against {there}"
    return (
        f"At equal effort, flow and season, counts at {here} {lead} {when}: {times(c.change[0])} here "
        f"({figures(c.change[1])}–{figures(c.change[2])}) and {times(c.comparison[0])} there "
        f"({figures(c.comparison[1])}–{figures(c.comparison[2])}), a ratio of {figures(c.ratio)} "
        f"({percent} {figures(c.low)}–{figures(c.high)})."
    )


def assumptions(a: ExplainAnswer) -> list[str]:
    """What the comparison takes for granted."""
    if a.control is None or a.contrast is None:
        return []
    there, c = a.titles[a.control], a.contrast
    what = "the change" if a.change is not None else "whatever happened here"
    found = [
        f"The comparison takes for granted that without {what} counts here and at {there} would have changed by the "
        "same factor, and that animals became harder or easier to see alike at both.",
        COUNTED_TWICE,
        f"It rests on {count_of(c.cycles_before, 'flow cycle or year', 'flow cycles or years')} before and "
        f"{whole(c.cycles_after)} after. {_after(c.cycles_after)}",
    ]
    if not a.control_perennial:
        found.append(f"{there} can fall dry itself: an outlet that always runs would be a better comparison.")
    return found


def _after(cycles: int) -> str:
    if cycles < 2:
        return "One cycle after cannot tell a lasting change from a single odd year; a second one would."
    return "Each cycle is one look: more of them, not more visits within one, make it surer."
