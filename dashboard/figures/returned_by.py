"""The returned-by curve: a level line where the share is known, a box where it is not."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import CLEAR, FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import ANIMALS, EXPECTED, tint
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import days_only

_CURVE, _TOP, _BOTTOM = 230, 8, 52
#: Labels of the half-way times stand right of them up to this share of the time axis.
_LABELS_RIGHT = 0.6


def returned_by(
    *,
    id: str,
    title: str,
    low: np.ndarray,
    high: np.ndarray,
    mass: np.ndarray,
    days: Sequence[float],
    band_low: np.ndarray,
    band_high: np.ndarray,
    median: tuple[float, float],
    corrected: tuple[float, float, float] | None = None,
    end: float,
    alt: str,
) -> Drawing:
    """The returned-by curve: level where it is known, a box over each interval in which it is not.

    low, high, mass      innermost intervals (low, high] [days] and their probability; high may be inf
    days, band_low, band_high   interval of the share at some days        median   (low, high] of the half-way time
    corrected            (value, low, high) of the half-way time that allows for missed animals; ends may be 0 and inf
    end                  where the time axis ends [days]
    """
    figure = blank(_CURVE + _TOP + _BOTTOM, left=104, top=_TOP, bottom=_BOTTOM)
    cumulative = np.concatenate(([0.0], np.cumsum(mass)))
    starts = np.maximum(low, 0.0)
    ends = np.where(np.isfinite(high), high, end)
    x: list[float | None] = []
    y: list[float | None] = []
    box_x: list[float | None] = []
    box_y: list[float | None] = []
    at = 0.0
    for i in range(len(mass)):
        x += [at, float(starts[i]), None]
        y += [float(cumulative[i])] * 2 + [None]
        corners = (starts[i], ends[i], ends[i], starts[i], starts[i])
        box_x += [float(v) for v in corners] + [None]
        levels = (cumulative[i], cumulative[i], cumulative[i + 1], cumulative[i + 1], cumulative[i])
        box_y += [float(v) for v in levels] + [None]
        at = float(ends[i])
    if len(mass) and at < end:
        x += [at, end]
        y += [float(cumulative[-1])] * 2
    figure.add_trace(
        go.Scatter(x=box_x, y=box_y, mode="lines", fill="toself", fillcolor=tint(EXPECTED, 0.35), hoverinfo="skip",
                   line={"color": EXPECTED, "width": 1.5}, name="not known within")
    )  # fmt: skip
    figure.add_trace(
        go.Scatter(x=x, y=y, mode="lines", line={"color": ANIMALS, "width": 2.6}, name="seen again by",
                   hovertemplate=f"{hover.SEEN_BY}<extra></extra>")
    )  # fmt: skip
    inside = np.asarray(days, float) <= end
    middle = 0.5 * (band_low + band_high)
    figure.add_trace(
        go.Scatter(
            x=np.asarray(days, float)[inside],
            y=middle[inside],
            mode="markers",
            name="interval",
            marker={"size": 1, "color": CLEAR},
            error_y={
                "type": "data",
                "symmetric": False,
                "array": (band_high - middle)[inside],
                "arrayminus": (middle - band_low)[inside],
                "color": FRAME,
                "thickness": 1.6,
                "width": 5,
            },
            customdata=np.stack((band_low, band_high), axis=1)[inside],
            hovertemplate=f"{hover.SEEN_BETWEEN}<extra></extra>",
        )
    )
    _half_way(figure, median[1], corrected, end)
    figure.update_layout(
        xaxis=axis(range=[-0.02 * end, end], title={"text": words.SINCE_RESTART, "font": {"size": SMALL_TEXT_SIZE}}),
        yaxis=axis(range=[0, 1.04], tickformat=".0%", tickvals=[0, 0.25, 0.5, 0.75, 1.0]),
    )
    data = pd.DataFrame({"low_days": low, "high_days": high, "mass": mass, "share_by_high": cumulative[1:]})
    return Drawing(name=f"returned-by-{id}", title=titled.returned_by(title), figure=figure, alt=alt, data=data)


def _half_way(figure: go.Figure, face_value: float, corrected: tuple[float, float, float] | None, end: float) -> None:
    """Both half-way times as labelled uprights.

    Right of its half-way time the curve lies above one half, left of it below: the labels stand where it cannot be,
    right below or, near the end of the axis, left above.
    """
    lines = [(face_value, False)] if np.isfinite(face_value) else []
    if corrected is not None:
        value, low, high = corrected
        lines.append((value, True))
        figure.add_shape(
            type="line",
            x0=max(low, 0.0),
            x1=min(high, end),
            y0=0.5,
            y1=0.5,
            line={"color": ANIMALS, "width": 3},
            opacity=0.6,
        )
    if not lines:
        return
    lines.sort()
    first, last = lines[0][0], lines[-1][0]
    right = last <= _LABELS_RIGHT * end
    for place, (at, is_corrected) in enumerate(lines):
        dash = "solid" if is_corrected else "dash"
        figure.add_shape(type="line", x0=at, x1=at, y0=0, y1=0.5, line={"color": ANIMALS, "width": 2, "dash": dash})
        row = len(lines) - 1 - place  # the earlier one on top
        figure.add_annotation(
            x=last if right else first,
            y=(0.01 if right else 0.55) + 0.23 * row,
            xanchor="left" if right else "right",
            yanchor="bottom",
            xshift=5 if right else -5,
            align="left" if right else "right",
            showarrow=False,
            text=words.half_back(days_only(at), corrected=is_corrected),
            font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
        )
