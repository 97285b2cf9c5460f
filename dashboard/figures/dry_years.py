"""Dry days by year, and by month and year."""

from __future__ import annotations

import numpy as np
import pandas as pd
import plotly.graph_objects as go

from dashboard.figures.drawing import CLEAR, FRAME, SMALL_TEXT_SIZE, Drawing, axis, blank
from dashboard.figures.marks import DRY_PATTERN, STOP, tint
from dashboard.wording import dry_days
from dashboard.wording import figures as words
from dashboard.wording import picture_titles as titled

_ROW = 22  # height of a year in the calendar [px]


def ever_dry_or_unknown(by_year: pd.DataFrame) -> bool:
    """Whether there is anything to draw of an outlet."""
    return bool((by_year[["dry_days", "unknown_days"]].to_numpy() > 0).any())


def dry_years(by_year: pd.DataFrame, *, id: str, title: str) -> Drawing:
    """A bar a year: dry days hatched, days not known empty on top (columns dry_days, unknown_days, record_days)."""
    figure = blank(210, left=42, top=22)
    years = by_year.index.to_numpy()
    dry, unknown = by_year["dry_days"].to_numpy(), by_year["unknown_days"].to_numpy()
    figure.add_trace(
        go.Bar(
            x=years[dry > 0],
            y=dry[dry > 0],
            width=0.72,
            name=words.DRY_DAYS,
            marker={
                "color": tint(STOP, 0.16),
                "line": {"color": STOP, "width": 1.2},
                "pattern": {"shape": DRY_PATTERN, "fgcolor": STOP, "size": 6, "solidity": 0.35, "fillmode": "overlay"},
            },
            hovertemplate=f"%{{x}}: %{{y}} {words.DRY_DAYS}<extra></extra>",
        )
    )
    figure.add_trace(
        go.Bar(
            x=years[unknown > 0],
            y=unknown[unknown > 0],
            base=dry[unknown > 0],
            width=0.72,
            name=words.UNKNOWN_DAYS,
            text=[words.UNKNOWN_SIGN] * int((unknown > 0).sum()),
            textposition="outside",
            textfont={"size": SMALL_TEXT_SIZE},
            cliponaxis=False,
            marker={"color": CLEAR, "line": {"color": FRAME, "width": 1.2}},
            customdata=unknown[unknown > 0],
            hovertemplate=f"%{{x}}: %{{customdata}} {words.UNKNOWN_DAYS}<extra></extra>",
        )
    )
    top = max(float((dry + unknown).max()) if len(dry) else 0.0, 10.0)
    step = 1 if len(years) <= 8 else (2 if len(years) <= 16 else 5)
    ticks = [int(y) for y in years if y % step == 0]
    figure.update_layout(
        xaxis=axis(
            tickvals=ticks, showgrid=False, range=[years.min() - 0.6, years.max() + 0.6] if len(years) else None
        ),
        yaxis=axis(range=[0, top * 1.15], rangemode="tozero", nticks=5),
    )
    figure.add_annotation(xref="paper", x=0, xanchor="left", yref="paper", y=1, yanchor="bottom", text=words.DRY_DAYS,
                          showarrow=False, font={"size": SMALL_TEXT_SIZE})  # fmt: skip
    most = int(dry.max()) if len(dry) else 0
    year = int(years[int(dry.argmax())]) if most else None
    return Drawing(
        name=f"dry-days-by-year-{id}",
        title=titled.dry_by_year(title),
        figure=figure,
        alt=words.years(title, year, most),
        data=by_year.reset_index(),
    )


def month_table(states: pd.Series) -> pd.DataFrame:
    """By year and month: dry_days, unknown_days and record_days."""
    days = pd.DatetimeIndex(states.index)
    frame = pd.DataFrame(
        {
            "year": days.year,
            "month": days.month,
            "dry_days": (states == "dry").to_numpy(),
            "unknown_days": (states == "unknown").to_numpy(),
            "record_days": 1,
        }
    )
    return frame.groupby(["year", "month"], as_index=False).sum().astype(int)


def dry_calendar(states: pd.Series, *, id: str, title: str) -> Drawing:
    """Months across, years down: dry days as a number and a shade, unknown months hatched with “?”."""
    months = month_table(states)
    years = sorted(months["year"].unique().tolist())
    place = {year: -i for i, year in enumerate(years)}
    share = (months["dry_days"] / months["record_days"]).to_numpy()
    unknown = months["unknown_days"].to_numpy()
    numbers = months["dry_days"].to_numpy()
    figure = blank(_ROW * len(years) + 40, left=42, top=6, bottom=28)
    figure.add_trace(
        go.Bar(
            x=months["month"],
            y=np.full(len(months), 0.9),
            base=[place[y] - 0.45 for y in months["year"]],
            width=0.94,
            marker={
                "color": [tint(STOP, round(0.66 * float(s), 3)) for s in share],
                "line": {"color": [FRAME if u else tint(STOP, 0.25) for u in unknown], "width": 1},
                "pattern": {
                    "shape": ["\\" if u else "" for u in unknown],
                    "fgcolor": FRAME,
                    "size": 7,
                    "solidity": 0.16,
                    "fillmode": "overlay",
                },
            },
            customdata=np.stack((months["year"], numbers, unknown, months["record_days"]), axis=1),
            hovertemplate=(
                f"%{{x}} %{{customdata[0]}}: %{{customdata[1]}} {words.DRY_DAYS}, %{{customdata[2]}} "
                f"{words.UNKNOWN_DAYS}, %{{customdata[3]}} {words.RECORD_DAYS}<extra></extra>"
            ),
        )
    )
    # Written as marks of their own: text inside bars takes a shade by the bar's colour without its transparency.
    figure.add_trace(
        go.Scatter(
            x=months["month"],
            y=[place[y] for y in months["year"]],
            mode="text",
            text=[dry_days.in_a_cell(int(n), int(u)) for n, u in zip(numbers, unknown, strict=True)],
            textfont={"size": SMALL_TEXT_SIZE},
            hoverinfo="skip",
        )
    )
    figure.update_layout(
        xaxis=axis(tickvals=list(range(1, 13)), ticktext=list(words.MONTHS), range=[0.5, 12.5], showgrid=False,
                   tickangle=0),
        yaxis=axis(tickvals=[place[y] for y in years], ticktext=[str(y) for y in years],
                   range=[-len(years) + 0.5, 0.5], showgrid=False),
    )  # fmt: skip
    by_month = months.groupby("month")["dry_days"].sum()
    most = words.MONTHS[int(by_month.idxmax()) - 1] if by_month.sum() else None
    return Drawing(
        name=f"dry-days-by-month-{id}",
        title=titled.dry_by_month(title),
        figure=figure,
        alt=words.calendar(title, most),
        data=months,
    )
