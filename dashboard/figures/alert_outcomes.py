"""What came after each warning: a row an alert over the days since it began."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import OTHERS, STOP, WATER
from dashboard.wording import alert_history as words

_ROW, _TOP, _BOTTOM = 46, 26, 52
#: Rows drawn; older ones are in the table.
MOST = 30


def alert_outcomes(rows: pd.DataFrame, *, needed_days: int | None) -> Drawing:
    """One row a warning, newest on top.

    rows          label, outcome (one of the outcomes' words), lead_days (NaN = it did not stop or is not known),
                  raised_days (from the beginning to the raising), end_days (days watched, at most those that count)
    needed_days   least lead asked for; None where the rules ask for different ones
    """
    shown = rows.iloc[:MOST]
    n = len(shown)
    place = np.arange(n)[::-1]
    lead = shown["lead_days"].to_numpy(np.float64)
    reach = np.where(np.isnan(lead), shown["end_days"].to_numpy(np.float64), lead)
    raised = shown["raised_days"].to_numpy(np.float64)
    furthest = max(10.0, float(np.nanmax(reach)), float(raised.max()))
    figure = blank(_ROW * n + _TOP + _BOTTOM, left=112, right=16, top=_TOP, bottom=_BOTTOM)
    gap = np.full(n, np.nan)
    figure.add_trace(
        go.Scatter(
            x=np.column_stack((np.zeros(n), reach, gap)).ravel(),
            y=np.column_stack((place, place, gap)).ravel(),
            mode="lines",
            line={"color": WATER, "width": 3},
            hoverinfo="skip",
        )
    )
    marks = (
        ("diamond", WATER, np.zeros(n), np.ones(n, bool), words.BEGAN),
        ("line-ns", OTHERS, raised, np.ones(n, bool), words.RAISED),
        ("x", STOP, lead, ~np.isnan(lead), words.STOPPED),
    )
    for symbol, colour, x, which, name in marks:
        figure.add_trace(
            go.Scatter(
                x=x[which],
                y=place[which],
                mode="markers",
                name=name,
                cliponaxis=False,
                marker={"symbol": symbol, "size": 11, "color": colour, "line": {"width": 2, "color": colour}},
                hovertemplate=f"{name}: day %{{x}}<extra></extra>",
            )
        )
    texts = shown["outcome"].map(words.OUTCOME_SHORT)
    for y, text in zip(place, texts, strict=True):
        figure.add_annotation(
            x=0, y=y, text=text, showarrow=False, xanchor="left", font={"size": SMALL_TEXT_SIZE}, xshift=-4, yshift=16
        )
    if needed_days is not None:
        figure.add_vline(x=needed_days, line={"color": FRAME, "width": 1.5, "dash": "dot"})
        figure.add_annotation(
            x=needed_days, y=1, yref="paper", text=words.needed_label(needed_days), showarrow=False, xanchor="left",
            yanchor="bottom", font={"size": SMALL_TEXT_SIZE},
        )  # fmt: skip
    figure.update_layout(
        xaxis=axis(
            range=[-0.02 * furthest, 1.06 * furthest],
            title={"text": words.SINCE_BEGAN, "font": {"size": SMALL_TEXT_SIZE}},
        ),
        yaxis=axis(tickvals=place.tolist(), ticktext=shown["label"].tolist(), range=[-0.5, n - 0.3], showgrid=False),
    )
    return Drawing(name="alert-outcomes", title=words.PICTURE_TITLE, figure=figure, alt=words.picture(n), data=rows)
