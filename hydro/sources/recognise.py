"""Which format a gauge file is in. The one door for files: nothing in a file makes it raise."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

from hydro.discharge import Origin
from hydro.problems import Problem
from hydro.sources.cells import read_cells
from hydro.sources.decoding import Decoded, NotATableError, decode, file_bytes
from hydro.sources.gauge_file import GaugeFile, ReadChoices
from hydro.sources.us_columns import is_us_header
from hydro.sources.us_rdb import RDB, read_us_blocks, read_us_table
from hydro.sources.user_table import DELIMITED, SPREADSHEET, read_user_table

KNOWN = "US tab-delimited (RDB), delimited text (comma, semicolon, tab, bar or blanks) and XLSX workbooks"
NO_CHOICES = ReadChoices()
_HEAD = 4000
_PACKED = "a file that is not packed (unpack it first)"
_KNOWN_BINARY = {
    b"\xd0\xcf\x11\xe0": "an XLSX workbook; this is the older XLS kind, or has a password (save it as XLSX or CSV)",
    b"\x1f\x8b": _PACKED,
    b"BZh": _PACKED,
    b"\xfd7zXZ": _PACKED,
    b"7z\xbc\xaf": _PACKED,
    b"%PDF": "data; this is a PDF document",
}
_XML = re.compile(r"^\s*<(?:\?xml|[A-Za-z_][\w.-]*:?[\w.-]*[\s/>])")
_HTML = re.compile(r"^\s*(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|head|body|title)\b", re.IGNORECASE | re.DOTALL)


def read_gauge_file(path: str | Path, choices: ReadChoices = NO_CHOICES, *, shown_as: str | None = None) -> GaugeFile:
    """Read a gauge file of any known format. `shown_as` is how messages name the file (default: the path).

    Whatever is wrong with the file comes back in `problems`; discharge is converted to m³/s on the way in.
    """
    name = shown_as or str(path)
    try:
        data = file_bytes(path)
    except NotATableError as error:
        return GaugeFile(file=name, problems=(Problem(file=name, expected=str(error)),))
    # Hashing and reading do not wait for each other: both leave the interpreter lock alone.
    with ThreadPoolExecutor(max_workers=1) as pool:
        hashing = pool.submit(lambda: hashlib.sha256(data).hexdigest())
        try:
            read = _read(data, choices)
        except NotATableError as error:
            expected = f"{error} (known formats: {KNOWN})"
            problem = Problem(file=name, expected=expected)
            return GaugeFile(file=name, digest=hashing.result(), problems=(problem,))
        return read(Origin(file=name, digest=hashing.result(), format=""))


def _read(data: bytes, choices: ReadChoices) -> Callable[[Origin], GaugeFile]:
    """Recognise the format and take the cells; what remains is to understand them. Raises NotATableError."""
    if data.startswith(b"PK\x03\x04"):
        from hydro.sources.workbook import read_workbook_cells  # openpyxl is only needed for workbooks

        cells = read_workbook_cells(data)
        form = SPREADSHEET
    else:
        for start, expected in _KNOWN_BINARY.items():
            if data.startswith(start):
                raise NotATableError(expected)
        decoded = decode(data)
        _refuse_markup(decoded.head[:_HEAD])
        if is_rdb(decoded):
            return lambda origin: read_us_blocks(decoded, origin, choices)
        cells = read_cells(decoded)
        form = DELIMITED
    if is_us_header(cells.columns):
        return lambda origin: read_us_table(cells, replace(origin, format=f"{RDB}, saved as {form}"), choices)
    return lambda origin: read_user_table(cells, replace(origin, format=form), choices)


def _refuse_markup(head: str) -> None:
    if _HTML.match(head):
        raise NotATableError("data; this is a web page, perhaps an error message saved under the name of the file")
    if _XML.match(head):
        raise NotATableError("a table; this is XML, a format not known here yet")
    if head.lstrip()[:1] in "{[" and re.match(r'^\s*[\[{]\s*(?:["\[{\]}]|-?\d)', head):
        raise NotATableError("a table; this is JSON, a format not known here yet")


def is_rdb(decoded: Decoded) -> bool:
    """Whether a text is tab-delimited agency output: comments, then a row of names with its tabs and codes."""
    head, data = decoded.head[:_HEAD], decoded.data
    at = 0
    while at < len(data):
        end = data.find(b"\n", at)
        line = data[at : end if end >= 0 else len(data)]
        if line.strip() and not line.startswith(b"#"):
            return b"\t" in line and is_us_header(line.decode("utf-8", "replace").split("\t"))
        at = end + 1 if end >= 0 else len(data)
    # Comments only: the agency's way to say that nothing was found.
    return "File-format description" in head or "# retrieved:" in head or "U.S. Geological Survey" in head
