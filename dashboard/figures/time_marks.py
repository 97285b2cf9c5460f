"""Marks of visits over time: what was expected of them, what they counted, and those that met a dry surface."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import days_text
from dashboard.figures.marks import ANIMALS, EXPECTED, FOUND_SYMBOL, NONE_FOUND_SYMBOL, STOP
from dashboard.wording import figures as words
from dashboard.wording import hover

_WHEN = "%{x|%a %-d %B %Y}"


def expected_marks(dates: pd.Series, expected: np.ndarray, *, name: str) -> go.Scatter:
    """A dash for what is expected of each visit."""
    return go.Scatter(
        x=days_text(dates),
        y=expected,
        mode="markers",
        cliponaxis=False,
        name=name,
        marker={"symbol": "line-ew", "size": 8, "line": {"width": 2, "color": EXPECTED}},
        hovertemplate=f"{_WHEN}<br>{hover.EXPECTED}<extra></extra>",
    )


def count_marks(rows: pd.DataFrame, y: np.ndarray, *, say_outlet: bool = False) -> list[go.Scatter]:
    """Full diamonds for visits that found animals, open ones for those that found none (columns date, outlet)."""
    traces = []
    for found, symbol, word in ((True, FOUND_SYMBOL, words.FOUND), (False, NONE_FOUND_SYMBOL, words.NONE_FOUND)):
        which = (y > 0) == found
        traces.append(
            go.Scatter(
                x=days_text(rows.loc[which, "date"]),
                y=y[which],
                mode="markers",
                cliponaxis=False,
                name=word,
                marker={"symbol": symbol, "size": 7, "color": ANIMALS, "line": {"width": 1.1, "color": ANIMALS}},
                customdata=rows.loc[which, "outlet"] if say_outlet else None,
                hovertemplate=f"{_WHEN}{', %{customdata}' if say_outlet else ''}<br>%{{y:.3g}}, {word}<extra></extra>",
            )
        )
    return traces


def dry_marks(dry_visits: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp) -> list[go.Scatter]:
    """Crosses at 0 for visits to a dry surface from `first` to `last` (column date); no trace where there are none."""
    dry = dry_visits[(dry_visits["date"] >= first) & (dry_visits["date"] <= last)]
    if dry.empty:
        return []
    return [
        go.Scatter(
            x=days_text(dry["date"]),
            y=np.zeros(len(dry)),
            mode="markers",
            cliponaxis=False,
            name=words.SEEN_WORDS["dry"],
            marker={"symbol": "x-thin", "size": 8, "line": {"width": 2, "color": STOP}},
            hovertemplate=f"{_WHEN}<br>{words.SEEN_WORDS['dry']}<extra></extra>",
        )
    ]
