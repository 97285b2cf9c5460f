"""Cells of a printed table: three significant figures, days in words, discharge in the unit chosen."""

from __future__ import annotations

import numpy as np
import pandas as pd

from dashboard.report.section import ShortTable
from dashboard.wording.numbers import figures, short_date, whole
from dashboard.wording.pages import p_value
from hydro.units import SYMBOLS, from_m3s


def head(table: ShortTable, unit: str) -> list[str]:
    """Names of the columns that the frame has."""
    return [
        f"{label}, {SYMBOLS[unit]}" if kind == "discharge" else label
        for name, (label, kind) in table.columns.items()
        if name in table.frame
    ]


def body(table: ShortTable, unit: str) -> list[list[str]]:
    """Rows of texts; "" where nothing is known."""
    kinds = [(name, kind) for name, (_, kind) in table.columns.items() if name in table.frame]
    columns = [[_cell(v, kind, unit) for v in table.frame[name].tolist()] for name, kind in kinds]
    return [list(row) for row in zip(*columns, strict=True)]


def wraps(table: ShortTable) -> list[bool]:
    """Which columns hold words, that may run over several lines."""
    return [kind == "text" for name, (_, kind) in table.columns.items() if name in table.frame]


def _short(text: str) -> str:
    """The head of a digest: enough to tell files apart on paper."""
    return f"{text[:12]}…" if len(text) == 64 and set(text) <= set("0123456789abcdef") else text


def _cell(value: object, kind: str, unit: str) -> str:
    if value is None or value is pd.NaT or (isinstance(value, float) and np.isnan(value)):
        return ""
    if kind == "day":
        return short_date(pd.Timestamp(str(value)))
    if kind == "p":
        return p_value(float(str(value)))
    if kind == "yes":
        return "yes" if value else ""
    if kind == "text":
        return _short(str(value))
    number = float(str(value))
    if not np.isfinite(number):
        return ""
    if kind == "discharge":
        number = float(from_m3s(number, unit))
    if kind in ("count", "year"):
        return f"{round(number)}" if kind == "year" else whole(round(number))
    return figures(number) if number >= 0 else f"−{figures(-number)}"
