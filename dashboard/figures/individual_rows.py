"""Individuals over time: a row an animal with dry spells behind, and the shares seen again after each dry spell."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank, days_text, time_axis
from dashboard.figures.marks import ANIMALS, OTHERS, STOP
from dashboard.figures.strips import dry_bars
from dashboard.wording import individual_figures as words
from dashboard.wording import picture_titles as titled
from dashboard.wording.numbers import short_date

#: More rows than this cannot be told apart; the animals seen last are shown.
MOST_ROWS = 60
_ROW, _LEFT, _TOP, _BOTTOM = 15, 74, 8, 34
#: Two lines of words beside a row need so much.
_SHARE_LEAST = 30
_SHARE_ROW, _SHARE_LEFT, _SHARE_RIGHT, _SHARE_BOTTOM = 36, 92, 92, 50


def individual_rows(
    captures: pd.DataFrame,
    chosen: Sequence[str],
    spells: pd.DataFrame | None,
    *,
    outlet: str,
    title: str,
    which: str,
) -> Drawing:
    """One row an animal: dots where it was met, a thin line between first and last, dry spells of the outlet behind.

    captures   of all outlets (columns date, outlet, individual)    chosen   the animals to show
    spells     dry spells of the outlet (columns first, last), None where it always runs
    which      what the chosen animals have in common, in words
    """
    met = captures[captures["individual"].isin(chosen)]
    span = met.groupby("individual")["date"].agg(["min", "max"])
    order = span.sort_values(["max", "min"], kind="stable").tail(MOST_ROWS).sort_values(["min", "max"], kind="stable")
    place = pd.Series(np.arange(len(order)), index=order.index)
    met = met[met["individual"].isin(order.index)]
    n = len(order)
    figure = blank(_ROW * n + _TOP + _BOTTOM + 30, left=_LEFT, top=_TOP, bottom=_BOTTOM)
    margin = pd.Timedelta(days=max(10, round(0.02 * (order["max"].max() - order["min"].min()).days)))
    first, last = order["min"].min() - margin, order["max"].max() + margin
    if spells is not None:
        inside = spells[(spells["last"] >= first) & (spells["first"] <= last)]
        bars = dry_bars(inside, height=n, base=-0.5)
        if bars is not None:
            figure.add_trace(bars)
    none = np.full(n, None, dtype=object)
    ends = np.stack((days_text(order["min"]), days_text(order["max"]), none), axis=1).ravel()
    rows = np.stack((place, place, none), axis=1).ravel()
    figure.add_trace(
        go.Scatter(x=ends, y=rows, mode="lines", line={"color": FRAME, "width": 1}, hoverinfo="skip", name="span")
    )
    for here, colour, symbol in ((False, OTHERS, "circle-open"), (True, ANIMALS, "circle")):
        rows_of = met[(met["outlet"] == outlet) == here]
        figure.add_trace(
            go.Scatter(
                x=days_text(rows_of["date"]),
                y=place[rows_of["individual"]],
                mode="markers",
                name=words.HERE if here else words.ELSEWHERE,
                marker={"symbol": symbol, "size": 7, "color": colour, "line": {"width": 1.4, "color": colour}},
                customdata=np.stack((rows_of["individual"], rows_of["outlet"]), axis=1),
                hovertemplate="%{customdata[0]}, %{customdata[1]}<br>%{x|%a %-d %B %Y}<extra></extra>",
            )
        )
    figure.update_layout(
        xaxis=time_axis(first, last),
        yaxis=axis(
            tickvals=place.tolist(),
            ticktext=[str(i)[:9] for i in order.index],
            range=[-0.7, n - 0.3],
            showgrid=False,
            tickfont={"size": 11},
        ),
    )
    return Drawing(
        name=f"individuals-{outlet}",
        title=titled.individuals(which, title),
        figure=figure,
        alt=words.rows(title, n, len(chosen), which),
        data=met[["individual", "date", "outlet", "row"]].reset_index(drop=True),
        least_row=_ROW,
    )


def shares_seen_again(spells: pd.DataFrame, *, outlet: str, title: str, level: float) -> Drawing:
    """One row a dry spell that is over, the newest on top: the share of animals seen in the year before that were seen
    again, with its exact interval and the numbers behind it."""
    told = spells[spells["over"].astype(bool) & (spells["lately"] > 0)]
    n = len(told)
    figure = blank(_SHARE_ROW * n + _TOP + _SHARE_BOTTOM, left=_SHARE_LEFT, right=_SHARE_RIGHT, top=_TOP,
                   bottom=_SHARE_BOTTOM)  # fmt: skip
    place = np.arange(n)
    low, high, share = (100 * told[f"lately_{c}"].to_numpy(np.float64) for c in ("low", "high", "share"))
    numbers = [
        words.again(a, b, s) for a, b, s in zip(told["lately_after"], told["lately"], told["searches"], strict=True)
    ]
    figure.add_trace(
        go.Scatter(
            x=share,
            y=place,
            mode="markers",
            name=words.SEEN_AGAIN,
            marker={"symbol": "circle", "size": 9, "color": ANIMALS},
            error_x={"type": "data", "symmetric": False, "array": high - share, "arrayminus": share - low,
                     "color": ANIMALS, "thickness": 2, "width": 4},
            customdata=np.stack((low, high), axis=1),
            hovertemplate=f"%{{x:.0f}} in 100, {100 * level:g} % interval "
            "%{customdata[0]:.0f}–%{customdata[1]:.0f}<extra></extra>",
        )
    )  # fmt: skip
    # All at once: each that is added has those before it checked again.
    figure.layout.annotations = [
        {"x": 1.01, "xref": "paper", "y": y, "text": text, "showarrow": False, "xanchor": "left", "align": "left",
         "font": {"size": 12}}
        for y, text in zip(place.tolist(), numbers, strict=True)
    ]  # fmt: skip
    figure.update_layout(
        xaxis=axis(range=[0, 100], title={"text": words.SHARE_AXIS, "font": {"size": SMALL_TEXT_SIZE}}),
        yaxis=axis(
            tickvals=place.tolist(),
            ticktext=[short_date(d) for d in told["first"]],
            range=[-0.7, n - 0.3],
            showgrid=False,
            tickfont={"size": SMALL_TEXT_SIZE, "color": STOP},
        ),
    )
    return Drawing(
        name=f"seen-again-{outlet}",
        title=titled.shares_seen_again(title),
        figure=figure,
        alt=words.shares(title, n),
        data=told.reset_index(drop=True),
        least_row=_SHARE_LEAST,
    )
