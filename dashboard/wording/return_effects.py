"""Sentences beside the lags: who never returned, what goes with longer lags, half of the expected count, outlets compared."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from dashboard.wording.count_checks import terms_in_words
from dashboard.wording.numbers import clause, count_of, days, days_only, figures, whole

if TYPE_CHECKING:
    from dashboard.answers.between_outlets import OutletPair
    from dashboard.answers.returns import OutletReturns
    from ecology.return_effects import LengthEffect


#: The chosen animals as a person would name them; a taxon is named as the file writes it.
WHO = {"all": "animals", "adults": "adults", "juveniles": "juveniles", "gravid": "egg-bearing females"}


def who(animals: str) -> str:
    return WHO.get(animals, animals)


def p_said(p: float) -> str:
    return "p < 0.001" if p < 0.001 else f"p = {p:.3f}" if p < 0.1 else f"p = {p:.2f}"


def never_returned(o: OutletReturns) -> list[str]:
    """The share after which animals stay away, or why none is given."""
    if o.bands is None:
        return []
    n = o.never
    if n is None:
        return [o.why_not_never or ""]
    reach = f"{100 * n.level:g} % interval {round(100 * n.low)}–{round(100 * n.high)}"
    if not n.n_followed:
        return [
            f"After each of the {count_of(n.n_returned, 'spell')} animals were found again. That now and then they stay "
            f"away for good is not excluded by so few ({reach} in 100)."
        ]
    short = (
        f"; {count_of(n.n_cut_short, 'other spell')} without a find were searched for less time"
        if n.n_cut_short
        else ""
    )
    return [
        f"After {round(100 * n.share)} in 100 spells ({reach}) animals had not been found by {days(n.until_days)}, by which "
        f"all returns that were seen had happened; {count_of(n.n_followed, 'spell')} without a find "
        f"{'was' if n.n_followed == 1 else 'were'} followed well beyond that{short}. Longer searching could still find them."
    ]


def effects(o: OutletReturns) -> list[str]:
    """What the length of the dry spell and the season of the restart go with."""
    e = o.effects
    if e is None:
        return []
    found = []
    if e.length is None:
        found.append(f"Whether longer dry spells go with longer lags cannot be told: {e.why_length}.")
    else:
        found.append(f"{_length(e.length, e.level)}, {count_of(e.n_found, 'spell')} with a find of {e.n}.")
    if e.length_season_fixed is not None:
        found.append(
            f"With the season of the restart held fixed: {_length(e.length_season_fixed, e.level, start=False)}."
        )
    if e.season is None:
        found.append(f"Whether lags differ with the season of the restart cannot be told: {e.why_season}.")
    else:
        s = e.season
        day = datetime.date(2001, 1, 1) + datetime.timedelta(days=s.slowest_day - 1)
        if s.p > 1.0 - e.level:
            found.append(
                f"The lags are consistent with no effect of the season of the restart ({p_said(s.p)}); lags up to "
                f"{figures(s.high, 2)} times as long at one season as half a year away are not excluded."
            )
        else:
            found.append(
                f"Restarts around {day.day} {day:%B} go with the longest lags, {figures(s.factor, 2)} times those half a "
                f"year away ({100 * e.level:g} % interval {figures(s.low, 2)}–{figures(s.high, 2)}, {p_said(s.p)})."
            )
    if e.length is not None and e.season is not None and e.length_season_fixed is None:
        found.append(
            "Length and season of a dry spell tend to go together, and each was judged alone: spells with finds are too few "
            "to hold one fixed."
        )
    return found


def _length(e: LengthEffect, level: float, *, start: bool = True) -> str:
    said = "A dry spell twice as long goes with" if start else "twice the length goes with"
    verdict = ", consistent with no effect" if e.low <= 1.0 <= e.high else ""
    return (
        f"{said} a lag {figures(e.factor, 2)} times as long ({100 * level:g} % interval {figures(e.low, 2)}–"
        f"{figures(e.high, 2)}, {p_said(e.p)}){verdict}"
    )


def half(o: OutletReturns) -> str:
    """When counts were back to half of what is expected: the second lag."""
    h = o.half
    if h is None:
        return ""
    c = h.corrected
    if c is None or c.median_days is None or c.detection is None:
        why = (h.why if c is None else c.why) or ""
        face = None if c is None else c.medians_by_detection[0].median_days
        said = f"When counts at {o.title} were back to half of what is expected cannot be told well: {why.rstrip('.')}."
        return said if face is None else f"{said} At face value: after {days(face.value)} in half of the spells."
    m = c.median_days
    top = days_only(m.high) if np.isfinite(m.high) else "no upper limit"
    face = c.medians_by_detection[0].median_days
    plain = "" if face is None else f"; at face value {days_only(face.value)}"
    return (
        f"After half of the dry spells counts at {o.title} were back to half of what is expected within about "
        f"{days(m.value)} ({100 * c.level:g} % interval {days_only(m.low)} to {top}), allowing for visits that fall short of "
        f"half by chance{plain}."
    )


def half_details(o: OutletReturns) -> list[str]:
    """What is expected, and how far single visits can be trusted."""
    h = o.half
    if h is None:
        return []
    if h.from_model:
        found = [
            "Expected: what the count model gives for the flow, season and effort of each visit, the outlet long settled."
        ]
    else:
        found = [
            "Expected: the mean count for equal effort in the year before each dry spell, because the count model cannot "
            f"say ({clause(terms_in_words(h.why_not_model or ''))})."
        ]
    n = len(h.recovery.lags.lags)
    if n:
        found.append(f"Counts reached half after {h.n_reached} of {count_of(n, 'spell')}.")
    if h.reach is not None:
        found.append(
            f"By the scatter of the counts, {round(100 * h.reach)} in 100 visits to a settled outlet reach half of what is "
            "expected: one visit alone says little, and one lucky count can come early."
        )
    r = h.recovery
    not_judged = []
    if r.n_too_few:
        not_judged.append(f"{count_of(r.n_too_few, 'day')} because fewer than 2 {who(o.animals)} would be expected")
    if r.n_no_expectation:
        not_judged.append(
            f"{count_of(r.n_no_expectation, 'day')} because without effort, flow or earlier visits nothing can be expected"
        )
    if not_judged:
        found.append(f"Not judged, of {count_of(r.n_days, 'day')} of counting: {'; '.join(not_judged)}.")
    return found


def by_animals(o: OutletReturns) -> list[str]:
    """First finds of each stage and taxon beside each other."""
    if len(o.by_animals) < 2 or all(a.median_between is None for a in o.by_animals):
        return []
    said = []
    for a in o.by_animals:
        if a.median_between is None:
            half_way = "too few for a median" if a.n_found else "never found"
        elif a.median_between[0] < a.median_between[1]:
            half_way = f"{a.median_between[0]:.0f}–{a.median_between[1]:.0f} days"
        else:
            half_way = days_only(a.median_between[1])
        said.append(f"{who(a.animals)} {half_way} ({a.n_found} of {a.n_spells})")
    return [f"First seen again at face value, half of the spells (spells with a find): {'; '.join(said)}."]


def pairs(compared: Sequence[OutletPair], animals: str, level: float) -> list[str]:
    """Outlets compared, two by two."""
    found = [pair(p, animals, 1.0 - level, len(compared)) for p in compared]
    if any(p.same_flow and p.test is not None for p in compared):
        found.append(
            "These outlets hang on the same water, so that their dry spells share winters and are not independent, and the "
            "test takes visits as made on the same plan at both: p is a guide, not a proof."
        )
    return found


def pair(p: OutletPair, animals: str, limit: float, n_pairs: int) -> str:
    """Two outlets."""
    a, b = p.titles
    t, them = p.test, who(animals)
    if t is None:
        return f"Whether {them} come back sooner at {a} or at {b} cannot be told: {p.why}."
    labels = f"all {whole(t.labellings)}" if t.permutation == "exact" else f"{whole(t.labellings)} random"
    shared = "" if n_pairs == 1 or p.p_holm is None else f", {p_said(p.p_holm)} allowing for {n_pairs} comparisons"
    how = (
        f"permutation log-rank test over {labels} labellings, {p_said(t.p_permutation)}{shared}; {p.sizes[0]} and "
        f"{p.sizes[1]} spells"
    )
    judged = t.p_permutation if p.p_holm is None else p.p_holm
    if judged > limit:
        return f"First finds of {them} at {a} and at {b} are consistent with the same lags ({how})."
    sooner, later = (b, a) if t.z > 0 else (a, b)
    return f"{them[0].upper()}{them[1:]} were seen again sooner at {sooner} than at {later} ({how})."
