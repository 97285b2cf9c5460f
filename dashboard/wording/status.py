"""Sentences about the state of an outlet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording import cautions
from dashboard.wording.numbers import chance, count_of, days, discharge, long_date, short_date

if TYPE_CHECKING:
    from dashboard.answers.answer import Header
    from dashboard.answers.status import OutletStatus, StatusAnswer

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
    if s.state == "unknown":
        return f"Whether {o.title} runs is not known: {_WHY[s.why_unknown or 'no-reading']} ({rest})."
    level = discharge(s.deciding_level_m3s or 0.0, header.unit)
    kind = "restart" if s.state == "dry" else "stop"
    chances = (
        f"{chance(s.probability_running)} that it runs" if s.probability_running is not None else "chance not known"
    )
    return f"{o.title} is {s.state} by its flow ({chances}), {rest} against a {kind} level of {level}."


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
        if s.probability_running is not None:
            assumed = " (assumed where the workspace states none)" if o.error_is_assumed else ""
            found.append(
                f"The chance allows for an error of the reading of {s.reading.error_percent:.2g} % in 95 of 100 "
                f"cases{assumed}; the level is taken as set, and its own uncertainty is not in it."
            )
    if s.since is not None and s.state in ("running", "dry"):
        found.append(f"By flow it has been {s.state} since {long_date(s.since)}.")
    if o.last_seen is None:
        found.append("Nobody has written down what the surface looked like.")
    else:
        found.append(f"A person last saw it {o.last_seen.surface} on {long_date(o.last_seen.day)}.")
    if o.disagrees:
        found.append("That is not what the flow says: trust the person, and look at the stop level.")
    return found


def as_text(result: StatusAnswer) -> str:
    """The whole answer for a terminal."""
    h = result.header
    lines = [f"{h.title}, as of {h.as_of}", ""]
    width = max((len(o.title) for o in result.outlets), default=0)
    for o in result.outlets:
        lines.append(f"{o.title:<{width}}   {line(o)}")
    for o in result.outlets:
        lines += ["", o.title, *(f"  {sentence}" for sentence in reasons(o, h))]
        if o.trip is not None:
            lines.append(f"  On {long_date(o.trip)}: not known, the outlook ahead is not computed by this version.")
    lines += ["", cautions.PROVISIONAL, cautions.NOT_A_WARNING, cautions.WADING]
    return "\n".join(lines)


def line(o: OutletStatus) -> str:
    """One outlet as a line of text with a word."""
    s = o.state
    parts = [s.state]
    if s.probability_running is not None:
        parts.append(chance(s.probability_running))
    if s.reading is not None:
        parts.append(
            f"last reading {_age(s.reading.age_days, bare=True)}{', provisional' if s.reading.provisional else ''}"
        )
    if o.last_seen is not None:
        parts.append(f"seen {o.last_seen.surface} {short_date(o.last_seen.day)}")
    return "   ".join(parts)


def _age(n: int, *, bare: bool = False) -> str:
    if bare:
        return "of today" if n == 0 else f"{count_of(n, 'day')} old"
    return {0: "today's", 1: "yesterday's"}.get(n, f"a reading {days(n)} old of")
