"""Planned visits and the days on which an outlet may stop or run again, as a calendar file (iCalendar, RFC 5545)."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

_PRODUCT = "-//resurgence//calendar//EN"
_LINE = 75  # octets
_BEGINNING = pd.Timestamp("2000-01-01")


@dataclass(frozen=True, kw_only=True)
class DayEvent:
    """Something on whole days: `first` to `last`, both inside; `id` stays the same from export to export.

    tentative   it is expected or depends on the water, not agreed on
    """

    id: str
    first: pd.Timestamp
    last: pd.Timestamp
    title: str
    text: str
    tentative: bool = False


def calendar_file(events: Sequence[DayEvent], as_of: pd.Timestamp, place: str) -> str:
    """The calendar; the same events and day give the same text.

    place   title of the workspace: events of another place never have the same name (RFC 5545, 3.8.4.7)
    """
    where = hashlib.sha256(place.encode()).hexdigest()[:12]
    # A calendar that knows an event takes the version with the higher number; days only grow.
    version = max((as_of - _BEGINNING).days, 0)
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "CALSCALE:GREGORIAN", f"NAME:{_escaped(place)}"]
    for e in events:
        lines += [
            "BEGIN:VEVENT",
            f"UID:{_escaped(e.id)}@{where}.resurgence",
            f"DTSTAMP:{as_of:%Y%m%d}T000000Z",
            f"SEQUENCE:{version}",
            f"DTSTART;VALUE=DATE:{e.first:%Y%m%d}",
            f"DTEND;VALUE=DATE:{e.last + pd.Timedelta(days=1):%Y%m%d}",  # the end is the first day after
            f"SUMMARY:{_escaped(e.title)}",
            f"DESCRIPTION:{_escaped(e.text)}",
            f"STATUS:{'TENTATIVE' if e.tentative else 'CONFIRMED'}",
            "TRANSP:TRANSPARENT",
            "END:VEVENT",
        ]
    lines.append("END:VCALENDAR")
    return "".join(f"{part}\r\n" for line in lines for part in _folded(line))


def _escaped(text: str) -> str:
    """Text as a value: its own signs escaped, other control signs (which the standard forbids) left out."""
    text = "".join(
        c for c in text.replace("\r\n", "\n").replace("\r", "\n") if c in "\n\t" or (c >= " " and c != "\x7f")
    )
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
