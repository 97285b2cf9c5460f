"""The text of a table that people keep, changed by whole rows, everything else kept byte for byte.

A table is never rebuilt from what was parsed: unknown columns, comments above the header, quotes, line ends, the byte
order mark and the encoding stay as they are.
"""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from hydro.problems import InputError, Problem
from hydro.sources.cells import read_cells
from hydro.sources.decoding import NotATableError, decode
from hydro.sources.table_layout import find_layout, head_records

#: Ways of writing a date that a table may use, tried in this order; the whole column has to agree.
DATE_LAYOUTS = ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%d-%m-%Y", "%m-%d-%Y", "%Y/%m/%d", "%d %b %Y",
                "%d %B %Y", "%b %d, %Y", "%Y%m%d")  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class TableText:
    """A delimited table as text, and where its header is.

    header_at   index in `records` of the header
    records     the records of the text with their line ends; together they are the text
    columns     the header's cells, trimmed
    """

    encoding: str
    separator: str
    newline: str
    records: tuple[str, ...]
    header_at: int
    columns: tuple[str, ...]

    @property
    def text(self) -> str:
        return "".join(self.records)

    def to_bytes(self) -> bytes:
        """The file. Raises ValueError where a sign cannot be written in the file's encoding."""
        try:
            return self.text.encode(self.encoding)
        except UnicodeEncodeError as error:
            sign = self.text[error.start : error.end]
            raise ValueError(f"“{sign}” cannot be written in this file, which is kept in {self.encoding}") from None

    def cells(self, record: str) -> list[str]:
        """The cells of one record, as written."""
        return next(csv.reader(io.StringIO(record), delimiter=self.separator), [])

    def data(self) -> list[tuple[int, list[str]]]:
        """Index and cells of every record below the header that holds anything."""
        found = [(i, self.cells(r)) for i, r in enumerate(self.records) if i > self.header_at and r.strip()]
        return [(i, cells) for i, cells in found if any(c.strip() for c in cells)]

    def column(self, name: str) -> list[str]:
        """The filled cells of a column, trimmed; none where there is no such column."""
        if name not in self.columns:
            return []
        at = self.columns.index(name)
        return [cells[at].strip() for _, cells in self.data() if len(cells) > at and cells[at].strip()]

    def with_columns(self, names: list[str]) -> TableText:
        """With columns added at the right end, blank in every row; those that are there already are left alone."""
        new = [n for n in names if n not in self.columns]
        if not new:
            return self
        records = list(self.records)
        width = len(self.cells(records[self.header_at]))
        records[self.header_at] = self._longer(records[self.header_at], new)
        for i, cells in self.data():
            missing = max(0, width - len(cells))
            records[i] = self._longer(records[i], [""] * (missing + len(new)))
        blanks = [""] * (width - len(self.columns))
        return TableText(
            encoding=self.encoding, separator=self.separator, newline=self.newline, records=tuple(records),
            header_at=self.header_at, columns=(*self.columns, *blanks, *new),
        )  # fmt: skip

    def with_row(self, values: Mapping[str, str]) -> tuple[TableText, int]:
        """With one row added at the end, by column name, columns not named blank; and the index of its record."""
        record = self._line([values.get(name, "") if name else "" for name in self.columns]) + self.newline
        records = list(self.records)
        if records and not records[-1].endswith(("\n", "\r")):
            records[-1] += self.newline
        return self._with([*records, record]), len(records)

    def with_row_instead(self, record: str, values: Mapping[str, str]) -> tuple[TableText, int]:
        """With these cells, by column name, in the last row that has the cells of `record`, all others as they are;
        and the index of that row's record. Raises LookupError where no row has them."""
        at = self._index_of(record)
        if at is None:
            raise LookupError(record)
        old = self.records[at]
        cells = self.cells(old)
        cells += [""] * (len(self.columns) - len(cells))
        cells = [values.get(name, cell) if name else cell for name, cell in zip(self.columns, cells, strict=False)]
        records = list(self.records)
        records[at] = self._line(cells) + old[len(old.rstrip("\r\n")) :]
        return self._with(records), at

    def without_record(self, record: str) -> TableText | None:
        """Without the last row that has the cells of `record`; None where none has."""
        at = self._index_of(record)
        return None if at is None else self._with([*self.records[:at], *self.records[at + 1 :]])

    def _index_of(self, record: str) -> int | None:
        """The last record with the same cells, blank ones at the right end left aside: a column added since is one."""
        wanted = _filled(self.cells(record))
        return next((i for i, cells in reversed(self.data()) if _filled(cells) == wanted), None)

    def count_of(self, record: str) -> int:
        """How many records have the same cells, blank ones at the right end left aside."""
        wanted = _filled(self.cells(record))
        return sum(_filled(cells) == wanted for _, cells in self.data())

    def line_of(self, at: int) -> int:
        """1-based line on which a record begins."""
        return sum(max(r.count("\n"), r.count("\r")) for r in self.records[:at]) + 1

    def _with(self, records: list[str]) -> TableText:
        return TableText(
            encoding=self.encoding, separator=self.separator, newline=self.newline, records=tuple(records),
            header_at=self.header_at, columns=self.columns,
        )  # fmt: skip

    def _line(self, cells: list[str]) -> str:
        out = io.StringIO()
        csv.writer(out, delimiter=self.separator, lineterminator="").writerow(cells)
        return out.getvalue()

    def _longer(self, record: str, cells: list[str]) -> str:
        body = record.rstrip("\r\n")
        added = self.separator.join(self._line([c]) if c else "" for c in cells)
        return body + self.separator + added + record[len(body) :]


