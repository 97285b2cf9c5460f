"""Who has seen to an alert: a table of its own in the workspace, because a person entered it.

The file is only ever added to, a row at a time, so that nothing written is lost when two people write at once.
"""

from __future__ import annotations

import csv
import datetime
import errno
import io
import os
from contextlib import suppress
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from dashboard.answers.csv_file import guarded, unguarded
from hydro.problems import InputError, Problem

FILE = "acknowledged.csv"


@dataclass(frozen=True, kw_only=True)
class Acknowledgement:
    """One row: the alert's id, outlet, kind and since, who has seen to it, when (ISO, with its offset), a note."""

    alert: str
    outlet: str
    kind: str
    since: str
    by: str
    at: str
    note: str = ""


COLUMNS = tuple(f.name for f in fields(Acknowledgement))


def acknowledge(folder: Path, row: Acknowledgement) -> None:
    """Add a row. Raises InputError where the name is empty or the file cannot be written."""
    if not row.by.strip():
        raise InputError([Problem(row="--by", value=row.by, expected="the name of who has seen to it")])
    datetime.datetime.fromisoformat(row.at)
    read_acknowledged(folder)  # a file that is not ours, or spoilt, is not added to
    path = folder / FILE
    try:
        # One append of whole rows: the system keeps two writers apart.
        handle = os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | getattr(os, "O_BINARY", 0), 0o666)
        try:
            text = io.StringIO()
            out = csv.writer(text, lineterminator="\r\n")
            size = os.fstat(handle).st_size
            if size == 0:
                out.writerow(COLUMNS)
            else:
                os.lseek(handle, -1, os.SEEK_END)
                if os.read(handle, 1) != b"\n":  # an editor left the last line open
                    text.write("\r\n")
            out.writerow([guarded(_one_line(v)) for v in astuple(row)])
            _append(handle, size, text.getvalue().encode())
        finally:
            os.close(handle)
    except OSError as error:
        raise InputError([Problem(file=FILE, expected=f"a file that can be written: {error.strerror}")]) from None


def _append(handle: int, size: int, data: bytes) -> None:
    """Add to a file of so many bytes, on the disk; half a row on a full disk is taken back. Raises OSError."""
    written = 0
    try:
        written = os.write(handle, data)
        if written < len(data):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        os.fsync(handle)
    except OSError:
        with suppress(OSError):
            if os.fstat(handle).st_size == size + written:  # else somebody has added behind it
                os.ftruncate(handle, size)
        raise


def read_acknowledged(folder: Path) -> list[Acknowledgement]:
    """Every row, oldest first; empty where there is no file. Raises InputError with every row that is wrong."""
    path = folder / FILE
    if not path.is_file():
        return []
    try:
        rows = list(csv.reader(io.StringIO(path.read_bytes().decode("utf-8-sig"), newline="")))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise InputError([Problem(file=FILE, expected=f"a CSV file in UTF-8; reading stopped: {error}")]) from None
    if not rows:
        return []
    problems, found = [], []
    if tuple(rows[0]) != COLUMNS:
        raise InputError([Problem(file=FILE, row=1, value=",".join(rows[0]), expected=",".join(COLUMNS))])
    for number, cells in enumerate(rows[1:], start=2):
        if cells == list(COLUMNS) or not any(cells):
            continue  # two first writers at once each wrote the heading
        if len(cells) != len(COLUMNS):
            problems.append(Problem(file=FILE, row=number, value=",".join(cells), expected=f"{len(COLUMNS)} cells"))
            continue
        found.append(Acknowledgement(**dict(zip(COLUMNS, map(unguarded, cells), strict=True))))
    if problems:
        raise InputError(problems)
    return found


def _one_line(text: str) -> str:
    """Text without line ends and other signs that nobody sees."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())
