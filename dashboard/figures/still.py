"""A small picture as plain SVG out of the same figure, so that a page shows it without loading a drawing library.

It follows the width of the page: positions along time are shares of the width, heights are pixels, letters and marks
keep their size. It knows the few shapes that the last days of an outlet are drawn with and refuses any other, so that
nothing of a figure is left out without a word.
"""

from __future__ import annotations

import html
import re
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import GRID, SMALL_TEXT_SIZE

#: Marks as lines around their middle, for a size of 1 px.
_MARKS = {
    "triangle-up": "M-.56,.42 L.56,.42 L0,-.58 Z",
    "square": "M-.45,-.45 L.45,-.45 L.45,.45 L-.45,.45 Z",
    "circle": "M-.5,0 A.5,.5 0 1 0 .5,0 A.5,.5 0 1 0 -.5,0 Z",
    "x-thin": "M-.45,-.45 L.45,.45 M.45,-.45 L-.45,.45",
}
_DASHES = {"solid": "", "dash": "6 4", "dot": "1.5 3.5"}
#: Width of the inner drawing in units of its own: a thousandth of it is less than a pixel on any screen.
_INNER = 10_000.0
#: Labels of days stand so far apart [days]; the page leaves out those of the class “every-second-label” on a phone.
_STEPS = (1, 2, 7, 14, 28)
_MOST_LABELS = 10


def still_picture(figure: go.Figure, alt: str) -> str:
    """`figure` as HTML around one SVG, named `alt` for people who do not see it.

    figure  lines and marks over days, levels and dashed days across, on a date axis and linear or logarithmic heights;
            the values of a day are shown by the browser where a pointer rests on it
    Raises ValueError for anything else in the figure.
    """
    space = _Space(figure)
    parts = [*space.grid(), *_lines(figure, space), *_shapes(figure, space), *_marks(figure, space)]
    parts += [*_annotations(figure, space), *_days(figure, space)]
    m = figure.layout.margin
    around = f"padding:{m.t}px {m.r}px {m.b}px {m.l}px;line-height:1"
    return (
        f'<div style="{around}"><svg role="img" aria-label="{html.escape(alt)}" width="100%" height="{space.height:g}" '
        f'style="overflow:visible;display:block" font-size="{SMALL_TEXT_SIZE}" fill="currentColor">{"".join(parts)}'
        "</svg></div>"
    )


class _Space:
    """Where things lie: share of the width [0–1] along time, pixels from the top along each height."""

    def __init__(self, figure: go.Figure) -> None:
        layout = figure.layout
        self.figure = figure
        self.height = float(layout.height - layout.margin.t - layout.margin.b)
        start, end = (pd.Timestamp(d) for d in layout.xaxis.range)
        self.start, self.span = start, end - start

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

    def grid(self) -> list[str]:
        """Lines and labels of the heights and of the days."""
        parts = []
        for name in ("y", "y2"):
            axis = self._axis(name)
            for y, label in zip(self.down(axis.tickvals, name), axis.ticktext, strict=True):
                if axis.showgrid is not False:
                    parts.append(_line("0", "100%", y, y, GRID, 1.0))
                parts.append(_text("-6", y + 4.5, label, "end"))
        days = round(self.span / pd.Timedelta(days=1))
        step = next((s for s in _STEPS if days / s <= _MOST_LABELS), _STEPS[-1])
        for k, day in enumerate(range(0, days, step)):
            time = self.start + pd.Timedelta(days=day)
            at = f"{100.0 * day / days:.3f}%"
            label = _text(at, self.height + 17.0, f"{time.day} {time:%b}", "middle")
            rare = ' class="every-second-label"' if k % 2 else ""
            parts.append(f"<g{rare}>{_line(at, at, 0.0, self.height, GRID, 1.0)}{label}</g>")
        return parts


def _lines(figure: go.Figure, space: _Space) -> list[str]:
    """Lines over days, broken where a value is missing; the space between two where one fills to the one before."""
    parts: list[str] = []
    before: str | None = None
    for trace in figure.data:
        if not isinstance(trace, go.Scatter) or trace.mode not in ("lines", "markers"):
            raise ValueError(f"no still picture of {trace.type} {getattr(trace, 'mode', None)}")
        if trace.mode != "lines":
            continue
        x, y = space.across(trace.x) * _INNER, space.down(trace.y, trace.yaxis)
        known = np.isfinite(y)
        at = [f"{a:.1f},{b:.1f}" for a, b in zip(x[known], y[known], strict=True)]
        if trace.fill == "tonexty" and before is not None:
            parts.append(f'<polygon points="{before} {" ".join(reversed(at))}" fill="{trace.fillcolor}"/>')
        elif trace.fill is not None:
            raise ValueError(f"no still picture of a filling {trace.fill}")
        before = " ".join(at)
        runs = np.split(np.arange(known.size), np.flatnonzero(np.diff(known.astype(int))) + 1)
        path = " ".join(
            "M" + " L".join(f"{x[i]:.1f},{y[i]:.1f}" for i in run) for run in runs if known[run[0]] and run.size > 1
        )
        dash = _dash(trace.line)
        parts.append(
            f'<path d="{path}" fill="none" stroke="{trace.line.color}" stroke-width="{trace.line.width:g}" '
            f'stroke-linejoin="round" stroke-linecap="round" stroke-dasharray="{dash}" '
            'vector-effect="non-scaling-stroke"/>'
        )
    box = f'viewBox="0 0 {_INNER:g} {space.height:g}" preserveAspectRatio="none"'
    return [f'<svg width="100%" height="{space.height:g}" {box}>{"".join(parts)}</svg>']


