"""What every picture is: a figure, a sentence for people who do not see it, and the numbers drawn in it."""

from __future__ import annotations

import zlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.marks import ANIMALS, EXPECTED, STOP, WATER
from dashboard.figures.ready import ReadyFigure

TEXT_SIZE = 14
SMALL_TEXT_SIZE = 13
#: Neutral in light and dark.
GRID = "rgba(128,128,128,0.28)"
FRAME = "rgba(128,128,128,0.75)"
CLEAR = "rgba(0,0,0,0)"
DAY_MS = 86_400_000
#: Up to so many days each day gets a label.
_FEW_DAYS = 7


@dataclass(frozen=True, eq=False, kw_only=True)
class Drawing:
    """A picture: file-name-safe `name`, `title`, `figure`, `alt` sentence, `data` drawn in it (full precision).

    least_row   of a picture of rows (at 0, 1, … of the y axis, the newest on top) the least height of one at which it
                can be read [px]; 0 of any other
    """

    name: str
    title: str
    figure: go.Figure
    alt: str
    data: pd.DataFrame
    least_row: int = 0

    @cached_property
    def ready(self) -> ReadyFigure:
        """The figure as a page sends it; made once for everybody who looks at it."""
        return ReadyFigure(self.figure.to_dict())

    @cached_property
    def pointed(self) -> bytes:
        """A picture over days as a page sends it without a drawing library; made once for everybody, too."""
        from dashboard.figures.pointed import pointed_picture

        # An outlet's id may hold any sign, the name of a part of a page may not.
        return pointed_picture(self.figure, self.alt, f"picture-{zlib.crc32(self.name.encode()):08x}")


def blank(height: int, *, left: int = 56, right: int = 12, top: int = 26, bottom: int = 34) -> go.Figure:
    """An empty figure that reads on a light and on a dark page; height and margins in pixels."""
    layout = go.Layout(
        # A template of our own, however small: an empty one is replaced by the library's, 6 kB in every picture.
        template={"layout": {"colorway": [WATER, STOP, ANIMALS, EXPECTED]}},
        height=height,
        margin={"l": left, "r": right, "t": top, "b": bottom, "pad": 2},
        paper_bgcolor=CLEAR,
        plot_bgcolor=CLEAR,
        font={"size": TEXT_SIZE},
        showlegend=False,
        hovermode="closest",
        hoverlabel={"font": {"size": TEXT_SIZE}},
        bargap=0,
        barmode="overlay",
        dragmode=False,
    )
    return go.Figure(layout=layout)


def axis(**more: object) -> dict[str, object]:
    """Settings of an axis with neutral lines and readable labels."""
    return {
        "gridcolor": GRID,
        "linecolor": FRAME,
        "zeroline": False,
        "tickfont": {"size": SMALL_TEXT_SIZE},
        "automargin": False,
        **more,
    }


def time_axis(first: pd.Timestamp, last: pd.Timestamp, **more: object) -> dict[str, object]:
    """A date axis over whole days, with the last day inside."""
    span = [f"{first:%Y-%m-%d}", f"{last + pd.Timedelta(days=1):%Y-%m-%d}"]
    # One line a label: a second line would not fit under a small picture.
    formats = [
        {"dtickrange": [None, "M1"], "value": "%-d %b"},
        {"dtickrange": ["M1", "M12"], "value": "%b %Y"},
        {"dtickrange": ["M12", None], "value": "%Y"},
    ]
    settings = {"type": "date", "range": span, "hoverformat": "%a %-d %B %Y", "tickformatstops": formats, "nticks": 7}
    if (last - first).days < _FEW_DAYS:
        settings |= {"dtick": DAY_MS, "tick0": span[0]}  # else a day would be labelled several times
    return axis(**settings, **more)


def one_two_five(low: float, high: float) -> list[float]:
    """The values 1, 2, 5 times powers of ten between `low` and `high` (both above 0); wide ranges get powers alone."""
    first, last = int(np.floor(np.log10(low))), int(np.ceil(np.log10(high)))
    steps = (1.0,) if last - first > 4 else (1.0, 2.0, 5.0)
    values = [s * 10.0**e for e in range(first, last + 1) for s in steps]
    return [v for v in values if low <= v <= high]


def between(low: float, high: float, most: int = 5) -> list[float]:
    """Evenly spaced round values inside a range too narrow for 1-2-5."""
    rough = (high - low) / most
    power = 10.0 ** np.floor(np.log10(rough))
    step = next(s * power for s in (1.0, 2.0, 5.0, 10.0) if s * power >= rough)
    count = np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    return [float(f"{v:.12g}") for v in count * step]


def log_axis(low: float, high: float, **more: object) -> dict[str, object]:
    """A logarithmic axis from a little below `low` to a little above `high`, labelled 1-2-5."""
    low, high = low / 1.12, high * 1.12
    ticks = one_two_five(low, high)
    if len(ticks) < 3:
        ticks = between(low, high)
    labels = [f"{t:,.10g}".replace(",", "\u202f") for t in ticks]
    bounds = [float(np.log10(low)), float(np.log10(high))]
    return axis(type="log", range=bounds, tickvals=ticks, ticktext=labels, **more)


def days_text(days: pd.DatetimeIndex | pd.Series) -> np.ndarray:
    """Civil days as short ISO texts, a third of the bytes of full time stamps; as an array, which is checked fast."""
    return np.datetime_as_string(np.asarray(days, dtype="M8[D]"))
