"""Sentences about a drop in counts, fit to be read aloud."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording.numbers import chance, clause, count_of, figures, long_date, short_date, whole

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
NO_UPPER_LIMIT = "no animal was counted in the period judged: the ratio of the counts has no upper limit of its own"


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
        return f"{where}: whether the count is lower than expected cannot be said: {clause(why or '')}."
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


def signed(animals: float) -> str:
    """“+12”, “−3”."""
    return f"{'+' if animals > 0 else '−' if animals < 0 else ''}{figures(abs(animals))}"


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
        found.append(f"The ratio to the baseline cannot be split into factors: {clause(j.why_no_factors)}.")
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
        f"{figures(p.effort)} {a.effort_unit}{_left_out(p, a)}."
    )


def _left_out(p: PeriodCount, a: ExplainAnswer) -> str:
    """Visits of the period that could not be used, with why; those to a dry surface are told apart from them."""
    if a.design is None:
        return ""
    out = a.design.left_out_rows
    out = out[(out["date"] >= p.first) & (out["date"] <= p.last) & (out["reason"] != "dry")]
    reasons = out["reason"].value_counts()
    each = [f"{whole(int(n))} {reason}" for reason, n in sorted(reasons.items())]
    return f"; left out: {', '.join(each)}" if each else ""
