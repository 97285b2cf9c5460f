"""Packed files: gzip, and zip archives with gauge files in them, unpacked in memory and only up to a limit."""

from __future__ import annotations

import io
import zipfile
import zlib
from dataclasses import dataclass

from hydro.sources.decoding import NotATableError

GZIP, ZIP = b"\x1f\x8b", b"PK\x03\x04"
EMPTY_ZIP = b"PK\x05\x06"
#: Text of gauges packs to a tenth, at best a fiftieth; what unpacks to far more than that is made to fill the memory.
MOST_RATIO = 200
#: Below this size any ratio is harmless: a year of the same value packs very well.
HARMLESS = 20_000_000  # [bytes]
MOST_BYTES = 1_000_000_000
MOST_MEMBERS = 500
_CHUNK = 1 << 20


@dataclass(frozen=True, eq=False, kw_only=True)
class Member:
    """One file of an archive: its name there and its bytes."""

    name: str
    data: bytes


def is_workbook(data: bytes) -> bool:
    """Whether a zip archive is an XLSX workbook; one that cannot be opened is left to the workbook's reader."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        return True
    return "[Content_Types].xml" in names or any(n.startswith("xl/") for n in names)


def gunzip(data: bytes) -> bytes:
    """The bytes of a gzip file. Raises NotATableError where it is broken, or unpacks to far too much."""
    limit = _limit(len(data))
    parts: list[bytes] = []
    total, rest = 0, data
    try:
        while rest:
            machine = zlib.decompressobj(wbits=31)
            while True:
                part = machine.decompress(rest, _CHUNK)
                total += len(part)
                if total > limit:
                    raise _too_much(limit)
                parts.append(part)
                rest = machine.unconsumed_tail
                if machine.eof:
                    break
                if not rest and not part:
                    raise NotATableError("a gzip file that is whole; this one breaks off")
            rest = machine.unused_data.lstrip(b"\x00")
    except zlib.error as error:
        raise NotATableError(f"a gzip file that is whole ({error})") from error
    return b"".join(parts)


def members(data: bytes) -> list[Member]:
    """The files of a zip archive, without folders and hidden ones. Raises NotATableError.

    Nothing is written to disk, so names that point elsewhere do no harm.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = [i for i in archive.infolist() if not i.is_dir() and not _is_hidden(i.filename)]
            if not infos:
                raise NotATableError("an archive with files in it; this one is empty")
            if len(infos) > MOST_MEMBERS:
                raise NotATableError(f"an archive of at most {MOST_MEMBERS} files; this one holds {len(infos)}")
            if any(i.flag_bits & 1 for i in infos):
                raise NotATableError("an archive without a password")
            room = _limit(len(data))
            found = []
            for info in infos:
                # What the archive says of its sizes can be a lie, so no more is taken than there is room for.
                with archive.open(info) as stream:
                    content = stream.read(room + 1)
                room -= len(content)
                if room < 0:
                    raise _too_much(_limit(len(data)))
                found.append(Member(name=info.filename, data=content))
            return found
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError, RuntimeError, ValueError) as error:
        if isinstance(error, NotATableError):
            raise
        raise NotATableError(f"an archive that can be unpacked ({error})") from error


def _limit(packed: int) -> int:
    return min(max(HARMLESS, MOST_RATIO * packed), MOST_BYTES)


def _too_much(limit: int) -> NotATableError:
    return NotATableError(
        f"a packed file that unpacks to at most {limit // 1_000_000} MB; this one holds more, which no gauge file of "
        "its size does"
    )


def _is_hidden(name: str) -> bool:
    parts = name.split("/")
    return parts[0] == "__MACOSX" or parts[-1].startswith(".")
