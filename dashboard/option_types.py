"""What the words after an option mean: dates, shares, numbers. Each refuses with an example."""

from __future__ import annotations

import argparse
import datetime

from dashboard.years import FIRST_YEAR, LAST_YEAR


def day(text: str) -> datetime.date:
    try:
        found = datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is not a date such as 2024-03-05") from None
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise argparse.ArgumentTypeError(f"“{text}” is not a date from {FIRST_YEAR} to {LAST_YEAR}")
    return found


def level(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a share between 0 and 1 such as 0.95")
    return value


def period(text: str) -> tuple[datetime.date, datetime.date]:
    parts = text.split("/")
    if len(parts) != 2:
        raise argparse.ArgumentTypeError(f"“{text}” is not two dates such as 2024-03-05/2024-06-30")
    first, last = day(parts[0]), day(parts[1])
    if last < first:
        raise argparse.ArgumentTypeError(f"“{text}” ends before it begins")
    return first, last


def whole(text: str) -> int:
    try:
        value = int(text)
    except ValueError:
        value = 0
    if value < 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a whole number above 0")
    return value


def reach(text: str) -> int:
    days = whole(text)
    if days > 365:
        raise argparse.ArgumentTypeError(f"“{text}” is more than the 365 days that an outlook reaches")
    return days


def span(text: str) -> int:
    """A time span such as 15m, in seconds."""
    units = {"s": 1, "m": 60, "h": 3600, "d": 86400}
    number, unit = text[:-1], text[-1:]
    if not (number.isascii() and number.isdigit() and unit in units) or int(number) * units[unit] < 10:
        raise argparse.ArgumentTypeError(f"“{text}” is not a time span of 10 seconds or more such as 15m, 2h or 1d")
    return int(number) * units[unit]


def rate(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value <= 1:
        raise argparse.ArgumentTypeError(f"“{text}” is not a share above 0, up to 1, such as 0.9")
    return value


def times(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = 0.0
    if not 0 < value < float("inf"):
        raise argparse.ArgumentTypeError(f"“{text}” is not a number above 0 such as 5")
    return value
