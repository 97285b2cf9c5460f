"""Stop and restart levels as lines across a picture of discharge over time, labelled clear of discharge."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboard.figures.drawing import SMALL_TEXT_SIZE
from dashboard.figures.marks import STOP
from dashboard.wording.figures import level
from hydro.units import from_m3s

#: Height of a label, and what stays free below the last one [px].
_LABEL, _BELOW = 16, 8
#: Share of the picture's width that a label takes where pictures are narrowest, on a phone.
_SHARE = 0.6
#: Where labels may stand: place along the width and the side of the label that is there, the usual first.
_ENDS = ((1.0, "right"), (0.0, "left"), (0.5, "center"))


def add_levels(
    figure: go.Figure, stop_m3s: float | None, restart_m3s: float | None, unit: str, source: str, yref: str
) -> None:
    """Both levels as lines across the picture, labelled with value and source.

    Labels stand below the lines, where discharge seldom is: at the end, the beginning or in the middle, wherever they
    cover least of it. The axes, which have to be there, are made to reach down far enough.
    """
    if stop_m3s is None:
        return
    levels = [("stop", stop_m3s)]
    if restart_m3s is not None and restart_m3s > stop_m3s:
        levels.append(("restart", restart_m3s))
    for kind, value in levels:
        y = from_m3s(value, unit)
        line = {"color": STOP, "width": 1.6, "dash": "solid" if kind == "stop" else "dash"}
        figure.add_shape(type="line", xref="paper", x0=0, x1=1, yref=yref, y0=y, y1=y, line=line)
    # Shapes take the value itself on a logarithmic axis, annotations its logarithm.
    below = float(np.log10(from_m3s(stop_m3s, unit))) if stop_m3s > 0 else 0.0
    reach = _reach(figure, below, len(levels), yref)
    at, side = min(_ENDS, key=lambda end: _covered(figure, end[0], (below - reach, below), yref))
    # In the order of the lines: the upper one first.
    for row, (kind, value) in enumerate(reversed(levels)):
        figure.add_annotation(
            xref="paper",
            x=at,
            xanchor=side,
            yref=yref,
            y=below,
            yanchor="top",
            yshift=-_LABEL * row,
            text=level(kind, value, unit, source),
            showarrow=False,
            # A thin halo of the page's shade keeps the label readable where a line runs behind it.
            font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
        )


def _reach(figure: go.Figure, below: float, rows: int, yref: str) -> float:
    """How far labels below a level reach down [logarithm]; the axis is lengthened where they would leave it."""
    axis = figure.layout[yref.replace("y", "yaxis", 1)]
    low, high = (float(v) for v in axis.range)
    bottom, top = axis.domain or (0.0, 1.0)
    margin = figure.layout.margin
    height = (figure.layout.height - margin.t - margin.b) * (top - bottom)
    share = (_LABEL * rows + _BELOW) / height
    if share < 1 and below - low < share * (high - low):
        low = (below - share * high) / (1 - share)
        axis.range = [low, high]
    return share * (high - low)


def _covered(figure: go.Figure, at: float, span: tuple[float, float], yref: str) -> int:
    """How many points of lines lie where labels would."""
    begin, end = (np.datetime64(str(d)[:10], "D").astype(np.float64) for d in figure.layout.xaxis.range)
    left = at * (1 - _SHARE)
    n = 0
    for trace in figure.data:
        if trace.type != "scatter" or trace.mode != "lines" or (trace.yaxis or "y") != yref:
            continue
        day = np.asarray(trace.x).astype("M8[D]").astype(np.float64)
        x = (day - begin) / max(end - begin, 1.0)
        with np.errstate(divide="ignore", invalid="ignore"):
            y = np.log10(np.asarray(trace.y, dtype=np.float64))
        n += int(((x >= left) & (x <= left + _SHARE) & (y >= span[0]) & (y <= span[1])).sum())
    return n
