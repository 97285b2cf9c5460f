"""Counts for equal effort against flow with the fitted curve, and over time with dry spells behind."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.answers.count_curves import EFFORT_SHOWN
from dashboard.figures.drawing import SMALL_TEXT_SIZE, Drawing, axis, blank, log_axis, time_axis
from dashboard.figures.marks import ANIMALS, DASHES, EXPECTED, FOUND_SYMBOL, NONE_FOUND_SYMBOL, OTHERS, tint
from dashboard.figures.strips import dry_bars
from dashboard.figures.time_marks import count_marks, dry_marks, expected_marks
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from hydro.units import SYMBOLS, from_m3s

_HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 360, 46, 76, 28, 52
_TIME_HEIGHT = 300


def counts_for_effort(rows: pd.DataFrame) -> np.ndarray:
    """Counts scaled to `EFFORT_SHOWN` of effort (columns count, effort)."""
    return rows["count"].to_numpy(np.float64) * EFFORT_SHOWN / rows["effort"].to_numpy(np.float64)


def shown_values(rows: pd.DataFrame, share_of: str | None) -> np.ndarray:
    """Counts for equal effort, or where `share_of` names what a share is of, shares (columns count, trials)."""
    if share_of is None:
        return counts_for_effort(rows)
    return rows["count"].to_numpy(np.float64) / rows["trials"].to_numpy(np.float64)


def counts_over_flow(
    rows: pd.DataFrame,
    curves: Mapping[str, pd.DataFrame],
    *,
    outlet: str,
    titles: Mapping[str, str],
    window: int,
    unit: str,
    effort_unit: str,
    ratio: float | None,
    share_of: str | None = None,
) -> Drawing:
    """Visits of one outlet with its fitted curve and band, the other outlets' curves as thin lines.

    rows    of `CountDesign.rows` (outlet, date, count, effort, log_discharge [ln m³/s])
    curves  by outlet: discharge_m3s, expected, low, high for `EFFORT_SHOWN` of effort; empty where not fitted
    share_of what the shares are of, where shares are drawn instead of counts (rows then have trials)
    """
    here = rows[rows["outlet"] == outlet]
    several = any(len(c) for o, c in curves.items() if o != outlet)
    figure = blank(_HEIGHT, left=_LEFT, right=_RIGHT if several else 12, top=_TOP, bottom=_BOTTOM)
    y = shown_values(here, share_of)
    x = from_m3s(np.exp(here["log_discharge"].to_numpy(np.float64)), unit)
    mine = curves.get(outlet)
    if mine is not None and len(mine):
        for trace in _band(mine, unit):
            figure.add_trace(trace)
    others = [o for o in curves if o != outlet and len(curves[o])]
    for i, other in enumerate(others):
        curve = curves[other]
        figure.add_trace(
            go.Scatter(
                x=from_m3s(curve["discharge_m3s"].to_numpy(np.float64), unit),
                y=curve["expected"],
                mode="lines",
                name=titles[other],
                line={"color": OTHERS, "width": 1.5, "dash": DASHES[i % len(DASHES)]},
                hovertemplate=f"{titles[other]}: %{{y:.3g}}<extra></extra>",
            )
        )
    for found, symbol, word in ((True, FOUND_SYMBOL, words.FOUND), (False, NONE_FOUND_SYMBOL, words.NONE_FOUND)):
        which = (y > 0) == found
        figure.add_trace(
            go.Scatter(
                x=x[which],
                y=y[which],
                mode="markers",
                name=word,
                marker={"symbol": symbol, "size": 7, "color": tint(ANIMALS, 0.75),
                        "line": {"width": 1.1, "color": ANIMALS}},
                customdata=[f"{d:%a} {d.day} {d:%B %Y}" for d in here.loc[which, "date"]],
                hovertemplate=f"%{{customdata}}<br>{hover.COUNT_AT} {SYMBOLS[unit]}<extra></extra>",
            )
        )  # fmt: skip
    if mine is not None and len(mine):
        figure.add_trace(_middle(mine, unit))
    _name_others(figure, {o: curves[o] for o in others}, titles, unit, _count_range(y))
    reach = np.concatenate([x, *(from_m3s(c["discharge_m3s"].to_numpy(np.float64), unit) for c in curves.values())])
    reach = reach[np.isfinite(reach) & (reach > 0)]
    low, high = (float(reach.min()), float(reach.max())) if reach.size else (1.0, 10.0)
    name = words.mean_discharge(window, SYMBOLS[unit])
    figure.update_layout(
        xaxis=log_axis(low, high, title={"text": name, "font": {"size": SMALL_TEXT_SIZE}}),
        yaxis=axis(range=_count_range(y), rangemode="tozero", nticks=6),
    )
    _name_counts(figure, effort_unit, share_of)
    data = here.assign(count_for_effort=y, effort_shown=EFFORT_SHOWN)
    return Drawing(
        name=f"counts-over-flow-{outlet}",
        title=titled.counts_over_flow(titles[outlet]),
        figure=figure,
        alt=words.counts(titles[outlet], len(here), ratio),
        data=data,
    )


def _name_others(
    figure: go.Figure,
    curves: Mapping[str, pd.DataFrame],
    titles: Mapping[str, str],
    unit: str,
    bounds: list[float],
) -> None:
    """Direct labels of the other outlets' curves at their right ends, moved apart where they would touch."""
    line = 17 * (bounds[1] - bounds[0]) / (_HEIGHT - _TOP - _BOTTOM)  # the height of a label in counts
    below = -np.inf
    for other, curve in sorted(curves.items(), key=lambda c: float(c[1]["expected"].iloc[-1])):
        height = max(float(curve["expected"].iloc[-1]), below + line)
        below = height
        figure.add_annotation(
            x=float(np.log10(from_m3s(float(curve["discharge_m3s"].iloc[-1]), unit))),
            y=height,
            text=titles[other],
            xanchor="left",
            yanchor="middle",
            showarrow=False,
            font={"size": SMALL_TEXT_SIZE},
        )


