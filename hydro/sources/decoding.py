"""Files -> bytes -> text: what is there at all, and in which encoding it was written."""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

#: How much of a file is looked at to find out how it is laid out.
HEAD_BYTES, TAIL_BYTES = 60_000, 20_000
_PIECE = 1 << 20
_NOTHING = b"\x00 \t\r\n\xef\xbb\xbf\xff\xfe"


class NotATableError(ValueError):
    """The bytes hold no text table. The message says what was expected."""


@dataclass(eq=False, kw_only=True)
class Decoded:
    """Text as UTF-8 bytes whose lines end in line feeds, and the encoding that the file itself uses.

    Readers of long files `forget` it once they have what they need: it would lie beside everything made of it.
    """

    data: bytes
    encoding: str

    @cached_property
    def text(self) -> str:
        """All of it; long files are read by their bytes where that is possible."""
        return self.data.decode()

    def forget(self) -> None:
        """Let go of the bytes and the text; the first and the last lines stay where they were asked for."""
        self.data = b""
        self.__dict__.pop("text", None)

    def spend(self) -> str:
        """The text, which is not kept here any longer."""
        text = self.text
        self.forget()
        return text

    @cached_property
    def head(self) -> str:
        """The first lines, whole lines only."""
        if len(self.data) <= HEAD_BYTES:
            return self.text
        part = self.data[:HEAD_BYTES]
        return part[: part.rfind(b"\n") + 1 or None].decode("utf-8", "ignore")

    @cached_property
    def tail(self) -> str:
        """The last lines, whole lines only."""
        if len(self.data) <= TAIL_BYTES:
            return self.text
        part = self.data[-TAIL_BYTES:]
        return part[part.find(b"\n") + 1 :].decode("utf-8", "ignore")


def file_bytes(path: str | Path) -> bytes:
    """The bytes of a file. Raises NotATableError where there is no readable file or nothing in it."""
    place = Path(path)
    if place.is_dir():
        raise NotATableError("a file; this is a folder")
    try:
        data = place.read_bytes()
    except FileNotFoundError as error:
        raise NotATableError("a file that exists") from error
    except (OSError, ValueError) as error:  # ValueError: a name with a NUL in it
        raise NotATableError(f"a file that can be read ({error})") from error
    # Only the head is looked at first: stripping copies the whole file.
    if not data[:1000].strip(_NOTHING) and not data.strip(_NOTHING):
        raise NotATableError("a file with something in it; this one is empty")
    return data


def decode(data: bytes) -> Decoded:
    """Text by its byte-order mark, else as UTF-8, else as Windows-1252. Raises NotATableError for binary data."""
    encoding = "utf-8"
    if data.startswith(codecs.BOM_UTF8):
        encoding = "utf-8-sig"
    elif data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    elif b"\x00" in data[:4096]:
        raise NotATableError("text or a spreadsheet; this file is binary")
    if encoding == "utf-8-sig":
        data = data[len(codecs.BOM_UTF8) :]
    if encoding == "utf-16" or not (data.isascii() or is_utf8(data)):
        if encoding == "utf-8":
            encoding = "cp1252"
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError as error:
            if encoding != "cp1252":
                raise NotATableError(f"text in the encoding that its first bytes announce ({encoding})") from error
            raise NotATableError("text in UTF-8, UTF-16 or Windows-1252, or a spreadsheet") from error
        # Half a surrogate pair can come out of UTF-16 and has no place in any text.
        data = text.encode("utf-8", "replace")
    head = data[:4096]
    if sum(byte < 32 and byte not in b"\t\r\n\f" for byte in head) > len(head) // 50:
        raise NotATableError("text or a spreadsheet; this file is binary")
    if b"\n" not in head and b"\r" in head:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return Decoded(data=data, encoding=encoding)


def is_utf8(data: bytes) -> bool:
    """Whether bytes are UTF-8, found out piece by piece: a long file is not copied to be looked at."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    whole = memoryview(data)
    try:
        for at in range(0, len(data), _PIECE):
            decoder.decode(whole[at : at + _PIECE])
        decoder.decode(b"", final=True)
    except UnicodeDecodeError:
        return False
    return True
