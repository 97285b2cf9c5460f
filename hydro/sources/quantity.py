"""Whether a series is discharge, by what its file calls it and by its unit; and which unit that is."""

from __future__ import annotations

from dataclasses import dataclass

from hydro.sources.column_units import read_unit
from hydro.sources.column_words import DISCHARGE_WORDS, OTHER_QUANTITIES, squeezed, tokens
from hydro.sources.reading import Reading
from hydro.units import UnitError, parse_unit

_ASK = "a unit of discharge; the file does not say it (unit = “cfs”, “m3/s”, “l/s” …)"


@dataclass(frozen=True, kw_only=True)
class KnownUnit:
    """The canonical name of a unit, and in words how it was known."""

    name: str
    known_from: str


def why_no_discharge(label: str, unit: str) -> str | None:
    """None where label or unit say discharge and neither says anything else; otherwise the reason, in words."""
    stated = read_unit(unit) if unit.strip() else None
    if stated is not None and stated.unit is None and not stated.open:
        return f"“{unit}” is a unit of {stated.expected.removeprefix('a unit of discharge; this one is of ')}"
    if unit.strip() and stated is None:
        return f"“{unit}” is no unit of discharge"
    words = [*tokens(label), squeezed(label)]
    says_discharge = bool(set(words) & DISCHARGE_WORDS)
    other = next((OTHER_QUANTITIES[w] for w in words if w in OTHER_QUANTITIES), None)
    if other is not None and not (says_discharge and stated is not None):
        return f"its name says {other}"
    if stated is None and not says_discharge:
        return "neither its name nor a unit says discharge"
    return None


def settle_stated_unit(reading: Reading, text: str, where: str, column: str | None = None) -> KnownUnit | None:
    """The unit that a file states, or the one asked for where it states none. None = a problem was told."""
    asked = None
    if reading.choices.unit is not None:
        try:
            asked = parse_unit(reading.choices.unit)
        except UnitError as error:
            reading.problem(error.expected, value=reading.choices.unit)
            return None
    if not text.strip():
        if asked is None:
            reading.problem(_ASK, column=column)
            return None
        return KnownUnit(name=asked, known_from="asked for")
    try:
        unit = parse_unit(text)
    except UnitError as error:
        if asked is not None and asked in error.expected.split(" or "):
            return KnownUnit(name=asked, known_from=f"asked for; the {where} says only “{text}”")
        reading.problem(error.expected, column=column, value=text)
        return None
    if asked is not None and asked != unit:
        reading.problem(
            f"no other unit than the file's own: its {where} says “{text}”", column=column, value=reading.choices.unit
        )
        return None
    return KnownUnit(name=unit, known_from=where)