def _band(curve: pd.DataFrame, unit: str) -> list[go.Scatter]:
    x = from_m3s(curve["discharge_m3s"].to_numpy(np.float64), unit)
    edge = {"color": EXPECTED, "width": 1.2}
    return [
        go.Scatter(x=x, y=curve["low"], mode="lines", line=edge, hoverinfo="skip", name="low"),
        go.Scatter(x=x, y=curve["high"], mode="lines", line=edge, fill="tonexty", fillcolor=tint(EXPECTED, 0.3),
                   hoverinfo="skip", name="high"),
    ]  # fmt: skip


def _middle(curve: pd.DataFrame, unit: str) -> go.Scatter:
    return go.Scatter(
        x=from_m3s(curve["discharge_m3s"].to_numpy(np.float64), unit),
        y=curve["expected"],
        mode="lines",
        name="fitted mean",
        line={"color": EXPECTED, "width": 3},
        hovertemplate=f"{hover.FITTED_MEAN} {SYMBOLS[unit]}<extra></extra>",
    )


def _count_range(y: np.ndarray) -> list[float]:
    top = float(y.max()) if y.size else 1.0
    return [-0.03 * max(top, 1.0), 1.08 * max(top, 1.0)]


def _name_counts(figure: go.Figure, effort_unit: str, share_of: str | None) -> None:
    """The name of the vertical axis above it, level, instead of turned beside it."""
    text = words.per_effort(EFFORT_SHOWN, effort_unit) if share_of is None else words.share_axis(share_of)
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=text, showarrow=False,
        font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip


def counts_over_time(
    rows: pd.DataFrame,
    dry_visits: pd.DataFrame,
    spells: pd.DataFrame | None,
    *,
    outlet: str,
    title: str,
    first: pd.Timestamp,
    last: pd.Timestamp,
    effort_unit: str,
    share_of: str | None = None,
) -> Drawing:
    """Counts of one outlet over time, visits to a dry surface as crosses, dry spells hatched behind.

    rows    outlet, date, count, effort and, where something was fitted, expected (of that visit's own effort)
    """
    here = rows[(rows["outlet"] == outlet) & (rows["date"] >= first) & (rows["date"] <= last)]
    y = shown_values(here, share_of)
    figure = blank(_TIME_HEIGHT, left=_LEFT, top=_TOP)
    bounds = _count_range(y)
    inside = None if spells is None else spells[(spells["last"] >= first) & (spells["first"] <= last)]
    if inside is not None:
        bars = dry_bars(inside, height=bounds[1] - bounds[0], base=bounds[0], opacity=0.07)
        if bars is not None:
            figure.add_trace(bars)
    if "expected" in here:
        expected = shown_values(here.assign(count=here["expected"]), share_of)
        figure.add_trace(expected_marks(here["date"], expected, name=words.EXPECTED))
    figure.add_traces([*count_marks(here, y), *dry_marks(dry_visits, first, last)])
    figure.update_layout(xaxis=time_axis(first, last), yaxis=axis(range=bounds, nticks=5))
    _name_counts(figure, effort_unit, share_of)
    return Drawing(
        name=f"counts-over-time-{outlet}",
        title=titled.counts_over_time(title),
        figure=figure,
        alt=words.counts_over_time(title, len(here), first, last),
        data=here.assign(count_for_effort=y, effort_shown=EFFORT_SHOWN),
    )
