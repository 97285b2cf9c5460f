"""Sentences about individuals: who came through, moves, survival, abundance, matches."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from dashboard.wording import cautions
from dashboard.wording.individuals_numbers import abundance_lines, doubt_sentence, survival_lines
from dashboard.wording.numbers import count_of, days_only, short_date, whole

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.individuals import IndividualsAnswer, IndividualsRun
    from ecology.individuals import SpellCrossings

__all__ = ["answer", "as_text", "details", "doubt_sentence"]

NOT_DEATH = (
    "An animal that was not seen again may live on unseen or elsewhere: the shares are of animals seen, a minimum."
)
LEAST_AND_MOST = "An absence lasted at least as long as the dry spell and at most from the last sighting before it to the first after it."


def answer(a: IndividualsAnswer, outlet: str | None = None) -> str:
    """The first sentence: the last dry spell of `outlet` (default: the first outlet with any) that can tell."""
    if a.run is None:
        return f"Who came through dry spells cannot be said: {a.why}."
    c = crossings_at(a.run, outlet)
    if c is None:
        id = outlet or a.outlets[0]
        why = a.run.no_crossings.get(id, "it has no dry spells")
        if outlet is None and len(a.outlets) > 1:
            return f"{_known(a)}; none of the outlets has a dry spell to come through."
        return f"Who came through a dry spell at {a.titles[id]} cannot be said: {why}. {_known(a)}."
    title = a.titles[c.outlet]
    told = c.spells[c.spells["over"].astype(bool) & (c.spells["lately"] > 0)]
    if told.empty:
        return f"{_known(a)}, none of them within a year before a dry spell of {title} that is over: nothing can be said of who came through."
    s = told.iloc[-1]
    effort = _effort(s, a.effort_unit)
    return (
        f"Of {count_of(s['lately'], 'animal')} last seen at {title} within a year before the dry spell of "
        f"{short_date(s['first'])} to {short_date(s['last'])}, {_seen(s['lately_after'])} seen again since "
        f"({_percent(s['lately_share'])} in 100, {100 * a.level:g} % interval {_percent(s['lately_low'])}–"
        f"{_percent(s['lately_high'])}), with {effort} there before the next one or until now."
    )


def details(a: IndividualsAnswer) -> list[str]:
    """What stands behind the first sentence."""
    if a.run is None:
        return []
    found = came_through(a)
    found += survival_lines(a)
    found += abundance_lines(a)
    found += second_run(a)
    found += matched(a)
    return found


def came_through(a: IndividualsAnswer, outlet: str | None = None) -> list[str]:
    """What is known of animals across the dry spells of an outlet, or of all."""
    run = a.run
    if run is None:
        return []
    found = [f"{_known(a)}. {NOT_DEATH}"]
    for c in run.crossings:
        if outlet is None or c.outlet == outlet:
            found += _across(a, c)
    return [*found, _moved(run)]


def crossings_at(run: IndividualsRun, outlet: str | None) -> SpellCrossings | None:
    """The crossings of an outlet, or of the first that has any."""
    some = [c for c in run.crossings if len(c.spells) and (outlet is None or c.outlet == outlet)]
    return some[0] if some else None


def out_of_sight(run: IndividualsRun, outlet: str) -> list[str]:
    """Animals that were out of sight across a dry spell of an outlet."""
    c = crossings_at(run, outlet)
    return [] if c is None else [str(i) for i in c.absences["individual"].unique()]


def _known(a: IndividualsAnswer) -> str:
    run = a.run
    if run is None:
        return "No animal is known"
    return f"{count_of(run.n_individuals, 'animal')} known from {count_of(run.n_captures, 'capture')}"


def _seen(n: int) -> str:
    return f"{whole(n)} {'has' if n == 1 else 'have'} been" if n else "none has been"


def _percent(share: float) -> str:
    return f"{100 * share:.0f}"


def _effort(s: pd.Series, unit: str) -> str:
    """The search made after a spell."""
    looked = count_of(int(s["searches"]), "day of search", "days of search")
    if not s["searches"] or np.isnan(s["effort"]):
        return looked
    without = int(s["without_effort"])
    more = f" and {count_of(without, 'day', 'days')} without a stated effort" if without else ""
    return f"{looked} ({whole(round(s['effort']))} {unit}{more})"


def _across(a: IndividualsAnswer, c: SpellCrossings) -> list[str]:
    """Absences across the spells of one outlet."""
    title, absences = a.titles[c.outlet], c.absences
    found = []
    running_on = int((~c.spells["over"].astype(bool)).sum())
    if running_on:
        found.append(f"{title} is dry: of that spell nothing can be said yet.")
    if absences.empty:
        found.append(f"No animal is known to have been out of sight across a dry spell of {title}.")
        return found
    longest = absences.sort_values("least_days", kind="stable").iloc[-1]
    animals = absences["individual"].nunique()
    found.append(
        f"{count_of(animals, 'animal')} {'was' if animals == 1 else 'were'} out of sight across one or more dry spells of {title} and seen again. Longest spell "
        f"come through: {days_only(longest['least_days'])} ({longest['individual']}, last seen {short_date(longest['last_before'])}, "
        f"first again {short_date(longest['first_after'])}: out of sight {days_only(longest['least_days'])} to {days_only(longest['most_days'])}). {LEAST_AND_MOST}"
    )
    elsewhere = int(c.spells["elsewhere_during"].sum())
    if elsewhere:
        were = "was" if elsewhere == 1 else "were"
        found.append(f"{count_of(elsewhere, 'animal')} of {title} {were} met at another outlet while it was dry.")
    return found


def _moved(run: IndividualsRun) -> str:
    m = run.moves
    if not m.pairs:
        return "No animal was met twice, so that nothing is known of moves between outlets."
    if m.moves.empty:
        return f"No move between outlets in {count_of(m.pairs, 'pair')} of sightings of one animal."
    over = int(m.moves["over_dry_spell"].sum())
    return (
        f"{count_of(len(m.moves), 'move')} between outlets in {count_of(m.pairs, 'pair')} of sightings of one animal; {whole(over)} of them in "
        f"the {count_of(m.pairs_over_dry_spell, 'pair')} between which the outlet left was dry. A move that was not followed by a sighting is not seen."
    )


def second_run(a: IndividualsAnswer) -> list[str]:
    """What leaving out unsure matches changes."""
    if a.sure is None or a.run is None or a.left_out is None:
        return []
    first = (
        f"Without the {count_of(len(a.left_out), 'capture')} matched with a confidence below {a.least_confidence:g}: "
        f"{count_of(a.sure.n_individuals, 'animal')} instead of {whole(a.run.n_individuals)}"
    )
    both = (a.run.survival, a.sure.survival)
    if both[0] is not None and both[1] is not None:
        rates = [s.constant.rates[0].value for s in both if s is not None]
        if rates[0] is not None and rates[1] is not None:
            first += f", apparent survival {100 * rates[1]:.1f} in 100 a year instead of {100 * rates[0]:.1f}"
    again = [sum(int(c.spells["seen_after"].sum()) for c in run.crossings) for run in (a.run, a.sure)]
    if a.run.crossings:
        first += f", {whole(again[1])} animals seen again over all dry spells instead of {whole(again[0])}"
    return [f"{first}. Captures without a stated confidence are kept."]


def matched(a: IndividualsAnswer) -> list[str]:
    """What a list of matches made of the names."""
    m = a.matched
    if m is None:
        return []
    animals = m.names["individual"].nunique()
    found = [f"Matches draw {count_of(len(m.names), 'name')} together into {count_of(animals, 'animal')}."]
    if len(m.unsure):
        found.append(f"{count_of(len(m.unsure), 'match', 'matches')} left out for too little confidence.")
    weak = m.names.dropna(subset=["weakest_link"])
    if len(weak):
        w = weak.loc[weak["weakest_link"].idxmin()]
        found.append(f"Weakest link: {w['individual']} holds together by a confidence of {w['weakest_link']:g}.")
    for r in m.conflicts.itertuples(index=False):
        found.append(
            f"Conflict in row {r.row}: {r.first} and {r.second} were judged not the same, but are joined by {r.chain}. Look at these pictures again."
        )
    return found


def spell_line(s: pd.Series, unit: str) -> str:
    """One dry spell as a line."""
    head = f"{short_date(s['first'])} to {short_date(s['last'])} ({days_only(s['days'])})"
    if not s["over"]:
        return f"{head}: not over; {whole(s['lately'])} seen in the year before, {whole(s['seen_before'])} ever"
    year = f"{whole(s['lately_after'])} of {whole(s['lately'])} seen in the year before"
    if s["lately"]:
        year += f" ({_percent(s['lately_low'])}–{_percent(s['lately_high'])} in 100)"
    return f"{head}: again {year}, {whole(s['seen_after'])} of {whole(s['seen_before'])} ever; {_effort(s, unit)} after"


def twice_on_a_day(same_day: pd.DataFrame) -> str:
    r = same_day.iloc[0]
    n = count_of(len(same_day), "time")
    return f"An animal was met at two outlets on one day {n} (first: {r['individual']}, {short_date(r['date'])}, {r['outlets']}): check the matches."


def while_dry(captures: pd.DataFrame) -> str:
    r = captures.iloc[0]
    n = count_of(len(captures), "capture")
    return f"{n} on a day on which the outlet was dry by flow (first: row {int(r['row'])}, {r['outlet']}, {short_date(r['date'])}): a level, a date or an outlet is wrong, or water stood in a pool."


def not_among_captures(names: Sequence[str]) -> str:
    shown = ", ".join(names[:5]) + (" …" if len(names) > 5 else "")
    return f"{count_of(len(names), 'name')} of the match list not among the captures: {shown}"


def as_text(a: IndividualsAnswer) -> str:
    """The whole answer for a terminal."""
    h = a.header
    lines = [f"{h.title}, as of {h.as_of}", "", answer(a), *(f"  {sentence}" for sentence in details(a))]
    if a.run is not None:
        for c in a.run.crossings:
            lines += ["", f"  {a.titles[c.outlet]}, dry spells:"]
            lines += [f"    {spell_line(s, a.effort_unit)}" for _, s in c.spells.iterrows()]
    else:
        lines += [f"  {sentence}" for sentence in matched(a)]
    lines += [f"  Doubtful: {w}" for w in h.warnings]
    lines += ["", cautions.HANDLING, cautions.DISTURBANCE, cautions.PROVISIONAL]
    return "\n".join(lines)
