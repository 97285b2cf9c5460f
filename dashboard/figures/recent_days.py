"""The last days of one outlet and, where there is one, the outlook ahead as a fan."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.discharge_lines import discharge_traces
from dashboard.figures.drawing import (
    FRAME,
    SMALL_TEXT_SIZE,
    Drawing,
    axis,
    blank,
    days_text,
    log_axis,
    time_axis,
)
from dashboard.figures.level_lines import add_levels
from dashboard.figures.marks import EXPECTED, tint
from dashboard.figures.strips import seen_traces
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import discharge
from hydro.units import SYMBOLS, from_m3s

BACK_DAYS = 30
AHEAD_DAYS = 30
_SEEN, _LINE, _SPACE, _TOP, _BOTTOM = 22, 150, 8, 6, 30


def recent_days(
    *,
    id: str,
    title: str,
    flow: pd.DataFrame,
    seen: pd.DataFrame,
    today: pd.Timestamp,
    unit: str,
    stop_m3s: float | None,
    restart_m3s: float | None,
    source: str,
    ahead: pd.DataFrame | None = None,
    trip: pd.Timestamp | None = None,
) -> Drawing:
    """Discharge over the last `BACK_DAYS` days, with what people saw above it.

    ahead  low, median, high [m³/s] by civil day after `today`, drawn as a fan; None where no outlook is known
    trip   a day ahead that gets its own line
    """
    first = today - pd.Timedelta(days=BACK_DAYS)
    last = today if ahead is None or ahead.empty else min(ahead.index[-1], today + pd.Timedelta(days=AHEAD_DAYS))
    back = flow.loc[first:today]
    inner = _SEEN + _SPACE + _LINE
    figure = blank(inner + _TOP + _BOTTOM, left=50, top=_TOP, bottom=_BOTTOM)
    fan = None if ahead is None else ahead.loc[today:last]
    if fan is not None and len(fan):
        for trace in _fan(fan, unit):
            figure.add_trace(trace)
    for trace in discharge_traces(back, unit):
        figure.add_trace(trace)
    people = seen[(seen["date"] >= first) & (seen["date"] <= today)]
    for trace in seen_traces(people, 0.5, size=11, spread=0.0):
        figure.add_trace(trace.update(yaxis="y2"))
    values = [back["discharge_m3s"].to_numpy(np.float64)]
    if fan is not None:
        values += [fan["low"].to_numpy(np.float64), fan["high"].to_numpy(np.float64)]
    reach = np.concatenate([*values, np.array([v for v in (stop_m3s, restart_m3s) if v], dtype=np.float64)])
    reach = reach[np.isfinite(reach) & (reach > 0)]
    low, high = (float(reach.min()), float(reach.max())) if reach.size else (0.1, 1.0)
    figure.update_layout(
        xaxis=time_axis(first, last, anchor="y"),
        yaxis=log_axis(from_m3s(low, unit), from_m3s(high, unit), domain=[0, _LINE / inner], anchor="x"),
        yaxis2=axis(
            tickvals=[0.5],
            ticktext=[words.SEEN],
            range=[0, 1],
            domain=[(_LINE + _SPACE) / inner, 1],
            showgrid=False,
            anchor="x",
        ),
    )
    add_levels(figure, stop_m3s, restart_m3s, unit, source, "y")
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=_LINE / inner, yanchor="top", text=SYMBOLS[unit],
        showarrow=False, font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    if trip is not None and trip <= last:
        figure.add_shape(type="line", x0=f"{trip:%Y-%m-%d}", x1=f"{trip:%Y-%m-%d}", yref="paper", y0=0, y1=1,
                         line={"color": FRAME, "width": 1.5, "dash": "dot"})  # fmt: skip
    known = back["discharge_m3s"].dropna()
    newest = discharge(float(known.iloc[-1]), unit) if len(known) else None
    return Drawing(
        name=f"last-days-{id}",
        title=titled.last_days(BACK_DAYS, title),
        figure=figure,
        alt=words.recent(title, first, last, newest),
        data=_drawn(back, fan),
    )


def _drawn(back: pd.DataFrame, fan: pd.DataFrame | None) -> pd.DataFrame:
    """The days back as they are, then the days ahead with the fan in columns of its own [m³/s]."""
    if fan is None or fan.empty:
        return back.reset_index()
    ahead = fan.rename(columns={c: f"expected_{c}_m3s" for c in fan.columns}).rename_axis(back.index.name)
    return pd.concat([back.reset_index(), ahead.reset_index()], ignore_index=True)


def _fan(fan: pd.DataFrame, unit: str) -> list[go.Scatter]:
    """A band with edge lines and its middle."""
    days = days_text(pd.DatetimeIndex(fan.index))
    low, middle, high = (from_m3s(fan[c].to_numpy(np.float64), unit) for c in ("low", "median", "high"))
    edge = {"color": EXPECTED, "width": 1.2}
    return [
        go.Scatter(x=days, y=low, mode="lines", line=edge, hoverinfo="skip", name="low"),
        go.Scatter(
            x=days, y=high, mode="lines", line=edge, fill="tonexty", fillcolor=tint(EXPECTED, 0.25), name="high",
            hoverinfo="skip",
        ),
        go.Scatter(
            x=days, y=middle, mode="lines", line={"color": EXPECTED, "width": 2.2}, name="median",
            hovertemplate=f"%{{x|%a %-d %B %Y}}<br>{hover.ABOUT} {SYMBOLS[unit]}<extra></extra>",
        ),
    ]  # fmt: skip
