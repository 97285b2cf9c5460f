"""Taking written dates apart into numbers, without deciding yet which number is the day."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

_MONTH_NAMES: tuple[tuple[str, ...], ...] = (
    ("january", "jan", "januar", "jän", "janvier", "janv", "enero", "ene"),
    ("february", "feb", "februar", "février", "févr", "febrero"),
    ("march", "mar", "märz", "mär", "mrz", "mars", "marzo"),
    ("april", "apr", "avril", "avr", "abril", "abr"),
    ("may", "mai", "mayo"),
    ("june", "jun", "juni", "juin", "junio"),
    ("july", "jul", "juli", "juillet", "juil", "julio"),
    ("august", "aug", "août", "agosto", "ago"),
    ("september", "sep", "sept", "septembre", "septiembre"),
    ("october", "oct", "oktober", "okt", "octobre", "octubre"),
    ("november", "nov", "novembre", "noviembre"),
    ("december", "dec", "dezember", "dez", "décembre", "déc", "diciembre", "dic"),
)
_MONTH_NUMBER = {name: number for number, names in enumerate(_MONTH_NAMES, start=1) for name in names}


def month_name_pattern() -> str:
    """A regular expression that matches the month names known (English, German, French, Spanish)."""
    names = sorted(_MONTH_NUMBER, key=len, reverse=True)
    return "(?:" + "|".join(names) + r")\.?"


_CLOCK = (
    r"(?:[T ]+(?P<hour>\d{1,2})(?::(?P<minute>\d{2})(?::(?P<second>\d{2})(?:[.,](?P<part>\d+))?)?)?"
    r" *(?P<half>[AaPp]\.?[Mm]\.?)?)? *(?P<zone>Z|z|UTC|GMT|[+-]\d{2}:?(?:\d{2})?)?$"
)
_NUMERIC = r"^(?P<a>\d{1,4})[-/.] ?(?P<b>\d{1,2})[-/.] ?(?P<c>\d{1,4})" + _CLOCK
_COMPACT = (
    r"^(?P<a>(?:1[789]|2[01])\d{2})(?P<b>\d{2})(?P<c>\d{2})"
    r"(?:[T ]?(?P<hour>\d{2}):?(?P<minute>\d{2})(?::?(?P<second>\d{2})(?P<part>)?)?(?P<half>)?)? *"
    r"(?P<zone>Z|z|UTC|GMT|[+-]\d{2}:?(?:\d{2})?)?$"
)
_DAY_NAME = rf"^(?P<a>\d{{1,2}})\.?[-/ ]{{1,2}}(?P<b>(?i:{month_name_pattern()}))[-/., ]{{1,2}}(?P<c>\d{{4}})" + _CLOCK
_NAME_DAY = rf"^(?P<b>(?i:{month_name_pattern()})) (?P<a>\d{{1,2}}),? (?P<c>\d{{4}})" + _CLOCK


@dataclass(eq=False, kw_only=True)
class Fields:
    """The parts of a column of dates. Numbers are -1 where a part is absent; `found` = the cell has a date's form."""

    YEAR_FIRST: ClassVar[int] = 1
    YEAR_LAST: ClassVar[int] = 2
    SHORT_YEAR: ClassVar[int] = 3

    found: np.ndarray
    first: np.ndarray
    second: np.ndarray
    third: np.ndarray
    order: np.ndarray
    month_named: np.ndarray
    hour: np.ndarray
    minute: np.ndarray
    second_of_minute: np.ndarray  # with its decimal part [s]
    half_day: np.ndarray  # 0 = 24-hour clock, 1 = am, 2 = pm
    offset_minutes: np.ndarray

    @classmethod
    def empty(cls, n: int) -> Fields:
        def blank() -> np.ndarray:
            return np.full(n, -1, np.int64)

        return cls(
            found=np.zeros(n, bool),
            first=blank(),
            second=blank(),
            third=blank(),
            order=np.zeros(n, np.int8),
            month_named=np.zeros(n, bool),
            hour=blank(),
            minute=blank(),
            second_of_minute=np.zeros(n),
            half_day=np.zeros(n, np.int8),
            offset_minutes=np.full(n, np.nan),
        )

    @property
    def has_clock(self) -> np.ndarray:
        return self.hour >= 0

    def seconds_of_day(self) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """(seconds after midnight, whether the clock exists, whether it was written 24:00)."""
        hour = np.maximum(self.hour, 0)
        minute, second = np.maximum(self.minute, 0), self.second_of_minute
        halved = self.half_day > 0
        ok = (minute < 60) & (second < 60) & np.where(halved, (hour >= 1) & (hour <= 12), hour <= 24)
        hour = np.where(halved, hour % 12 + np.where(self.half_day == 2, 12, 0), hour)
        ended = (hour == 24) & ~halved
        ok &= ~ended | ((minute == 0) & (second == 0))
        return hour * 3600 + minute * 60 + second, ok, ended & ok


