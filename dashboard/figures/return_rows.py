"""Return lags: a row a dry spell over the time since the water came back, and the returned-by curve below it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import ANIMALS, EXPECTED, FOUND_SYMBOL, NONE_FOUND_SYMBOL, STOP, tint
from dashboard.wording import figures as words
from dashboard.wording import hover
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import short_date

_LEAST_ROW = 15
_ROW, _CURVE, _TOP, _BOTTOM = 24, 230, 8, 52
#: The time axis ends this much beyond the latest bound that matters.
_BEYOND = 1.12
#: Length of the arrow of a return that was not seen, as a share of the time axis.
_ARROW = 0.06


def horizon(lags: pd.DataFrame) -> float:
    """Where the time axis ends [days]: a little beyond the last bound of any interval, at least 30."""
    bounds = np.concatenate((lags["low_days"].to_numpy(np.float64), lags["high_days"].to_numpy(np.float64)))
    bounds = bounds[np.isfinite(bounds)]
    return max(30.0, _BEYOND * float(bounds.max())) if bounds.size else 30.0


def lag_rows(
    lags: pd.DataFrame, searches: pd.DataFrame, *, id: str, title: str, of_half: bool = False, animals: str = "animals"
) -> Drawing:
    """One row a dry spell, the newest on top: searches with and without finds, the interval thick.

    lags, searches   as in `ReturnLags`; a search later than the time axis is left out of the picture, not of the data.
                     Each mark carries its date and the position of its spell in `lags`.
    of_half          a “find” is a count of at least half of what is expected (`ecology.recovery_lag`)
    animals          what is searched for
    """
    n, end = len(lags), horizon(lags)
    figure = blank(_ROW * n + _TOP + _BOTTOM, left=104, top=_TOP, bottom=_BOTTOM)
    place = np.arange(n)
    for trace in _intervals(lags, place, end):
        figure.add_trace(trace)
    shown = searches[searches["days"] <= end]
    names = (words.BELOW_HALF, words.REACHED_HALF) if of_half else (words.NONE_FOUND, words.FOUND)
    for finds, symbol, word in ((False, NONE_FOUND_SYMBOL, names[0]), (True, FOUND_SYMBOL, names[1])):
        rows = shown[(shown["count"] > 0) == finds]
        figure.add_trace(
            go.Scatter(
                x=rows["days"],
                y=place[rows["spell"].to_numpy(np.int64)],
                mode="markers",
                name=word,
                marker={"symbol": symbol, "size": 9, "color": ANIMALS, "line": {"width": 1.4, "color": ANIMALS}},
                unselected={"marker": {"opacity": 0.5}},
                customdata=[[short_date(d), int(i)] for d, i in zip(rows["date"], rows["spell"], strict=True)],
                hovertemplate=f"%{{customdata[0]}}: {word}, {hover.DAY} %{{x}}<extra></extra>",
            )
        )
    blind = np.flatnonzero(~lags["informative"].to_numpy(bool))
    if blind.size:
        figure.add_trace(
            go.Scatter(
                x=np.zeros(len(blind)),
                y=place[blind],
                mode="markers",
                name=words.NO_SEARCH,
                marker={"symbol": "x-thin", "size": 9, "line": {"width": 2, "color": STOP}},
                hovertemplate=f"{words.NO_SEARCH}<extra></extra>",
            )
        )
    figure.update_layout(
        xaxis=axis(range=[-0.02 * end, end], title={"text": words.SINCE_RESTART, "font": {"size": SMALL_TEXT_SIZE}}),
        yaxis=axis(
            tickvals=place.tolist(),
            ticktext=[short_date(d) for d in lags["restart"]],
            range=[-0.7, n - 0.3],
            showgrid=False,
        ),
    )
    found = int(lags["high_days"].notna().sum())
    return Drawing(
        name=f"{'half' if of_half else 'return'}-rows-{id}",
        title=titled.after_dry_spells(title, of_half=of_half),
        figure=figure,
        alt=words.half_rows(title, n, found) if of_half else words.lags(title, n, found, animals),
        data=lags,
        least_row=_LEAST_ROW,
    )


def _intervals(lags: pd.DataFrame, place: np.ndarray, end: float) -> list[go.Scatter]:
    """The time in which each return lies: a thick bar; where it has no end, a short arrow from where it begins."""
    informative = lags["informative"].to_numpy(bool)
    low = lags["low_days"].to_numpy(np.float64)
    high = lags["high_days"].to_numpy(np.float64)
    open_end = informative & ~np.isfinite(high)
    closed = informative & np.isfinite(high)
    shaft = _ARROW * end
    bars = go.Scatter(
        **_segments(low[closed], high[closed], place[closed]),
        mode="lines",
        line={"color": tint(EXPECTED, 0.55), "width": 11},
        hoverinfo="skip",
        name="return lies in",
    )
    shafts = go.Scatter(
        **_segments(low[open_end], low[open_end] + shaft, place[open_end]),
        mode="lines",
        line={"color": EXPECTED, "width": 2.5},
        hoverinfo="skip",
        name="not found yet",
    )
    heads = go.Scatter(
        x=low[open_end] + shaft,
        y=place[open_end],
        mode="markers",
        cliponaxis=False,
        name="not found yet",
        marker={"symbol": "triangle-right", "size": 12, "color": EXPECTED},
        customdata=low[open_end],
        hovertemplate=f"{hover.NOT_FOUND_BY}<extra></extra>",
    )
    return [bars, shafts, heads]


def _segments(start: np.ndarray, stop: np.ndarray, height: np.ndarray) -> dict[str, np.ndarray]:
    """Level lines as one broken line."""
    none = np.full(len(start), np.nan)
    return {"x": np.stack((start, stop, none), axis=1).ravel(), "y": np.stack((height, height, none), axis=1).ravel()}
