"""What planned visits would tell: one curve over their number, or over the days between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import CLEAR, FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import ANIMALS, DASHES, EXPECTED, FOUND_SYMBOL, NONE_FOUND_SYMBOL, tint
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled

_HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 340, 46, 14, 34, 54
#: Curves with at most so many points show each.
_POINTS_SHOWN = 60
#: Axes no longer than this get a label at every whole number: fewer steps than that would repeat rounded ones.
_EACH_LABELLED = 9


@dataclass(frozen=True, kw_only=True)
class CurveColumns:
    """Which columns of a curve are drawn: `x`, the `y` with its `low` and `high`, an `upper` bound if any."""

    x: str
    y: str
    low: str
    high: str
    upper: str | None = None


#: By purpose; absence with a prior is “present”.
COLUMNS = {
    "absence": CurveColumns(x="visits", y="probability", low="low", high="high"),
    "present": CurveColumns(x="visits", y="present", low="present_low", high="present_high"),
    "return": CurveColumns(x="every_days", y="probability", low="low", high="high"),
    "trend": CurveColumns(x="per_cycle", y="probability", low="low", high="high", upper="upper_bound"),
}


def plan_curve(
    curve: pd.DataFrame,
    *,
    kind: str,
    id: str,
    title: str,
    target: float,
    needed: int | None,
    fewer: pd.DataFrame,
    alt: str,
) -> Drawing:
    """The curve of one plan.

    kind     one of COLUMNS
    target   the chance asked for, drawn across
    needed   x of the plan, None where none is enough
    fewer    rows of the curve to mark
    """
    c = COLUMNS[kind]
    purpose = "absence" if kind == "present" else kind
    frame = curve.sort_values(c.x)
    figure = _frame(frame[c.x].to_numpy(np.float64), kind, purpose, target)
    edge = {"color": EXPECTED, "width": 1.2}
    visits = frame["visits"].to_list()
    if kind == "trend":
        up, down = frame[c.high] - frame[c.y], frame[c.y] - frame[c.low]
        bars = {"type": "data", "array": up, "arrayminus": down, "color": EXPECTED, "thickness": 1.5, "width": 3}
        figure.add_trace(
            go.Scatter(
                x=frame[c.x], y=frame[c.upper], mode="lines", name="formula", hoverinfo="skip",
                line={"color": FRAME, "width": 1.5, "dash": DASHES[0]},
            )
        )  # fmt: skip
    else:
        bars = None
        for name, fill in ((c.low, None), (c.high, "tonexty")):
            figure.add_trace(
                go.Scatter(
                    x=frame[c.x], y=frame[name], mode="lines", line=edge, name=name, hoverinfo="skip", fill=fill,
                    fillcolor=tint(EXPECTED, 0.22),
                )
            )  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=frame[c.x], y=frame[c.y], mode="lines+markers" if len(frame) <= _POINTS_SHOWN else "lines", name="curve",
            line={"color": ANIMALS, "width": 2.4}, marker={"symbol": "circle", "size": 5}, error_y=bars,
            customdata=visits, hovertemplate="%{customdata} visits: %{y:.0%}<extra></extra>",
        )
    )  # fmt: skip
    # The plan holds for the low end of detection: its mark stands on that edge. A simulated power has no such end.
    edge_column = {"present": c.high, "trend": c.y}.get(kind, c.low)
    _marks(figure, fewer, c.x, edge_column, NONE_FOUND_SYMBOL, "fewer")
    at = frame[frame[c.x] == needed] if needed is not None else frame.iloc[:0]
    _marks(figure, at, c.x, edge_column, FOUND_SYMBOL, "plan")
    for row in at.to_dict("records"):
        text = words.plan_point(purpose, int(row[c.x]), int(row["visits"]))
        _read_off(figure, float(row[c.x]), float(row[edge_column]), text, up=kind == "present")
    return Drawing(name=f"plan-{kind}-{id}", title=titled.plan(title), figure=figure, alt=alt, data=curve)


def assumed_curves(
    curves: Sequence[tuple[float, pd.DataFrame]], *, kind: str, id: str, title: str, target: float, alt: str
) -> Drawing:
    """One line for each assumed detection, where nothing is known of it; (detection, curve) each."""
    c = COLUMNS[kind]
    purpose = "absence" if kind == "present" else kind
    most = max(float(frame[c.x].max()) for _, frame in curves)
    figure = _frame(np.array([1.0, most]), kind, purpose, target)
    for (detection, frame), dash in zip(curves, ("solid", *DASHES), strict=False):
        rows = frame.sort_values(c.x)
        name = words.plan_assumed(detection)
        figure.add_trace(
            go.Scatter(
                x=rows[c.x], y=rows[c.y], mode="lines", name=name, line={"color": ANIMALS, "width": 2.2, "dash": dash},
                customdata=rows["visits"].to_list(),
                hovertemplate=f"{name}<br>{hover.VISITS}<extra></extra>",
            )
        )  # fmt: skip
    # Lines that meet at their ends cannot carry their names: they stand in the corner that the lines leave free.
    rises = kind == "absence"
    figure.update_layout(
        showlegend=True,
        legend={
            "x": 1, "xanchor": "right", "y": 0.04 if rises else 1, "yanchor": "bottom" if rises else "top",
            "bgcolor": CLEAR, "font": {"size": SMALL_TEXT_SIZE},
        },
    )  # fmt: skip
    data = pd.concat([frame.assign(detection=detection) for detection, frame in curves], ignore_index=True)
    return Drawing(name=f"plan-{kind}-assumed-{id}", title=titled.plan(title), figure=figure, alt=alt, data=data)


def _frame(x: np.ndarray, kind: str, purpose: str, target: float) -> go.Figure:
    """Axes with their names, and the chance asked for."""
    figure = blank(_HEIGHT, left=_LEFT, right=_RIGHT, top=_TOP, bottom=_BOTTOM)
    name = {"text": words.PLAN_AXES[kind], "font": {"size": SMALL_TEXT_SIZE}}
    least = 0.0 if purpose == "absence" else min(1.0, float(x.min()))
    wide = float(x.max()) - least
    figure.update_layout(
        xaxis=axis(title=name, range=[least - 0.02 * wide, float(x.max()) + 0.02 * wide], fixedrange=True,
                   **({"dtick": 1} if wide <= _EACH_LABELLED else {"tickformat": "d", "nticks": 9})),
        yaxis=axis(range=[-0.03, 1.03], tickvals=[0, 0.25, 0.5, 0.75, 1], ticktext=["0", "25", "50", "75", "100"],
                   fixedrange=True),
    )  # fmt: skip
    line = {"color": FRAME, "width": 1.5, "dash": "dot"}
    figure.add_shape(type="line", xref="paper", x0=0, x1=1, y0=target, y1=target, line=line)
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=words.PLAN_CURVES[kind],
        showarrow=False, font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    return figure


def _read_off(figure: go.Figure, x: float, y: float, text: str, *, up: bool) -> None:
    """A thin line from the plan's mark to the edge that the curve leaves free, the plan in words at its end."""
    first, last = figure.layout.xaxis.range
    to, left = (1.03 if up else -0.03), x > (first + last) / 2
    line = {"color": FRAME, "width": 1}
    figure.add_shape(type="line", x0=x, x1=x, y0=y, y1=to, line=line, layer="below")
    figure.add_annotation(
        x=x, y=to, text=text, showarrow=False, xanchor="right" if left else "left", xshift=-5 if left else 5,
        yanchor="top" if up else "bottom", yshift=-2 if up else 2, font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
    )  # fmt: skip


def _marks(figure: go.Figure, rows: pd.DataFrame, x: str, y: str, symbol: str, name: str) -> None:
    if rows.empty:
        return
    figure.add_trace(
        go.Scatter(
            x=rows[x], y=rows[y], mode="markers", name=name, cliponaxis=False, customdata=rows["visits"].to_list(),
            marker={"symbol": symbol, "size": 12, "color": ANIMALS, "line": {"width": 2, "color": ANIMALS}},
            hovertemplate="%{customdata} visits: %{y:.0%}<extra></extra>",
        )
    )  # fmt: skip
