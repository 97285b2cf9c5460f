"""What warning earlier costs: stops announced in time against false alerts a year, one point a level."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import EXPECTED, STOP, WATER
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from hydro.alert_level import AlertTable
from hydro.count_limits import rate_limits, share_limits
from hydro.units import SYMBOLS, from_m3s

_HEIGHT, _LEFT, _RIGHT, _TOP, _BOTTOM = 470, 50, 16, 44, 58
_TICKS = {"tickvals": [0, 0.2, 0.4, 0.6, 0.8, 1], "ticktext": ["0", "20", "40", "60", "80", "100"]}
#: Labels closer than this to one that is there already are left to the pointer (shares of width and height).
_NEAR_X, _NEAR_Y = 0.24, 0.075
#: How far a label reaches from its point, and from where on it runs to the left (shares of the width).
_WIDTH, _EDGE = 0.15, 0.8


def any_judged(levels: AlertTable, chances: AlertTable) -> bool:
    """Whether there is a point to draw: without a stop that could be judged there is none."""
    return bool(levels.table["hit_rate"].notna().any() or chances.table["hit_rate"].notna().any())


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
    for x, y, text, above in _labels(levels, origin, unit, most):
        at_edge = x > _EDGE * most  # the label runs to the left, so that a narrow picture does not cut it off
        figure.add_annotation(
            x=x, y=y, text=text, showarrow=False, xanchor="right" if at_edge else "left",
            yanchor="bottom" if above else "top", xshift=-8 if at_edge else 8, yshift=3 if above else -3,
            font={"size": SMALL_TEXT_SIZE, "shadow": "auto"},
        )  # fmt: skip
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1.04, yanchor="bottom", showarrow=False,
        text=words.ANNOUNCED_IN_TIME, font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    name = {"text": words.FALSE_A_YEAR, "font": {"size": SMALL_TEXT_SIZE}}
    figure.update_layout(
        xaxis=axis(range=[-0.03 * most, 1.1 * most], title=name, fixedrange=True),
        yaxis=axis(range=[-0.05, 1.09], fixedrange=True, **_TICKS),
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


def _labels(levels: AlertTable, origin: Sequence[str], unit: str, most: float) -> list[tuple[float, float, str, bool]]:
    """Level and middle lead beside the points that matter most, none over another: x, y, text, above the point."""
    table, chosen = levels.table, levels.recommended.candidate
    first = [k for k in range(len(table)) if k == chosen]
    first += [k for k, o in enumerate(origin) if o in ("set", "tried") and k not in first]
    placed: list[tuple[float, float, str, bool]] = []
    points = table[["false_per_year", "hit_rate"]].to_numpy(np.float64)
    for k in [*first, *(k for k in range(len(table)) if k not in first)]:
        row = table.iloc[k]
        x, y = float(row["false_per_year"]), float(row["hit_rate"])
        if not np.isfinite(y):
            continue
        for above in (True, False):
            at = y + (0.04 if above else -0.04)
            near = any(
                abs(x - a) / most < _NEAR_X and abs(at - (b + (0.04 if c else -0.04))) < _NEAR_Y
                for a, b, _, c in placed
            )
            # A label beside another point would be read as that one's.
            side = -1.0 if x > _EDGE * most else 1.0
            covers = (side * (points[:, 0] - x) / most > 0.02) & (side * (points[:, 0] - x) / most < _WIDTH)
            near = near or bool((covers & (np.abs(points[:, 1] - at) < _NEAR_Y)).any())
            if not near:
                placed.append((x, y, words.level_and_lead(float(row["at"]), float(row["lead_median"]), unit), above))
                break
    return placed


def _drawn(levels: AlertTable, chances: AlertTable, origin: Sequence[str]) -> pd.DataFrame:
    """The numbers drawn."""
    columns = ["at", "hits", "late", "misses", "false_alerts", "hit_rate", "false_per_year", "lead_median"]
    one = levels.table[columns].rename(columns={"at": "level_m3s"}).assign(kind="level", origin=list(origin))
    two = chances.table[columns].rename(columns={"at": "chance"}).assign(kind="chance")
    return pd.concat([one, two], ignore_index=True)
