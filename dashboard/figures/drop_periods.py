"""The counts over time with the two periods that are compared, each in a frame with its name."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.answers.count_curves import EFFORT_SHOWN
from dashboard.figures.counts_and_flow import counts_for_effort
from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank, time_axis
from dashboard.figures.time_marks import count_marks, dry_marks, expected_marks
from dashboard.wording import explain_page as words
from dashboard.wording import figures as figure_words
from ecology.drop_periods import Span

_HEIGHT = 320
_DAY = pd.Timedelta(days=1)


def drop_periods(
    rows: pd.DataFrame,
    dry_visits: pd.DataFrame,
    *,
    judged: Span,
    baseline: Span,
    shown: Span,
    name: str,
    title: str,
    alt: str,
    effort_unit: str,
) -> Drawing:
    """Counts for equal effort over time; a drag across the picture marks days.

    rows        date, outlet, count, effort and expected (NaN where nothing is expected of the visit)
    dry_visits  date of visits that met a dry surface
    """
    here = rows[(rows["date"] >= shown[0]) & (rows["date"] <= shown[1])]
    y = counts_for_effort(here)
    figure = blank(_HEIGHT, left=46, top=50)
    top = 1.08 * max(float(y.max()) if y.size else 1.0, 1.0)
    bounds = [-0.03 * top, top]
    expected = here["expected"].to_numpy(np.float64) * EFFORT_SHOWN / here["effort"].to_numpy(np.float64)
    inside = ((here["date"] >= judged[0]) & (here["date"] <= judged[1])).to_numpy()
    figure.add_trace(expected_marks(here.loc[inside, "date"], expected[inside], name=words.EXPECTED_OF_THE_VISIT))
    figure.add_traces([*count_marks(here, y, say_outlet=True), *dry_marks(dry_visits, *shown)])
    _frames(figure, judged, baseline, shown, top)
    figure.update_layout(
        xaxis=time_axis(*shown), yaxis=axis(range=bounds, nticks=5), dragmode="select", selectdirection="h"
    )
    figure.add_annotation(
        xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", yshift=20,
        text=figure_words.per_effort(EFFORT_SHOWN, effort_unit), showarrow=False, font={"size": SMALL_TEXT_SIZE},
    )  # fmt: skip
    data = here.assign(count_for_effort=y, effort_shown=EFFORT_SHOWN)
    return Drawing(name=name, title=title, figure=figure, alt=alt, data=data)


def _frames(figure: go.Figure, judged: Span, baseline: Span, shown: Span, top: float) -> None:
    """The two periods: a full frame and a dashed one, named above."""
    for span, word, dash, fill in (
        (baseline, words.BASELINE, "dash", "rgba(128,128,128,0.10)"),
        (judged, words.JUDGED, "solid", "rgba(128,128,128,0.22)"),
    ):
        first, last = max(span[0], shown[0]), min(span[1], shown[1])
        if first > last:
            continue
        start, end = f"{first:%Y-%m-%d}", f"{last + _DAY:%Y-%m-%d}"
        figure.add_shape(
            type="rect", x0=start, x1=end, yref="paper", y0=0, y1=1, fillcolor=fill, layer="below",
            line={"width": 2, "color": FRAME, "dash": dash},
        )  # fmt: skip
        late = first - shown[0] > 0.5 * (shown[1] - shown[0])
        figure.add_annotation(
            x=end if late else start, xanchor="right" if late else "left", yref="paper", y=1, yanchor="bottom",
            yshift=18 if late and word == words.BASELINE and judged[0] > baseline[1] else 0, text=word, showarrow=False,
            font={"size": SMALL_TEXT_SIZE + 2},
        )  # fmt: skip
