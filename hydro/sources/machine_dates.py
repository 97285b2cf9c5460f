"""Dates as machines write them, whole columns at full speed: ISO 8601, converted stamps, spreadsheet day numbers.

A column of texts that is not all of one such kind gives None; nothing is reported cell by cell.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.date_column import EARLIEST_YEAR, LATEST_YEAR, DateColumn
from hydro.sources.date_fields import zone_minutes

#: Day numbers that a spreadsheet would show as dates between 1954 and 2064.
SERIAL_RANGE = (20_000.0, 60_000.0)
ISO_EXAMPLE = "2024-03-31"


def iso_dates(array: pa.Array) -> DateColumn | None:
    """The common case at full speed: every cell ISO 8601, all with an offset or all without."""
    n = len(array)
    if n == 0:
        return None
    zoned = not _is_plain(array)
    try:
        kind = pa.timestamp("us", tz="UTC") if zoned else pa.timestamp("us")
        pc.cast(array.slice(0, 50), kind)  # a cast that fails goes through the whole column first, slowly
        stamps = pc.cast(array, kind)
    except pa.ArrowInvalid:
        return None
    ticks = np.asarray(stamps.cast(pa.int64()))
    offsets = _offsets_of(array) if zoned else None
    if offsets is not None and offsets.any():
        ticks = ticks + (offsets * 60_000_000).astype(np.int64)
    values = ticks.view("datetime64[us]")
    lowest, highest = values.min(), values.max()
    if lowest < np.datetime64(f"{EARLIEST_YEAR}-01-01") or highest >= np.datetime64(f"{LATEST_YEAR + 1}-01-01"):
        return None
    return DateColumn(
        values=values,
        offset_minutes=offsets,
        has_clock=len(array[0].as_py()) > len(ISO_EXAMPLE)
        or bool(pc.max(pc.binary_length(array)).as_py() > len(ISO_EXAMPLE)),
        day_ended=np.zeros(n, bool),
        layout="year-month-day",
    )


def from_timestamps(array: pa.TimestampArray) -> DateColumn:
    """Stamps that the table reader has converted already: ISO 8601, all in UTC or all without offset."""
    values = np.asarray(array.cast(pa.int64())).view("datetime64[us]").copy()
    utc = array.type.tz is not None
    return DateColumn(
        values=values,
        offset_minutes=np.zeros(len(values)) if utc else None,
        has_clock=utc
        or bool((values[:1000].view(np.int64) % 86_400_000_000).any())
        or bool((values.view(np.int64) % 86_400_000_000).any()),
        day_ended=np.zeros(len(values), bool),
        layout="year-month-day",
    )


def plain_timestamps(array: pa.Array) -> bool:
    """Whether an array holds converted stamps that need no second look: none missing, all in believable years."""
    if not isinstance(array, pa.TimestampArray) or array.null_count or len(array) == 0:
        return False
    bounds = pc.min_max(array.cast(pa.int64())).as_py()
    lowest, highest = (
        np.datetime64(bounds[k], "us").astype("datetime64[Y]").astype(int) + 1970 for k in ("min", "max")
    )
    return lowest >= EARLIEST_YEAR and highest <= LATEST_YEAR


def _is_plain(array: pa.Array) -> bool:
    """Whether the first cell carries no UTC offset (the cast then insists that no other does)."""
    first = array[0].as_py()
    return not (first.endswith(("Z", "z")) or (len(first) > 16 and (first[-6] in "+-" or first[-5] in "+-")))


def _offsets_of(array: pa.Array) -> np.ndarray:
    if pc.all(pc.ends_with(array, "Z")).as_py():
        return np.zeros(len(array))
    tails = pc.dictionary_encode(pc.utf8_slice_codeunits(array, -6))
    known = np.array([zone_minutes(t) for t in tails.dictionary.to_pylist()])
    return known[np.asarray(tails.indices)]


def serial_numbers(array: pa.Array) -> DateColumn | None:
    """Spreadsheet day numbers: days since 1899-12-30, true for every day from 1 March 1900."""
    blank = np.asarray(pc.equal(array, ""))
    try:
        days = np.asarray(pc.cast(pc.if_else(pa.array(blank), None, array), pa.float64()), dtype=float)
    except pa.ArrowInvalid:
        return None
    known = days[~blank]
    if known.size == 0 or known.min() < SERIAL_RANGE[0] or known.max() > SERIAL_RANGE[1]:
        return None
    seconds = np.round(np.where(blank, 0, days) * 86400)  # day fractions are stored as rounded binary numbers
    values = np.datetime64("1899-12-30", "us") + (seconds.astype(np.int64) * 1_000_000).astype("timedelta64[us]")
    values[blank] = np.datetime64("NaT")
    return DateColumn(
        values=values,
        offset_minutes=None,
        has_clock=bool((seconds % 86400 != 0).any()),
        day_ended=np.zeros(len(array), bool),
        layout="spreadsheet day numbers",
    )
