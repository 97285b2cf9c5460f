"""One picture for each check of the count regression."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.check_parts import ROW, above, bars, dots, left_for, line, lying, short, small, titled, zero
from dashboard.figures.drawing import Drawing, axis, blank, days_text, log_axis
from dashboard.figures.marks import ANIMALS, EXPECTED, OTHERS, STOP, tint
from dashboard.wording import check_labels as words
from dashboard.wording import hover
from dashboard.wording.count_checks import check_sentence
from dashboard.wording.figures import MONTHS
from ecology.model_checks import ModelCheck
from hydro.units import SYMBOLS, from_m3s

_HEIGHT = 300


@dataclass(frozen=True, kw_only=True)
class Labels:
    """What a picture needs beside the check's table: titles of outlets, display unit, effort unit."""

    titles: Mapping[str, str]
    unit: str
    effort_unit: str


def check_picture(check: ModelCheck, labels: Labels) -> Drawing | None:
    """The picture of a check; None where it has no table."""
    if check.table is None or check.table.empty or check.name not in _PICTURES:
        return None
    figure = _PICTURES[check.name](check, check.table, labels)
    return Drawing(
        name=f"check-{check.name.replace(' ', '-')}",
        title=words.NAMES[check.name],
        figure=figure,
        alt=f"{words.NAMES[check.name]}. {check_sentence(check, labels.titles)}",
        data=check.table,
    )


