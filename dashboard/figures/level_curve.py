"""Sightings against discharge in rows, the fitted chance of running below them, and the levels across both."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import CLEAR, FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank, log_axis
from dashboard.figures.marks import EXPECTED, STOP, SURFACE_MARKS, tint
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import long_date
from hydro.level_estimate import Level, LevelEstimate
from hydro.units import SYMBOLS, from_m3s

ROWS = ("dry", "pooled", "running")  # from the bottom
_LABELS, _ROW, _SPACE, _CURVE, _TOP, _BOTTOM = 40, 40, 10, 190, 6, 50
#: The near view reaches so many times below and above everything that bears on the level.
_NEAR = 1.25
#: How far marks of one row spread up and down, so that many on one discharge stay apart (share of the row).
_SPREAD = 0.62
_GOLDEN = 0.618033988749895


def near_range(sightings: pd.DataFrame, estimate: LevelEstimate) -> tuple[float, float]:
    """Discharges [m³/s] that bear on the level: rise of the curve, bracket, interval, all seen dry."""
    level, bracket = estimate.stop_level, estimate.bracket
    found = [level.value_m3s, level.low_m3s, level.high_m3s, bracket.highest_dry_m3s, bracket.lowest_running_m3s]
    values = [v for v in found if v is not None and v > 0]
    values += estimate.curve["discharge_m3s"].tolist()
    not_running = sightings.loc[sightings["surface"] != "running", "discharge_m3s"]
    values += not_running[not_running > 0].tolist()
    if not values:
        values = sightings.loc[sightings["discharge_m3s"] > 0, "discharge_m3s"].tolist()
    return (min(values) / _NEAR, max(values) * _NEAR) if values else (0.1, 1.0)


def beyond(sightings: pd.DataFrame, reach: tuple[float, float]) -> int:
    """How many sightings with a discharge above 0 lie outside a range."""
    flow = sightings["discharge_m3s"]
    return int(((flow > 0) & ((flow < reach[0]) | (flow > reach[1]))).sum())


def level_curve(
    sightings: pd.DataFrame,
    estimate: LevelEstimate,
    *,
    id: str,
    title: str,
    set_m3s: float | None,
    unit: str,
    reach: tuple[float, float] | None,
    alt: str,
    tried_m3s: float | None = None,
) -> Drawing:
    """The picture of one outlet's level.

    sightings   date, surface, discharge_m3s (NaN is not drawn), row; each mark carries its row as custom data
    set_m3s     the level that the workspace sets [m³/s], None = none
    reach       range of discharge shown [m³/s]; None = everything
    alt         the first sentence of the page, for people who do not see the picture
    tried_m3s   a level that somebody tries [m³/s], drawn dotted; None = none
    """
    inner = _LABELS + 3 * _ROW + _SPACE + _CURVE
    figure = blank(inner + _TOP + _BOTTOM, left=62, right=12, top=_TOP, bottom=_BOTTOM)
    rows_from = (_CURVE + _SPACE) / inner
    rows_to = (_CURVE + _SPACE + 3 * _ROW) / inner
    for trace in _curve(estimate.curve, unit):
        figure.add_trace(trace)
    flow = sightings["discharge_m3s"]
    shown = sightings[(flow > 0) & ((flow >= reach[0]) & (flow <= reach[1]) if reach else True)]
    zeros = sightings[flow == 0]
    low, high = reach or _whole(shown, estimate, set_m3s)
    zero_at = low / (high / low) ** 0.08 if len(zeros) else None
    drawn = pd.concat([shown, zeros.assign(discharge_m3s=zero_at)]) if zero_at else shown
    disagreeing = set(estimate.contradictions["row"]) if len(estimate.contradictions) else set()
    for trace in _marks(drawn, disagreeing, unit):
        figure.add_trace(trace)
    name = {"text": words.discharge_that_day(SYMBOLS[unit]), "font": {"size": SMALL_TEXT_SIZE}}
    horizontal = log_axis(from_m3s(low, unit), from_m3s(high, unit), title=name, anchor="y", fixedrange=True)
    if zero_at:
        horizontal["range"] = [float(np.log10(from_m3s(zero_at, unit) / 1.12)), horizontal["range"][1]]  # type: ignore[index]
        horizontal["tickvals"] = [from_m3s(zero_at, unit), *horizontal["tickvals"]]  # type: ignore[misc]
        horizontal["ticktext"] = ["0", *horizontal["ticktext"]]  # type: ignore[misc]
    figure.update_layout(
        xaxis=horizontal,
        yaxis=axis(
            domain=[0, _CURVE / inner], range=[-0.04, 1.04], tickvals=[0, 0.25, 0.5, 0.75, 1],
            ticktext=["0", "25", "50", "75", "100"], anchor="x", fixedrange=True,
        ),
        yaxis2=axis(
            domain=[rows_from, rows_to], range=[-0.55, 2.55], tickvals=[0, 1, 2], showgrid=False, anchor="x",
            ticktext=list(ROWS), fixedrange=True,
        ),
        clickmode="event+select",
    )  # fmt: skip
    _name_of_curve(figure, _CURVE / inner, len(estimate.curve) > 0)
    _levels(figure, estimate.stop_level, set_m3s, unit, rows_to)
    if tried_m3s is not None:
        _tried(figure, tried_m3s, estimate.stop_level.value_m3s or set_m3s, unit, rows_to, _CURVE / inner)
    _bracket(figure, estimate, unit)
    return Drawing(
        name=f"level-{id}",
        title=titled.level(title),
        figure=figure,
        alt=alt,
        data=sightings.assign(disagrees=sightings["row"].isin(disagreeing)),
    )


def _whole(shown: pd.DataFrame, estimate: LevelEstimate, set_m3s: float | None) -> tuple[float, float]:
    values = [*shown["discharge_m3s"], *estimate.curve["discharge_m3s"], *([set_m3s] if set_m3s else [])]
    return (min(values), max(values)) if values else (0.1, 1.0)


def _curve(curve: pd.DataFrame, unit: str) -> list[go.Scatter]:
    """The chance of running with its band; nothing where none was fitted."""
    if curve.empty:
        return []
    x = from_m3s(curve["discharge_m3s"].to_numpy(np.float64), unit)
    edge = {"color": EXPECTED, "width": 1.2}
    said = f"runs %{{y:.0%}} at %{{x:.3g}} {SYMBOLS[unit]}<extra></extra>"
    return [
        go.Scatter(x=x, y=curve["low"], mode="lines", line=edge, hoverinfo="skip", name="low"),
        go.Scatter(
            x=x, y=curve["high"], mode="lines", line=edge, fill="tonexty", fillcolor=tint(EXPECTED, 0.25),
            hoverinfo="skip", name="high",
        ),
        go.Scatter(
            x=x, y=curve["probability_running"], mode="lines", line={"color": EXPECTED, "width": 3},
            hovertemplate=said, name="fitted curve",
        ),
    ]  # fmt: skip


def _marks(sightings: pd.DataFrame, disagreeing: set[int], unit: str) -> list[go.Scatter]:
    """One row of marks a surface; those that disagree get a ring."""
    traces = []
    for height, surface in enumerate(ROWS):
        rows = sightings[sightings["surface"] == surface]
        if rows.empty:
            continue
        symbol, colour = SURFACE_MARKS[surface]
        # An even, repeatable spread: multiples of the golden ratio never bunch.
        y = height + ((np.arange(len(rows)) * _GOLDEN) % 1.0 - 0.5) * _SPREAD
        x = from_m3s(rows["discharge_m3s"].to_numpy(np.float64), unit)
        rings = rows["row"].isin(disagreeing).to_numpy()
        if rings.any():
            ring = {"symbol": "circle-open", "size": 19, "color": FRAME, "line": {"width": 2, "color": FRAME}}
            traces.append(
                go.Scatter(
                    x=x[rings], y=y[rings], yaxis="y2", mode="markers", marker=ring, hoverinfo="skip",
                    name="disagrees", customdata=rows.loc[rings, "row"].to_list(),
                )
            )  # fmt: skip
        thin = symbol.endswith("-thin")
        traces.append(
            go.Scatter(
                x=x,
                y=y,
                yaxis="y2",
                mode="markers",
                name=words.SEEN_WORDS[surface],
                marker={
                    "symbol": symbol,
                    "size": 10 if len(rows) <= 150 else 8,
                    "color": tint(colour, 0.75),
                    "line": {"width": 2 if thin else 0, "color": colour},
                },
                customdata=rows["row"].to_list(),
                text=[long_date(d) for d in rows["date"]],
                hovertemplate=f"%{{text}}<br>{words.SEEN_WORDS[surface]} at %{{x:.3g}} {SYMBOLS[unit]}<br>"
                f"{hover.ROW} %{{customdata}}<extra></extra>",
                # A chosen mark keeps its look: the row below the picture says which one it is.
                selected={"marker": {"opacity": 1.0}},
                unselected={"marker": {"opacity": 0.55}},
            )
        )
    return traces


def _name_of_curve(figure: go.Figure, top: float, fitted: bool) -> None:
    text = words.CHANCE_CURVE if fitted else words.NO_CURVE
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=top, yanchor="top", text=text, showarrow=False,
        font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
    )  # fmt: skip


def _levels(figure: go.Figure, learnt: Level, set_m3s: float | None, unit: str, rows_to: float) -> None:
    """The learnt level with its interval as a band, the set level as a line; labels above the rows."""
    places = []
    if learnt.value_m3s:
        x = from_m3s(learnt.value_m3s, unit)
        if learnt.low_m3s and learnt.high_m3s:
            band = {"type": "rect", "x0": from_m3s(learnt.low_m3s, unit), "x1": from_m3s(learnt.high_m3s, unit)}
            figure.add_shape(
                **band, yref="paper", y0=0, y1=rows_to, fillcolor=tint(STOP, 0.18), line={"color": CLEAR, "width": 0},
                layer="below",
            )  # fmt: skip
        places.append((x, "solid", words.learnt_level(learnt.value_m3s, unit)))
    if set_m3s:
        places.append((from_m3s(set_m3s, unit), "dash", words.set_level(set_m3s, unit)))
    places.sort()
    for i, (x, dash, text) in enumerate(places):
        line = {"color": STOP, "width": 2, "dash": dash}
        figure.add_shape(type="line", x0=x, x1=x, yref="paper", y0=0, y1=rows_to, line=line)
        # The lower level's label runs to the left of its line, the higher one's to the right, a line apart.
        figure.add_annotation(
            x=float(np.log10(x)), xanchor="right" if i == 0 and len(places) == 2 else "left", yref="paper",
            y=rows_to + (0.004 if i == 0 else 0.06), yanchor="bottom", text=text, showarrow=False,
            font={"size": SMALL_TEXT_SIZE},
        )  # fmt: skip


def _tried(
    figure: go.Figure, tried_m3s: float, level_m3s: float | None, unit: str, rows_to: float, curve_to: float
) -> None:
    """A level that is only tried: a dotted line. Its label stands where the curve leaves room, apart from the levels in
    use: above the curve and to the left of it, or below it and to the right."""
    left = level_m3s is not None and tried_m3s < level_m3s
    x = from_m3s(tried_m3s, unit)
    line = {"color": FRAME, "width": 2, "dash": "dot"}
    figure.add_shape(type="line", x0=x, x1=x, yref="paper", y0=0, y1=rows_to, line=line)
    figure.add_annotation(
        x=float(np.log10(x)), xanchor="right" if left else "left", yref="paper", y=0.75 * curve_to if left else 0.02,
        yanchor="bottom", xshift=-4 if left else 4, showarrow=False,
        text=words.tried_level(tried_m3s, unit), font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
    )  # fmt: skip


def _bracket(figure: go.Figure, estimate: LevelEstimate, unit: str) -> None:
    """Highest discharge seen dry and lowest seen running as the ends of a bar at half chance."""
    found = [v for v in (estimate.bracket.highest_dry_m3s, estimate.bracket.lowest_running_m3s) if v]
    if not found:
        return
    figure.add_trace(
        go.Scatter(
            x=[from_m3s(v, unit) for v in sorted(found)], y=[0.5] * len(found), mode="lines+markers", name="bracket",
            line={"color": FRAME, "width": 3},
            marker={"symbol": "line-ns", "size": 16, "line": {"width": 3, "color": FRAME}},
            hovertemplate=f"{hover.BRACKET}: %{{x:.3g}} {SYMBOLS[unit]}<extra></extra>",
        )
    )  # fmt: skip
