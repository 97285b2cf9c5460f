"""XLSX workbooks -> the same cells of text that delimited files give. Dates become ISO texts, numbers their digits."""

from __future__ import annotations

import datetime
import io
import warnings
import zipfile
import zlib

from hydro.sources.cells import Cells, trim_cells
from hydro.sources.decoding import NotATableError
from hydro.sources.ragged_rows import cells_from_records
from hydro.sources.table_layout import Record, find_layout

#: A workbook that unpacks to more than this is not read: a gauge record of a century in 15-minute steps is smaller.
MOST_BYTES_UNPACKED = 2_000_000_000


def read_workbook_cells(data: bytes) -> Cells:
    """The first sheet that holds a table. Raises NotATableError for archives that are no workbook, and empty ones."""
    sheets, uncalculated = _open_sheets(data)
    filled = [(name, records) for name, records in sheets if records]
    if not filled:
        raise NotATableError("a workbook with something in it; this one is empty")
    name, records = filled[0]
    if uncalculated.get(name):
        where = ", ".join(uncalculated[name][:12])
        raise NotATableError(f"values, not uncalculated formulas (cells {where}); open and save the workbook once")
    layout = find_layout(records)
    above = [cells for row, cells in records if row < layout.preamble_end]
    body = [record for record in records if layout.first and record[0] >= layout.first]
    table, rows, notes, surplus = cells_from_records(body, layout.width)
    if len(filled) > 1:
        others = ", ".join(f"“{other}”" for other, _ in filled[1:])
        notes = (*notes, f"Only the first sheet, “{name}”, was read; the workbook also holds {others}.")
    return trim_cells(
        Cells(
            columns=layout.names,
            table=table,
            rows=rows,
            second_row=layout.second_row,
            preamble=tuple("\t".join(cells).rstrip() for cells in above),
            encoding="xlsx",
            separator="",
            # Cells to the right that were used once and emptied make every row “short”; that says nothing.
            notes=tuple(n for n in notes if "fewer cells" not in n),
            surplus=surplus,
        )
    )


def _open_sheets(data: bytes) -> tuple[list[tuple[str, list[Record]]], dict[str, list[str]]]:
    import openpyxl
    from openpyxl.utils.exceptions import InvalidFileException

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            if "xl/workbook.xml" not in archive.namelist():
                raise NotATableError("text or an XLSX workbook; this is another kind of archive (unpack it first)")
            if sum(part.file_size for part in archive.infolist()) > MOST_BYTES_UNPACKED:
                raise NotATableError("a workbook of ordinary size")
            formulas = any(
                b"<f" in archive.read(part) for part in archive.namelist() if part.startswith("xl/worksheets/")
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that carry no values
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            sheets = [(sheet.title, _records(sheet)) for sheet in book.worksheets if sheet.sheet_state == "visible"]
            book.close()
            uncalculated = _uncalculated(data) if formulas else {}
    except (zipfile.BadZipFile, zlib.error, InvalidFileException, KeyError, ValueError, EOFError) as error:
        if isinstance(error, NotATableError):
            raise
        raise NotATableError(f"an XLSX workbook that opens ({error})") from error
    return sheets, uncalculated


def _records(sheet) -> list[Record]:  # type: ignore[no-untyped-def]  # openpyxl ships no types
    records = []
    for number, cells in enumerate(sheet.iter_rows(values_only=True), start=1):
        texts = [cell_text(c) for c in cells]
        if any(t.strip() for t in texts):
            records.append((number, texts))
    return records


def _uncalculated(data: bytes) -> dict[str, list[str]]:
    """Cells with a formula and no stored result: programs other than spreadsheets write such files."""
    import openpyxl

    values = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
    formulas = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
    empty: dict[str, list[str]] = {}
    for sheet in formulas.worksheets:
        rows = zip(sheet.iter_rows(), values[sheet.title].iter_rows(values_only=True), strict=False)
        for formula_cells, value_cells in rows:
            for cell, value in zip(formula_cells, value_cells, strict=False):
                if value is None and cell.data_type == "f":
                    empty.setdefault(sheet.title, []).append(cell.coordinate)
    return empty


def cell_text(cell: object) -> str:
    """A cell as a person would type it: 2020-01-05, 2020-01-05 00:15:00, 12.5; "" for an empty one."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "TRUE" if cell else "FALSE"
    if isinstance(cell, datetime.datetime):
        # Day fractions are stored in binary and come back a few microseconds off.
        near = (cell + datetime.timedelta(milliseconds=500)).replace(microsecond=0)
        return near.date().isoformat() if near.time() == datetime.time(0) else near.isoformat(sep=" ")
    if isinstance(cell, datetime.date | datetime.time):
        return cell.isoformat()
    if isinstance(cell, float) and cell.is_integer() and abs(cell) < 1e15:
        return str(int(cell))
    return str(cell)