def _separation(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    names = [short(labels.titles.get(o, o)) for o in t["outlet"]]
    figure = lying(len(t), left_for(names), words.VISITS_AND_FOUND)
    figure.add_trace(bars(names, t["visits"], name=words.VISITS, colour=OTHERS))
    figure.add_trace(bars(names, t["found"], name=words.WITH_FINDS, width=0.34))
    return figure


def _collinearity(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    names = [short(words.term_name(term, labels.titles)) for term in t["term"]]
    figure = lying(len(t), left_for(names), words.SHARED)
    figure.add_trace(bars(names, t["shared"], name=words.SHARED))
    figure.add_vline(x=check.limit, line={"color": STOP, "width": 2, "dash": "dash"})
    figure.update_xaxes(range=[0, 1.02])
    return figure


def _dispersion(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=58, top=28, bottom=52)
    shown = t[(t["mean"] > 0) & (t["variance"] > 0)]
    if shown.empty:
        return figure
    figure.add_trace(line(shown["mean"], shown["model"], name=words.MODEL))
    figure.add_trace(dots(shown["mean"], shown["variance"], name=words.SEEN))
    both = np.concatenate([shown["variance"], shown["model"]])
    figure.update_layout(
        xaxis=log_axis(shown["mean"].min(), shown["mean"].max(), title=small(words.MEAN)),
        yaxis=log_axis(both.min(), both.max()),
    )  # fmt: skip
    return above(figure, words.VARIANCE)


def _quantiles(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=52)
    for name in t.columns[1:]:
        figure.add_trace(
            go.Scatter(x=t["expected"], y=t[name], mode="lines", name=name, hoverinfo="skip",
                       line={"color": tint(ANIMALS, 0.7), "width": 1.2})
        )  # fmt: skip
    ends = [float(t["expected"].min()), float(t["expected"].max())]
    figure.add_trace(line(ends, ends, name=words.MODEL, dash="dash"))
    figure.update_layout(xaxis=titled(words.NORMAL), yaxis=axis(nticks=6))
    return above(figure, words.RESIDUAL)


def _pattern(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=52)
    x = t["x"].to_numpy(np.float64)
    if check.name == "flow":
        x = from_m3s(x, labels.unit)
        across = log_axis(float(x.min()), float(x.max()), title=small(words.flow_axis(SYMBOLS[labels.unit])))
    elif check.name == "season":
        middle = [15 + 30.44 * m for m in range(12)]
        across = axis(range=[0, 367], tickvals=middle[::2], ticktext=list(MONTHS)[::2])
    elif check.name == "time":
        x = days_text(pd.Timestamp(2000, 1, 1) + pd.to_timedelta(t["x"].round(), unit="D"))
        across = axis(type="date")
    else:
        across = titled(words.effort_axis(labels.effort_unit))
    figure.add_trace(dots(x, t["residual"], name=words.RESIDUAL, error=2 * t["error"]))
    zero(figure)
    figure.update_layout(xaxis=across, yaxis=axis(nticks=6))
    return above(figure, words.MEAN_RESIDUAL)


def _lags(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=52)
    known = t[t["pairs"] > 0]
    names = [f"{b}" for b in known["most_days"]]  # short enough to stand level on a phone
    reach = check.limit * known["error"]
    figure.add_trace(line(names, reach, name=words.CHANCE, dash="dash", width=1.5))
    figure.add_trace(line(names, -reach, name=words.CHANCE, dash="dash", width=1.5))
    figure.add_trace(dots(names, known["correlation"], name=words.CORRELATION))
    zero(figure)
    figure.update_layout(xaxis=titled(words.DAYS_APART, type="category"), yaxis=axis(nticks=6))
    return above(figure, words.CORRELATION)


def _zeros(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=52)
    names = [str(int(c)) for c in t["count"]]
    names[-1] = f"{names[-1]}+"
    figure.add_trace(
        go.Bar(x=names, y=t["observed"], name=words.SEEN, width=0.7, hovertemplate=f"{hover.SEEN}<extra></extra>",
               marker={"color": tint(ANIMALS, 0.35), "line": {"color": ANIMALS, "width": 1.5}})
    )  # fmt: skip
    figure.add_trace(
        go.Scatter(x=names, y=t["expected"], mode="markers", name=words.MODEL,
                   hovertemplate=f"{hover.EXPECTED}<extra></extra>",
                   marker={"symbol": "line-ew", "size": 13, "line": {"width": 3, "color": EXPECTED}})
    )  # fmt: skip
    figure.update_layout(xaxis=titled(words.COUNT, type="category"), yaxis=axis(rangemode="tozero", nticks=6))
    return above(figure, words.VISITS)


def _influence(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=34)
    names = [labels.titles.get(o, o) for o in t["outlet"]]
    figure.add_trace(
        go.Scatter(
            x=days_text(t["date"]), y=t["moved"], mode="markers", name=words.VISITS, customdata=names,
            marker={"symbol": "diamond", "size": 9, "color": tint(ANIMALS, 0.75)},
            hovertemplate=f"%{{x|%a %-d %B %Y}}, %{{customdata}}<br>{hover.STANDARD_ERRORS}<extra></extra>",
        )
    )  # fmt: skip
    _limits(figure, check.limit)
    figure.update_layout(xaxis=axis(type="date"), yaxis=axis(nticks=6))
    return above(figure, words.MOVED)


def _one_group(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=34)
    said = [
        f"{a:%d %b %Y} to {b:%d %b %Y}, {n} visits" for a, b, n in zip(t["first"], t["last"], t["visits"], strict=True)
    ]
    figure.add_trace(
        go.Scatter(
            x=days_text(t["first"] + (t["last"] - t["first"]) / 2), y=t["moved"], mode="markers", name=words.CYCLES,
            customdata=said, marker={"symbol": "diamond", "size": 10, "color": ANIMALS},
            hovertemplate=f"%{{customdata}}<br>{hover.STANDARD_ERRORS}<extra></extra>",
        )
    )  # fmt: skip
    _limits(figure, check.limit)
    figure.update_layout(xaxis=axis(type="date"), yaxis=axis(nticks=6))
    return above(figure, words.MOVED)


def _limits(figure: go.Figure, limit: float) -> None:
    zero(figure)
    for y in (-limit, limit):
        figure.add_hline(y=y, line={"color": STOP, "width": 1.5, "dash": "dash"})


def _clusters(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    figure = blank(_HEIGHT, left=46, top=28, bottom=52)
    number = [str(i + 1) for i in range(len(t))]
    figure.add_trace(
        go.Bar(x=number, y=t["visits"], name=words.VISITS, width=0.7, hovertemplate=f"{hover.N_VISITS}<extra></extra>",
               marker={"color": tint(ANIMALS, 0.35), "line": {"color": ANIMALS, "width": 1.5}})
    )  # fmt: skip
    figure.update_layout(xaxis=titled(words.CYCLES, type="category", nticks=12), yaxis=axis(rangemode="tozero"))
    return above(figure, words.VISITS)


def _flow_range(check: ModelCheck, t: pd.DataFrame, labels: Labels) -> go.Figure:
    names = [short(labels.titles.get(o, o)) for o in t["outlet"]]
    figure = blank(74 + ROW * max(len(t), 3), left=left_for(names), top=12, bottom=52)
    low, high, now = (from_m3s(t[c].to_numpy(np.float64), labels.unit) for c in ("low_m3s", "high_m3s", "now_m3s"))
    for name, a, b in zip(names, low, high, strict=True):
        figure.add_trace(
            go.Scatter(x=[a, b], y=[name, name], mode="lines", name=words.FITTED_FLOWS,
                       line={"color": EXPECTED, "width": 12}, hovertemplate="%{x:.3g}<extra></extra>")
        )  # fmt: skip
    figure.add_trace(
        go.Scatter(x=now, y=names, mode="markers", name=words.NOW, hovertemplate=f"{hover.NOW}<extra></extra>",
                   marker={"symbol": "line-ns", "size": 20, "line": {"width": 4, "color": STOP}})
    )  # fmt: skip
    known = np.concatenate([low, high, now[np.isfinite(now)]])
    title = small(words.flow_axis(SYMBOLS[labels.unit]))
    figure.update_layout(
        xaxis=log_axis(float(known.min()), float(known.max()), title=title),
        yaxis=axis(autorange="reversed", showgrid=False),
    )
    return figure


_PICTURES: dict[str, Callable[[ModelCheck, pd.DataFrame, Labels], go.Figure]] = {
    "separation": _separation,
    "collinearity": _collinearity,
    "dispersion": _dispersion,
    "residuals": _quantiles,
    "flow": _pattern,
    "season": _pattern,
    "time": _pattern,
    "autocorrelation": _lags,
    "zeros": _zeros,
    "effort": _pattern,
    "influence": _influence,
    "one group": _one_group,
    "clusters": _clusters,
    "flow range": _flow_range,
}
