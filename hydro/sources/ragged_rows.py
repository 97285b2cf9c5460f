"""Rows of text into columns of strings, at full speed; rows with too many or too few cells are mended or reported."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pa_csv

from hydro.sources.table_layout import Record

#: table of strings, line of every row, notes about what was mended, (line, text) of surplus cells
Body = tuple[pa.Table, np.ndarray, tuple[str, ...], tuple[tuple[int, str], ...]]


def has_blank_row(table: pa.Table) -> bool:
    """Whether some row of a table has nothing in any column."""
    if any(column.null_count == 0 and not pa.types.is_string(column.type) for column in table.columns):
        return False  # every row has a date or a number
    blank = np.ones(table.num_rows, bool)
    for column in table.columns:
        if not blank.any():
            break
        empty = pc.equal(column, "") if pa.types.is_string(column.type) else pc.is_null(column)
        blank &= np.asarray(empty)
    return bool(blank.any())


def quick_table(
    body: memoryview, separator: str, width: int, *, quoted: bool, types: dict[int, pa.DataType] | None = None
) -> pa.Table | None:
    """Every cell as a string, or as the type given for its column; None where a row or a cell does not fit."""
    names = [f"c{i}" for i in range(width)]
    try:
        return pa_csv.read_csv(
            pa.BufferReader(pa.py_buffer(body)),
            read_options=pa_csv.ReadOptions(column_names=names),
            # A blank line gives a row of blanks: skipped in silence it would shift the line numbers.
            parse_options=pa_csv.ParseOptions(
                delimiter=separator, quote_char='"' if quoted else False, ignore_empty_lines=False
            ),
            convert_options=pa_csv.ConvertOptions(
                column_types={name: (types or {}).get(i, pa.string()) for i, name in enumerate(names)},
                null_values=[""],
                strings_can_be_null=False,
            ),
        )
    except pa.ArrowInvalid:
        return None


def cells_from_records(records: Sequence[Record], width: int) -> Body:
    """Rows of cells -> a table of strings: surplus blank cells dropped, missing ones filled, blank rows left out."""
    kept, lines, surplus = [], [], []
    mended = short = 0
    for line, cells in records:
        if not any(c.strip() for c in cells):
            continue
        if len(cells) > width:
            extra = [c for c in cells[width:] if c.strip()]
            if extra:
                surplus.append((line, " | ".join(extra)))
            mended += not extra
            cells = cells[:width]
        elif len(cells) < width:
            short += 1
            cells = [*cells, *[""] * (width - len(cells))]
        kept.append(cells)
        lines.append(line)
    columns = list(zip(*kept, strict=True)) if kept else [()] * width
    table = pa.table({f"c{i}": pa.array(column, type=pa.string()) for i, column in enumerate(columns)})
    notes = []
    if mended:
        notes.append(f"{mended} row{'s' if mended > 1 else ''} ended in surplus empty cells, which were dropped.")
    if short:
        notes.append(
            f"{short} row{'s' if short > 1 else ''} had fewer cells than the header; the rest was taken as blank."
        )
    return table, np.array(lines, dtype=np.int64), tuple(notes), tuple(surplus)


def mend_rows(body: memoryview, separator: str, width: int, first: int, lines: int) -> Body | None:
    """All rows of text without quotes where some are ragged, at nearly full speed. `first` is the line of the first.

    None where rows and lines do not correspond.
    """
    ragged: list[tuple[int, str]] = []

    def set_aside(row: pa_csv.InvalidRow) -> str:
        ragged.append((row.number, row.text))
        return "skip"

    names = [f"c{i}" for i in range(width)]
    try:
        table = pa_csv.read_csv(
            pa.BufferReader(pa.py_buffer(body)),
            # Only a single thread knows the numbers of rows.
            read_options=pa_csv.ReadOptions(column_names=names, use_threads=False),
            parse_options=pa_csv.ParseOptions(
                delimiter=separator, quote_char=False, ignore_empty_lines=False, invalid_row_handler=set_aside
            ),
            convert_options=pa_csv.ConvertOptions(
                column_types=dict.fromkeys(names, pa.string()), strings_can_be_null=False
            ),
        )
    except pa.ArrowInvalid:
        return None
    if table.num_rows + len(ragged) != lines:
        return None
    records = [(first + number - 1, text.rstrip("\r\n").split(separator)) for number, text in ragged]
    mended, mended_rows, notes, surplus = cells_from_records(records, width)
    regular = np.ones(lines, bool)
    regular[[number - 1 for number, _ in ragged]] = False
    rows = np.concatenate([np.flatnonzero(regular) + first, mended_rows]).astype(np.int64)
    table = pa.concat_tables([table, mended])
    order = np.argsort(rows, kind="stable")
    blank = np.ones(len(rows), bool)
    for column in table.columns:
        blank &= np.asarray(pc.equal(column, ""))
    order = order[~blank[order]]
    return table.take(pa.array(order)), rows[order], notes, surplus


def trimmed_rows(
    body: memoryview, separator: str, width: int, first: int, lines: int
) -> tuple[list[pa.Array], np.ndarray, tuple[str, ...], tuple[tuple[int, str], ...]]:
    """All rows of a body of `lines` lines, the first of them line `first` of the file: (columns of texts without
    blanks around them, line of every row, notes, surplus cells)."""
    table, rows, notes, surplus = _all_rows(body, separator, width, first, lines)
    columns = []
    while table.num_columns:  # each is let go of in the table before the next is copied
        column = table.column(0)
        table = table.remove_column(0)
        chunks = [pc.utf8_trim_whitespace(chunk) for chunk in column.chunks]
        columns.append(pa.concat_arrays(chunks) if chunks else pa.array([], type=pa.string()))
    return columns, rows, notes, surplus


def _all_rows(body: memoryview, separator: str, width: int, first: int, lines: int) -> Body:
    if not lines:
        return cells_from_records([], width)
    quoted = b'"' in bytes(body[:2000])
    table = quick_table(body, separator, width, quoted=quoted)
    if table is not None and table.num_rows == lines and not has_blank_row(table):
        return table, np.arange(first, first + lines, dtype=np.int64), (), ()
    if not quoted and (mended := mend_rows(body, separator, width, first, lines)):
        return mended
    texts = bytes(body).decode("utf-8", "replace").split("\n")
    return cells_from_records([(n, t.rstrip("\r").split(separator)) for n, t in enumerate(texts, start=first)], width)
