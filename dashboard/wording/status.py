"""Sentences about the state of an outlet."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.wording import cautions
from dashboard.wording.fetch import kept, stale_in_a_word
from dashboard.wording.numbers import chance, count_of, days, discharge, figures, long_date, short_date
from hydro.outlook_result import date_reached

if TYPE_CHECKING:
    from dashboard.answers.answer import Header
    from dashboard.answers.status import OutletStatus, StatusAnswer
    from hydro.outlook_result import Outlook

_WHY = {
    "no-reading": "its combined discharge has never been known on any day",
    "stale-reading": "the last reading is too old to speak for today",
    "between-levels": "discharge lies between the stop and the restart level and what went before is not known",
    "perennial": "no stop level is set, so there is nothing to hold the discharge against",
}


def answer(o: OutletStatus, header: Header) -> str:
    """The first sentence: answer, how sure, resting on what."""
    s = o.state
    if s.why_no_probability == "perennial":
        return f"{o.title} has no stop level and counts as always running."
    if s.reading is None:
        return f"Whether {o.title} runs is not known: {_WHY['no-reading']}."
    rest = f"on {_age(s.reading.age_days)} {discharge(s.reading.discharge_m3s, header.unit)}"
    if s.deciding_level_m3s is not None:
        kind = "restart" if _held_dry(o) else "stop"
        rest += f" against a {kind} level of {discharge(s.deciding_level_m3s, header.unit)}"
    chances = f" ({chance(o.chance)} that it runs)" if o.chance is not None else ""
    if o.word == "unknown":
        why = _WHY[s.why_unknown] if s.why_unknown else "what a person saw and what the flow says do not agree"
        return f"Whether {o.title} runs is not known{chances}: {why} ({rest})."
    return f"{o.title} is {o.word}{chances}, {rest}."


def _held_dry(o: OutletStatus) -> bool:
    """Whether the reading was held against the restart level."""
    if o.state.state != "unknown":
        return o.state.state == "dry"
    return o.ahead.state_now == "dry"


def reasons(o: OutletStatus, header: Header) -> list[str]:
    """What the answer rests on, as sentences."""
    s, found = o.state, [answer(o, header)]
    if s.reading is not None:
        marks = [m for m, yes in (("provisional", s.reading.provisional), ("estimated", s.reading.estimated),
                                  ("bridged over a gap", s.reading.bridged)) if yes]  # fmt: skip
        marked = f", {', '.join(marks)}" if marks else ""
        found.append(
            f"Last reading of {o.flow}: {discharge(s.reading.discharge_m3s, header.unit)} on "
            f"{long_date(s.reading.day)}{marked}."
        )
    if s.since is not None and s.state in ("running", "dry"):
        found.append(f"By flow it has been {s.state} since {long_date(s.since)}.")
    if o.last_seen is None:
        found.append("Nobody has written down what the surface looked like.")
    else:
        found.append(f"A person last saw it {o.last_seen.surface} on {long_date(o.last_seen.day)}.")
    if o.disagrees:
        found.append("That is not what the flow says: trust the person, and look at the stop level.")
    found += [kept(title, copy, pd.Timestamp(header.as_of), o.time_zone) for title, copy in o.copies]
    found += _sources(o)
    found += expected(o)
    return found


def _sources(o: OutletStatus) -> list[str]:
    """Each source's chance by itself, and what is assumed about errors."""
    if o.sources is None or o.state.reading is None:
        return []
    parts = []
    for name, value in (
        ("the gauge", o.sources.from_measurement),
        ("the last sighting", o.sources.from_sighting),
        ("the outlook from the last reading", o.sources.from_outlook if o.sources.base == "outlook" else None),
    ):
        if value is not None:
            parts.append(f"{name} {chance(value)}")
    assumed = ", assumed where the workspace states none" if o.error_is_assumed else ""
    error = f"{o.state.reading.error_percent:.2g} % in 95 of 100 cases{assumed}"
    level = "the level is taken as exact"
    if o.level is not None and not o.level.is_exact:
        level = "the level is as uncertain as the sightings leave it"
    return [f"Taken alone: {'; '.join(parts)}. Allowed for: an error of the reading of {error}; {level}."]


