"""Which format a gauge file is in. The one door for files: nothing in a file makes it raise."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

import pyarrow as pa

from hydro.discharge import Origin
from hydro.problems import Problem
from hydro.sources.cells import Cells, read_cells
from hydro.sources.decoding import Decoded, NotATableError, decode, file_bytes
from hydro.sources.forms import TableForm, TextForm, json_forms, known, table_forms, text_forms, tried, xml_forms
from hydro.sources.gauge_file import GaugeFile, ReadChoices, series_notes
from hydro.sources.json_text import error_told, load_json
from hydro.sources.unpacking import EMPTY_ZIP, GZIP, ZIP, gunzip, is_workbook, members
from hydro.sources.user_table import DELIMITED, SPREADSHEET, read_user_table
from hydro.sources.xml_text import root_name

NO_CHOICES = ReadChoices()
_HEAD = 4000
_PACKED = "a file that is not packed, or packed as gzip or zip (unpack it first)"
_KNOWN_BINARY = {
    b"\xd0\xcf\x11\xe0": "an XLSX workbook; this is the older XLS kind, or has a password (save it as XLSX or CSV)",
    b"BZh": _PACKED,
    b"\xfd7zXZ": _PACKED,
    b"7z\xbc\xaf": _PACKED,
    b"%PDF": "data; this is a PDF document",
}
_XML = re.compile(r"^\s*<(?:\?xml|[A-Za-z_][\w.-]*:?[\w.-]*[\s/>]|!(?:DOCTYPE|--))")
_HTML = re.compile(r"^\s*(?:<!--.*?-->\s*)*<(?:!doctype\s+html|html|head|body|title)\b", re.IGNORECASE | re.DOTALL)
_JSON = re.compile(r'^\s*[\[{]\s*(?:["\[{\]}]|-?\d)')
#: A JSON text that fits no format is looked at for an error message up to this size.
_SMALL = 1_000_000
#: Understands what was recognised; what comes back builds the series, when everything that they were read from is gone.
Read = Callable[[Origin], Callable[[], GaugeFile]]
AnyForm = TypeVar("AnyForm", TextForm, TableForm)


def read_gauge_file(path: str | Path, choices: ReadChoices = NO_CHOICES, *, shown_as: str | None = None) -> GaugeFile:
    """Read a gauge file of any known format. `shown_as` is how messages name the file (default: the path).

    Whatever is wrong with the file comes back in `problems`; discharge is converted to m³/s on the way in.
    """
    name = shown_as or str(path)
    hashing: list[Future[str]] = []
    # Hashing and reading do not wait for each other: both leave the interpreter lock alone.
    with ThreadPoolExecutor(max_workers=1) as pool:

        def hashed(data: bytes) -> bytes:
            hashing.append(pool.submit(_digest, data))
            return data

        try:
            # The bytes are given away: whoever has made texts of them lets go of them, and nobody else holds them.
            reader = _read(hashed(file_bytes(path)), choices)
            finish = reader(Origin(file=name, digest=hashing[0].result(), format=""))
        except NotATableError as error:
            digest = hashing[0].result() if hashing else ""
            expected = f"{error} (known formats: {known()})" if hashing else str(error)
            return GaugeFile(file=name, digest=digest, problems=(Problem(file=name, expected=expected),))
    del reader
    # Room that texts have left goes back to the system before the series take theirs.
    pa.default_memory_pool().release_unused()
    return finish()


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def _read(data: bytes, choices: ReadChoices, *, packed: bool = False) -> Read:
    """Recognise the format and take the cells; what remains is to understand them. Raises NotATableError."""
    if data.startswith(GZIP) and not packed:
        return _read(gunzip(data), choices, packed=True)
    if data.startswith((ZIP, EMPTY_ZIP)):
        if not is_workbook(data) and not packed:
            return _read_archive(data, choices)
        from hydro.sources.workbook import read_workbook_cells  # openpyxl is only needed for workbooks

        return _by_columns(read_workbook_cells(data), SPREADSHEET, choices)
    for start, expected in {**_KNOWN_BINARY, GZIP: _PACKED}.items():
        if data.startswith(start):
            raise NotATableError(expected)
    decoded = decode(data)
    del data
    head = decoded.head[:_HEAD]
    if _HTML.match(head):
        raise NotATableError("data; this is a web page, perhaps an error message saved under the name of the file")
    if _XML.match(head):
        return _by_text(decoded, xml_forms(), f"XML of a known kind; its first element is <{root_name(head)}>", choices)
    if _JSON.match(head):
        return _by_text(decoded, json_forms(), "JSON of a known kind", choices)
    if form := _the_one(text_forms(), [f for f in text_forms() if f.fits(decoded)]):
        return lambda origin: form.read(decoded, replace(origin, format=form.name), choices).result
    return _by_columns(read_cells(decoded), DELIMITED, choices)


def _by_text(decoded: Decoded, forms: tuple[TextForm, ...], expected: str, choices: ReadChoices) -> Read:
    form = _the_one(forms, [f for f in forms if f.fits(decoded)])
    if form is None:
        if told := _error_in(decoded):
            raise NotATableError(f"data; this is an error message of a service: “{told}”")
        raise NotATableError(f"{expected}; tried: {tried(forms)}")
    return lambda origin: form.read(decoded, replace(origin, format=form.name), choices).result


def _error_in(decoded: Decoded) -> str | None:
    """What a service wrote in place of data, as JSON."""
    if not _JSON.match(decoded.head[:_HEAD]) or len(decoded.data) > _SMALL:
        return None
    return error_told(load_json(decoded.text, (), ()))


def _by_columns(cells: Cells, saved_as: str, choices: ReadChoices) -> Read:
    """A table by its columns; one that is nobody's layout is a person's own."""
    form = _the_one(table_forms(), [f for f in table_forms() if f.fits(cells)])
    if form is None:

        def read(origin: Origin) -> Callable[[], GaugeFile]:
            reading = read_user_table(cells, replace(origin, format=saved_as), choices)
            return lambda: _as_own_table(reading.result())

        return read
    # Readers of a declared layout look at texts only: what was converted on the way in goes before they are read.
    texts = cells
    if cells.load is not None:
        load, texts = cells.load, replace(cells, table=pa.table({}), load=None)
        del cells
        texts = replace(texts, table=load())
    return lambda origin: form.read(texts, replace(origin, format=f"{form.name}, saved as {saved_as}"), choices).result


def _as_own_table(file: GaugeFile) -> GaugeFile:
    """A table in which no discharge was found is told with the layouts that were looked for."""
    if file.series or _has_rows_wrong(file):
        return file
    (problem,) = file.problems
    expected = f"{problem.expected} (read as a person's own table; layouts tried: {tried(table_forms())})"
    return replace(file, problems=(replace(problem, expected=expected),))


def _the_one(forms: tuple[AnyForm, ...], fitting: list[AnyForm]) -> AnyForm | None:
    if len(fitting) > 1:
        names = " and ".join(f.name for f in fitting)
        raise NotATableError(f"a file of one format; this one fits {names} (tried: {tried(forms)})")
    return fitting[0] if fitting else None


def _read_archive(data: bytes, choices: ReadChoices) -> Read:
    """All members of a zip archive as one file; those that hold no gauge table are named."""
    found = members(data)

    def read(origin: Origin) -> Callable[[], GaugeFile]:
        files: list[GaugeFile] = []
        others: list[str] = []
        while found:
            name = found[0].name
            inside = replace(origin, file=f"{origin.file}/{name}")
            try:
                reader = _read(found.pop(0).data, choices, packed=True)
            except NotATableError as error:
                others.append(f"“{name}” in the archive is no gauge file: expected {error}.")
                continue
            try:
                finish = reader(inside)
                del reader
                file = finish()
            except NotATableError as error:  # a format that was recognised, in a member that is not whole
                broken = Problem(file=inside.file, expected=str(error))
                files.append(GaugeFile(file=inside.file, problems=(broken,)))
                continue
            if not file.series and not _has_rows_wrong(file):
                others.append(f"“{name}” in the archive holds no discharge: expected {file.problems[0].expected}.")
                continue
            files.append(file)
        problems = [p for f in files for p in f.problems]
        series = tuple(s for f in files for s in f.series)
        if not files:
            expected = "a gauge file in the archive. " + " ".join(others)
            problems = [Problem(file=origin.file, expected=expected)]
        notes = [n for f in files for n in f.notes] if len(files) == 1 else list(series_notes(series))
        whole = GaugeFile(
            file=origin.file,
            digest=origin.digest,
            format="zip archive of " + ", ".join(dict.fromkeys(f.format for f in files)) if files else "zip archive",
            series=series,
            not_discharge=tuple(dict.fromkeys((*(t for f in files for t in f.not_discharge), *others))),
            problems=tuple(problems),
            notes=tuple(dict.fromkeys((*notes, *(n for f in files for n in f.notes if len(f.series) != 1)))),
        )
        return lambda: whole

    return read


def _has_rows_wrong(file: GaugeFile) -> bool:
    """Whether something in it asks to be settled; a file without discharge has one problem, without row and column."""
    return len(file.problems) != 1 or file.problems[0].row is not None or file.problems[0].column is not None
