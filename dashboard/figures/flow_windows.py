"""How well each window of flow predicts visits left out by flow cycle: the whole curve, not only its top."""

from __future__ import annotations

import plotly.graph_objects as go

from dashboard.figures.drawing import SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import ANIMALS, EXPECTED, OTHERS
from dashboard.wording import count_windows as words
from ecology.count_cross_validation import CrossValidation


def window_curve(cv: CrossValidation, used: int) -> Drawing:
    """Score of each window behind the best one, with twice its standard error; the window used in a ring."""
    t = cv.windows
    names = [words.short_span(int(w)) for w in t["window"]]
    figure = blank(300, left=58, top=28, bottom=52)
    figure.add_trace(
        go.Scatter(
            x=names, y=-t["behind"], mode="lines+markers", name=words.SCORE,
            error_y={"type": "data", "array": 2 * t["behind_se"], "color": ANIMALS, "thickness": 1.5, "width": 5},
            line={"color": OTHERS, "width": 1.5, "dash": "dot"},
            marker={"symbol": "diamond", "size": 11, "color": ANIMALS},
            hovertemplate="%{x}: %{y:.4f}<extra></extra>",
        )
    )  # fmt: skip
    at = [i for i, w in enumerate(t["window"]) if w == used]
    figure.add_trace(
        go.Scatter(
            x=[names[i] for i in at], y=[-float(t["behind"].iloc[i]) for i in at], mode="markers", name=words.USED,
            hoverinfo="skip",
            marker={"symbol": "circle-open", "size": 24, "color": EXPECTED, "line": {"width": 2.5, "color": EXPECTED}},
        )
    )  # fmt: skip
    title = {"text": words.WINDOW_AXIS, "font": {"size": SMALL_TEXT_SIZE}}
    figure.update_layout(xaxis=axis(type="category", title=title), yaxis=axis(nticks=5))
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=words.SCORE, showarrow=False,
        font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    return Drawing(
        name="windows-compared", title=words.CURVE_TITLE, figure=figure, alt=words.curve_alt(cv, used), data=t
    )
