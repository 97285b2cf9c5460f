"""A picture over days as plain SVG out of the same figure, so that a page shows it without loading a drawing library.

It follows the width of the page: positions along time are shares of the width, heights are pixels, letters and marks
keep their size. It knows the shapes that discharge over time is drawn with and refuses any other, so that nothing of a
figure is left out without a word.
"""

from __future__ import annotations

import html
import re
from typing import Any

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import SMALL_TEXT_SIZE
from dashboard.figures.still_marks import bars, marks
from dashboard.figures.still_space import Space, line, text

_DASHES = {"solid": "", "dash": "6 4", "dot": "1.5 3.5"}
#: Width of the inner drawing in units of its own: a thousandth of it is less than a pixel on any screen.
_INNER = 10_000.0
_MODES = ("lines", "markers", "text")


def still_picture(figure: go.Figure, alt: str) -> str:
    """`figure` as HTML around one SVG, named `alt` for people who do not see it.

    figure  lines, marks and bars over days, levels and dashed days across, on a date axis and linear or logarithmic
            heights; the values of a day are shown by the browser where a pointer rests on it
    Raises ValueError for anything else in the figure.
    """
    m = figure.layout.margin
    svg = drawn(figure, alt)
    return f'<div style="padding:{m.t}px {m.r}px {m.b}px {m.l}px;line-height:1">{svg}</div>'


def drawn(figure: go.Figure, alt: str, *, id: str | None = None) -> str:
    """The SVG alone, without the figure's margins.

    id  a name of its own on the page for a picture of many marks; who shows it says the values of a day by other means
    """
    for trace in figure.data:
        if not isinstance(trace, (go.Scatter, go.Bar)) or (trace.type == "scatter" and trace.mode not in _MODES):
            raise ValueError(f"no still picture of {trace.type} {getattr(trace, 'mode', None)}")
    space = Space(figure)
    parts = [*space.grid(), *bars(figure, space, id), *_lines(figure, space), *_shapes(figure, space)]
    parts += [*marks(figure, space, id), *_annotations(figure, space)]
    if id is None:
        parts += _days(figure, space)
    return (
        f'<svg role="img" aria-label="{html.escape(alt)}" width="100%" height="{space.height:g}" '
        f'style="overflow:visible;display:block" font-size="{SMALL_TEXT_SIZE}" fill="currentColor">{"".join(parts)}'
        "</svg>"
    )


def _lines(figure: go.Figure, space: Space) -> list[str]:
    """Lines over days, broken where a value is missing; the space between two where one fills to the one before."""
    parts: list[str] = []
    before: str | None = None
    for trace in figure.data:
        if not isinstance(trace, go.Scatter) or trace.mode != "lines":
            continue
        x, y = space.across(trace.x) * _INNER, space.down(trace.y, trace.yaxis)
        known = np.isfinite(y)
        at = [f"{a:.0f},{b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True)]
        band = [a for a, is_known in zip(at, known, strict=True) if is_known]
        if trace.fill == "tonexty" and before is not None:
            parts.append(f'<polygon points="{before} {" ".join(reversed(band))}" fill="{trace.fillcolor}"/>')
        elif trace.fill is not None:
            raise ValueError(f"no still picture of a filling {trace.fill}")
        before = " ".join(band)
        edges = np.flatnonzero(np.diff(np.concatenate(([0], known.astype(np.int8), [0]))))
        runs = zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
        path = "M".join(" ".join(at[start:end]) for start, end in runs if end - start > 1)
        dash = _dash(trace.line)
        parts.append(
            f'<path d="M{path}" fill="none" stroke="{trace.line.color}" stroke-width="{trace.line.width:g}" '
            f'stroke-linejoin="round" stroke-linecap="round" stroke-dasharray="{dash}" '
            'vector-effect="non-scaling-stroke"/>'
        )
    box = f'viewBox="0 0 {_INNER:g} {space.height:g}" preserveAspectRatio="none"'
    return [f'<svg width="100%" height="{space.height:g}" {box}>{"".join(parts)}</svg>']


def _shapes(figure: go.Figure, space: Space) -> list[str]:
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
        parts.append(line(ends[0], ends[1], top[0], top[1], shape.line.color, shape.line.width, dash))
    return parts


def _annotations(figure: go.Figure, space: Space) -> list[str]:
    """Labels at an end or in the middle of the picture, with an edge of the page's shade around their letters."""
    parts = []
    drop = {"top": SMALL_TEXT_SIZE + 1.0, "bottom": -4.0}
    for note in figure.layout.annotations:
        if note.xref != "paper" or note.yanchor not in drop or note.showarrow is not False:
            raise ValueError("no still picture of a label that is not at a place along the width")
        y = float(space.down(note.y, note.yref, as_logarithm=True)[0]) + drop[note.yanchor]
        y -= note.yshift or 0.0
        anchor = {"right": "end", "center": "middle"}.get(note.xanchor, "start")
        inwards = 4 if anchor == "start" else 0
        parts.append(text(f"{100.0 * float(note.x):g}%", y, note.text, anchor, halo=True, dx=inwards))
    return parts


def _days(figure: go.Figure, space: Space) -> list[str]:
    """Over each day a clear field that says its values where a pointer rests on it."""
    said: dict[str, list[str]] = {}
    for trace in figure.data:
        if trace.hoverinfo == "skip" or not trace.hovertemplate:
            continue
        own = [""] * len(trace.x) if trace.customdata is None else np.asarray(trace.customdata).tolist()
        values = np.asarray(trace.y, dtype=np.float64)
        for day, value, note in zip(np.asarray(trace.x).astype(str), values, own, strict=True):
            if np.isfinite(value):
                template = trace.hovertemplate.replace("%{customdata}", note)
                said.setdefault(day, []).append(_said(template, pd.Timestamp(day), float(value)))
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
