"""How numbers, dates, chances and reasons are written for people."""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Callable
from typing import TYPE_CHECKING

from hydro.units import SYMBOLS, from_m3s

if TYPE_CHECKING:
    from datetime import date

_ISO_DAY = re.compile(r"\b\d{4}-\d\d-\d\d\b")
_SPAN = re.compile(r"\b(\d{4}-\d\d-\d\d)/(\d{4}-\d\d-\d\d)\b")
THIN = "\u202f"  # narrow no-break space between a number and its unit


def figures(value: float, digits: int = 3) -> str:
    """Three significant figures without an exponent; thousands separated by a thin space."""
    if value == 0:
        return "0"
    places = max(digits - 1 - math.floor(math.log10(abs(value))), 0)
    return f"{round(value, places):,.{min(places, 6)}f}".replace(",", THIN)


def discharge(value_m3s: float, unit: str) -> str:
    """A discharge in the display unit with its symbol."""
    return f"{figures(from_m3s(value_m3s, unit))}{THIN}{SYMBOLS[unit]}"


def volume(value_m3: float) -> str:
    """A volume in cubic metres."""
    return f"{figures(value_m3)}{THIN}m³"


def chance(probability: float) -> str:
    """A chance as “93 in 100”; never 0 or 100, because no forecast is that sure."""
    if probability < 0.005:
        return "less than 1 in 100"
    if probability > 0.995:
        return "more than 99 in 100"
    return f"{round(100 * probability)} in 100"


def long_date(day: date) -> str:
    """“Tue 4 March 2025”."""
    return f"{day:%a} {day.day} {day:%B %Y}"


def short_date(day: date) -> str:
    """“4 Mar 2025”."""
    return f"{day.day} {day:%b %Y}"


def days_in_words(text: str) -> str:
    """Days and spans of days as a command writes them, put as people write them: “1 May 2024 to 31 Oct 2024”."""
    spans = _SPAN.sub(r"\1 to \2", text)
    return _ISO_DAY.sub(lambda found: short_date(datetime.date.fromisoformat(found[0])), spans)


def days(n: float) -> str:
    """A number of days in words a person would use."""
    whole = round(n)
    if whole == 1:
        return "1 day"
    text = f"{whole:,} days".replace(",", THIN)
    return f"{text} ({whole / 7:.0f} weeks)" if 21 <= whole < 200 else text


def days_only(n: float) -> str:
    """A number of days without weeks, for ranges."""
    return count_of(round(n), "day")


def whole(n: int) -> str:
    """A whole number, thousands apart."""
    return f"{n:,}".replace(",", THIN)


def count_of(n: int, one: str, many: str | None = None) -> str:
    """“1 visit”, “3 visits”."""
    return f"{whole(n)} {one if n == 1 else many or one + 's'}"


def interval(low: float | None, high: float | None, say: Callable[[float], str] = figures) -> str:
    """“1.06–1.21”, with an open end said in words."""
    if low is None:
        return "no limits" if high is None else f"at most {say(high)}"
    return f"at least {say(low)}" if high is None else f"{say(low)}–{say(high)}"


def clause(sentence: str) -> str:
    """A sentence as the end of another one, behind a colon."""
    text = sentence.rstrip(".")
    return text if text[:2].isupper() else text[:1].lower() + text[1:]


def source_of(known_from: str) -> str:
    """Where a unit is known from, behind it."""
    told = known_from.removeprefix("asked for")
    return f"known from {known_from}" if told == known_from else f"as told{told}"
