"""What warning earlier costs: stops announced in time against false alerts a year, one point a level."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.free_spots import FreeSpots, Spot
from dashboard.figures.marks import EXPECTED, STOP, WATER
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from hydro.alert_level import AlertTable
from hydro.count_limits import rate_limits, share_limits
from hydro.units import SYMBOLS, from_m3s

_HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 470, 50, 16, 44, 58
_TICKS = {"tickvals": [0, 0.2, 0.4, 0.6, 0.8, 1], "ticktext": ["0", "20", "40", "60", "80", "100"]}
#: The axes reach from and to these: times the largest number of false alerts, and shares of the stops.
_LEAST_X, _MOST_X, _Y = 0.03, 1.1, (-0.05, 1.09)
#: A label's width on a phone, its height, and how far it stands from its point (shares of the picture).
_WIDTH, _LINE_OF_TEXT, _ASIDE, _OFF = 0.22, 0.05, 0.02, (0.008, 0.06, 0.12, 0.2)


def any_judged(levels: AlertTable, chances: AlertTable) -> bool:
    """Whether there is a point to draw: without a stop that could be judged and a year of record there is none."""
    axes = ["hit_rate", "false_per_year"]
    return any(bool(t.table[axes].notna().all(axis=1).any()) for t in (levels, chances))


def alert_tradeoff(
    levels: AlertTable,
    chances: AlertTable,
    origin: Sequence[str],
    *,
    id: str,
    title: str,
    unit: str,
    level: float,
    alt: str,
) -> Drawing:
    """The picture of one outlet.

    origin   where each level comes from: "set" and "tried" ones are labelled
    level    coverage of the limits around the record on held-out years
    alt      the first sentence of the page, for people who do not see the picture
    """
    figure = blank(_HEIGHT, left=_LEFT, right=_RIGHT, top=_TOP, bottom=_BOTTOM)
    needed = levels.needs.hit_rate if levels.needs.miss_cost is None else None
    if needed is not None:
        line = {"color": FRAME, "width": 1.4, "dash": "dash"}
        figure.add_shape(type="line", xref="paper", x0=0, x1=1, y0=needed, y1=needed, line=line)
    most = _most(levels, chances)
    figure.add_trace(_points(chances.table, "chance", [f"{100 * at:g} in 100" for at in chances.at]))
    named = [f"{from_m3s(at, unit):.3g} {SYMBOLS[unit]}" for at in levels.at.tolist()]
    figure.add_trace(_points(levels.table, "level", named))
    chosen = levels.recommended.candidate
    if chosen is not None:
        _held_out(figure, levels, level)
        row = levels.table.iloc[chosen]
        ring = {"symbol": "circle-open", "size": 20, "color": STOP, "line": {"width": 3, "color": STOP}}
        figure.add_trace(
            go.Scatter(
                x=[row["false_per_year"]], y=[row["hit_rate"]], mode="markers", marker=ring, hoverinfo="skip",
                name="recommended",
            )
        )  # fmt: skip
    for k, o in enumerate(origin):
        row = levels.table.iloc[k]
        if o == "set" and np.isfinite(row["hit_rate"]):
            square = {"symbol": "square-open", "size": 18, "color": FRAME, "line": {"width": 3, "color": FRAME}}
            figure.add_trace(
                go.Scatter(
                    x=[row["false_per_year"]], y=[row["hit_rate"]], mode="markers", marker=square, hoverinfo="skip",
                    name="set",
                )
            )  # fmt: skip
    _labels(figure, levels, chances, origin, unit, most)
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1.04, yanchor="bottom", showarrow=False,
        text=words.ANNOUNCED_IN_TIME, font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    name = {"text": words.FALSE_A_YEAR, "font": {"size": SMALL_TEXT_SIZE}}
    figure.update_layout(
        xaxis=axis(range=[-_LEAST_X * most, _MOST_X * most], title=name, fixedrange=True),
        yaxis=axis(range=list(_Y), fixedrange=True, **_TICKS),
    )
    return Drawing(
        name=f"warning-{id}",
        title=titled.announced(title),
        figure=figure,
        alt=alt,
        data=_drawn(levels, chances, origin),
    )


def _most(levels: AlertTable, chances: AlertTable) -> float:
    """The right edge: every level's false alerts a year."""
    found = [*levels.table["false_per_year"], *chances.table["false_per_year"]]
    finite = [v for v in found if np.isfinite(v)]
    return max([*finite, 0.2])


