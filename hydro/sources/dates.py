"""Dates and clock times as people and loggers write them, understood a whole column at a time.

The order of day and month is proven by the column (a field above 12 somewhere in it) or asked for. It is never
guessed, and never decided row by row. Knows nothing of gauges: the survey tables use it too.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.date_column import EARLIEST_YEAR, LATEST_YEAR, DateColumn
from hydro.sources.date_fields import Fields, extract_fields, month_name_pattern
from hydro.sources.machine_dates import ISO_EXAMPLE, from_timestamps, iso_dates, serial_numbers

_NO_TIME = "(no time)"
#: From this many rows on each day and each time of day is read once: a record of quarter hours repeats both.
LONG = 10_000
_DAY_AND_CLOCK = r"(?s)^(?P<day>[^T ]*)(?P<clock>.*)$"
#: 20000 to 59999, with or without a part of a day: what a cell of dates holds when it is saved without its format.
_DAY_NUMBER = r"^[2-5]\d{4}(?:\.\d+)?$"
#: “CST” is six hours behind UTC in one country and eight ahead in another.
_LETTERED = r"^\d.*\d *[A-Z]{3,4}$"
_NO_LETTERS = (
    "a stamp whose zone is an offset such as -06:00; letters mean other clocks elsewhere (take them out and say "
    "time_zone = “…”)"
)
_ANY_DAY = "2000-01-01"
_MONTHS = month_name_pattern()
#: One cell that is a date, with or without a clock time. Used to find headers and columns, not to read values.
DATE_LIKE = (
    r"^(?:\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.](?:\d{4}|\d{2})|(?:1[789]|2[01])\d{6}|"
    rf"\d{{1,2}}[-/. ]{{1,2}}(?i:{_MONTHS})[-/., ]{{1,2}}\d{{4}}|(?i:{_MONTHS}) \d{{1,2}},? \d{{4}})"
    r"(?:[T ]+\d{1,2}(?::\d{2}){1,2}(?:[.,]\d+)? *(?:[AaPp]\.?[Mm]\.?)?(?: *[A-Z]{3,4})?)?"
    r" *(?:Z|UTC|GMT|[+-]\d{2}:?(?:\d{2})?)?$"
)
#: One cell that is a clock time.
TIME_LIKE = r"^\d{1,2}:\d{2}(?::\d{2}(?:[.,]\d+)?)? *(?:[AaPp]\.?[Mm]\.?)?$"


def as_texts(cells: Sequence[str] | pd.Series | pa.Array | pa.ChunkedArray) -> pa.Array:
    """Cells as one trimmed Arrow string array, missing ones as ""."""
    if isinstance(cells, pa.ChunkedArray):
        array = cells.combine_chunks()
    elif isinstance(cells, pa.Array):
        array = cells
    else:
        array = pa.array(["" if c is None or c != c else str(c) for c in cells], type=pa.string())
    if array.null_count:
        array = pc.fill_null(array, "")
    return array


def parse_date_column(
    texts: Sequence[str] | pd.Series | pa.Array | pa.ChunkedArray,
    day_first: bool | None = None,
    *,
    times: Sequence[str] | pd.Series | pa.Array | pa.ChunkedArray | None = None,
    serials: bool = False,
) -> DateColumn:
    """Read a whole column of dates, with clock times in the same cells or in a second column `times`.

    `day_first` settles 03/04/2020 only where the column does not; a column that proves the other order is
    questioned. `serials` allows spreadsheet day numbers (1900 system). Blank cells become NaT and are not
    reported: whether a date may be missing is for the caller to say.
    """
    if isinstance(texts, pa.TimestampArray) and times is None:
        return from_timestamps(texts)
    array = as_texts(texts)
    if times is not None:
        array = _join_times(array, as_texts(times))
    quick = iso_dates(array)
    if quick is not None:
        return quick
    if len(array) >= LONG and (by_parts := _by_parts(array, day_first)) is not None:
        return by_parts
    array = pc.utf8_trim_whitespace(array)
    quick = iso_dates(array)
    if quick is not None:
        return quick
    if serials and (by_number := serial_numbers(array)) is not None:
        return by_number
    return _by_layout(array, day_first)


def _join_times(dates: pa.Array, times: pa.Array) -> pa.Array:
    """“2020-01-01” and “00:15” -> one text. A date with a blank time is left unreadable on purpose."""
    # Spreadsheets write a date-only cell as a stamp at midnight; 24-hour clocks are sometimes written 0015.
    dates = pc.replace_substring_regex(pc.utf8_trim_whitespace(dates), r"[ T]0?0:00(:00)?$", "")
    times = pc.replace_substring_regex(pc.utf8_trim_whitespace(times), r"^(\d{1,2})(\d{2})$", r"\1:\2")
    times = pc.if_else(pc.equal(times, ""), _NO_TIME, times)
    joined = pc.binary_join_element_wise(dates, times, " ")
    return pc.if_else(pc.equal(dates, ""), "", joined)


def _by_parts(array: pa.Array, day_first: bool | None) -> DateColumn | None:
    """A long column by its distinct days and distinct times of day, which takes a fraction of the time and the room.

    None where some cell needs its own look: `_by_layout` then tells which, and why.
    """
    days, clocks = _Coded(), _Coded()
    for at in range(0, len(array), LONG):
        parts = pc.extract_regex(pc.utf8_trim_whitespace(array.slice(at, LONG)), _DAY_AND_CLOCK)
        days.add(pc.struct_field(parts, "day"))
        clocks.add(pc.struct_field(parts, "clock"))
        if max(len(days.texts), len(clocks.texts)) > max(LONG, len(array) // 4):
            return None
    dates = _by_layout(pa.array(list(days.texts), type=pa.string()), day_first)
    times = _by_layout(pa.array([f"{_ANY_DAY}{clock}" for clock in clocks.texts], type=pa.string()), None)
    if dates.bad or times.bad or dates.has_clock or dates.offset_minutes is not None:
        return None
    day, clock = np.concatenate(days.codes), np.concatenate(clocks.codes)
    offsets = times.offset_minutes
    return DateColumn(
        values=dates.values[day] + (times.values - np.datetime64(_ANY_DAY, "us"))[clock],
        offset_minutes=None if offsets is None else offsets[clock],
        has_clock=times.has_clock,
        day_ended=times.day_ended[clock],
        layout=dates.layout,
        question=dates.question,
    )


class _Coded:
    """Texts that come piece by piece, as numbers: each distinct text is kept once, in order of appearance."""

    def __init__(self) -> None:
        self.texts: dict[str, int] = {}
        self.codes: list[np.ndarray] = []

    def add(self, piece: pa.Array) -> None:
        coded = pc.dictionary_encode(piece)
        known = [self.texts.setdefault(text, len(self.texts)) for text in coded.dictionary.to_pylist()]
        self.codes.append(np.array(known, np.int32)[np.asarray(coded.indices)])


def _by_layout(array: pa.Array, day_first: bool | None) -> DateColumn:
    blank = np.asarray(pc.equal(array, ""))
    fields = extract_fields(array)
    expected: dict[int, str] = {}

    def refuse(mask: np.ndarray, wanted: str) -> None:
        for position in np.flatnonzero(mask & ~blank):
            expected.setdefault(int(position), wanted)

    refuse(np.asarray(pc.ends_with(array, _NO_TIME)), "a clock time beside the date")
    if not fields.found.all():
        by_number = np.asarray(pc.match_substring_regex(array, _DAY_NUMBER))
        refuse(~fields.found & by_number, f"a date such as {ISO_EXAMPLE}; this is a spreadsheet's number of a day")
        lettered = np.asarray(pc.match_substring_regex(array, _LETTERED))
        refuse(~fields.found & lettered, _NO_LETTERS)
    refuse(~fields.found, f"a date such as {ISO_EXAMPLE}")
    year_last = fields.found & (fields.order == Fields.YEAR_LAST)
    year_first = fields.found & (fields.order == Fields.YEAR_FIRST)
    short = fields.found & (fields.order == Fields.SHORT_YEAR)
    refuse(short, "a year with four digits (two digits leave the century and the order of the parts open)")
    named = fields.found & fields.month_named

    # One layout a column: half-converted spreadsheets mix a true order with a swapped one.
    open_rows = year_last & ~named
    if open_rows.any() and year_first.any():
        if year_first.sum() >= open_rows.sum():
            refuse(open_rows, "one date layout in the whole column; most of its rows have the year first")
            open_rows = np.zeros_like(open_rows)
        else:
            refuse(year_first, "one date layout in the whole column; most of its rows have the year last")
    layout, question, first = _settle_order(array, fields, open_rows, day_first)
    month = np.where(named | year_first, fields.second, np.where(first, fields.second, fields.first))
    day = np.where(
        year_first, fields.third, np.where(named, fields.first, np.where(first, fields.first, fields.second))
    )
    year = np.where(year_first, fields.first, fields.third)

    in_range = (year >= EARLIEST_YEAR) & (year <= LATEST_YEAR)
    refuse(fields.found & ~short & ~in_range, f"a year between {EARLIEST_YEAR} and {LATEST_YEAR}")
    month_ok = (month >= 1) & (month <= 12)
    months = (np.where(in_range, year, 1970) - 1970) * 12 + np.where(month_ok, month, 1) - 1
    month_start = months.astype("datetime64[M]")
    days = month_start.astype("datetime64[D]") + (day - 1).astype("timedelta64[D]")
    exists = month_ok & (day >= 1) & (days.astype("datetime64[M]") == month_start)
    refuse(fields.found & ~short & in_range & ~exists, "a day that exists in the calendar")

    seconds, clock_ok, day_ended = fields.seconds_of_day()
    refuse(fields.found & ~clock_ok, "a clock time between 00:00 and 24:00")
    values = days.astype("datetime64[us]") + (np.where(clock_ok, seconds, 0) * 1e6).round().astype("timedelta64[us]")
    readable = fields.found & ~blank
    readable[list(expected)] = False
    if question is not None:
        readable[:] = False
    values[~readable] = np.datetime64("NaT")

    offsets = fields.offset_minutes
    texts = array.take(pa.array(sorted(expected), type=pa.int64())).to_pylist()
    bad = tuple((p, t, expected[p]) for p, t in zip(sorted(expected), texts, strict=True))
    return DateColumn(
        values=values,
        offset_minutes=None if np.isnan(offsets).all() else offsets,
        has_clock=bool(fields.has_clock.any()),
        day_ended=day_ended & readable,
        layout=layout,
        bad=bad,
        question=question,
    )


def _settle_order(
    array: pa.Array, fields: Fields, open_rows: np.ndarray, day_first: bool | None
) -> tuple[str, str | None, bool]:
    """(layout in words, question or None, whether the day stands first) for rows whose year stands last."""
    if not open_rows.any():
        return ("day, month name, year" if fields.month_named.any() else "year-month-day"), None, True
    day_leads = np.flatnonzero(open_rows & (fields.first > 12) & (fields.second <= 12))
    month_leads = np.flatnonzero(open_rows & (fields.second > 12) & (fields.first <= 12))
    example = array[int(np.flatnonzero(open_rows)[0])].as_py()
    if day_leads.size and month_leads.size:
        one, two = array[int(day_leads[0])].as_py(), array[int(month_leads[0])].as_py()
        return "", f"one order of day and month; “{one}” can only be day first and “{two}” only month first", True
    if day_leads.size or month_leads.size:
        first = bool(day_leads.size)
        proof = array[int((day_leads if first else month_leads)[0])].as_py()
        if day_first is not None and day_first is not first:
            said = "true" if day_first else "false"
            return "", f"an order of day and month that fits “{proof}” (day_first = {said} does not)", first
        order = "day/month/year" if first else "month/day/year"
        return f"{order}, proven by “{proof}”", None, first
    if day_first is not None:
        return f"{'day/month/year' if day_first else 'month/day/year'}, as asked for", None, day_first
    if (fields.first == fields.second)[open_rows].all():
        return "day and month are the same number in every row", None, True
    return "", f"whether the day or the month stands first in dates like “{example}” (day_first = true or false)", True
