"""Marks, bars and signs of a still picture."""

from __future__ import annotations

import numpy as np
import plotly.graph_objects as go

from dashboard.figures.drawing import DAY_MS
from dashboard.figures.still_space import Space, text

#: Marks as lines from their middle, for a size of 1 px.
_MARKS = {
    "triangle-up": "m-.56,.42 h1.12 l-.56,-1 z",
    "square": "m-.45,-.45 h.9 v.9 h-.9 z",
    "circle": "m-.5,0 a.5,.5 0 1 0 1,0 a.5,.5 0 1 0 -1,0 z",
    "diamond": "m0,-.65 l.65,.65 l-.65,.65 l-.65,-.65 z",
    "x-thin": "m-.45,-.45 l.9,.9 m-.9,0 l.9,-.9",
    "line-ns": "m0,-.7 v1.4",
}
#: Share of the size that the dot in an open mark takes.
_DOT = 0.25
_STROKES = ("x-thin", "line-ns")
#: Distance of the lines of a hatch [px].
_HATCH = 5


def marks(figure: go.Figure, space: Space, id: str | None) -> list[str]:
    """The marks of each kind, and signs written at a place.

    id  where given, all marks of a kind are one path, which is left to whoever shows the picture: `data-at` has their
        places (per cent of the width, pixels), `data-mark` the lines from there. A browser takes many times longer for
        hundreds of single marks, and none but it knows how wide the picture is
    """
    parts = []
    for trace in figure.data:
        if not isinstance(trace, go.Scatter) or trace.mode == "lines":
            continue
        x, y = space.across(trace.x), space.down(trace.y, trace.yaxis)
        shown = np.isfinite(y)
        places = list(zip((100.0 * x[shown]).tolist(), y[shown].tolist(), strict=True))
        if trace.mode == "text":
            if trace.text is None or isinstance(trace.text, str):
                raise ValueError(f"no still picture of the signs {trace.text}")
            signs = np.asarray(trace.text)[shown].tolist()
            parts += [text(f"{a:.2f}%", b + 4.5, sign, "middle") for (a, b), sign in zip(places, signs, strict=True)]
            continue
        for shape, paint in _outlines(trace.marker):
            if id is None:
                mark = f'<path d="M0,0 {shape}" {paint}/>'
                parts += [f'<svg x="{a:.3f}%" y="{b:.1f}" style="overflow:visible">{mark}</svg>' for a, b in places]
            else:
                at = " ".join(f"{a:.2f},{b:.1f}" for a, b in places)
                parts.append(f'<path data-at="{at}" data-mark="{shape}" {paint}/>')
    return parts


def _outlines(marker: go.scatter.Marker) -> list[tuple[str, str]]:
    """The lines of a mark from its middle, each with its size and paint."""
    symbol, _, rest = (marker.symbol or "").partition("-open")
    opened = symbol != marker.symbol
    if symbol not in _MARKS or rest not in ("", "-dot"):
        raise ValueError(f"no still picture of a {marker.symbol}")
    width = 2.0 if symbol == "x-thin" else (marker.line.width or 1.0)
    stroke = f'fill="none" stroke="{marker.color}" stroke-width="{width:g}" vector-effect="non-scaling-stroke"'
    fill = f'fill="{marker.color}"'
    shapes = [(_MARKS[symbol], marker.size, stroke if opened or symbol in _STROKES else fill)]
    if rest == "-dot":
        shapes.append((_MARKS["circle"], _DOT * marker.size, fill))
    return [(lines, f'transform="scale({size:g})" {paint}') for lines, size, paint in shapes]


def bars(figure: go.Figure, space: Space, id: str | None) -> list[str]:
    """Upright bars, hatched or empty, each with its edge; the picture's sides cut them. A hatch needs the `id`."""
    parts = []
    for k, trace in enumerate(figure.data):
        if not isinstance(trace, go.Bar):
            continue
        marker, pattern = trace.marker, trace.marker.pattern
        if pattern.shape not in (None, "", "/") or (pattern.shape and id is None) or not isinstance(marker.color, str):
            raise ValueError(f"no still picture of a bar of {pattern.shape}")
        paint = f'fill="{marker.color}" stroke="{marker.line.color}" stroke-width="{marker.line.width:g}"'
        base = np.broadcast_to(np.asarray(0.0 if trace.base is None else trace.base, dtype=np.float64), len(trace.x))
        top = space.down(base + np.asarray(trace.y, dtype=np.float64), trace.yaxis)
        bottom = space.down(base, trace.yaxis)
        middle = space.across(trace.x)
        width = np.asarray(trace.width, dtype=np.float64) / (DAY_MS * space.days)
        hatch = ""
        if pattern.shape == "/":
            name = f"{id}-hatch-{k}"
            stripe = f'<path d="M-1,1 l2,-2 M0,{_HATCH} l{_HATCH},-{_HATCH} M{_HATCH - 1},{_HATCH + 1} l2,-2" '
            stripe += f'stroke="{pattern.fgcolor}" stroke-width="1.1"/>'
            size = f'width="{_HATCH}" height="{_HATCH}" patternUnits="userSpaceOnUse"'
            parts.append(f'<defs><pattern id="{name}" {size}>{stripe}</pattern></defs>')
            hatch = f' fill="url(#{name})"'
        for a, w, t, b in zip(middle.tolist(), width.tolist(), top.tolist(), bottom.tolist(), strict=True):
            box = f'<rect x="{100 * (a - w / 2):.3f}%" width="{100 * w:.3f}%" y="{t:.1f}" height="{b - t:.1f}"'
            parts.append(f"{box} {paint}/>" + (f"{box}{hatch}/>" if hatch else ""))
    if not parts:
        return []
    return [f'<svg width="100%" height="{space.height:g}">{"".join(parts)}</svg>']
