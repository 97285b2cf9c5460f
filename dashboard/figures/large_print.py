"""A drawing for the wall of a meeting room: the same, with letters, lines and marks for the last row of chairs."""

from __future__ import annotations

from dataclasses import replace

import plotly.graph_objects as go

from dashboard.figures.drawing import Drawing

SCALE = 1.6


def large_print(drawing: Drawing) -> Drawing:
    """The drawing with everything but its data scaled by `SCALE`."""
    figure = go.Figure(drawing.figure)
    layout = figure.layout
    figure.update_layout(
        height=int(layout.height * SCALE),
        margin={side: int((layout.margin[side] or 0) * SCALE) for side in ("l", "r", "t", "b")},
        font={"size": layout.font.size * SCALE},
    )
    for name in ("xaxis", "yaxis"):
        line = getattr(layout, name)
        if line.tickfont.size:
            line.tickfont.size *= SCALE
        if line.title.font.size:
            line.title.font.size *= SCALE
    for note in layout.annotations:
        if note.font.size:
            note.font.size *= SCALE
    for shape in layout.shapes:
        if shape.line.width:
            shape.line.width *= SCALE
    for trace in figure.data:
        _widen(trace)
    return replace(drawing, name=f"{drawing.name}-large", figure=figure)


def _widen(trace: go.Scatter | go.Bar) -> None:
    if trace.type == "scatter" and trace.line.width:
        trace.line.width *= SCALE
    if trace.marker.line.width:
        trace.marker.line.width *= SCALE
    size = getattr(trace.marker, "size", None)
    if isinstance(size, (int, float)):
        trace.marker.size = size * SCALE
