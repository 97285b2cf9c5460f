"""Sentences about the level at which an outlet stops."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import count_of, discharge, figures, interval, long_date
from hydro.units import from_m3s

if TYPE_CHECKING:
    import pandas as pd

    from dashboard.answers.answer import Header
    from dashboard.answers.threshold import OutletLevel, ThresholdAnswer
    from dashboard.answers.tried_level import TriedLevel
    from hydro.level_estimate import Level

TRY_LEVEL = "Try another level"
TRY_LEVEL_HELP = "Nothing is written: the line in the picture and the table below show what the level would mean."

_NOTES = {
    "stop-level-without-rising-limb": "Sightings while water was coming back are left to the restart level.",
    "separated-width-from-penalty": (
        "Dry and running sightings do not overlap: what the data say is the bracket, and the interval around the level is "
        "wider because of the method's caution."
    ),
    "separated-and-rarely-dry": (
        "Few of the sightings are dry, and none overlaps with a running one. Where readings err by 10 %, that happens by luck, "
        "and such intervals held the level in only about three of four simulated records: it may well lie outside."
    ),
    "few-groups": "Few separate episodes were seen: the interval is only a rough guide.",
}


def level_range(level: Level, unit: str) -> str:
    """“37.2 ft³/s (95 % interval 36.6–37.9)”."""
    if level.value_m3s is None:
        return "not known"
    if level.low_m3s is None and level.high_m3s is None:
        return f"{discharge(level.value_m3s, unit)} (no {100 * level.level:g} % limits can be given)"
    limits = interval(level.low_m3s, level.high_m3s, lambda v: figures(from_m3s(v, unit)))
    return f"{discharge(level.value_m3s, unit)} ({100 * level.level:g} % interval {limits})"


def answer(o: OutletLevel, header: Header) -> str:
    """The first sentence."""
    title, e = o.outlet.title, o.estimate
    if e is None:
        return f"Where {title} stops cannot be learnt: {o.why}."
    n = e.n_running + e.n_dry
    if e.one_sided == "below" and e.bracket.lowest_running_m3s is not None:
        low = discharge(e.bracket.lowest_running_m3s, header.unit)
        return f"{title} was only ever seen running, at {low} at the least: if it stops at all, it stops below that."
    if e.one_sided == "above" and e.bracket.highest_dry_m3s is not None:
        high = discharge(e.bracket.highest_dry_m3s, header.unit)
        return f"{title} was only ever seen dry, at {high} at the most: it runs, if at all, above that."
    if e.stop_level.value_m3s is None:
        return f"Where {title} stops cannot be learnt: {e.stop_level.why}."
    return (
        f"{title} stops at about {level_range(e.stop_level, header.unit)}, judging by {count_of(n, 'sighting')} in "
        f"{count_of(e.n_spells, 'separate episode')}."
    )


def details(o: OutletLevel, header: Header) -> list[str]:
    """What stands behind the first sentence."""
    e, unit, found = o.estimate, header.unit, []
    if e is None:
        return []
    low, high = e.stop_level.low_m3s, e.stop_level.high_m3s
    if o.outlet.stop_m3s is not None and (low is not None or high is not None):
        outside = (low is not None and o.outlet.stop_m3s < low) or (high is not None and o.outlet.stop_m3s > high)
        where = "lies outside that interval" if outside else "lies inside that interval"
        at = discharge(o.outlet.stop_m3s, unit)
        if o.outlet.level_is_learnt:
            found.append(f"The level in the workspace, {at}, was learnt and taken over; it {where}.")
        else:
            found.append(f"The level set in the workspace, {at}, {where}.")
    if o.outlet.stop_m3s is None:
        found.append("No stop level is set in the workspace: it counts as always running.")
    if e.bracket.highest_dry_m3s is not None and e.bracket.lowest_running_m3s is not None:
        dry, wet = discharge(e.bracket.highest_dry_m3s, unit), discharge(e.bracket.lowest_running_m3s, unit)
        over = ": the two overlap" if e.bracket.overlap else ": the level lies between"
        found.append(
            f"Highest discharge at which it was seen dry {dry}, lowest at which it was seen running {wet}{over}."
        )
    found.append(
        f"Sightings: {e.n_running} running, {e.n_dry} dry, {e.n_pooled} pooled (kept apart, neither dry nor running)."
    )
    if e.restart_level.value_m3s is not None:
        found.append(f"It runs again from about {level_range(e.restart_level, unit)}.")
        if e.stop_level.value_m3s is not None and e.restart_level.value_m3s <= e.stop_level.value_m3s:
            found.append("So the sightings do not show that it takes more water to restart than to keep running.")
    elif e.one_sided is None:
        found.append(f"A separate restart level cannot be told: {e.restart_level.why}.")
    if len(e.contradictions):
        found.append(
            f"{count_of(len(e.contradictions), 'sighting disagrees', 'sightings disagree')} with the level; each is listed."
        )
    if len(e.left_out):
        by_reason = e.left_out["reason"].value_counts(sort=True)
        why = "; ".join(f"{reason}: {n}" for reason, n in by_reason.items())
        found.append(f"{count_of(len(e.left_out), 'sighting')} could not be used ({why}).")
    found += [_NOTES[n] for n in e.notes if n in _NOTES]
    found.append(
        "The level is one of the published discharge: an error of the rating that lasts for years is part of it and not of "
        "the interval, and if the rating or the station changes, it has to be learnt anew."
    )
    return found


def contradiction_line(row: pd.Series, header: Header) -> str:
    """One sighting that disagrees."""
    return (
        f"row {row['row']}: seen {row['surface']} on {long_date(row['date'])} at "
        f"{discharge(row['discharge_m3s'], header.unit)}, where the {row['against']} has it {row['expected']}"
    )


def tried(o: OutletLevel, x: TriedLevel, unit: str) -> str:
    """What a level would mean for the sightings and for the record."""
    name = {"set": "set in the workspace", "learnt": "learnt from the sightings", "tried": "tried here"}[x.name]
    verb = "disagrees" if x.disagreeing == 1 else "disagree"
    text = f"With {discharge(x.stop_m3s, unit)} ({name}) {x.disagreeing} of {count_of(x.judged, 'sighting')} {verb}"
    if x.dry_days_a_year is None:
        if not x.known_days:
            return f"{text}; no day of the record is known, so dry days cannot be counted."
        return (
            f"{text}, and {o.outlet.title} would have been dry on {x.dry_days} of {count_of(x.known_days, 'known day')}, too "
            "short a record to say how many a year."
        )
    return (
        f"{text}, and {o.outlet.title} would have been dry on {figures(x.dry_days_a_year)} days a year of the record, in "
        f"{count_of(x.dry_spells, 'dry spell')}."
    )


def as_text(result: ThresholdAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}"]
    for o in result.outlets:
        lines += ["", answer(o, h), *(f"  {sentence}" for sentence in details(o, h))]
        if o.estimate is not None:
            lines += [f"    {contradiction_line(row, h)}" for _, row in o.estimate.contradictions.iterrows()]
    lines += ["", cautions.PROVISIONAL]
    return "\n".join(lines)
