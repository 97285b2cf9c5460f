"""A picture of many rows where they cannot all be read: its newest rows, each as high as reading needs."""

from __future__ import annotations

import base64
from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import Drawing, time_axis


def fewer_rows(drawing: Drawing, height: int) -> tuple[Drawing, int, int]:
    """The drawing at most `height` px high, how many of its rows it shows, and how many there are.

    Rows become lower down to `drawing.least_row`; then the lowest are left out, which are the oldest. A drawing without
    rows comes back as it is, with 0 rows.
    """
    if not drawing.least_row:
        return drawing, 0, 0
    figure = go.Figure(drawing.figure)
    margins = figure.layout.margin.t + figure.layout.margin.b
    places = [float(v) for v in figure.layout.yaxis.tickvals]
    n, bounds = len(places), figure.layout.yaxis.range
    beyond = bounds[1] - bounds[0] - n
    least = drawing.least_row
    shown = max(1, min(n, int((height - margins) / least - beyond)))
    tall = min(int(figure.layout.height), height)
    if shown == n:
        figure.update_layout(height=tall)
        return replace(drawing, figure=figure), n, n
    first = n - shown
    figure.update_layout(height=tall)
    figure.layout.yaxis.update(
        range=[first + bounds[0], bounds[1]],
        tickvals=places[first:],
        ticktext=list(figure.layout.yaxis.ticktext)[first:],
    )
    if figure.layout.xaxis.type == "date":
        figure.update_layout(xaxis=time_axis(*_days_of_rows(figure, first)))
    kept = [a for a in figure.layout.annotations if a.yref != "y" or float(a.y) >= first]
    figure.layout.annotations = kept
    return replace(drawing, figure=figure), shown, n


def _days_of_rows(figure: go.Figure, first: int) -> tuple[pd.Timestamp, pd.Timestamp]:
    """First and last day of the marks from a row on, with a little room beside them."""
    days = []
    for trace in figure.data:
        if trace.type == "scatter":
            rows = np.array([np.nan if v is None else float(v) for v in _values(trace.y)])
            days += [d for d, row in zip(_values(trace.x), rows, strict=True) if row >= first]
    span = pd.to_datetime(pd.Series([str(d) for d in days]))
    room = pd.Timedelta(days=max(10, round(0.02 * (span.max() - span.min()).days)))
    return span.min() - room, span.max() + room


def _values(held: Any) -> Iterable[Any]:
    """The values of a trace; a figure that came from another process holds numbers as text of their bytes."""
    if isinstance(held, dict):
        return np.frombuffer(base64.b64decode(held["bdata"]), dtype=held["dtype"])
    return held
