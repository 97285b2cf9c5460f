"""Rows of a table that are no data: totals below it, repeated headers, rows of separators."""

from __future__ import annotations

import re

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.cells import Cells
from hydro.sources.column_roles import Roles
from hydro.sources.column_words import FOOTER_WORDS, tokens
from hydro.sources.dates import DATE_LIKE
from hydro.sources.table_layout import looks_like_a_date, looks_like_a_number

_SERIAL_OR_DATE = re.compile(rf"{DATE_LIKE}|^\d+(?:\.\d+)?$")


def drop_rows_that_are_no_data(cells: Cells, roles: Roles) -> tuple[Cells, list[str]]:
    """The table without footer rows and repeated headers, and notes about what was left out.

    Rows with an unreadable date anywhere else stay: they are mistakes to be reported.
    """
    date = roles.dates[0] if roles.dates else roles.year
    if date is None:
        return cells, []
    if not pa.types.is_string(cells.values(date).type):
        return cells, []  # every cell is a date
    notes: list[str] = []
    keep = np.ones(len(cells), bool)
    texts = cells.column(date)
    repeated = np.asarray(pc.equal(texts, date))
    if repeated.any():
        keep &= ~repeated
        notes.append(f"{int(repeated.sum())} repeated header row{'s' if repeated.sum() > 1 else ''} left out.")
    footers = []
    for position in range(len(cells) - 1, -1, -1):
        text = texts[position].as_py().strip()
        if looks_like_a_date(text):
            break
        if repeated[position]:
            continue
        if not _is_footer(cells, position, text):
            break
        keep[position] = False
        footers.append(int(cells.rows[position]))
    if footers:
        rows = ", ".join(str(r) for r in reversed(footers[:5]))
        notes.append(f"{len(footers)} row{'s' if len(footers) > 1 else ''} below the data left out (row {rows}).")
    if keep.all():
        return cells, notes
    return cells.with_rows(keep), notes


def _is_footer(cells: Cells, position: int, date_text: str) -> bool:
    row = [cells.strings.column(i)[position].as_py().strip() for i in range(len(cells.columns))]
    filled = [c for c in row if c]
    if not filled:
        return True
    first_words = tokens(filled[0])
    if first_words and first_words[0] in FOOTER_WORDS:
        return True
    # A remark under the table: words in one cell, nothing beside them. “2020-13-01” alone is a mistake, not a remark.
    return (
        len(filled) == 1
        and not _SERIAL_OR_DATE.match(filled[0])
        and not looks_like_a_number(filled[0])
        and (not any(c.isdigit() for c in filled[0]) or filled[0] != date_text or len(filled[0].split()) > 3)
    )
