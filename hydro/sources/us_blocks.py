"""Tab-delimited agency text taken into blocks: comment lines, a row of names, data. One block a site or request."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from hydro.sources.cells import Cells
from hydro.sources.ragged_rows import cells_from_records, has_blank_row, mend_rows, quick_table

#: The row below the names, “5s 15s 20d 14n 10s”. It is recognised by its look, as people delete it.
_DEFINITION = re.compile(r"^\d+[sdn]$", re.IGNORECASE)
_RETRIEVED = re.compile(r"^#\s*retrieved:\s*(.+?)\s*(?:\(\w+\))?\s*$", re.IGNORECASE)
_DESCRIBED = re.compile(r"^#\s+(\d+)\s+(\d{5})\s+(?:(\d{5})\s+)?(\S.*?)\s*$")
#: Lines that open a new block: a comment, or the names again.
_BLOCK_MARKS = (b"\n#", b"\nagency_cd\t")
_TAIL = 100_000  # bytes looked at for web page markup below the data


@dataclass(frozen=True, eq=False, kw_only=True)
class Comments:
    """What the comment lines say. `described` is keyed by (series number, parameter, statistic)."""

    lines: tuple[str, ...]
    retrieved: str
    described: dict[tuple[str, str, str], str]

    def description(self, number: str, parameter: str, statistic: str) -> str:
        """The agency's words for a series, "" where there are none."""
        return self.described.get((number, parameter, statistic)) or self.described.get((number, parameter, ""), "")


def read_comments(lines: list[str]) -> Comments:
    """Take the retrieval time and the table of series from comment lines."""
    retrieved, described = "", {}
    for text in lines:
        if match := _RETRIEVED.match(text):
            retrieved = match[1]
        elif match := _DESCRIBED.match(text):
            described[(match[1], match[2], match[3] or "")] = match[4]
    return Comments(lines=tuple(lines), retrieved=retrieved, described=described)


def without_markup(body: bytes) -> tuple[bytes, bool]:
    """(data, whether something was cut): old saved files can end with the rest of a web page, from a “<” on."""
    cut = body.find(b"\n<", max(0, len(body) - _TAIL))
    return (body, False) if cut < 0 else (body[: cut + 1], True)


def read_blocks(body: bytes, encoding: str) -> Iterator[tuple[Cells, Comments]]:
    """Every block with its comments, in file order. `body` is UTF-8; `encoding` is only passed on."""
    at, line = 0, 1
    comments: list[str] = []
    while at < len(body):
        text, after = _line(body, at)
        if text.startswith("#") or not text.strip():
            comments.append(text)
            at, line = after, line + 1
            continue
        names = [n.strip() for n in text.split("\t")]
        at, line = after, line + 1
        below, after = _line(body, at)
        filled = [c.strip() for c in below.split("\t") if c.strip()]
        if filled and all(_DEFINITION.match(c) for c in filled):
            at, line = after, line + 1
        stop = _block_end(body, at)
        ends = body.count(b"\n", at, stop)
        lines = ends + int(stop > at and body[stop - 1 : stop] != b"\n")
        yield _cells(memoryview(body)[at:stop], names, line, lines, encoding), read_comments(comments)
        line += ends
        at, comments = stop, []


def _line(body: bytes, at: int) -> tuple[str, int]:
    """(the line that starts at a position, position of the next)."""
    end = body.find(b"\n", at)
    end = len(body) if end < 0 else end
    return body[at:end].rstrip(b"\r").decode("utf-8", "replace"), end + 1


def _block_end(body: bytes, at: int) -> int:
    # One rare byte is found much faster than a pattern with a line feed in it.
    ends = [body.find(mark, max(at - 1, 0)) for mark in _BLOCK_MARKS if body.find(mark[1:], at) >= 0]
    return min([e + 1 for e in ends if e >= 0], default=len(body))


def _cells(body: memoryview, names: list[str], line: int, lines: int, encoding: str) -> Cells:
    while names and not names[-1]:
        names.pop()
    width = len(names)
    table = quick_table(body, "\t", width, quoted=False) if lines else None
    if table is not None and table.num_rows == lines and not has_blank_row(table):
        return _block(names, table, np.arange(line, line + lines, dtype=np.int64), encoding)
    if lines and (mended := mend_rows(body, "\t", width, line, lines)) is not None:
        table, rows, notes, surplus = mended
        return _block(names, table, rows, encoding, notes, surplus)
    texts = bytes(body).decode("utf-8", "replace").split("\n")
    records = [(n, t.rstrip("\r").split("\t")) for n, t in enumerate(texts, start=line)]
    table, rows, notes, surplus = cells_from_records(records, width)
    return _block(names, table, rows, encoding, notes, surplus)


def _block(
    names: list[str],
    table: object,
    rows: np.ndarray,
    encoding: str,
    notes: tuple[str, ...] = (),
    surplus: tuple[tuple[int, str], ...] = (),
) -> Cells:
    return Cells(
        columns=tuple(names),
        table=table,
        rows=rows,
        second_row=None,
        preamble=(),
        encoding=encoding,
        separator="\t",
        notes=notes,
        surplus=surplus,
    )