def expected(o: OutletStatus) -> list[str]:
    """When it may stop or run again, and on the day of a trip."""
    lines = []
    if o.ahead.why_none is not None:
        lines += [] if o.state.why_no_probability == "perennial" else [f"No outlook: {o.ahead.why_none}."]
    else:
        for passages, what in ((o.ahead.stops_by, "have stopped"), (o.ahead.restarts_by, "run again")):
            if passages is not None:
                lines.append(crossing_sentence(passages, what))
        lines += weakness(o.ahead)
    if o.trip is not None:
        lines.append(trip_sentence(o))
    return lines


def weakness(ahead: Outlook) -> list[str]:
    """What makes an outlook weak."""
    if not ahead.reasons:
        return []
    return [
        f"The outlook is a rough guide: {', '.join(ahead.reasons)} ({_length(ahead.n_years)} of discharge behind it)."
    ]


def _length(years: float) -> str:
    """The length of a record; short ones in days."""
    return count_of(round(365.25 * years), "day") if years < 1.0 else f"{figures(years, 2)} years"


def crossing_sentence(passages: pd.DataFrame, what: str) -> str:
    """By when the chance of a first stop or restart reaches 1 in 10, 1 in 2 and 9 in 10."""
    known = passages.loc[passages["probability"].notna(), "lead"]
    horizon = int(known.max()) if len(known) else 0
    if horizon == 0:
        return f"By when it will {what} cannot be said: the record is too short for any day ahead."
    low, half, high = (date_reached(passages, share) for share in (0.1, 0.5, 0.9))
    beyond = "" if len(known) == len(passages) else f"; nothing can be said beyond the next {horizon} days"
    if low is None:
        return f"The chance that it will {what} stays below 1 in 10 for {horizon} days{beyond}."
    found = f"The chance that it will {what} reaches 1 in 10 by {short_date(low)}"
    found += f", 1 in 2 by {short_date(half)}" if half is not None else f", stays below 1 in 2 for {horizon} days"
    found += f", 9 in 10 by {short_date(high)}" if high is not None else ""
    return f"{found}{beyond}."


def trip_sentence(o: OutletStatus) -> str:
    """The day of the trip."""
    if o.trip is None:
        return ""
    if o.trip_chance is None:
        if o.state.why_no_probability == "perennial":
            return f"On {long_date(o.trip)}: counts as running, as on every day; no level is set."
        why = o.ahead.why_none or "the day lies beyond the outlook"
        return f"On {long_date(o.trip)}: not known, {why}."
    return f"On {long_date(o.trip)}: {chance(o.trip_chance)} that it runs."


def as_text(result: StatusAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}", ""]
    width = max((len(o.title) for o in result.outlets), default=0)
    for o in result.outlets:
        lines.append(f"{o.title:<{width}}   {line(o)}")
    for o in result.outlets:
        lines += ["", o.title, *(f"  {sentence}" for sentence in reasons(o, h))]
    lines += ["", cautions.PROVISIONAL, cautions.NOT_A_WARNING, cautions.WADING]
    return "\n".join(lines)


def line(o: OutletStatus) -> str:
    """One outlet as a line of text with a word."""
    s = o.state
    parts = [o.word]
    if o.chance is not None:
        parts.append(chance(o.chance))
    elif s.why_no_probability == "perennial":
        parts.append("counts as always running")
    if s.reading is not None:
        marked = ", provisional" if s.reading.provisional else ""
        parts.append(f"last reading {_age(s.reading.age_days, bare=True)}{marked}")
    parts += [stale_in_a_word(copy, o.time_zone) for _, copy in o.copies if copy.stale][:1]
    if o.last_seen is not None:
        parts.append(f"seen {o.last_seen.surface} {short_date(o.last_seen.day)}")
    if o.trip is not None and o.trip_chance is not None:
        parts.append(f"on {short_date(o.trip)} {chance(o.trip_chance)}")
    return "   ".join(parts)


def _age(n: int, *, bare: bool = False) -> str:
    if bare:
        return "of today" if n == 0 else f"{count_of(n, 'day')} old"
    return {0: "today's", 1: "yesterday's"}.get(n, f"a reading {days(n)} old of")
