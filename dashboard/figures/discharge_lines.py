"""Discharge as lines: solid as measured, dashed provisional, dotted over a bridged gap, none where none is known."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import days_text
from dashboard.figures.marks import WATER
from dashboard.figures.thinning import thinned
from hydro.units import SYMBOLS, from_m3s

KINDS = ("measured", "provisional", "bridged")
_WHEN = "%{x|%a %-d %B %Y}<br>%{y:.3g} "
_DASH = {"measured": "solid", "provisional": "dash", "bridged": "dot"}


def line_pieces(frame: pd.DataFrame) -> dict[str, np.ndarray]:
    """Positions of `frame` to draw for each kind of line, −1 where the line breaks.

    The stretch between two days is bridged where either day is, else provisional where either is, else measured; it is
    drawn only where both days have a value. `frame` has discharge_m3s, provisional and bridged, one row a day.
    """
    known = frame["discharge_m3s"].notna().to_numpy()
    both = known[1:] & known[:-1]
    bridged = frame["bridged"].to_numpy(bool)
    provisional = frame["provisional"].to_numpy(bool)
    is_bridged = both & (bridged[1:] | bridged[:-1])
    is_provisional = both & ~is_bridged & (provisional[1:] | provisional[:-1])
    by_kind = (both & ~is_bridged & ~is_provisional, is_provisional, is_bridged)
    return {kind: _runs(pieces) for kind, pieces in zip(KINDS, by_kind, strict=True)}


def _runs(pieces: np.ndarray) -> np.ndarray:
    """Positions of the days that runs of joined stretches touch, runs parted by −1."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], pieces.astype(np.int8), [0]))))
    parts: list[np.ndarray] = []
    for start, stop in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        parts += [np.arange(start, stop + 1), np.array([-1])]
    return np.concatenate(parts[:-1]) if parts else np.array([], dtype=np.int64)


def alone(frame: pd.DataFrame) -> np.ndarray:
    """Positions of days with a value and none on either side: a line would not show them."""
    known = np.concatenate(([False], frame["discharge_m3s"].notna().to_numpy(), [False]))
    return np.flatnonzero(known[1:-1] & ~known[:-2] & ~known[2:])


def discharge_traces(frame: pd.DataFrame, unit: str) -> list[go.Scatter]:
    """Lines of a flow's daily frame in the display unit; days at or below 0 are left to the zero strip."""
    positive = frame.assign(discharge_m3s=frame["discharge_m3s"].where(frame["discharge_m3s"] > 0))
    values = from_m3s(positive["discharge_m3s"].to_numpy(np.float64), unit)
    days = pd.DatetimeIndex(frame.index)
    symbol = SYMBOLS[unit]
    own = np.where(frame["bridged"], ", bridged", np.where(frame["provisional"], ", provisional", ""))
    traces = []
    for kind, at in line_pieces(positive).items():
        if at.size == 0:
            continue
        y = np.where(at < 0, np.nan, values[at])
        keep = thinned(y)
        # A break takes the day of its neighbour: only its missing value matters.
        day = np.where(at < 0, 0, at)[keep]
        # A stretch is provisional where either of its days is: each day says what it is itself.
        said = {} if kind == "measured" else {"customdata": own[day]}
        traces.append(
            go.Scatter(
                x=days_text(days[day]),
                y=y[keep].astype(np.float32),
                mode="lines",
                name=kind,
                connectgaps=False,
                line={"color": WATER, "width": 1.8, "dash": _DASH[kind]},
                hovertemplate=f"{_WHEN}{symbol}{'%{customdata}' if said else ''}<extra></extra>",
                **said,
            )
        )
    single = alone(positive)
    if single.size:
        traces.append(
            go.Scatter(
                x=days_text(days[single]),
                y=values[single].astype(np.float32),
                mode="markers",
                name="single days",
                marker={"color": WATER, "size": 4, "symbol": "circle"},
                customdata=own[single],
                hovertemplate=f"{_WHEN}{symbol}%{{customdata}}<extra></extra>",
            )
        )
    return traces