def _marks(figure: go.Figure, space: _Space) -> list[str]:
    parts = []
    for trace in figure.data:
        if trace.mode != "markers":
            continue
        mark = trace.marker
        if mark.symbol not in _MARKS:
            raise ValueError(f"no still picture of a {mark.symbol}")
        thin = mark.symbol.endswith("-thin")
        paint = f'fill="none" stroke="{mark.color}"' if thin else f'fill="{mark.color}"'
        shape = f'<path d="{_MARKS[mark.symbol]}" transform="scale({mark.size})" {paint} stroke-width="2" '
        shape += 'vector-effect="non-scaling-stroke"/>'
        for a, b in zip(space.across(trace.x), space.down(trace.y, trace.yaxis), strict=True):
            if np.isfinite(b):
                parts.append(f'<svg x="{100 * a:.3f}%" y="{b:.1f}" style="overflow:visible">{shape}</svg>')
    return parts


def _shapes(figure: go.Figure, space: _Space) -> list[str]:
    """Straight lines across the whole width, or down at one day."""
    parts = []
    for shape in figure.layout.shapes:
        if shape.type != "line":
            raise ValueError(f"no still picture of a {shape.type}")
        if shape.xref == "paper":
            ends = [f"{100.0 * float(x):.3f}%" for x in (shape.x0, shape.x1)]
        else:
            ends = [f"{100.0 * float(x):.3f}%" for x in space.across([shape.x0, shape.x1])]
        top = [float(y) for y in space.down([shape.y0, shape.y1], shape.yref)]
        dash = _dash(shape.line)
        parts.append(_line(ends[0], ends[1], top[0], top[1], shape.line.color, shape.line.width, dash))
    return parts


def _annotations(figure: go.Figure, space: _Space) -> list[str]:
    """Labels at one end of the picture, with an edge of the page's shade around their letters."""
    parts = []
    drop = {"top": SMALL_TEXT_SIZE + 1.0, "bottom": -4.0}
    for note in figure.layout.annotations:
        if note.xref != "paper" or note.yanchor not in drop or note.showarrow is not False:
            raise ValueError("no still picture of a label that is not at one end")
        y = float(space.down(note.y, note.yref, as_logarithm=True)[0]) + drop[note.yanchor]
        anchor = "end" if note.xanchor == "right" else "start"
        inwards = 4 if anchor == "start" else 0
        parts.append(_text(f"{100.0 * float(note.x):g}%", y, note.text, anchor, halo=True, dx=inwards))
    return parts


def _days(figure: go.Figure, space: _Space) -> list[str]:
    """Over each day a clear field that says its values where a pointer rests on it."""
    said: dict[str, list[str]] = {}
    for trace in figure.data:
        if trace.hoverinfo == "skip" or not trace.hovertemplate:
            continue
        for day, value in zip(np.asarray(trace.x).astype(str), np.asarray(trace.y, dtype=np.float64), strict=True):
            if np.isfinite(value):
                said.setdefault(day, []).append(_said(trace.hovertemplate, pd.Timestamp(day), float(value)))
    width = 100.0 * float(pd.Timedelta(days=1) / space.span)
    parts = []
    places = space.across(list(said)) if said else np.array([])
    for place, texts in zip(places, said.values(), strict=True):
        # The day itself once, then what was measured, seen or expected on it.
        head, *_ = texts[0].split("\n")
        lines = [head, *dict.fromkeys(t.split("\n", 1)[1] for t in texts)]
        left = 100.0 * float(place) - width / 2
        title = html.escape("\n".join(lines)).replace("\n", "&#10;")  # an empty line would end the HTML
        parts.append(
            f'<rect x="{left:.3f}%" y="0" width="{width:.3f}%" height="{space.height:g}" fill="transparent">'
            f"<title>{title}</title></rect>"
        )
    return parts


def _said(template: str, day: pd.Timestamp, value: float) -> str:
    """What the figure says under the pointer, filled in here."""
    text = template.replace("<extra></extra>", "").replace("<br>", "\n")
    text = re.sub(r"%\{x\|([^}]*)\}", lambda m: f"{day:{m[1].replace('%-d', str(day.day))}}", text)
    return re.sub(r"%\{y:([^}]*)\}", lambda m: format(value, m[1]), text)


def _dash(line: Any) -> str:
    """The dashes of a line as SVG has them."""
    if (line.dash or "solid") not in _DASHES:
        raise ValueError(f"no still picture of a line of {line.dash}")
    return _DASHES[line.dash or "solid"]


def _line(x1: str, x2: str, y1: float, y2: float, colour: str, width: float, dash: str = "") -> str:
    return (
        f'<line x1="{x1}" x2="{x2}" y1="{y1:.1f}" y2="{y2:.1f}" stroke="{colour}" stroke-width="{width:g}" '
        f'stroke-dasharray="{dash}"/>'
    )


def _text(x: str, y: float, text: str, anchor: str, *, halo: bool = False, dx: float = 0.0) -> str:
    edge = ' style="paint-order:stroke;stroke:light-dark(#ffffff,#171614);stroke-width:4px;stroke-linejoin:round"'
    return (
        f'<text x="{x}" y="{y:.1f}" dx="{dx:g}" text-anchor="{anchor}"{edge if halo else ""}>{html.escape(text)}</text>'
    )
