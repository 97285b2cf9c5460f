"""Tables as cells: delimited text read at full speed where every row is well formed, row by row where not."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.sources.column_words import FLAG_WORDS, STATION_WORDS, squeezed, tokens
from hydro.sources.decoding import Decoded, NotATableError
from hydro.sources.ragged_rows import Body, cells_from_records, has_blank_row, mend_rows, quick_table
from hydro.sources.table_layout import Record, TableLayout, find_layout, head_records, sniff_separator, split_line

_SAMPLE_ROWS = 100
_NUMBER = re.compile(r"^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$")
_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}(?:[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?)?$")
_ISO_UTC = re.compile(r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2}(?:\.\d{1,6})?)?Z$")


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """A table of cells, one column a name, with the line (or sheet row) of every row.

    `table` holds strings; where every cell of a column is an ISO date or a plain number it may hold those instead, and
    `load` reads the cells again as strings for whoever needs the text.

    `surplus` lists rows with more filled cells than the header has names: (row, the surplus cells as text).
    """

    columns: tuple[str, ...]
    table: pa.Table
    rows: np.ndarray
    second_row: tuple[str, ...] | None
    preamble: tuple[str, ...]
    encoding: str
    separator: str
    notes: tuple[str, ...] = ()
    surplus: tuple[tuple[int, str], ...] = ()
    load: Callable[[], pa.Table] | None = None

    def column(self, name: str) -> pa.Array:
        """The cells of a column as they are written."""
        return self.strings.column(self.columns.index(name)).combine_chunks()

    def by_lower_name(self) -> Callable[[str], pa.Array]:
        """The cells of a column by its name in any case; a column that the table does not have is blank throughout."""
        names = {n.strip().lower(): n for n in self.columns}

        def column(name: str) -> pa.Array:
            found = names.get(name.lower())
            return pa.repeat("", len(self)) if found is None else self.column(found)

        return column

    def values(self, name: str) -> pa.Array:
        """The cells of a column as timestamps or numbers where the whole column is such, else as they are written."""
        return self.table.column(self.columns.index(name)).combine_chunks()

    @cached_property
    def strings(self) -> pa.Table:
        return self.table if self.load is None else self.load()

    def with_rows(self, keep: np.ndarray) -> Cells:
        """Only the rows where `keep`."""
        return replace(self, table=self.strings.filter(pa.array(keep)), rows=self.rows[keep], load=None)

    def __len__(self) -> int:
        return self.table.num_rows


def read_cells(decoded: Decoded, separator: str | None = None) -> Cells:
    """Cells of delimited text; the separator is found where none is given. Raises NotATableError for stray quotes."""
    head = decoded.head
    first_line = head[: head.find("\n")].strip().lower()
    declared = len(first_line) == 5 and first_line.startswith("sep=")
    if separator is None:
        separator = head[head.lower().find("sep=") + 4] if declared else sniff_separator(decoded.tail)
    try:
        records = head_records(head, separator, whole=len(head) == len(decoded.data))
        layout = find_layout(records, skip_first=declared)
        types = guess_types(layout, records, separator)
        table, rows, notes, surplus, load = _read_body(decoded, separator, layout, types)
    except csv.Error as error:
        raise NotATableError(f"a text table whose quotes open and close around whole cells ({error})") from error
    above = "\n".join(head.split("\n", layout.preamble_end)[: layout.preamble_end - 1])
    return trim_cells(
        Cells(
            columns=layout.names,
            table=table,
            rows=rows,
            second_row=layout.second_row,
            preamble=tuple(line.rstrip("\r") for line in above.split("\n")) if above else (),
            encoding=decoded.encoding,
            separator=separator,
            notes=notes,
            surplus=surplus,
            load=load,
        )
    )


def trim_cells(cells: Cells) -> Cells:
    """Without unnamed columns that hold nothing: spreadsheets leave trailing separators in every row."""
    keep = [
        i
        for i, name in enumerate(cells.columns)
        if name != f"column {i + 1}" or not pc.all(pc.equal(cells.strings.column(i), "")).as_py()
    ]
    if len(keep) == len(cells.columns):
        return cells
    second = cells.second_row
    return replace(
        cells,
        columns=tuple(cells.columns[i] for i in keep),
        table=cells.strings.select(keep),
        second_row=None if second is None else tuple(second[i] if i < len(second) else "" for i in keep),
        load=None,
    )


def guess_types(layout: TableLayout, records: Sequence[Record], separator: str) -> dict[int, pa.DataType]:
    """Columns whose first cells are all ISO dates or all plain numbers, by position; names that are codes stay text."""
    sample = [cells for line, cells in records if layout.first and line >= layout.first][:_SAMPLE_ROWS]
    types: dict[int, pa.DataType] = {}
    for i, name in enumerate(layout.names):
        texts = [cells[i] for cells in sample if len(cells) > i and cells[i]]
        if not texts or set(tokens(name)) & (FLAG_WORDS | STATION_WORDS) or squeezed(name) in STATION_WORDS:
            continue
        # Between semicolons 1.234 may be one thousand: such columns are judged by their text.
        if separator != ";" and all(map(_NUMBER.match, texts)):
            types[i] = pa.float64()
        elif all(map(_ISO.match, texts)):
            types[i] = pa.timestamp("us")
        elif all(map(_ISO_UTC.match, texts)):
            types[i] = pa.timestamp("us", tz="UTC")
    return types


def _read_body(
    decoded: Decoded, separator: str, layout: TableLayout, types: dict[int, pa.DataType]
) -> tuple[pa.Table, np.ndarray, tuple[str, ...], tuple[tuple[int, str], ...], Callable[[], pa.Table] | None]:
    if layout.first == 0:
        return (*cells_from_records([], layout.width), None)
    if separator != " ":
        body = decoded.data
        at = 0
        for _ in range(layout.first - 1):
            at = body.index(b"\n", at) + 1
        quoted = b'"' in body
        read = partial(quick_table, memoryview(body)[at:], separator, layout.width, quoted=quoted)
        # Without quotes and carriage returns a row is a line by its nature, and need not be counted.
        simple = not quoted and b"\r" not in body
        lines = None if simple else _lines(body, at)
        for chosen in (types, {}) if types else ({},):
            table = read(types=chosen)
            # One row a line: no cell in quotes ran over a line end.
            if table is not None and lines in (None, table.num_rows) and not has_blank_row(table):
                rows = np.arange(layout.first, layout.first + table.num_rows, dtype=np.int64)
                return table, rows, (), (), read if chosen else None
        if not quoted:
            mended = mend_rows(memoryview(body)[at:], separator, layout.width, layout.first, _lines(body, at))
            if mended is not None:
                return (*_with_cut_off(mended, decoded, separator, layout.width), None)
    lines_of_text = decoded.text.split("\n")[layout.first - 1 :]
    records: list[Record] = []
    if separator == " ":
        records = [(n, line.split()) for n, line in enumerate(lines_of_text, start=layout.first)]
    else:
        line = layout.first
        reader = csv.reader((f"{part}\n" for part in lines_of_text), delimiter=separator, strict=True)
        for cells in reader:
            records.append((line, [c.rstrip("\r") if c.endswith("\r") else c for c in cells]))
            line = layout.first + reader.line_num
    return (*_with_cut_off(cells_from_records(records, layout.width), decoded, separator, layout.width), None)


def _with_cut_off(body: Body, decoded: Decoded, separator: str, width: int) -> Body:
    """Note a last line that is short and has no line end: a download that broke off looks like that."""
    table, rows, notes, surplus = body
    last = decoded.tail[decoded.tail.rfind("\n") + 1 :]
    if last.strip() and table.num_rows > 1 and len(split_line(last, separator)) < width:
        notes = (*notes, "The last line is short and has no line end: the file may have been cut off.")
    return table, rows, notes, surplus


def _lines(body: bytes, at: int) -> int:
    return body.count(b"\n", at) + (0 if body.endswith(b"\n") else 1)
