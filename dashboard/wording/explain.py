"""Sentences about a drop in counts, fit to be read aloud."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.numbers import chance, count_of, figures, long_date, short_date, whole

if TYPE_CHECKING:
    from collections.abc import Sequence

    from dashboard.answers.explain import ExplainAnswer
    from ecology.count_drop import DropJudgement, PeriodCount

DOES_NOT_SHOW = (
    "This does not show how many animals live there, nor why: counts are of animals seen, what can be seen changes with "
    "flow and light, and animals move between outlets. What is left unexplained is consistent with fewer animals, with "
    "animals gone elsewhere, and with animals harder to see."
)
PART_NAMES = {
    "effort": "effort",
    "flow": "flow",
    "season": "season",
    "surface dry": "surface dry",
    "outlet": "outlet mix",
    "unexplained": "unexplained",
}
PART_MEANINGS = {
    "effort": "how long and with how many people each visit searched",
    "flow": "mean discharge over the 30 days before each visit",
    "season": "time of year",
    "surface dry": "visits that met a dry surface, and the weeks after the water came back",
    "outlet": "which outlets the visits went to",
    "unexplained": "what none of these accounts for",
}
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
NO_UPPER_LIMIT = "no animal was counted in the period judged: the ratio of the counts has no upper limit of its own"
COUNTED_TWICE = "An animal that moved from one outlet to the other counts as a loss here and a gain there."


def places(a: ExplainAnswer) -> str:
    """The outlets judged, by name."""
    return listed([a.titles[o] for o in a.outlets])


def listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def span(days: tuple[pd.Timestamp, pd.Timestamp]) -> str:
    """“20 Apr 2025 to 19 Oct 2025”."""
    return f"{short_date(days[0])} to {short_date(days[1])}"


def answer(a: ExplainAnswer) -> str:
    """The first sentences: the verdict, how sure, resting on what."""
    j = a.judgement
    where = f"{places(a)}, {span(a.judged)}"
    if j is None or j.expected is None or j.tail_low is None or j.tail_high is None:
        why = a.why if j is None else j.why
        return f"{where}: whether the count is lower than expected cannot be said: {why}."
    lead = {
        "lower than expected": "fewer animals than flow, effort and season lead one to expect",
        "higher than expected": "more animals than flow, effort and season lead one to expect",
        "as expected": "about as many animals as flow, effort and season lead one to expect",
    }[j.verdict]
    if j.verdict != "as expected" and (j.low or 0) <= j.judged.count <= (j.high or 0):
        lead += ", though only just"
    return f"{where}: {lead}. {_numbers(a, j)}"


def _numbers(a: ExplainAnswer, j: DropJudgement) -> str:
    few = j.verdict == "lower than expected" or (j.verdict == "as expected" and (j.tail_low or 0) <= (j.tail_high or 0))
    tail = j.tail_low if few else j.tail_high
    return (
        f"{whole(j.judged.count)} were counted on {count_of(j.judged.counted, 'visit')}; {figures(j.expected or 0)} were to be "
        f"expected, and in {100 * a.level:g} of 100 such periods {whole(int(j.low or 0))} to {whole(int(j.high or 0))}. "
        f"A count of {whole(j.judged.count)} or {'fewer' if few else 'more'} comes about by chance in {chance(tail or 0.0)} such periods."
    )


def against_baseline(a: ExplainAnswer) -> str | None:
    """The ratio to the baseline in factors, in one sentence."""
    j = a.judgement
    if j is None or j.split is None:
        return None
    factors = dict(zip(j.factors["part"], j.factors["factor"], strict=True))
    named = [f"{PART_NAMES[p]} {times(f)}" for p, f in factors.items() if p != "unexplained" and abs(f - 1.0) >= 0.005]
    explained = f": {', '.join(named)}" if named else ""
    rest = times(factors["unexplained"])
    return (
        f"For each visit planned the count was {figures(j.split.ratio)} times that of {span(a.baseline)} "
        f"({_per_visit(j.judged)} against {_per_visit(j.baseline)} a visit){explained}; what none of these explains is {rest}."
    )


def _per_visit(p: PeriodCount) -> str:
    return "none" if p.per_visit is None else figures(p.per_visit)


def times(factor: float) -> str:
    """“× 0.48”."""
    return f"×\u202f{figures(factor)}"


def read_aloud(a: ExplainAnswer) -> str:
    """What a person can read out in a meeting."""
    second = against_baseline(a)
    return answer(a) if second is None else f"{answer(a)} {second}"


def tried(a: ExplainAnswer) -> str | None:
    """What it means that several periods were looked at; None for one."""
    if a.tries < 2:
        return None
    line = 1.0 - a.level
    one = 1.0 - a.level**a.tries
    out = (
        f"{whole(a.tries)} periods were looked at, this one included: if nothing but chance were at work, at least one of "
        f"them would be called lower in {chance(one)} such searches (each has {chance(line)})."
    )
    among = a.chance_among_tries()
    if among is not None:
        out += f" That one of them is as far out as this one has a chance of {chance(among)}."
    return out


def comparison(a: ExplainAnswer) -> str | None:
    """The contrast with another outlet."""
    if a.control is None:
        return None
    there, here = a.titles[a.control], places(a)
    if a.contrast is None:
        return f"A comparison of {here} with {there} cannot be made: {a.why_no_contrast}."
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


def details(a: ExplainAnswer) -> list[str]:
    """What stands behind the first sentences."""
    j = a.judgement
    if j is None:
        return []
    found = [_visits("Period judged", j.judged, a), _visits(f"Baseline ({a.baseline_from})", j.baseline, a)]
    if a.judged[1] > pd.Timestamp(a.header.as_of):
        found.append(
            f"The period judged is not over: it holds the visits up to {long_date(pd.Timestamp(a.header.as_of))}."
        )
    if j.why_no_factors is not None and j.why is None:
        found.append(f"The ratio to the baseline cannot be split into factors: {j.why_no_factors}.")
    if j.baseline_of_fit is not None:
        found.append(
            f"The baseline itself was {times(j.baseline_of_fit)} of what the same fit gives for it: its own luck is part of the "
            "unexplained factor, not of the verdict."
        )
    if j.model is not None and a.design is not None:
        found.append(
            f"The fit never saw the period judged: {count_of(j.model.n, 'visit')} outside it, in {count_of(j.groups, 'group')} by "
            f"{a.design.cycles_by}. Visits of one group scatter with alpha {figures(j.model.alpha, 2)}, groups differ "
            f"by about {figures(100 * j.model.spread, 2)} %; both, and their own uncertainty, are in the range to be expected."
        )
        found.append(
            f"“Lower” and “higher” are said where so far out a count has a chance below {chance(1.0 - a.level)}: below "
            f"{whole(int(j.line_low or 0))} or above {whole(int(j.line_high or 0))}."
        )
    if j.flow_outside:
        found.append(
            f"{count_of(j.flow_outside, 'visit')} of the period had a flow that no other visit had: there the fit is "
            "carried beyond what it has seen."
        )
    return found


def _visits(name: str, p: PeriodCount, a: ExplainAnswer) -> str:
    dry = "" if not p.dry else f" and {count_of(p.dry, 'visit')} to a dry surface"
    return (
        f"{name}, {span((p.first, p.last))}: {count_of(p.count, 'animal')} on {count_of(p.counted, 'counted visit')}{dry}, "
        f"{figures(p.effort)} {a.effort_unit}."
    )


def step(part: str, factor: float, low: float, high: float, animals: float) -> str:
    """A step of the staircase, as its label on touch."""
    high_said = "" if high != high else f"–{figures(high)}"
    return f"{PART_NAMES[part]} {times(factor)} ({figures(low)}{high_said}), {_signed(animals)} animals"


def staircase(a: ExplainAnswer) -> str:
    """The staircase for people who do not see it."""
    second = against_baseline(a)
    return f"From baseline to count at {places(a)}: {second}" if second else f"No factors for {places(a)}."


def periods(a: ExplainAnswer, n: int) -> str:
    """The counts over time for people who do not see them."""
    return (
        f"Counts for equal effort at {places(a)}, {count_of(n, 'visit')}; period judged {span(a.judged)}, baseline "
        f"{span(a.baseline)}."
    )


def problem(expected: str, value: str | None) -> str:
    """Why the days chosen cannot be used."""
    return f"{CHOOSE_OTHER_DAYS}: {'' if value is None else f'{value}; '}expected {expected}."


def as_text(a: ExplainAnswer) -> str:
    """The whole answer for a terminal."""
    h, j = a.header, a.judgement
    lines = [f"{h.title}, as of {h.as_of}", "", read_aloud(a), ""]
    if j is not None and not j.factors.empty:
        lines.append(f"  {'part':<14}{'factor':>9}{f'{100 * a.level:g} % interval':>18}{'animals':>10}")
        for p in j.factors.itertuples(index=False):
            between = f"{figures(p.low)} to {'?' if p.high != p.high else figures(p.high)}"
            lines.append(f"  {PART_NAMES[p.part]:<14}{figures(p.factor):>9}{between:>18}{_signed(p.animals):>10}")
        if j.split is not None:
            lines.append(f"  {'together':<14}{figures(j.split.ratio):>9}{'':>18}{_signed(j.split.difference):>10}")
        lines.append("")
    lines += [f"  {s}" for s in details(a)]
    compared = comparison(a)
    if compared is not None:
        lines += ["", compared, *(f"  {s}" for s in assumptions(a))]
    lines += ["", DOES_NOT_SHOW]
    many = tried(a)
    if many is not None:
        lines += ["", many]
    return "\n".join([*lines, "", cautions.PROVISIONAL])


def _signed(animals: float) -> str:
    return f"{'+' if animals > 0 else '−' if animals < 0 else ''}{figures(abs(animals))}"


def staircase_title(a: ExplainAnswer) -> str:
    return f"{places(a)}: {span(a.baseline)} to {span(a.judged)}"


def periods_title(a: ExplainAnswer) -> str:
    return f"Counts at {places(a)}, with the periods compared"


def fitted_rows(j: DropJudgement) -> str:
    return f"{count_of(len(j.fitted_rows), 'visit')} that the fit rests on, none of them of the period judged"
