"""The years in which a date that somebody asks for can lie."""

from __future__ import annotations

#: Clocks and calendars of zones are not known beyond, and no gauge is older: a year outside is a slip of the keys.
FIRST_YEAR, LAST_YEAR = 1800, 2200
