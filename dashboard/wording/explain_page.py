"""Labels and keys of the page about a drop, and its pictures in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.explain import PART_NAMES, against_baseline, places, signed, span, times
from dashboard.wording.numbers import count_of, days_in_words, figures

if TYPE_CHECKING:
    from dashboard.answers.explain import ExplainAnswer
    from ecology.count_drop import DropJudgement

BASELINE, JUDGED, COUNTED, TO_BE_EXPECTED = "baseline", "judged", "counted", "expected"
A_VISIT_PLANNED = "animals a visit planned"
EXPECTED_OF_THE_VISIT = "expected of the visit"
STAIRCASE_KEY = (
    "From the baseline (◇) down to what was counted (◆), one step a factor; equal factors are steps of equal length. Hatched: fewer; "
    "full: more. Expected: the thin box is the range of 95 in 100 such periods, the thick one holds the counts that would be called as "
    "expected, its tick is the expected count."
)
PERIODS_KEY = (
    "◆ found, ◇ none found, ✕ visit to a dry surface, – what the fit expects of a visit judged. Full frame: the period judged; dashed "
    "frame: the baseline."
)
DRAG_KEY = "With a mouse, drag across the picture to choose days."
HOW, PERIOD_FROM, PERIOD_TO, BASE_FROM, BASE_TO = "Compare", "Judged from", "to", "Baseline from", "to "
WAYS = {"days": "Two periods", "change": "Before and after a day"}
CHANGE_DAY = "Day of the change"
OUTLETS_JUDGED = "Outlets judged"
OUTLETS_CHOICES = {"one": "This outlet", "all": "All together"}
CONTROL, NO_CONTROL = "Compare with outlet", "none"
DRAG, DRAGS = "A drag chooses", {"judged": "period judged", "baseline": "baseline"}
THE_FACTORS, THE_COMPARISON, WHAT_IT_DOES_NOT_SHOW = (
    "Factor by factor",
    "Against another outlet",
    "What this does not show",
)
TO_THE_REPORT = "→ Into a report for the meeting"
CHOOSE_OTHER_DAYS = "These days cannot be compared"


def step(part: str, factor: float, low: float, high: float, animals: float) -> str:
    """A step of the staircase, as its label on touch."""
    high_said = "" if high != high else f"–{figures(high)}"
    return f"{PART_NAMES[part]} {times(factor)} ({figures(low)}{high_said}), {signed(animals)} animals"


def staircase(a: ExplainAnswer) -> str:
    """The staircase for people who do not see it."""
    second = against_baseline(a)
    return f"From baseline to count at {places(a)}: {second}" if second else f"No factors for {places(a)}."


def staircase_title(a: ExplainAnswer) -> str:
    return f"{places(a)}: {span(a.baseline)} to {span(a.judged)}"


def periods(a: ExplainAnswer, n: int) -> str:
    """The counts over time for people who do not see them."""
    return (
        f"Counts for equal effort at {places(a)}, {count_of(n, 'visit')}; period judged {span(a.judged)}, baseline "
        f"{span(a.baseline)}."
    )


def periods_title(a: ExplainAnswer) -> str:
    return f"Counts at {places(a)}, with the periods compared"


def problem(expected: str, value: str | None) -> str:
    """Why the days chosen cannot be used."""
    said = f"expected {expected}." if value is None else f"{value}: expected {expected}."
    return days_in_words(said[0].upper() + said[1:])


def fitted_rows(j: DropJudgement) -> str:
    return f"{count_of(len(j.fitted_rows), 'visit')} that the fit rests on, none of them of the period judged"
