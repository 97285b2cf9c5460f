"""The unit that a column name, a row of units or the lines above a table state."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from hydro.sources.column_words import DISCHARGE_WORDS, UNIT_WORDS, squeezed, tokens
from hydro.units import UnitError, parse_unit

_BRACKETED = re.compile(r"[(\[{]([^()\[\]{}]+)[)\]}]")
#: Bare words at the end of a name that are units elsewhere and plain words here.
_NOT_A_SUFFIX = frozenset(("in", "bar", "ls", "af"))


@dataclass(frozen=True, kw_only=True)
class StatedUnit:
    """A unit as written. `unit` is its canonical name; None = it does not settle the unit, `expected` says why.

    `open` = it could mean two units of discharge; otherwise a unit without canonical name is not one of discharge.
    """

    text: str
    unit: str | None
    expected: str = ""
    open: bool = False


def read_unit(text: str) -> StatedUnit | None:
    """A text as a unit; None where it is no unit of anything measured at gauges."""
    try:
        return StatedUnit(text=text, unit=parse_unit(text))
    except UnitError as error:
        if error.expected.startswith("one of "):
            return None
        is_open = not error.expected.startswith("a unit of discharge")
        return StatedUnit(text=text, unit=None, expected=error.expected, open=is_open)


def unit_in_name(name: str) -> StatedUnit | None:
    """The unit in “Flow (cfs)”, “Abfluss [m³/s]”, “Discharge, cubic feet per second (Mean)”, “Q_m3s”, “flow cfs”."""
    for inner in _BRACKETED.findall(name):
        if found := read_unit(inner.strip()):
            return found
    bare = _BRACKETED.sub(" ", name).strip()
    for part in bare.split(",")[1:]:
        if found := read_unit(re.sub(r"^(in|as)\s+", "", part.strip())):
            return found
    words = [w for w in re.split(r"[_\s.\-]+", bare) if w]
    for count in range(min(5, len(words)), 0, -1):
        tail = " ".join(words[-count:])
        if len(tail) < 2 or tail.casefold() in _NOT_A_SUFFIX:
            continue
        if found := read_unit(tail):
            return found
    return None


def unit_in_preamble(lines: Sequence[str]) -> StatedUnit | None:
    """The one discharge unit that the lines above a table state, or None where they state none or several."""
    found: dict[str, StatedUnit] = {}
    for line in lines:
        parts = [p.strip().strip('"#').strip() for p in re.split(r"[:;,=\t|]", line) if p.strip('"# \t;,')]
        candidates = [i for i in _BRACKETED.findall(line) if set(tokens(line)) & DISCHARGE_WORDS]
        if set(tokens(line)) & DISCHARGE_WORDS:
            candidates += re.findall(r"\b(?:in|as)\s+(\S+)", line)
        if len(parts) >= 2 and (squeezed(parts[0]) in UNIT_WORDS or set(tokens(parts[0])) & UNIT_WORDS):
            candidates.append(parts[1])
        elif (
            words := re.match(r"^\W*(?:units?|einheit|unité|unidad)\s+(.+)$", line.strip(), re.IGNORECASE)
        ) is not None:
            candidates.append(words[1])
        elif len(parts) == 2 and set(tokens(parts[0])) & DISCHARGE_WORDS:
            candidates.append(parts[1])
        for text in candidates:
            unit = read_unit(text.strip())
            if unit and (unit.unit or unit.open):
                found.setdefault(unit.unit or unit.text, unit)
    return next(iter(found.values())) if len(found) == 1 else None
