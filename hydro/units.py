"""Every discharge unit the tool knows, and the conversions between them.

Canonical unit: cubic metres per second [m³/s], float64. Values are converted on the way in and on the way
out only. The factors are exact rationals built from the definitions 1 ft = 0.3048 m, 1 US gallon =
3.785411784 L, 1 imperial gallon = 4.54609 L, 1 acre = 43 560 ft² (international foot).

A unit that could mean two things (a bare gallon, "MGD", "ml/d") is refused with the choices, never guessed.
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

_FOOT = Fraction("0.3048")
_FT3 = _FOOT**3
_US_GALLON = Fraction("0.003785411784")  # [m³]
_IMPERIAL_GALLON = Fraction("0.00454609")  # [m³]
_ACRE_FOOT = 43560 * _FT3  # [m³]
_MINUTE, _HOUR, _DAY = 60, 3600, 86400

#: Canonical name -> exact factor to m³/s.
FACTORS: dict[str, Fraction] = {
    "m3/s": Fraction(1),
    "l/s": Fraction(1, 1000),
    "l/min": Fraction(1, 1000 * _MINUTE),
    "m3/h": Fraction(1, _HOUR),
    "m3/d": Fraction(1, _DAY),
    "ML/d": Fraction(1000, _DAY),
    "cfs": _FT3,
    "US gpm": _US_GALLON / _MINUTE,
    "US MGD": 1_000_000 * _US_GALLON / _DAY,
    "imp gpm": _IMPERIAL_GALLON / _MINUTE,
    "imp MGD": 1_000_000 * _IMPERIAL_GALLON / _DAY,
    "acre-ft/d": _ACRE_FOOT / _DAY,
}

#: How each unit is written on screen.
SYMBOLS: dict[str, str] = {
    "m3/s": "m³/s", "l/s": "L/s", "l/min": "L/min", "m3/h": "m³/h", "m3/d": "m³/d", "ML/d": "ML/d",
    "cfs": "ft³/s", "US gpm": "US gal/min", "US MGD": "US Mgal/d", "imp gpm": "imp gal/min",
    "imp MGD": "imp Mgal/d", "acre-ft/d": "acre-ft/d",
}  # fmt: skip

# Spellings after folding (see _fold). Case is folded except for the litre prefixes, handled apart.
_SPELLINGS: dict[str, tuple[str, ...]] = {
    "m3/s": ("m3/s", "m3/sec", "m3s-1", "m3s", "cms", "cumec", "cumecs", "cubicmeterspersecond",
             "cubicmetrespersecond", "cubicmeterpersecond", "cubicmetrepersecond", "m3persecond"),
    "l/s": ("l/s", "l/sec", "lps", "ls-1", "ls", "litrespersecond", "literspersecond", "litrepersecond",
            "literpersecond"),
    "l/min": ("l/min", "lpm", "lmin-1", "litresperminute", "litersperminute"),
    "m3/h": ("m3/h", "m3/hr", "m3/hour", "m3h-1", "m3h", "cubicmetersperhour", "cubicmetresperhour"),
    "m3/d": ("m3/d", "m3/day", "m3d-1", "m3d", "cubicmetersperday", "cubicmetresperday"),
    "ML/d": ("mld", "megalitresperday", "megalitersperday"),
    "cfs": ("cfs", "ft3/s", "ft3/sec", "ft3s-1", "ft3s", "cusec", "cusecs", "cubicfeetpersecond",
            "cubicfootpersecond", "cubicfeetpersec", "cubicft/s", "cuft/s", "cu.ft./s", "cuft/sec"),
    "US gpm": ("usgpm", "usgal/min", "usgallon/min", "usgallonsperminute"),
    "US MGD": ("usmgd", "usmgal/d", "usmgal/day", "usmilliongallonsperday"),
    "imp gpm": ("impgpm", "impgal/min", "imperialgpm", "imperialgallonsperminute", "ukgpm"),
    "imp MGD": ("impmgd", "impmgal/d", "imperialmgd", "imperialmilliongallonsperday", "ukmgd"),
    "acre-ft/d": ("acre-ft/d", "acre-ft/day", "acreft/d", "acreft/day", "af/d", "af/day", "ac-ft/d",
                  "ac-ft/day", "acre-feet/day", "acrefeetperday", "acre-feetperday"),
}  # fmt: skip
_KNOWN = {spelling: unit for unit, spellings in _SPELLINGS.items() for spelling in spellings}

#: Spellings that could mean two things, and the question to ask.
_AMBIGUOUS: dict[str, str] = {
    "gpm": "US gpm or imp gpm (a bare gallon is not a size)",
    "gal/min": "US gpm or imp gpm (a bare gallon is not a size)",
    "gallonsperminute": "US gpm or imp gpm (a bare gallon is not a size)",
    "mgd": "US MGD or imp MGD (a bare gallon is not a size)",
    "mgal/d": "US MGD or imp MGD (a bare gallon is not a size)",
    "mgal/day": "US MGD or imp MGD (a bare gallon is not a size)",
    "milliongallonsperday": "US MGD or imp MGD (a bare gallon is not a size)",
    "ml/d": "ML/d for megalitres a day (“ml” is a millilitre)",
    "ml/day": "ML/d for megalitres a day (“ml” is a millilitre)",
    "1/s": "l/s, if the first sign is a letter l",
}
#: Units of things that are measured at gauges and are not discharge.
_NOT_DISCHARGE: dict[str, str] = {
    **dict.fromkeys(("ft", "feet", "foot", "m", "metre", "meter", "metres", "meters", "cm", "mm", "in"),
                    "a water level or depth"),
    **dict.fromkeys(("kpa", "hpa", "mbar", "psi", "bar"), "a pressure"),
    **dict.fromkeys(("degc", "°c", "c", "degf", "°f", "f"), "a temperature"),
    **dict.fromkeys(("m/s", "ft/s", "cm/s"), "a velocity"),
    **dict.fromkeys(("mm/d", "mm/day", "mm/h"), "a depth of rain or runoff"),
}  # fmt: skip

Number = TypeVar("Number", float, "npt.NDArray[np.float64]")


class UnitError(ValueError):
    """A unit that is unknown, ambiguous, or not one of discharge. `expected` says what would be accepted."""

    def __init__(self, text: str, expected: str) -> None:
        self.text, self.expected = text, expected
        super().__init__(f"unit “{text}”: expected {expected}")


def _fold(text: str) -> str:
    """Bring a written unit to one spelling: entities undone, superscripts and blanks removed, lower case."""
    s = html.unescape(html.unescape(text)).strip().strip("()[]")
    s = s.replace("³", "3").replace("^", "").replace("**", "").replace("⁻¹", "-1").replace("−", "-")
    s = re.sub(r"\s*/\s*", "/", s)
    s = re.sub(r"[\s_·*]+", "", s)
    return s.rstrip(".").lower()


def parse_unit(text: str) -> str:
    """The canonical name of a written discharge unit.

    Raises UnitError for a unit that is unknown, could mean two things, or does not measure discharge.
    Upper and lower case are the same except in megalitres a day, where “ml/d” would be millilitres.
    """
    bare = re.sub(r"[\s()\[\]]", "", text)
    if re.fullmatch(r"M[lL]/d(ay)?", bare):
        return "ML/d"
    folded = _fold(text)
    if folded in _KNOWN:
        return _KNOWN[folded]
    if folded in _AMBIGUOUS:
        raise UnitError(text, _AMBIGUOUS[folded])
    if folded in _NOT_DISCHARGE:
        raise UnitError(text, f"a unit of discharge; this one is of {_NOT_DISCHARGE[folded]}")
    raise UnitError(text, "one of " + ", ".join(FACTORS))


def to_m3s(value: Number, unit: str) -> Number:
    """Discharge in `unit` (a canonical name) -> [m³/s]."""
    return value * float(FACTORS[unit])


def from_m3s(value: Number, unit: str) -> Number:
    """Discharge [m³/s] -> `unit` (a canonical name)."""
    return value * float(1 / FACTORS[unit])


@dataclass(frozen=True)
class Quantity:
    """A discharge as someone wrote it: number and unit kept, canonical value beside them [m³/s]."""

    value: float
    unit: str

    @property
    def m3s(self) -> float:
        return to_m3s(self.value, self.unit)

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


def parse_quantity(text: str) -> Quantity:
    """Read “40 cfs”. Raises UnitError for a missing number, a missing unit or a negative value."""
    number = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?"
    match = re.fullmatch(rf"\s*({number})\s*([^\d\s.+-].*?)\s*", text)
    if not match:
        raise UnitError(text, "a number and a unit, such as “40 cfs”")
    try:
        quantity = Quantity(float(match[1]), parse_unit(match[2]))
    except UnitError as error:
        raise UnitError(text, error.expected) from None
    if quantity.value < 0:
        raise UnitError(text, "a level of 0 or more")
    return quantity
