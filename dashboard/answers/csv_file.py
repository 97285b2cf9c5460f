"""A table as a CSV file with every digit, safe to open in a spreadsheet."""

from __future__ import annotations

import re

import pandas as pd

#: A spreadsheet takes a cell that begins with one of these for a formula.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?([eE][+-]?\d+)?")


def csv_bytes(frame: pd.DataFrame) -> bytes:
    """The frame without its index as CSV in UTF-8: dates in ISO 8601, numbers in full, blanks for what is missing.

    Text that a spreadsheet would run as a formula gets an apostrophe in front; numbers are left as they are.
    """
    out = frame.copy()
    out.columns = [tame(c) for c in out.columns]
    for name, values in out.items():
        if pd.api.types.is_datetime64_any_dtype(values.dtype):
            out[name] = values.dt.strftime("%Y-%m-%d" if _whole_days(values) else "%Y-%m-%dT%H:%M:%S%z")
        elif not (pd.api.types.is_numeric_dtype(values.dtype) or pd.api.types.is_bool_dtype(values.dtype)):
            out[name] = values.astype(object).map(tame)
    # RFC 4180 line ends; with a bare \n a cell that holds a \r would go unquoted and spill into a row of its own.
    return out.to_csv(index=False, lineterminator="\r\n").encode()


def tame(value: object) -> object:
    """Text that a spreadsheet would run, with an apostrophe in front; everything else as it is."""
    if not isinstance(value, str) or not value.startswith(FORMULA_STARTS) or _NUMBER.fullmatch(value):
        return value
    return f"'{value}"


def guarded(text: str) -> str:
    """Text for a file that is read again as well as opened in a spreadsheet: `unguarded` gives back what it was."""
    return f"'{text}" if text.lstrip("'").startswith(FORMULA_STARTS) else text


def unguarded(text: str) -> str:
    """What somebody typed, out of a cell that `guarded` wrote (or `tame`, before it)."""
    return text[1:] if text.startswith("'") and text.lstrip("'").startswith(FORMULA_STARTS) else text


def _whole_days(values: pd.Series) -> bool:
    known = values.dropna()
    return known.dt.tz is None and bool((known == known.dt.normalize()).all())
