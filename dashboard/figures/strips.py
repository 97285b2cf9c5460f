"""Strips above and below a picture over time: what people saw, visits, dry spells, days not known."""

from __future__ import annotations

import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import CLEAR, DAY_MS, FRAME, SMALL_TEXT_SIZE, days_text
from dashboard.figures.marks import (
    ANIMALS,
    DRY_PATTERN,
    FOUND_SYMBOL,
    NONE_FOUND_SYMBOL,
    NOT_COUNTED_SYMBOL,
    NOT_SEARCHED_SYMBOL,
    STOP,
    SURFACE_MARKS,
    tint,
)
from dashboard.wording import hover
from dashboard.wording.figures import FOUND, NONE_FOUND, NOT_COUNTED, NOT_SEARCHED, SEEN_WORDS, UNKNOWN_SIGN
from dashboard.wording.numbers import days as say_days
from dashboard.wording.numbers import short_date

#: Unknown stretches narrower than this share of the picture get no “?”: it would not fit.
SMALLEST_SIGN = 0.012
_WHEN = "%{x|%a %-d %B %Y}"


#: Heights inside a strip, so that rare marks stay readable among many: running above pooled above dry, and so on.
STEPS = (0.3, 0.0, -0.3)


def mark_size(n: int) -> int:
    """Marker size [px] for `n` marks in one strip."""
    return 9 if n <= 80 else (7 if n <= 200 else 5)


def seen_traces(seen: pd.DataFrame, y: float, *, size: int | None = None, spread: float = 1.0) -> list[go.Scatter]:
    """What people wrote of the surface, one trace a word, around height `y`."""
    size = size or mark_size(int((seen["surface"] != "").sum()))
    traces = []
    for (surface, (symbol, colour)), step in zip(SURFACE_MARKS.items(), STEPS, strict=True):
        rows = seen[seen["surface"] == surface]
        if rows.empty:
            continue
        thin = symbol.endswith("-thin")
        traces.append(
            go.Scatter(
                x=days_text(rows["date"]),
                y=[y + step * spread] * len(rows),
                mode="markers",
                cliponaxis=False,
                name=SEEN_WORDS[surface],
                marker={
                    "symbol": symbol,
                    "size": size,
                    "color": colour,
                    "line": {"width": 2 if thin else 0, "color": colour},
                },
                hovertemplate=f"{_WHEN}<br>{SEEN_WORDS[surface]}<extra></extra>",
            )
        )
    return traces


def visit_traces(seen: pd.DataFrame, y: float) -> list[go.Scatter]:
    """Visits by what came of them: found, searched and none found, not searched. Dry visits are in the strip above."""
    counted = seen["kind"] == "counted"
    found = counted & (seen["count"] > 0)
    none = counted & (seen["count"] == 0)
    uncounted = seen["kind"] == "searched-uncounted"
    rest = seen["kind"] == "not-searched"
    size = mark_size(len(seen))
    kinds = (
        (found, FOUND_SYMBOL, FOUND, STEPS[0]),
        (none, NONE_FOUND_SYMBOL, NONE_FOUND, STEPS[1]),
        (uncounted, NOT_COUNTED_SYMBOL, NOT_COUNTED, STEPS[1]),
        (rest, NOT_SEARCHED_SYMBOL, NOT_SEARCHED, STEPS[2]),
    )
    traces = []
    for which, symbol, word, step in kinds:
        rows = seen[which]
        if rows.empty:
            continue
        traces.append(
            go.Scatter(
                x=days_text(rows["date"]),
                y=[y + step] * len(rows),
                mode="markers",
                cliponaxis=False,
                name=word,
                marker={"symbol": symbol, "size": size, "color": ANIMALS, "line": {"width": 1.3, "color": ANIMALS}},
                hovertemplate=f"{_WHEN}<br>{word}<extra></extra>",
            )
        )
    return traces


def dry_bars(spells: pd.DataFrame, *, height: float = 1.0, base: float = 0.0, opacity: float = 0.16) -> go.Bar | None:
    """Dry spells (columns first, last) as hatched bars; None where there are none."""
    if spells.empty:
        return None
    length = (spells["last"] - spells["first"]).dt.days + 1
    middle = spells["first"] + pd.to_timedelta(length / 2, unit="D")
    texts = [
        f"{hover.DRY} {short_date(a)} to {short_date(b)}<br>{say_days(n)}"
        for a, b, n in zip(spells["first"], spells["last"], length, strict=True)
    ]
    return go.Bar(
        x=[f"{m:%Y-%m-%d %H:%M}" for m in middle],
        y=[height] * len(spells),
        base=base,
        width=(length * DAY_MS).tolist(),
        name="dry",
        marker={
            "color": tint(STOP, opacity),
            "line": {"color": tint(STOP, min(6 * opacity, 1.0)), "width": 1.2},
            "pattern": {
                "shape": DRY_PATTERN,
                "fgcolor": tint(STOP, min(6 * opacity, 1.0)),
                "size": 6,
                "solidity": 0.35,
                "fillmode": "overlay",
            },
        },
        hovertext=texts,
        hovertemplate="%{hovertext}<extra></extra>",
    )


def unknown_runs(states: pd.Series) -> pd.DataFrame:
    """Stretches of the state “unknown” as first and last day."""
    unknown = (states == "unknown").to_numpy()
    if not unknown.any():
        return pd.DataFrame({"first": pd.DatetimeIndex([]), "last": pd.DatetimeIndex([])})
    run = (pd.Series(unknown).diff() != 0).cumsum().to_numpy()
    days = pd.Series(states.index)
    grouped = days[unknown].groupby(run[unknown])
    return pd.DataFrame({"first": grouped.min().to_numpy(), "last": grouped.max().to_numpy()})


def unknown_bars(
    runs: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp, *, height: float = 1.0
) -> list[go.Bar | go.Scatter]:
    """Unknown stretches as empty outlined bars with “?” where there is room for it."""
    if runs.empty:
        return []
    length = (runs["last"] - runs["first"]).dt.days + 1
    middle = runs["first"] + pd.to_timedelta(length / 2, unit="D")
    at = [f"{m:%Y-%m-%d %H:%M}" for m in middle]
    texts = [
        f"{hover.NOT_KNOWN} {short_date(a)} to {short_date(b)}<br>{say_days(n)}"
        for a, b, n in zip(runs["first"], runs["last"], length, strict=True)
    ]
    bars: list[go.Bar | go.Scatter] = [
        go.Bar(
            x=at,
            y=[height] * len(runs),
            width=(length * DAY_MS).tolist(),
            name="unknown",
            marker={"color": CLEAR, "line": {"color": FRAME, "width": 1.2}},
            hovertext=texts,
            hovertemplate="%{hovertext}<extra></extra>",
        )
    ]
    wide = (length >= SMALLEST_SIGN * ((last - first).days + 1)).to_numpy()
    if wide.any():
        bars.append(
            go.Scatter(
                x=[x for x, fits in zip(at, wide, strict=True) if fits],
                y=[height / 2] * int(wide.sum()),
                mode="text",
                text=[UNKNOWN_SIGN] * int(wide.sum()),
                textfont={"size": SMALL_TEXT_SIZE + 1},
                hoverinfo="skip",
            )
        )
    return bars