def _filled(cells: list[str]) -> list[str]:
    """Cells without the blank ones at the right end, trimmed."""
    out = [c.strip() for c in cells]
    while out and not out[-1]:
        out.pop()
    return out


def read_table_text(data: bytes, file: str) -> TableText:
    """The text of a delimited table. Raises InputError where rows cannot be added safely: a workbook, a table without
    a header, or one divided by blanks."""
    if data.startswith(b"PK\x03\x04"):
        expected = "a CSV file: rows are not written into a workbook. Save it as CSV and name that in workspace.toml"
        raise InputError([Problem(file=file, expected=expected)])
    try:
        decoded = decode(data)
        cells = read_cells(decoded)
    except NotATableError as error:
        raise InputError([Problem(file=file, expected=str(error))]) from error
    encoding = decoded.encoding
    # As it stands in the file, line ends included. Two byte order marks would be one too many.
    text = data.decode(encoding) if encoding != "utf-16" else data.decode("utf-16")
    head = decoded.head
    declared = head[:4].lower() == "sep="
    records = head_records(head, cells.separator, whole=len(head) == len(decoded.data))
    layout = find_layout(records, skip_first=declared)
    if layout.header is None or cells.separator == " " or layout.second_row is not None:
        expected = "a table with one header row and cells divided by commas, semicolons or tabs, to add rows to"
        raise InputError([Problem(file=file, expected=expected)])
    parts = _records(text)
    line, header_at = 1, None
    for i, part in enumerate(parts):
        if line == layout.header:
            header_at = i
        line += max(1, part.count("\n") or part.count("\r"))
    if header_at is None:
        raise InputError([Problem(file=file, expected="a header row that starts a line")])
    header = next(csv.reader(io.StringIO(parts[header_at].rstrip("\r\n")), delimiter=cells.separator))
    newline = "\r\n" if "\r\n" in text else "\r" if "\r" in text and "\n" not in text else "\n"
    if encoding == "utf-16":  # Python would write a second mark, and in its own byte order
        encoding = "utf-16-le" if data.startswith(codecs.BOM_UTF16_LE) else "utf-16-be"
        parts[0] = "\ufeff" + parts[0]
    return TableText(
        encoding=encoding,
        separator=cells.separator,
        newline=newline,
        records=tuple(parts),
        header_at=header_at,
        columns=tuple(c.strip().lstrip("\ufeff") for c in header),
    )


def _records(text: str) -> list[str]:
    """The text cut at line ends that lie outside quotes; joined again it is the same text."""
    parts, start, quoted, i = [], 0, False, 0
    while i < len(text):
        sign = text[i]
        if sign == '"':
            quoted = not quoted
        elif sign in "\r\n" and not quoted:
            end = i + 2 if text.startswith("\r\n", i) else i + 1
            parts.append(text[start:end])
            start = i = end
            continue
        i += 1
    if start < len(text):
        parts.append(text[start:])
    return parts


def date_as_written(day: date, column: list[str]) -> list[str]:
    """A day in the layouts that every cell of a column agrees with, most usual first; ISO where there is none."""
    layouts = [x for x in DATE_LAYOUTS if all(_reads(cell, x) for cell in column)]
    return [day.strftime(x) for x in layouts] or [day.isoformat()]


def _reads(cell: str, layout: str) -> bool:
    try:
        datetime.strptime(cell, layout)
    except ValueError:
        return False
    return True
