"""Where things of a still picture lie, and its axes: shares of the width along time, pixels along heights."""

from __future__ import annotations

import html
from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, GRID

#: Labels of days stand so far apart [days]; the page leaves out those of the class “every-second-label” on a phone.
_STEPS = (1, 2, 7, 14, 28)
_MOST_LABELS = 10
#: Longer spans are labelled by the month, and those too long for that by the year.
_MONTHS, _YEARS = (1, 2, 3, 6), (1, 2, 5, 10, 20, 50)
_MOST_DATES = 8


class Space:
    """Where things lie: share of the width [0–1] along time, pixels from the top along each height."""

    def __init__(self, figure: go.Figure) -> None:
        layout = figure.layout
        self.figure = figure
        self.height = float(layout.height - layout.margin.t - layout.margin.b)
        start, end = (pd.Timestamp(d) for d in layout.xaxis.range)
        self.start, self.span = start, end - start
        self.days = self.span / pd.Timedelta(days=1)

    def across(self, days: Any) -> np.ndarray:
        # ISO texts of a few days: numpy reads them many times quicker than pandas does.
        times = np.atleast_1d(np.asarray(days)).astype(str).astype("M8[s]")
        return np.asarray((times - np.datetime64(self.start, "s")) / np.timedelta64(self.span), dtype=np.float64)

    def _axis(self, ref: str) -> Any:
        return self.figure.layout["yaxis" + ref[1:]]

    def down(self, values: Any, ref: str | None, *, as_logarithm: bool = False) -> np.ndarray:
        """Pixels from the top; `ref` names the axis (“y”, “y2”), “paper” takes shares of the whole."""
        v = np.atleast_1d(np.asarray(values, dtype=np.float64))
        if ref == "paper":
            return np.asarray((1.0 - v) * self.height)
        axis = self._axis(ref or "y")
        if axis.type == "log" and not as_logarithm:
            with np.errstate(divide="ignore", invalid="ignore"):
                v = np.log10(v)
        low, high = axis.range
        bottom, top = axis.domain
        return np.asarray((1.0 - (bottom + (v - low) / (high - low) * (top - bottom))) * self.height)

    def axes(self) -> Iterator[tuple[str, Any]]:
        """The heights of the picture, each with its name as traces have it."""
        for key in self.figure.layout.to_plotly_json():
            if key.startswith("yaxis"):
                yield f"y{key[5:]}", self.figure.layout[key]

    def grid(self) -> list[str]:
        """Lines and labels of the heights and of the days."""
        parts = []
        for at, label, rare in self._dates():
            place = f"{100.0 * at:.3f}%"
            hidden = ' class="every-second-label"' if rare else ""
            drawn = line(place, place, 0.0, self.height, GRID, 1.0)
            parts.append(f"<g{hidden}>{drawn}{text(place, self.height + 17.0, label, 'middle')}</g>")
        for name, axis in self.axes():
            for y, label in zip(self.down(axis.tickvals, name), axis.ticktext, strict=True):
                if axis.showgrid is not False:
                    parts.append(line("0", "100%", y, y, GRID, 1.0))
                parts.append(text("-6", y + 4.5, label, "end"))
            bottom, top = (float(y) for y in self.down(axis.domain or (0.0, 1.0), "paper"))
            parts.append(line("0", "0", bottom, top, FRAME, 1.0))
        parts.append(line("0", "100%", self.height, self.height, FRAME, 1.0))
        return parts

    def _dates(self) -> list[tuple[float, str, bool]]:
        """Labels along time: share of the width, text, and whether a narrow screen leaves it out."""
        days = round(self.days)
        step = next((s for s in _STEPS if days / s <= _MOST_LABELS), None)
        if step is not None:
            times = [self.start + pd.Timedelta(days=d) for d in range(0, days, step)]
            labels = [f"{t.day} {t:%b}" for t in times]
        else:
            times, labels = self._months_or_years()
        return [((t - self.start) / self.span, label, bool(k % 2)) for k, (t, label) in
                enumerate(zip(times, labels, strict=True))]  # fmt: skip

    def _months_or_years(self) -> tuple[list[pd.Timestamp], list[str]]:
        end = self.start + self.span
        for months in _MONTHS:
            # Labels are a word wide: none where it would begin outside the picture.
            firsts = pd.date_range(self.start, end, freq="MS", inclusive="left")
            times = [t for t in firsts if (t.month - 1) % months == 0 and 0.02 < (t - self.start) / self.span < 0.98]
            if len(times) <= _MOST_DATES:
                return times, [f"{t:%b} {t.year}" for t in times]
        years = [pd.Timestamp(year, 1, 1) for year in range(self.start.year + 1, end.year + 1)]
        for every in _YEARS:
            times = [t for t in years if t.year % every == 0 and t < end]
            if len(times) <= _MOST_DATES:
                break
        return times, [str(t.year) for t in times]


def line(x1: str, x2: str, y1: float, y2: float, colour: str, width: float, dash: str = "") -> str:
    return (
        f'<line x1="{x1}" x2="{x2}" y1="{y1:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}" '
        f'stroke-dasharray="{dash}"/>'
    )


def text(x: str, y: float, text: str, anchor: str, *, halo: bool = False, dx: float = 0.0) -> str:
    edge = ' style="paint-order:stroke;stroke:light-dark(#ffffff,#171614);stroke-width:4px;stroke-linejoin:round"'
    return (
        f'<text x="{x}" y="{y:.1f}" dx="{dx:g}" text-anchor="{anchor}"{edge if halo else ""}>{html.escape(text)}</text>'
    )
