"""From the baseline to the count observed: one step a factor, multiplying, and beside it the range to be expected."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, GRID, Drawing, axis, blank, log_axis
from dashboard.figures.marks import ANIMALS, DRY_PATTERN, EXPECTED, FOUND_SYMBOL, NONE_FOUND_SYMBOL, STOP, WATER, tint
from dashboard.wording import explain as words
from dashboard.wording import explain_page
from dashboard.wording.numbers import figures
from ecology.count_drop import DropJudgement

_ROW, _LEFT, _RIGHT, _TOP, _BOTTOM = 46, 122, 100, 12, 66
#: Large: this picture is shown in meetings.
_TEXT = 16


def drop_staircase(j: DropJudgement, *, name: str, title: str, alt: str) -> Drawing | None:
    """Rows from top to bottom: baseline, a step a factor, the count, the range to be expected; None without factors.

    Everything is in animals a visit planned, on a logarithmic axis where no step ends at 0, so that equal factors are
    steps of equal length whatever their order.
    """
    if j.split is None or j.baseline.per_visit is None or j.judged.per_visit is None:
        return None
    ends = j.baseline.per_visit * np.cumprod(j.factors["factor"].to_numpy(np.float64))
    starts = np.concatenate(([j.baseline.per_visit], ends[:-1]))
    planned = j.judged.planned
    expected = [v / planned for v in (j.low, j.high, j.expected, j.line_low, j.line_high) if v is not None]
    labels = [
        explain_page.BASELINE,
        *(words.PART_NAMES[p] for p in j.factors["part"]),
        explain_page.COUNTED,
        explain_page.TO_BE_EXPECTED,
    ]
    height = _TOP + _BOTTOM + _ROW * len(labels)
    figure = blank(height, left=_LEFT, right=_RIGHT, top=_TOP, bottom=_BOTTOM)
    rows = np.arange(len(labels))[::-1]
    _stairs(figure, j, starts, ends, rows)
    reach = np.concatenate([starts, ends, expected])
    horizontal = (
        log_axis(float(reach.min()), float(reach.max()))
        if reach.min() > 0
        else axis(range=[0.0, 1.08 * float(reach.max())], nticks=6)
    )
    # Text beside the rows, in one column at the right edge.
    said = [figures(j.baseline.per_visit), *(words.times(f) for f in j.factors["factor"]), figures(j.judged.per_visit)]
    if expected:
        _range(figure, j, planned, float(rows[-1]))
        said.append(f"{figures(expected[0])}–{figures(expected[1])}")
    for row, text in zip(rows, said, strict=False):
        figure.add_annotation(
            xref="paper", x=1.01, xanchor="left", y=float(row), yanchor="middle", text=text, showarrow=False,
            font={"size": _TEXT},
        )  # fmt: skip
    for symbol, at, row in ((NONE_FOUND_SYMBOL, starts[0], rows[0]), (FOUND_SYMBOL, ends[-1], rows[-2])):
        figure.add_trace(
            go.Scatter(
                x=[at], y=[row], mode="markers", hovertemplate="%{x:.3g}<extra></extra>",
                marker={"symbol": symbol, "size": 17, "color": ANIMALS, "line": {"width": 2.5, "color": ANIMALS}},
            )
        )  # fmt: skip
    vertical = axis(
        range=[-0.7, len(labels) - 0.4],
        tickvals=rows.tolist(),
        ticktext=labels,
        tickfont={"size": _TEXT},
        showgrid=False,
    )
    figure.update_layout(xaxis=horizontal, yaxis=vertical)
    figure.add_annotation(
        xref="paper", x=1.0, xanchor="right", yref="paper", y=0.0, yanchor="top", yshift=-28,
        text=explain_page.A_VISIT_PLANNED, showarrow=False, font={"size": _TEXT - 2},
    )  # fmt: skip
    data = pd.DataFrame({"part": j.factors["part"], "from_per_visit": starts, "to_per_visit": ends})
    data = data.assign(factor=j.factors["factor"], low=j.factors["low"], high=j.factors["high"])
    return Drawing(name=name, title=title, figure=figure, alt=alt, data=data)


def _stairs(figure: go.Figure, j: DropJudgement, starts: np.ndarray, ends: np.ndarray, rows: np.ndarray) -> None:
    """A bar a step, hatched where it goes down, and thin risers that join them."""
    down = ends < starts
    patterns = [DRY_PATTERN if d else "" for d in down]
    colours = [tint(STOP if d else WATER, 0.35 if d else 0.75) for d in down]
    figure.add_trace(
        go.Bar(
            y=rows[1:-2],
            base=np.minimum(starts, ends),
            x=np.abs(ends - starts),
            orientation="h",
            width=0.62,
            marker={
                "color": colours,
                "line": {"width": 2, "color": [STOP if d else WATER for d in down]},
                "pattern": {"shape": patterns, "fgcolor": STOP, "size": 7, "solidity": 0.35},
            },
            customdata=[
                explain_page.step(r.part, r.factor, r.low, r.high, r.animals) for r in j.factors.itertuples(index=False)
            ],
            hovertemplate="%{customdata}<extra></extra>",
        )
    )
    for row, level in zip(rows, [starts[0], *ends], strict=False):
        figure.add_shape(
            type="line", x0=level, x1=level, y0=row + 0.31, y1=row - 1.31, layer="below",
            line={"width": 1.5, "color": FRAME, "dash": "dot"},
        )  # fmt: skip


def _range(figure: go.Figure, j: DropJudgement, planned: int, row: float) -> None:
    """The range to be expected as a box, inside it the part where no verdict falls, a tick at the expected count."""
    for low, high, half, opacity in ((j.low, j.high, 0.17, 0.2), (j.line_low, j.line_high, 0.3, 0.45)):
        figure.add_shape(
            type="rect", x0=(low or 0) / planned, x1=(high or 0) / planned, y0=row - half, y1=row + half,
            line={"width": 2, "color": EXPECTED}, fillcolor=tint(EXPECTED, opacity),
        )  # fmt: skip
    figure.add_trace(
        go.Scatter(
            x=[(j.expected or 0) / planned], y=[row], mode="markers", hovertemplate="%{x:.3g}<extra></extra>",
            marker={"symbol": "line-ns", "size": 26, "line": {"width": 3, "color": EXPECTED}},
        )
    )  # fmt: skip
    observed = j.judged.count / planned
    figure.add_shape(
        type="line", x0=observed, x1=observed, y0=row + 1, y1=row - 0.55, layer="below",
        line={"width": 2, "color": GRID if observed == 0 else ANIMALS, "dash": "dash"},
    )  # fmt: skip
