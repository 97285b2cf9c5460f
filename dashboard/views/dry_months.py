"""Dry days by month and year as a real table of the page: months across, years down, the year's sum as a bar."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.figures.marks import STOP, tint
from dashboard.wording import dry_days, hover
from dashboard.wording import figures as words

if TYPE_CHECKING:
    import pandas as pd

#: Rules of the page that shows it.
STYLE = (
    ".dry-months { overflow-x: auto; max-width: 760px; margin: 0 0 0.6rem 0; } "
    ".dry-months table { border-collapse: separate; border-spacing: 2px; width: 100%; table-layout: fixed; margin: 0; "
    "font-size: 0.85rem; line-height: 1.3; } "
    ".dry-months th, .dry-months td { padding: 0.1rem 0; text-align: center; border: 0; font-weight: 400; } "
    ".dry-months th.year { width: 2.6rem; text-align: right; padding-right: 0.3rem; } "
    ".dry-months th.sum { width: 24%; text-align: left; padding-left: 0.4rem; } "
    f".dry-months td.month {{ box-shadow: inset 0 0 0 1px {tint(STOP, 0.25)}; }} "
    ".dry-months .not-known { background-image: repeating-linear-gradient(45deg, "
    "rgba(128,128,128,0.6) 0 1px, transparent 1px 6px); } "
    ".dry-months td.sum { text-align: left; padding-left: 0.4rem; white-space: nowrap; } "
    ".dry-months i { display: inline-block; height: 0.8rem; vertical-align: -0.1rem; box-sizing: border-box; } "
    f".dry-months i.dry {{ border: 1px solid {STOP}; background-image: repeating-linear-gradient(135deg, "
    f"{STOP} 0 1px, {tint(STOP, 0.16)} 1px 5px); }} "
    ".dry-months i.not-known { border: 1px solid rgba(128,128,128,0.75); background-image: none; } "
    "@media (max-width: 640px) { .dry-months table { font-size: 0.72rem; border-spacing: 1px; } "
    ".dry-months th.sum { width: 19%; } "
    # A month's first letter is all there is room for; who listens to the page hears the name.
    ".dry-months th span { position: absolute; clip-path: inset(50%); } } "
)
#: Share of its cell that the longest bar takes [%]; the rest is for its number.
_LONGEST = 58.0


def dry_months(states: pd.Series, by_year: pd.DataFrame, *, alt: str) -> None:
    """Show dry and unknown days of every month on record.

    states   “dry”, “running” or “unknown” by civil day        by_year   columns dry_days, unknown_days, by year
    """
    st.html(as_html(states, by_year, alt=alt))


def as_html(states: pd.Series, by_year: pd.DataFrame, *, alt: str) -> str:
    """The table as HTML; an empty cell is a month without a record."""
    from dashboard.figures.dry_years import month_table  # the style above is wanted where nothing is drawn yet

    head = "".join(f'<th scope="col">{name[0]}<span>{name[1:]}</span></th>' for name in words.MONTHS)
    cells = {(row.year, row.month): row for row in month_table(states).itertuples(index=False)}
    most = max(float((by_year["dry_days"] + by_year["unknown_days"]).max()), 1.0)
    rows = []
    for year, sums in by_year.iterrows():
        months = "".join(_month(cells.get((year, month))) for month in range(1, 13))
        rows.append(f'<tr><th scope="row" class="year">{year}</th>{months}{_sum(sums, most)}</tr>')
    return (
        f'<div class="dry-months" role="region" tabindex="0" aria-label="{html.escape(alt)}"><table><thead><tr>'
        f'<th scope="col" class="year">{hover.YEAR}</th>{head}<th scope="col" class="sum">{words.DRY_DAYS}</th></tr>'
        f"</thead><tbody>{''.join(rows)}</tbody></table></div>"
    )


def _month(row: object) -> str:
    if row is None:
        return "<td></td>"
    dry, unknown, record = (int(getattr(row, f"{name}_days")) for name in ("dry", "unknown", "record"))
    shade = f' style="background-color:{tint(STOP, round(0.66 * dry / record, 3))}"' if dry else ""
    kind = "month not-known" if unknown else "month"
    title = dry_days.in_full(dry, unknown, record)
    return f'<td class="{kind}" title="{html.escape(title)}"{shade}>{dry_days.in_a_cell(dry, unknown)}</td>'


def _sum(sums: pd.Series, most: float) -> str:
    """The year's dry days as a bar with its number, days not known as an empty bar after it."""
    dry, unknown = int(sums["dry_days"]), int(sums["unknown_days"])
    parts = [
        f'<i class="{kind}" style="width:{_LONGEST * n / most:.1f}%"></i>'
        for kind, n in (("dry", dry), ("not-known", unknown))
        if n
    ]
    return f'<td class="sum">{"".join(parts)} {dry_days.in_a_cell(dry, unknown)}</td>'
