"""Any column of the visits as numbers: what the user keeps beside our columns is text until it is asked for."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ecology.visits import KNOWN

_NUMBER = r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?"
_DECIMAL_COMMA = r"^([+-]?\d+),(\d+)$"
#: A comma before three digits may part thousands as well as decimals: it is asked about, not guessed.
_DOUBTFUL = r"[+-]?\d{1,3},\d{3}"
#: Our own columns that hold numbers and do not themselves belong to the regression.
OURS = ("adults", "juveniles", "gravid", "water_temp_c")
_NOT_OFFERED = {*KNOWN, "row", "kind"}


def column_as_numbers(column: pd.Series) -> tuple[pd.Series, np.ndarray]:
    """(numbers, NaN where blank; True where a cell is neither blank nor a number)."""
    if pd.api.types.is_numeric_dtype(column):
        return column.astype(np.float64), np.zeros(len(column), dtype=bool)
    text = column.fillna("").astype(str).str.strip()
    doubtful = text.str.fullmatch(_DOUBTFUL).to_numpy(bool)
    plain = text.str.replace(_DECIMAL_COMMA, r"\1.\2", regex=True)
    fits = plain.str.fullmatch(_NUMBER).to_numpy(bool) & ~doubtful
    values = pd.to_numeric(plain.where(fits), errors="coerce").astype(np.float64)
    return values, ~fits & (text != "").to_numpy()


def numeric_columns(visits: pd.DataFrame) -> list[str]:
    """The columns that could stand in a regression: all their cells numbers or blank, at least two different ones."""
    found = []
    for name in visits.columns:
        if name in _NOT_OFFERED and name not in OURS:
            continue
        values, wrong = column_as_numbers(visits[name])
        if not wrong.any() and values.nunique() > 1:
            found.append(str(name))
    return found
