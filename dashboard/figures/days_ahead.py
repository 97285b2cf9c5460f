"""The days ahead: chances and discharge, one picture below the other on one time axis."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank, days_text, log_axis, time_axis
from dashboard.figures.level_lines import add_levels
from dashboard.figures.marks import EXPECTED, STOP, WATER, tint
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import short_date
from hydro.no_recharge import NoRechargeStop, time_to_level
from hydro.outlook_result import Outlook
from hydro.skill import LEADS
from hydro.units import SYMBOLS, from_m3s

_HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 280, 50, 12, 26, 30
_WHEN = "%{x|%a %-d %B %Y}"


def chance_ahead(ahead: Outlook, *, id: str, title: str, trip: pd.Timestamp | None, alt: str) -> Drawing:
    """Chance of running day by day, and of having stopped, or run again, at least once by then.

    Markers stand at the days ahead for which the record of such forecasts is known. Raises ValueError without a
    forecast.
    """
    _needs_days(ahead)
    figure = blank(_HEIGHT, left=_LEFT, right=_RIGHT, top=_TOP, bottom=_BOTTOM)
    days = ahead.days
    passages, name = (
        (ahead.stops_by, words.STOPPED_BY) if ahead.stops_by is not None else (ahead.restarts_by, words.RUNNING_BY)
    )
    ends = [(words.RUNS_THAT_DAY, days["probability_running"])]
    if passages is not None:
        ends.append((name, passages["probability"]))
        figure.add_trace(
            go.Scatter(
                x=days_text(passages["date"]), y=passages["probability"], mode="lines", name=name,
                line={"color": STOP, "width": 2, "dash": "dash"},
                hovertemplate=f"{_WHEN}<br>{name}: %{{y:.2f}}<extra></extra>",
            )
        )  # fmt: skip
    at_leads = days[days["lead"].isin(LEADS)]
    figure.add_trace(
        go.Scatter(
            x=days_text(days["date"]), y=days["probability_running"], mode="lines", name=words.RUNS_THAT_DAY,
            line={"color": WATER, "width": 2.4}, hovertemplate=f"{_WHEN}<br>{hover.RUNS}<extra></extra>",
        )
    )  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=days_text(at_leads["date"]), y=at_leads["probability_running"], mode="markers", name="leads",
            marker={"symbol": "circle", "size": 7, "color": WATER}, customdata=at_leads["lead"].to_list(),
            hovertemplate=f"{_WHEN}, {hover.DAYS_AHEAD}<br>{hover.RUNS}<extra></extra>",
        )
    )  # fmt: skip
    figure.update_layout(
        xaxis=time_axis(days["date"].iloc[0], _last_known(days["date"], days["probability_running"])),
        yaxis=axis(range=[-0.03, 1.03], tickvals=[0, 0.25, 0.5, 0.75, 1], ticktext=["0", "25", "50", "75", "100"]),
    )
    _corner(figure, words.IN_HUNDRED)
    _name_ends(figure, ends)
    _trip(figure, trip, days)
    data = days[["date", "lead", "probability_running"]]
    if passages is not None:
        data = data.merge(passages[["lead", "probability"]].rename(columns={"probability": "passed_by"}), on="lead")
    return Drawing(name=f"chance-{id}", title=titled.chance_ahead(title), figure=figure, alt=alt, data=data)


def _name_ends(figure: go.Figure, ends: list[tuple[str, pd.Series]]) -> None:
    """Direct labels of the lines inside the right edge, on the side where the other line is not."""
    last = [float(values.dropna().iloc[-1]) if values.notna().any() else 0.5 for _, values in ends]
    for i, (name, values) in enumerate(ends):
        # The label stands clear of its own line over the last third, where lines bend.
        tail = values.dropna().to_numpy(np.float64)[-len(values) // 3 :]
        above = last[i] >= last[1 - i] if len(ends) == 2 else last[i] < 0.5
        if above and (tail.max() if tail.size else 0.5) > 0.9:
            above = False
        if not above and (tail.min() if tail.size else 0.5) < 0.1:
            above = True
        y = (tail.max() if above else tail.min()) if tail.size else 0.5
        figure.add_annotation(
            xref="paper", x=1, xanchor="right", y=float(y) + (0.02 if above else -0.02),
            yanchor="bottom" if above else "top", text=name, showarrow=False,
            font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
        )  # fmt: skip


def discharge_ahead(
    ahead: Outlook,
    no_recharge: NoRechargeStop | None,
    *,
    id: str,
    title: str,
    reading_m3s: float,
    stop_m3s: float,
    restart_m3s: float | None,
    stop_range: tuple[float, float] | None,
    source: str,
    unit: str,
    trip: pd.Timestamp | None,
) -> Drawing:
    """The expected discharge as a fan over the stop level, with the path that no recharge would take.

    reading_m3s  discharge of the last reading [m³/s], where the path without recharge begins
    stop_range   interval of the stop level [m³/s], None where it is taken as exact
    """
    _needs_days(ahead)
    days = ahead.days
    figure = blank(_HEIGHT, left=_LEFT, right=_RIGHT, top=_TOP, bottom=_BOTTOM)
    when = days_text(days["date"])
    low, middle, high = (
        from_m3s(days[f"discharge_{c}_m3s"].to_numpy(np.float64), unit) for c in ("low", "median", "high")
    )
    values = np.concatenate([low, high, np.array([from_m3s(v, unit) for v in (stop_m3s, *(stop_range or ())) if v])])
    values = values[np.isfinite(values) & (values > 0)]
    # A band that reaches down to 0 leaves a logarithmic picture at its lower edge.
    low, middle, high = (np.maximum(v, float(values.min()) / 2) for v in (low, middle, high))
    edge = {"color": EXPECTED, "width": 1.2}
    said = f"{_WHEN}<br>{hover.ABOUT} {SYMBOLS[unit]}<br>%{{customdata}}<extra></extra>"
    spans = [f"{a:.3g} to {b:.3g}" for a, b in zip(low, high, strict=True)]
    figure.add_trace(go.Scatter(x=when, y=low, mode="lines", line=edge, hoverinfo="skip", name="low"))
    figure.add_trace(
        go.Scatter(
            x=when, y=high, mode="lines", line=edge, fill="tonexty", fillcolor=tint(EXPECTED, 0.25), hoverinfo="skip",
            name="high",
        )
    )  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=when, y=middle, mode="lines", line={"color": EXPECTED, "width": 2.4}, name="median", customdata=spans,
            hovertemplate=said,
        )
    )  # fmt: skip
    if stop_range is not None:
        figure.add_shape(
            type="rect", xref="paper", x0=0, x1=1, y0=from_m3s(stop_range[0], unit), y1=from_m3s(stop_range[1], unit),
            fillcolor=tint(STOP, 0.18), line={"width": 0}, layer="below",
        )  # fmt: skip
    if no_recharge is not None:
        _no_recharge(figure, no_recharge, ahead, reading_m3s, stop_m3s, unit)
    figure.update_layout(
        xaxis=time_axis(days["date"].iloc[0], _last_known(days["date"], days["discharge_median_m3s"])),
        yaxis=log_axis(float(values.min()), float(values.max())),
    )
    add_levels(figure, stop_m3s, restart_m3s, unit, source, "y")
    _corner(figure, SYMBOLS[unit])
    _trip(figure, trip, days)
    columns = ["date", "lead", "discharge_low_m3s", "discharge_median_m3s", "discharge_high_m3s", "members"]
    return Drawing(
        name=f"discharge-ahead-{id}",
        title=titled.discharge_ahead(title),
        figure=figure,
        alt=words.fan(title, days["date"].iloc[0], days["date"].iloc[-1]),
        data=days[columns],
    )


def no_recharge_path(
    n: NoRechargeStop, reading_day: pd.Timestamp, reading_m3s: float, stop_m3s: float
) -> pd.DataFrame | None:
    """Time and discharge [m³/s] from the reading down to the level at the median rate; None where it has no date."""
    if n.model is None or n.stop_date is None or not 0 < stop_m3s < reading_m3s:
        return None
    rate = math.exp(float(np.median(np.log(n.model.rates))))
    levels = np.geomspace(reading_m3s, stop_m3s, 25)
    after = [time_to_level(reading_m3s, float(v), rate, n.model.exponent) for v in levels]
    return pd.DataFrame({"time": reading_day + pd.to_timedelta(after, unit="D"), "discharge_m3s": levels})


def _no_recharge(
    figure: go.Figure,
    n: NoRechargeStop,
    ahead: Outlook,
    reading_m3s: float,
    stop_m3s: float,
    unit: str,
) -> None:
    """The path without recharge, the day on which it reaches the level, and the span of that day."""
    first, last = ahead.days["date"].iloc[0], ahead.days["date"].iloc[-1]
    path = None if ahead.reading_day is None else no_recharge_path(n, ahead.reading_day, reading_m3s, stop_m3s)
    if path is None or n.stop_date is None:
        return
    y = from_m3s(stop_m3s, unit)
    figure.add_trace(
        go.Scatter(
            x=[f"{t:%Y-%m-%d %H:%M}" for t in path["time"]], y=from_m3s(path["discharge_m3s"].to_numpy(), unit),
            mode="lines", line={"color": WATER, "width": 2, "dash": "dot"}, name="no recharge", hoverinfo="skip",
        )
    )  # fmt: skip
    if not first <= n.stop_date <= last:
        return
    if n.earliest is not None:
        until = min(n.latest or last, last)
        span = days_text(pd.DatetimeIndex([max(n.earliest, first), until]))
        figure.add_trace(
            go.Scatter(x=span, y=[y, y], mode="lines", line={"color": WATER, "width": 6}, hoverinfo="skip", name="span")
        )
    figure.add_trace(
        go.Scatter(
            x=days_text(pd.DatetimeIndex([n.stop_date])), y=[y], mode="markers", name="stop without recharge",
            marker={"symbol": "circle", "size": 11, "color": WATER},
            hovertemplate=f"{words.without_recharge(short_date(n.stop_date))}<extra></extra>",
        )
    )  # fmt: skip


def _last_known(dates: pd.Series, values: pd.Series) -> pd.Timestamp:
    """Where the time axis ends: the courses of a short record end before the horizon."""
    known = dates[values.notna().to_numpy()]
    return (known if len(known) else dates).iloc[-1]


def _needs_days(ahead: Outlook) -> None:
    if ahead.days.empty:
        raise ValueError(f"there is no outlook to draw: {ahead.why_none}")


def _corner(figure: go.Figure, text: str) -> None:
    """The name of the vertical axis above it, level."""
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=text, showarrow=False,
        font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip


def _trip(figure: go.Figure, trip: pd.Timestamp | None, days: pd.DataFrame) -> None:
    """The day of the trip as a line of its own, named above the picture."""
    if trip is None or not days["date"].iloc[0] <= trip <= days["date"].iloc[-1]:
        return
    day = f"{trip:%Y-%m-%d}"
    line = {"color": FRAME, "width": 1.6, "dash": "dot"}
    figure.add_shape(type="line", x0=day, x1=day, yref="paper", y0=0, y1=1, line=line)
    late = (trip - days["date"].iloc[0]).days > len(days) / 2
    figure.add_annotation(
        x=day, xanchor="right" if late else "left", yref="paper", y=1, yanchor="bottom", showarrow=False,
        text=words.trip(short_date(trip)), font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