def _points(table: pd.DataFrame, kind: str, named: Sequence[str]) -> go.Scatter:
    """One point a candidate, joined in the order of how often they alert."""
    leads = ["" if np.isnan(v) else f"half {v:.0f} days ahead or more" for v in table["lead_median"]]
    is_level = kind == "level"
    colour = WATER if is_level else EXPECTED
    marker = {"symbol": "circle" if is_level else "triangle-up-open", "size": 8 if is_level else 10, "color": colour}
    return go.Scatter(
        x=table["false_per_year"],
        y=table["hit_rate"],
        mode="lines+markers",
        name="levels" if is_level else "chances",
        marker=marker | {"line": {"width": 2, "color": colour}},
        line={"color": colour, "width": 1.2, "dash": "solid" if is_level else "dot"},
        text=list(named),
        customdata=leads,
        hovertemplate=f"%{{text}}<br>{hover.IN_TIME}<br>%{{customdata}}<extra></extra>",
    )


def _held_out(figure: go.Figure, table: AlertTable, level: float) -> None:
    """The recommendation on years that had no part in choosing it, with limits both ways."""
    h = table.recommended.held_out
    if h is None or not np.isfinite(h["hit_rate"]):
        return
    judged = int(h["hits"] + h["late"] + h["misses"])
    low, high = share_limits(int(h["hits"]), judged, level)
    left, right = rate_limits(int(h["false_alerts"]), h["years"], level)
    x, y = h["false_per_year"], h["hit_rate"]
    for xs, ys in (([x, x], [low, high]), ([left, right], [y, y])):
        figure.add_trace(
            go.Scatter(x=xs, y=ys, mode="lines", line={"color": STOP, "width": 2.2}, hoverinfo="skip", name="limits")
        )
    marker = {"symbol": "diamond", "size": 12, "color": STOP}
    figure.add_trace(
        go.Scatter(
            x=[x], y=[y], mode="markers", marker=marker, name="held out",
            hovertemplate=f"{hover.HELD_OUT}<extra></extra>",
        )
    )  # fmt: skip


def _labels(
    figure: go.Figure, levels: AlertTable, chances: AlertTable, origin: Sequence[str], unit: str, most: float
) -> None:
    """Level and middle lead beside the points, those that matter most first; others only where nothing is covered."""
    table, chosen = levels.table, levels.recommended.candidate
    first = [k for k in range(len(table)) if k == chosen]
    first += [k for k, o in enumerate(origin) if o in ("set", "tried") and k not in first]

    def share(x: object, y: object) -> np.ndarray:
        across = (np.asarray(x, dtype=float) + _LEAST_X * most) / ((_LEAST_X + _MOST_X) * most)
        return np.stack((across, (np.asarray(y, dtype=float) - _Y[0]) / (_Y[1] - _Y[0])), axis=-1)

    points = np.concatenate([share(t["false_per_year"], t["hit_rate"]) for t in (levels.table, chances.table)])
    lines = [share(t.x, t.y) for t in figure.data if "lines" in (t.mode or "")]
    lines += [share([-_LEAST_X * most, _MOST_X * most], [s.y0, s.y1]) for s in figure.layout.shapes]
    spots = FreeSpots(points, lines, width=_WIDTH, height=_LINE_OF_TEXT, aside=_ASIDE, off=_OFF)
    labels = []
    for k in [*first, *(k for k in range(len(table)) if k not in first)]:
        row = table.iloc[k]
        x, y = float(row["false_per_year"]), float(row["hit_rate"])
        spot = spots.best(*share(x, y), far=k in first) if np.isfinite(y) else None
        if spot is None or (spot.cost and k not in first):
            continue
        spots.take(spot)
        text = words.level_and_lead(float(row["at"]), float(row["lead_median"]), unit)
        labels.append(
            {"x": x, "y": y, "text": text, "xanchor": "right" if spot.left else "left",
             "yanchor": "bottom" if spot.above else "top", "font": {"size": SMALL_TEXT_SIZE, "shadow": "auto"},
             **_beside(spot)}
        )  # fmt: skip
    # All at once: each that is added has those before it checked again.
    figure.layout.annotations = [*figure.layout.annotations, *labels]


def _beside(spot: Spot) -> dict[str, object]:
    """How a label is held to its point: by standing beside it, or by a thin line from further off."""
    across, up = -8 if spot.left else 8, round(spot.off * (_HEIGHT - _TOP - _BOTTOM)) * (1 if spot.above else -1)
    if spot.off == _OFF[0]:
        return {"showarrow": False, "xshift": across, "yshift": up}
    return {"showarrow": True, "ax": across, "ay": -up, "arrowhead": 0, "arrowwidth": 1, "arrowcolor": FRAME}


def _drawn(levels: AlertTable, chances: AlertTable, origin: Sequence[str]) -> pd.DataFrame:
    """The numbers drawn."""
    columns = ["at", "hits", "late", "misses", "false_alerts", "hit_rate", "false_per_year", "lead_median"]
    one = levels.table[columns].rename(columns={"at": "level_m3s"}).assign(kind="level", origin=list(origin))
    two = chances.table[columns].rename(columns={"at": "chance"}).assign(kind="chance")
    return pd.concat([one, two], ignore_index=True)