def extract_fields(array: pa.Array) -> Fields:
    """Take trimmed date texts apart; cells that have no date's form are left `found` = False."""
    fields = Fields.empty(len(array))
    for pattern in (_NUMERIC, _COMPACT, _DAY_NAME, _NAME_DAY):
        todo = np.flatnonzero(~fields.found)
        if todo.size == 0:
            break
        part = array if todo.size == len(array) else array.take(pa.array(todo))
        matched = pc.extract_regex(part, pattern)
        hit = np.asarray(pc.is_valid(matched))
        if hit.any():
            _fill(fields, todo[hit], matched.filter(pa.array(hit)), named=pattern in (_DAY_NAME, _NAME_DAY))
    return fields


def _fill(fields: Fields, rows: np.ndarray, matched: pa.Array, *, named: bool) -> None:
    def part(name: str) -> pa.Array:
        return pc.struct_field(matched, name)

    a, c = part("a"), part("c")
    fields.found[rows] = True
    fields.first[rows] = _numbers(a)
    fields.third[rows] = _numbers(c)
    if named:
        names = pc.dictionary_encode(pc.utf8_rtrim(pc.utf8_lower(part("b")), "."))
        known = np.array([_MONTH_NUMBER[name] for name in names.dictionary.to_pylist()])
        fields.second[rows] = known[np.asarray(names.indices)]
        fields.month_named[rows] = True
        fields.order[rows] = Fields.YEAR_LAST
    else:
        fields.second[rows] = _numbers(part("b"))
        long_a, long_c = np.asarray(pc.binary_length(a)), np.asarray(pc.binary_length(c))
        order = np.where(long_a == 4, Fields.YEAR_FIRST, np.where(long_c == 4, Fields.YEAR_LAST, Fields.SHORT_YEAR))
        wrong = (long_a == 3) | (long_c == 3) | ((long_a == 4) & (long_c > 2))
        fields.order[rows] = order
        fields.found[rows[wrong]] = False
    fields.hour[rows] = _numbers(part("hour"))
    fields.minute[rows] = _numbers(part("minute"))
    decimals = pc.binary_join_element_wise("0", pc.if_else(pc.equal(part("part"), ""), "0", part("part")), ".")
    whole = np.maximum(_numbers(part("second")), 0)
    fields.second_of_minute[rows] = whole + np.asarray(pc.cast(decimals, pa.float64()))
    half = pc.dictionary_encode(pc.utf8_lower(part("half")))
    halves = np.array([{"": 0, "a": 1, "p": 2}[h[:1]] for h in half.dictionary.to_pylist()], np.int8)
    fields.half_day[rows] = halves[np.asarray(half.indices)]
    zone = pc.dictionary_encode(part("zone"))
    zones = np.array([zone_minutes(z) for z in zone.dictionary.to_pylist()])
    fields.offset_minutes[rows] = zones[np.asarray(zone.indices)]


def _numbers(texts: pa.Array) -> np.ndarray:
    return np.asarray(pc.cast(pc.if_else(pc.equal(texts, ""), "-1", texts), pa.int64()))


def zone_minutes(tail: str) -> float:
    """Minutes east of UTC of text that ends in “Z”, “UTC”, “+01:00”, “-0500” or “-05”; NaN where it does not."""
    tail = tail.strip()
    if tail.upper().endswith(("Z", "UTC", "GMT")):
        return 0.0
    at = max(tail.rfind("+"), tail.rfind("-"))
    digits = tail[at + 1 :].replace(":", "")
    if at < 0 or not digits.isdecimal() or len(digits) not in (2, 4):
        return float("nan")
    minutes = int(digits[:2]) * 60 + (int(digits[2:]) if len(digits) == 4 else 0)
    return float(-minutes if tail[at] == "-" else minutes)
