"""Planned visits and the days on which an outlet may stop, as a calendar file (iCalendar, RFC 5545)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

_PRODUCT = "-//resurgence//calendar//EN"
_LINE = 75  # octets


@dataclass(frozen=True, kw_only=True)
class DayEvent:
    """Something on whole days: `first` to `last`, both inside; `id` stays the same from export to export."""

    id: str
    first: pd.Timestamp
    last: pd.Timestamp
    title: str
    text: str


def calendar_file(events: Sequence[DayEvent], as_of: pd.Timestamp) -> str:
    """The calendar; the same events and day give the same text."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "CALSCALE:GREGORIAN"]
    for e in events:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{e.id}@resurgence",
            f"DTSTAMP:{as_of:%Y%m%d}T000000Z",
            f"DTSTART;VALUE=DATE:{e.first:%Y%m%d}",
            f"DTEND;VALUE=DATE:{e.last + pd.Timedelta(days=1):%Y%m%d}",  # the end is the first day after
            f"SUMMARY:{_escaped(e.title)}",
            f"DESCRIPTION:{_escaped(e.text)}",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line))


def _escaped(text: str) -> str:
    return text.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")


def _folded(line: str) -> list[str]:
    """A line cut into pieces of at most 75 octets, no character torn; further pieces begin with a blank."""
    pieces, current = [], ""
    for sign in line:
        if len((current + sign).encode()) > _LINE:
            pieces.append(current)
            current = " "
        current += sign
    return [*pieces, current]
