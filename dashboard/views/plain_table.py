"""Short tables as real tables of the page: read by screen readers row by row, printed whole, drawn at once.

The library's grid paints its cells on a canvas. That pays for thousands of rows; for a dozen it costs the browser more
than a picture, prints only the part that is in sight, and is closed to whoever listens to a page.
"""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import streamlit as st

from dashboard.views import table_fit
from dashboard.wording.numbers import THIN, short_date
from dashboard.wording.tables import MORE_COLUMNS

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

#: Up to so many rows a table is one of these [rows].
MOST_ROWS = 25
#: How numbers stand in a cell of a kind; other kinds are text.
_NUMBERS = ("discharge", "number", "volume", "count", "year", "p")
#: Rules of the page that shows such tables.
STYLE = (
    # A shade at an edge behind which there is more: it lies still, under covers that move with the rows.
    ".plain-table { --page: light-dark(#ffffff, #171614); "
    "--shade: light-dark(rgba(0,0,0,0.38), rgba(255,255,255,0.42)); "
    "overflow-x: auto; margin: 0 0 0.6rem 0; background: "
    "linear-gradient(to right, var(--page) 40%, transparent) left / 2.2rem 100% no-repeat local, "
    "linear-gradient(to left, var(--page) 40%, transparent) right / 2.2rem 100% no-repeat local, "
    "linear-gradient(to right, var(--shade), transparent) left / 0.7rem 100% no-repeat scroll, "
    "linear-gradient(to left, var(--shade), transparent) right / 0.7rem 100% no-repeat scroll; } "
    ".plain-table:focus-visible { outline: 3px solid #0072B2; outline-offset: 2px; } "
    ".plain-table-more { font-size: 0.92rem; margin: -0.4rem 0 0.6rem 0; } "
    ".plain-table-more summary { cursor: pointer; padding: 0.2rem 0; } "
    ".plain-table table { border-collapse: collapse; font-size: 0.92rem; line-height: 1.35; width: auto; margin: 0; } "
    ".plain-table th, .plain-table td { padding: 0.28rem 0; text-align: left; vertical-align: top; "
    "border: 0; border-bottom: 1px solid rgba(128,128,128,0.3); } "
    ".plain-table th { font-weight: 600; vertical-align: bottom; } "
    ".plain-table td.words { max-width: 26rem; } "
    ".plain-table td.day, .plain-table td.number { white-space: nowrap; } "
    ".plain-table .number { text-align: right; font-variant-numeric: tabular-nums; } "
    f"{table_fit.rules()}"
)


def plain_table(
    shown: pd.DataFrame, kinds: dict[str, str], *, alt: str, wanted: Sequence[Sequence[str]] | None = None
) -> None:
    """Show the rows as they are; `kinds` names for each column what it holds, `alt` what the whole is about.

    wanted   columns in groups that come and go together with the width, the most wanted first; from left to right if
             nothing is said
    """
    st.markdown(as_html(shown, kinds, alt=alt, wanted=wanted), unsafe_allow_html=True)


def as_html(
    shown: pd.DataFrame, kinds: dict[str, str], *, alt: str, wanted: Sequence[Sequence[str]] | None = None
) -> str:
    """The table as HTML without an empty line; every text in it is made plain."""
    cells = {c: [_text(v, kinds[c]) for v in shown[c]] for c in shown.columns}
    wanted = [[c] for c in shown.columns] if wanted is None else wanted
    of, widths = {}, {}
    for c, texts in cells.items():
        of[c] = _class_of(kinds[c], texts)
        widths[c] = table_fit.width_of(c, texts, wraps=of[c] == "words long")
    steps, airy = table_fit.steps(widths, wanted)
    for c, step in steps.items():
        of[c] += f" from-{step}"
    head = "".join(f'<th scope="col" class="{of[c]}">{_plain(c)}</th>' for c in shown.columns)
    body = []
    for row in zip(*cells.values(), strict=True):
        inside = "".join(f'<td class="{of[c]}">{_plain(t)}</td>' for c, t in zip(cells, row, strict=True))
        body.append(f"<tr>{inside}</tr>")
    return (
        f'<div class="plain-table-with{" airy" if airy else ""}"><div class="plain-table" role="region" tabindex="0" '
        f'aria-label="{html.escape(alt)}"><table>'
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table></div>"
        f"{_more([c for group in wanted for c in group if c in steps], steps)}</div>"
    )


def _more(columns: Sequence[str], steps: dict[str, int]) -> str:
    """What opens the columns that do not fit: each is named where it is out of sight."""
    if not columns:
        return ""
    # The least wanted is out of sight whenever any is: it ends the list.
    named = [f'<span class="below-{steps[c]}">{_plain(c)}{"" if c == columns[-1] else "; "}</span>' for c in columns]
    return (
        f'<details class="plain-table-more below-{steps[columns[-1]]}"><summary>{MORE_COLUMNS} {"".join(named)}'
        "</summary></details>"
    )


def _class_of(kind: str, texts: Sequence[str]) -> str:
    if kind == "day" or kind in _NUMBERS:
        return "day" if kind == "day" else "number"
    return "words long" if max(map(len, texts), default=0) > table_fit.LONG_TEXT else "words"


def _text(value: object, kind: str) -> str:
    """A value as people write it, not yet made plain."""
    if kind == "day":
        return _day(value)
    return _number(value, kind) if kind in _NUMBERS else str(value)


def _day(value: object) -> str:
    import pandas as pd

    day = pd.Timestamp(value)
    return "" if pd.isna(day) else short_date(day)


def _number(value: object, kind: str) -> str:
    """As many figures as the value has been rounded to; nothing where it is not known."""
    if isinstance(value, str):
        return value
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
    broken = "<wbr>".join(html.escape(part) for part in table_fit.BREAKS.split(text))
    return broken.replace(":", "&#58;").replace("\r\n", "<br>").replace("\n", "<br>").replace("\r", "<br>")
