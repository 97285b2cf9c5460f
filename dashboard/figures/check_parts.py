"""Marks and axes that the pictures of the checks share."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, axis, blank
from dashboard.figures.marks import ANIMALS, EXPECTED, tint

ROW = 30  # height of a row with its name at the left [px]


def dots(x: object, y: object, *, name: str, error: object = None, hover: str = "%{y:.3g}") -> go.Scatter:
    bars = None if error is None else {"type": "data", "array": error, "color": ANIMALS, "thickness": 1.5, "width": 4}
    return go.Scatter(
        x=x, y=y, mode="markers", name=name, error_y=bars, hovertemplate=f"{hover}<extra></extra>",
        marker={"symbol": "diamond", "size": 9, "color": ANIMALS},
    )  # fmt: skip


def line(x: object, y: object, *, name: str, dash: str = "solid", width: float = 2.5) -> go.Scatter:
    line = {"color": EXPECTED, "width": width, "dash": dash}
    return go.Scatter(x=x, y=y, mode="lines", name=name, hoverinfo="skip", line=line)


def bars(y: list[str], x: object, *, name: str, colour: str = ANIMALS, width: float = 0.6) -> go.Bar:
    return go.Bar(
        y=y, x=x, orientation="h", name=name, width=width, hovertemplate=f"%{{x:.3g}} {name}<extra></extra>",
        marker={"color": tint(colour, 0.35), "line": {"color": colour, "width": 1.5}},
    )  # fmt: skip


def lying(rows: int, left: int, title: str) -> go.Figure:
    """A figure of rows with names at their left."""
    figure = blank(64 + ROW * max(rows, 3), left=left, top=12, bottom=52)
    figure.update_layout(xaxis=titled(title, rangemode="tozero"), yaxis=axis(autorange="reversed", showgrid=False))
    return figure


def titled(title: str, **more: object) -> dict[str, object]:
    return axis(title=small(title), **more)


def small(text: str) -> dict[str, object]:
    return {"text": text, "font": {"size": SMALL_TEXT_SIZE}}


def above(figure: go.Figure, text: str) -> go.Figure:
    """The name of the vertical axis, level above it."""
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=text, showarrow=False,
        font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    return figure


def zero(figure: go.Figure) -> None:
    figure.add_hline(y=0, line={"color": FRAME, "width": 1.5, "dash": "dot"})


def left_for(names: list[str]) -> int:
    return min(12 + 7 * max(len(n) for n in names), 190)


def short(name: str, most: int = 26) -> str:
    return name if len(name) <= most else f"{name[: most - 1]}…"
