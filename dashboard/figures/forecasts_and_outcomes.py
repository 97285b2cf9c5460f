"""How often things came to pass that were given a stated chance."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import EXPECTED, WATER
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import count_of

_HEIGHT, _LEFT, _TOP, _BOTTOM = 400, 46, 48, 52
_TICKS = {"tickvals": [0, 0.2, 0.4, 0.6, 0.8, 1], "ticktext": ["0", "20", "40", "60", "80", "100"]}


def forecasts_and_outcomes(bins: pd.DataFrame, *, id: str, title: str, lead: int, level: float) -> Drawing:
    """Chance given against share that ran, with bars of what chance allows and the number of forecasts above.

    bins    forecast, observed, n, bar_low, bar_high: one row a group of forecasts `lead` days ahead
    level   share of groups of reliable forecasts that stay within their bars
    """
    figure = blank(_HEIGHT, left=_LEFT, top=_TOP, bottom=_BOTTOM)
    figure.add_shape(type="line", x0=0, y0=0, x1=1, y1=1, line={"color": FRAME, "width": 1.4, "dash": "dot"})
    for row in bins.itertuples(index=False):
        figure.add_trace(
            go.Scatter(
                x=[row.forecast, row.forecast], y=[row.bar_low, row.bar_high], mode="lines+markers", name="bar",
                line={"color": EXPECTED, "width": 3}, hoverinfo="skip",
                marker={"symbol": "line-ew", "size": 12, "line": {"width": 3, "color": EXPECTED}},
            )
        )  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=bins["forecast"], y=bins["observed"], mode="markers", name="observed",
            marker={"symbol": "diamond", "size": 11, "color": WATER}, customdata=bins["n"].astype(int).to_list(),
            hovertemplate=f"{hover.CHANCE_AND_SHARE}<extra></extra>",
        )
    )  # fmt: skip
    low_line = False
    before = -1.0
    for row in bins.itertuples(index=False):
        # Numbers that would touch the one before stand a line lower.
        low_line = not low_line if row.forecast - before < 0.13 else False
        before = float(row.forecast)
        figure.add_annotation(
            x=row.forecast, yref="paper", y=1.0 if low_line else 1.045, yanchor="bottom", showarrow=False,
            text=f"{int(row.n)}", font={"size": SMALL_TEXT_SIZE},
        )  # fmt: skip
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1.1, yanchor="bottom", showarrow=False,
        text=words.SHARE_THAT_RAN, font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    name = {"text": words.CHANCE_GIVEN, "font": {"size": SMALL_TEXT_SIZE}}
    figure.update_layout(
        xaxis=axis(range=[-0.04, 1.04], title=name, **_TICKS), yaxis=axis(range=[-0.04, 1.04], **_TICKS)
    )
    inside = int(bins["observed"].between(bins["bar_low"] - 1e-9, bins["bar_high"] + 1e-9).sum())
    return Drawing(
        name=f"came-true-{id}-{lead}",
        title=titled.forecasts_and_outcomes(lead, title),
        figure=figure,
        alt=words.came_true(title, lead, count_of(int(bins["n"].sum()), "forecast"), inside, len(bins), level),
        data=bins,
    )
