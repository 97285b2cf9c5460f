"""Discharge over time with what people saw and visits above it, dry spells and unknown days below, on one time axis."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.discharge_lines import discharge_traces
from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank, days_text, log_axis, time_axis
from dashboard.figures.level_lines import add_levels
from dashboard.figures.marks import WATER
from dashboard.figures.strips import dry_bars, seen_traces, unknown_bars, unknown_runs, visit_traces
from dashboard.wording import figures as words
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import discharge
from hydro.units import SYMBOLS, from_m3s

#: Heights [px] of the strips and of the discharge between them.
_SEEN, _LINE, _ZERO, _DRY, _SPACE = 92, 290, 22, 30, 10
_TOP, _BOTTOM = 8, 34


def hydrograph(
    *,
    id: str,
    title: str,
    flow: pd.DataFrame,
    states: pd.Series | None,
    spells: pd.DataFrame | None,
    seen: pd.DataFrame,
    first: pd.Timestamp,
    last: pd.Timestamp,
    unit: str,
    stop_m3s: float | None,
    restart_m3s: float | None,
    source: str,
) -> Drawing:
    """The hydrograph of one outlet from `first` to `last` (both inside).

    flow    as in `Flow.frame`        states, spells   as in `DrySpells`, None where no level is set
    seen    columns date, surface, kind, count         unit   canonical name of the display unit
    """
    shown = flow.loc[first:last]
    people = seen[(seen["date"] >= first) & (seen["date"] <= last)]
    values = shown["discharge_m3s"]
    zeros = shown.index[(values <= 0).to_numpy()]
    strips = _domains(bool(len(zeros)), states is not None)
    figure = blank(strips.height, left=50, top=_TOP, bottom=_BOTTOM)
    traces: list[go.Scatter | go.Bar] = [
        *discharge_traces(shown, unit),
        *_on("y2", [*seen_traces(people, 1.0), *visit_traces(people, 0.0)]),
    ]
    inside = _inside(spells, first, last)
    if states is not None:
        bars = dry_bars(inside)
        unknown = unknown_bars(unknown_runs(states.loc[first:last]), first, last)
        traces += _on("y3", unknown if bars is None else [bars, *unknown])
    if len(zeros):
        traces.append(_zero_marks(zeros, unit))
    figure.add_traces(traces)
    positive = from_m3s(values[values > 0].to_numpy(np.float64), unit)
    levels = [from_m3s(v, unit) for v in (stop_m3s, restart_m3s) if v]
    reach = np.concatenate((positive, levels)) if positive.size or levels else np.array([1.0, 10.0])
    figure.update_layout(
        xaxis=time_axis(first, last, anchor="y3" if states is not None else ("y4" if len(zeros) else "y")),
        yaxis=log_axis(float(reach.min()), float(reach.max()), domain=strips.line, anchor="x"),
        yaxis2=_words_axis({1.0: words.SEEN, 0.0: words.VISITS}, (-0.55, 1.55), strips.seen),
    )
    if states is not None:
        figure.update_layout(yaxis3=_words_axis({0.5: words.DRY}, (-0.05, 1.05), strips.dry))
    if len(zeros):
        figure.update_layout(yaxis4=_words_axis({0.5: words.ZERO}, (0, 1), strips.zero))
    add_levels(figure, stop_m3s, restart_m3s, unit, source, "y")
    figure.add_annotation(
        xref="paper",
        x=0,
        yref="paper",
        y=strips.line[1],
        xanchor="left",
        yanchor="top",
        text=f"{words.DISCHARGE}, {SYMBOLS[unit]}",
        showarrow=False,
        font={"size": SMALL_TEXT_SIZE},
    )
    known = values.dropna()
    low, high = (discharge(float(v), unit) for v in (known.min(), known.max())) if len(known) else (None, None)
    alt = words.hydrograph(title, first, last, low, high, None if states is None else len(inside))
    data = shown if states is None else shown.assign(state=states.reindex(shown.index))
    return Drawing(name=f"hydrograph-{id}", title=titled.hydrograph(title), figure=figure, alt=alt,
                   data=data.reset_index())  # fmt: skip


class _Strips:
    """Vertical domains (0–1 from the bottom) and the height of the whole figure [px]."""

    def __init__(self, with_zero: bool, with_dry: bool) -> None:
        heights = {"dry": _DRY if with_dry else 0, "zero": _ZERO if with_zero else 0, "line": _LINE, "seen": _SEEN}
        inner = sum(heights.values()) + _SPACE * (sum(h > 0 for h in heights.values()) - 1)
        self.height = inner + _TOP + _BOTTOM
        at = 0.0
        found: dict[str, list[float]] = {}
        for name, height in heights.items():
            found[name] = [at / inner, (at + height) / inner]
            at += height + _SPACE if height else 0
        self.dry, self.zero, self.line, self.seen = found["dry"], found["zero"], found["line"], found["seen"]
        self.seen[1] = 1.0


def _domains(with_zero: bool, with_dry: bool) -> _Strips:
    return _Strips(with_zero, with_dry)


def _words_axis(at: dict[float, str], reach: tuple[float, float], domain: list[float]) -> dict[str, object]:
    """The vertical axis of a strip: words instead of numbers."""
    return axis(
        tickvals=list(at), ticktext=list(at.values()), range=list(reach), domain=domain, showgrid=False, anchor="x"
    )


def _on(axis_name: str, traces: Sequence[go.Scatter | go.Bar]) -> list[go.Scatter | go.Bar]:
    """The traces, moved to a strip's axis."""
    for trace in traces:
        trace.yaxis = axis_name
    return list(traces)


def _zero_marks(days: pd.DatetimeIndex, unit: str) -> go.Scatter:
    return go.Scatter(
        x=days_text(days),
        y=[0.5] * len(days),
        yaxis="y4",
        mode="markers",
        name="zero",
        marker={"symbol": "circle", "size": 5, "color": WATER, "line": {"color": FRAME, "width": 0.5}},
        customdata=["0"] * len(days),
        hovertemplate=f"%{{x|%a %-d %B %Y}}<br>%{{customdata}} {SYMBOLS[unit]}<extra></extra>",
    )


def _inside(spells: pd.DataFrame | None, first: pd.Timestamp, last: pd.Timestamp) -> pd.DataFrame:
    """The spells that touch the period, whole: the axis cuts them."""
    if spells is None or spells.empty:
        return pd.DataFrame({"first": pd.DatetimeIndex([]), "last": pd.DatetimeIndex([])})
    return spells[(spells["last"] >= first) & (spells["first"] <= last)]
