"""The step of a series, and clock times turned into instants."""

from __future__ import annotations

import re
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np
import pandas as pd

#: Below this share of steps equal to the most frequent one a series has no step.
REGULAR_SHARE = 0.8
IRREGULAR = "irregular"
_MINUTE = 60_000_000  # [µs]
_DAY = 1440 * _MINUTE
_FIXED = re.compile(r"^(?:UTC|GMT)?\s*([+-−])\s*(\d{1,2})(?::?(\d{2}))?$", re.IGNORECASE)


def find_step(stamps: np.ndarray) -> str:
    """The step of increasing, unrepeated instants (datetime64[us]) as an ISO 8601 duration, or “irregular”.

    The step is the most frequent difference; at least 80 % of the differences must equal it.
    """
    step = usual_step(stamps)
    return IRREGULAR if step is None else iso_duration(step)


def usual_step(stamps: np.ndarray) -> int | None:
    """The most frequent difference [µs] if most differences equal it, else None."""
    if len(stamps) < 2:
        return None
    steps = np.diff(stamps.view(np.int64))
    # A step that four in five rows share is the median too, so no count of all differences is needed.
    first = int(steps[0])
    middle = first if np.mean(steps == first) > 0.5 else int(np.partition(steps, len(steps) // 2)[len(steps) // 2])
    return middle if middle > 0 and np.mean(steps == middle) >= REGULAR_SHARE else None


def commonest_steps(stamps: np.ndarray) -> str:
    """The two most frequent differences of increasing stamps (datetime64[us]), in words with their counts."""
    steps, counts = np.unique(np.diff(stamps.view(np.int64)), return_counts=True)
    often = np.argsort(-counts, kind="stable")[:2]
    told = " and ".join(f"{iso_duration(int(steps[i]))} {counts[i]} times" for i in often)
    return f"most often {told}" if len(steps) > 1 else told


def iso_duration(microseconds: int) -> str:
    """900 000 000 -> “PT15M”, 3 600 000 000 -> “PT1H”, 5 400 000 000 -> “PT1H30M”."""
    seconds, fraction = divmod(microseconds, 1_000_000)
    hours, seconds = divmod(seconds, 3600)
    minutes, seconds = divmod(seconds, 60)
    second = f"{seconds}.{fraction:06d}".rstrip("0").rstrip(".") if fraction else str(seconds)
    parts = [f"{hours}H" if hours else "", f"{minutes}M" if minutes else "", f"{second}S" if second != "0" else ""]
    return "PT" + "".join(parts)


def is_once_a_day(wall: np.ndarray, has_clock: bool) -> bool:
    """Whether increasing, unrepeated wall-clock stamps are daily: dates only, or always the same time of day."""
    if not has_clock:
        return True
    if len(wall) < 2:
        return False
    ticks = wall.view(np.int64)
    # The head settles it for nearly every instantaneous series.
    return all(bool((part % _DAY == ticks[0] % _DAY).all()) for part in (ticks[:1000], ticks))


def parse_zone(text: str) -> ZoneInfo | int:
    """An IANA name, or a fixed offset in minutes east of UTC (“UTC-06:00”, “GMT+1”, “Z”). Raises ValueError."""
    bare = text.strip()
    if bare.upper() in ("UTC", "GMT", "Z"):
        return 0
    if match := _FIXED.match(bare):
        minutes = int(match[2]) * 60 + int(match[3] or 0)
        if minutes > 14 * 60 or int(match[3] or 0) > 59:
            raise ValueError(f"no clock is {bare} away from UTC")
        return minutes if match[1] == "+" else -minutes
    try:
        return ZoneInfo(bare)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise ValueError("an IANA time zone such as America/Chicago, or a fixed offset such as UTC-06:00") from error


def offset_name(minutes: int) -> str:
    """-360 -> “UTC-06:00”."""
    sign = "-" if minutes < 0 else "+"
    return f"UTC{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}" if minutes else "UTC"


@dataclass(frozen=True, eq=False, kw_only=True)
class Instants:
    """Wall-clock stamps as UTC instants (NaT where the clock time does not exist), and what was done."""

    values: np.ndarray
    nonexistent: np.ndarray
    clock: str
    notes: tuple[str, ...] = ()


def to_instants(wall: np.ndarray, zone: ZoneInfo | int, zone_text: str) -> Instants:
    """Local wall-clock stamps (datetime64[us], in file order, forwards or backwards) -> UTC instants.

    In the hour that repeats when clocks go back, stamps are read in their order: where the clock runs backwards or a
    stamp repeats, the second pass begins. With one pass only there is no way to tell which; it is read as the first
    (summer time), and noted.
    """
    if isinstance(zone, int):
        shift = np.timedelta64(zone * _MINUTE, "us")
        nothing = np.zeros(len(wall), bool)
        return Instants(
            values=wall - shift, nonexistent=nothing, clock=f"fixed offset {offset_name(zone)}, {zone_text}"
        )
    values, odd = _on_plain_days(wall, zone)
    clock = f"local time of {zone.key}, {zone_text}"
    nothing = np.zeros(len(wall), bool)
    if odd.size:
        some = pd.DatetimeIndex(wall[odd])
        probe = some.tz_localize(zone, ambiguous="NaT", nonexistent="NaT").tz_convert("UTC").tz_localize(None)
        values[odd] = probe.to_numpy().astype("datetime64[us]")
        odd = odd[np.asarray(probe.isna())]
    if odd.size == 0:
        return Instants(values=values, nonexistent=nothing, clock=clock)
    some = pd.DatetimeIndex(wall[odd])
    summer = some.tz_localize(zone, ambiguous=np.ones(len(odd), bool), nonexistent="NaT").tz_convert("UTC")
    winter = some.tz_localize(zone, ambiguous=np.zeros(len(odd), bool), nonexistent="NaT").tz_convert("UTC")
    missing = np.asarray(summer.isna())
    nothing[odd[missing]] = True
    repeated = odd[~missing]
    first_pass = summer.tz_localize(None).to_numpy().astype("datetime64[us]")[~missing]
    second_pass = winter.tz_localize(None).to_numpy().astype("datetime64[us]")[~missing]
    second, single_days = _second_pass(wall, repeated)
    values[repeated] = np.where(second, second_pass, first_pass)
    notes = []
    if repeated.size:
        clock += "; the hour that repeats in autumn was told apart by the order of the rows"
    if single_days:
        shown = ", ".join(single_days[:5]) + (" …" if len(single_days) > 5 else "")
        notes.append(
            f"The hour that repeats when clocks go back appears only once on {shown}: it was read as the first pass "
            "(summer time), the other pass is missing."
        )
    return Instants(values=values, nonexistent=nothing, clock=clock, notes=tuple(notes))


def _on_plain_days(wall: np.ndarray, zone: ZoneInfo) -> tuple[np.ndarray, np.ndarray]:
    """(UTC instants of stamps on days with one UTC offset, positions of the known stamps on all other days).

    One look-up a day instead of one a row: a zone changes its offset on two days a year.
    """
    values = np.full(len(wall), np.datetime64("NaT", "us"))
    known = ~np.isnat(wall)
    rows = slice(None) if known.all() else np.flatnonzero(known)
    ticks = wall[rows].view(np.int64)
    if ticks.size == 0:
        return values, np.empty(0, np.int64)
    day = ticks // _DAY
    first = int(day.min())
    midnights = (np.arange(first, int(day.max()) + 2) * _DAY).view("datetime64[us]")
    utc = pd.DatetimeIndex(midnights).tz_localize(zone, ambiguous="NaT", nonexistent="NaT").tz_convert("UTC")
    offsets = midnights.view(np.int64) - utc.tz_localize(None).to_numpy().astype("datetime64[us]").view(np.int64)
    plain = np.asarray(~utc.isna())
    plain = plain[:-1] & plain[1:] & (offsets[:-1] == offsets[1:])
    day -= first
    values[rows] = (ticks - offsets[day]).view("datetime64[us]")
    odd = np.flatnonzero(~plain[day])
    if isinstance(rows, np.ndarray):
        odd = rows[odd]
    values[odd] = np.datetime64("NaT")
    return values, odd


def _second_pass(wall: np.ndarray, repeated: np.ndarray) -> tuple[np.ndarray, list[str]]:
    """Which of the stamps in repeated hours belong to the second pass, and the days on which there is only one."""
    second = np.zeros(len(repeated), bool)
    single: list[str] = []
    if repeated.size == 0:
        return second, single
    ticks = wall.view(np.int64)
    backwards = len(wall) > 1 and ticks[~np.isnat(wall)][0] > ticks[~np.isnat(wall)][-1]
    days = wall[repeated].astype("datetime64[D]")
    for day in np.unique(days):
        here = np.flatnonzero(days == day)
        if backwards:
            here = here[::-1]
        clock = ticks[repeated[here]]
        falls = np.flatnonzero(np.diff(clock) < 0)
        if falls.size:
            second[here[falls[0] + 1 :]] = True
        elif (np.diff(clock) == 0).any():
            # Sorted by clock: the two passes lie interleaved, each stamp's second mention is the second pass.
            second[here[1:][np.diff(clock) == 0]] = True
        else:
            single.append(str(day))
    return second, single


def to_civil_days(wall: np.ndarray, day_ended: np.ndarray) -> np.ndarray:
    """Daily stamps -> civil days; a stamp written 24:00 belongs to the day that ended."""
    days = wall.astype("datetime64[D]")
    return np.where(day_ended, days - np.timedelta64(1, "D"), days).astype("datetime64[us]")
