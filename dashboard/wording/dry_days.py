"""Dry days of a month or a year, in the few signs that a cell has room for and in the words behind them."""

from __future__ import annotations

from dashboard.wording.figures import UNKNOWN_SIGN
from dashboard.wording.numbers import count_of


def in_a_cell(dry: int, unknown: int) -> str:
    """Dry days of a month or year in the narrowest words, with a sign where some days are not known."""
    if unknown:
        return f"{dry}{UNKNOWN_SIGN}" if dry else UNKNOWN_SIGN
    return str(dry) if dry else "·"


def in_full(dry: int, unknown: int, record: int) -> str:
    """“2 dry days, 1 day not known, 30 days on record”."""
    not_known = count_of(unknown, "day not known", "days not known")
    return f"{count_of(dry, 'dry day')}, {not_known}, {count_of(record, 'day')} on record"
