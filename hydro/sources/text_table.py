"""Tables as people keep them, delimited text or XLSX, as typed: no cell is interpreted here."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow.compute as pc

from hydro.problems import InputError, Problem
from hydro.sources.cells import Cells, read_cells
from hydro.sources.decoding import NotATableError, decode, file_bytes


@dataclass(frozen=True, eq=False, kw_only=True)
class TextTable:
    """A table as typed.

    columns    names as the header writes them (“column 3” for a blank one)
    cells      one column of str a name; blanks are ""
    rows       1-based line of each row (sheet row for XLSX), as int64
    preamble   lines above the header
    encoding   how the bytes were decoded (“xlsx” for a workbook)
    separator  what divides the cells ("" for a workbook)
    second_row a row of units below the header, where there is one
    notes      what was mended
    """

    columns: list[str]
    cells: pd.DataFrame
    rows: np.ndarray
    preamble: list[str]
    encoding: str
    separator: str
    second_row: list[str] | None = None
    notes: tuple[str, ...] = ()


def read_text_table(path: str | Path, *, shown_as: str | None = None) -> TextTable:
    """Read a CSV-like file or the first table of an XLSX workbook, every cell as text, trimmed.

    Raises InputError where the file is missing, a folder, empty, binary, or has rows with more cells than columns.
    """
    name = shown_as or str(path)
    try:
        data = file_bytes(path)
        cells = read_any_cells(data)
    except NotATableError as error:
        raise InputError([Problem(file=name, expected=str(error))]) from error
    if cells.surplus:
        expected = f"at most {len(cells.columns)} cells (a cell with the separator in it needs quotes)"
        raise InputError([Problem(file=name, row=row, value=text, expected=expected) for row, text in cells.surplus])
    frame = pd.DataFrame(
        {
            name: pd.Series(pc.utf8_trim_whitespace(cells.column(name)).to_pylist(), dtype=object)
            for name in cells.columns
        },
        columns=list(cells.columns),
    )
    return TextTable(
        columns=list(cells.columns),
        cells=frame,
        rows=cells.rows,
        preamble=list(cells.preamble),
        encoding=cells.encoding,
        separator=cells.separator,
        second_row=None if cells.second_row is None else list(cells.second_row),
        notes=cells.notes,
    )


def read_any_cells(data: bytes) -> Cells:
    """Cells of delimited text or of a workbook. Raises NotATableError."""
    if data.startswith(b"PK\x03\x04"):
        from hydro.sources.workbook import read_workbook_cells  # openpyxl is only needed for workbooks

        return read_workbook_cells(data)
    return read_cells(decode(data))
