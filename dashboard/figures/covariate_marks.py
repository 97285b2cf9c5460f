"""A column of the visits, chosen by the user, over time and against flow."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import SMALL_TEXT_SIZE, Drawing, axis, blank, days_text, log_axis, time_axis
from dashboard.figures.marks import ANIMALS
from dashboard.wording import figures as words
from hydro.units import SYMBOLS, from_m3s

_HEIGHT = 260


def covariate_over_time(
    rows: pd.DataFrame, name: str, *, outlet: str, title: str, first: pd.Timestamp, last: pd.Timestamp
) -> Drawing:
    """The column at one outlet over the days shown (columns outlet, date and `name`)."""
    here = rows[(rows["outlet"] == outlet) & (rows["date"] >= first) & (rows["date"] <= last)]
    figure = _marks(days_text(here["date"]), here, name, "%{x|%a %-d %B %Y}<br>%{y:.4g}")
    figure.update_layout(xaxis=time_axis(first, last), yaxis=axis(nticks=5))
    alt = words.covariate_over_time(name, title, len(here))
    return _drawing(f"{_safe(name)}-over-time-{outlet}", f"{name} over time at {title}", figure, alt, here, name)


def covariate_over_flow(rows: pd.DataFrame, name: str, *, outlet: str, title: str, window: int, unit: str) -> Drawing:
    """The column at one outlet against the discharge that the regression uses."""
    here = rows[rows["outlet"] == outlet]
    x = from_m3s(np.exp(here["log_discharge"].to_numpy(np.float64)), unit)
    figure = _marks(x, here, name, f"%{{y:.4g}} at %{{x:.3g}} {SYMBOLS[unit]}")
    label = {"text": words.mean_discharge(window, SYMBOLS[unit]), "font": {"size": SMALL_TEXT_SIZE}}
    low, high = (float(x.min()), float(x.max())) if len(x) else (1.0, 10.0)
    figure.update_layout(xaxis=log_axis(low, high, title=label), yaxis=axis(nticks=5))
    related = float(here["log_discharge"].corr(here[name])) if len(here) > 2 and here[name].nunique() > 1 else None
    alt = words.covariate_over_flow(name, title, len(here), related)
    return _drawing(f"{_safe(name)}-over-flow-{outlet}", f"{name} against flow at {title}", figure, alt, here, name)


def _marks(x: np.ndarray, here: pd.DataFrame, name: str, hover: str) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=52)
    figure.add_trace(
        go.Scatter(
            x=x, y=here[name], mode="markers", name=name, hovertemplate=f"{hover}<extra></extra>",
            marker={"symbol": "circle-open", "size": 8, "color": ANIMALS, "line": {"width": 1.5}},
        )
    )  # fmt: skip
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=name, showarrow=False,
        font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    return figure


def _drawing(id: str, title: str, figure: go.Figure, alt: str, here: pd.DataFrame, name: str) -> Drawing:
    data = here[["row", "date", "outlet", "log_discharge", name]]
    return Drawing(name=id, title=title, figure=figure, alt=alt, data=data)


def _safe(name: str) -> str:
    """The column's name as part of a file name."""
    return "".join(c if c.isalnum() else "-" for c in name).strip("-") or "column"
