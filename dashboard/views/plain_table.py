"""Short tables as real tables of the page: read by screen readers row by row, printed whole, drawn at once.

The library's grid paints its cells on a canvas. That pays for thousands of rows; for a dozen it costs the browser more
than a picture, prints only the part that is in sight, and is closed to whoever listens to a page.
"""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.wording.numbers import THIN, short_date

if TYPE_CHECKING:
    import pandas as pd

#: Up to so many rows a table is one of these [rows].
MOST_ROWS = 25
#: How numbers stand in a cell of a kind; other kinds are text.
_NUMBERS = ("discharge", "number", "volume", "count", "year", "p")
#: Rules of the page that shows such tables.
STYLE = (
    ".plain-table { overflow-x: auto; margin: 0 0 0.6rem 0; } "
    ".plain-table table { border-collapse: collapse; font-size: 0.92rem; line-height: 1.35; width: auto; margin: 0; } "
    ".plain-table th, .plain-table td { padding: 0.28rem 0.9rem 0.28rem 0; text-align: left; vertical-align: top; "
    "border: 0; border-bottom: 1px solid rgba(128,128,128,0.3); } "
    ".plain-table th { font-weight: 600; vertical-align: bottom; } "
    ".plain-table td.words { min-width: 6rem; max-width: 26rem; } "
    ".plain-table td.day, .plain-table td.number { white-space: nowrap; } "
    ".plain-table .number { text-align: right; font-variant-numeric: tabular-nums; } "
    "@media (min-width: 641px) { .plain-table td.words { min-width: 10rem; } }"
)


def plain_table(shown: pd.DataFrame, kinds: dict[str, str], *, alt: str) -> None:
    """Show the rows as they are; `kinds` names for each column what it holds, `alt` what the whole is about."""
    st.markdown(as_html(shown, kinds, alt=alt), unsafe_allow_html=True)


def as_html(shown: pd.DataFrame, kinds: dict[str, str], *, alt: str) -> str:
    """The table as HTML without an empty line; every text in it is made plain."""
    sides = {c: ' class="number"' if kinds[c] in _NUMBERS else "" for c in shown.columns}
    head = "".join(f'<th scope="col"{sides[c]}>{_plain(c)}</th>' for c in shown.columns)
    body = []
    for row in shown.itertuples(index=False):
        cells = "".join(_cell(value, kinds[c]) for c, value in zip(shown.columns, row, strict=True))
        body.append(f"<tr>{cells}</tr>")
    return (
        f'<div class="plain-table" role="region" tabindex="0" aria-label="{html.escape(alt)}"><table>'
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
    )


def _cell(value: object, kind: str) -> str:
    if kind == "day":
        return f'<td class="day">{_day(value)}</td>'
    if kind in _NUMBERS:
        return f'<td class="number">{_number(value, kind)}</td>'
    return f'<td class="words">{_plain(str(value))}</td>'


def _day(value: object) -> str:
    import pandas as pd

    day = pd.Timestamp(value)
    return "" if pd.isna(day) else short_date(day)


def _number(value: object, kind: str) -> str:
    """As many figures as the value has been rounded to; nothing where it is not known."""
    if isinstance(value, str):
        return _plain(value)
    number = float(value)  # type: ignore[arg-type]
    if number != number:
        return ""
    if kind in ("count", "year"):
        return f"{number:.0f}"
    text = f"{number:,.10g}" if kind == "volume" else f"{number:.10g}"
    # A thin space keeps thousands apart without being read as a decimal sign anywhere.
    return text.replace(",", THIN).replace("-", "\u2212") if "e" not in text else f"{number:.3g}"


def _plain(text: str) -> str:
    # Colons are written as numbers: the library would make signs of words between two of them, even inside HTML.
    return html.escape(text).replace(":", "&#58;").replace("\r\n", "<br>").replace("\n", "<br>").replace("\r", "<br>")
