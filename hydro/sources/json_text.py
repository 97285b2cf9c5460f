"""JSON with long arrays of records, read record by record: the whole document never stands in memory as objects.

Numbers are kept as they are written, so that a value can be shown as the file has it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field

from hydro.sources.decoding import NotATableError
from hydro.sources.text_columns import PACKED_AT, TextColumns

#: Keys from the top of the document to an array; None stands for any key or any item.
Path = tuple[str | None, ...]

_BLANK = re.compile(r"[ \t\r\n]*")
#: Arrays deeper than this are nobody's data.
_DEEPEST = 200


@dataclass(eq=False)
class Records:
    """The records of one array: one text column a field. `where` names the keys that lead to it."""

    where: tuple[str, ...]
    columns: TextColumns
    others: int = 0  # items that are no objects
    keys: frozenset[str] = field(default_factory=frozenset)  # of the first record


def load_json(text: str, arrays: Sequence[Path], fields: Sequence[str], inner: str | None = None) -> object:
    """The document with every array at one of the paths replaced by its `Records`.

    `fields` are the members of each record to keep, taken from its member `inner` where one is given. Raises
    NotATableError where the text is not whole.
    """
    walk = _Walk(text, tuple(fields), inner)
    try:
        start = walk.skip(0)
        document, end = walk.value(start, tuple(arrays), ())
        end = walk.skip(end)
    except (ValueError, IndexError) as error:
        at = getattr(error, "pos", len(text))
        line = text.count("\n", 0, at) + 1
        message = f"JSON that is whole; this breaks off or goes wrong in line {line}, near character {at + 1}"
        raise NotATableError(message) from error
    except RecursionError as error:
        raise NotATableError("JSON of a gauge; this is nested deeper than any") from error
    if end != len(text):
        line = text.count("\n", 0, end) + 1
        raise NotATableError(f"JSON that is whole; something stands behind its end, in line {line}")
    return document


class _Walk:
    def __init__(self, text: str, fields: tuple[str, ...], inner: str | None) -> None:
        self.text, self.fields, self.inner = text, fields, inner
        self.decode = json.JSONDecoder(parse_float=str, parse_int=str, parse_constant=str, strict=False).raw_decode

    def skip(self, at: int) -> int:
        match = _BLANK.match(self.text, at)
        return match.end() if match else at

    def value(self, at: int, paths: tuple[Path, ...], where: tuple[str, ...]) -> tuple[object, int]:
        start = self.text[at]
        if paths and start == "{":
            return self.members(at, paths, where)
        if start == "[" and () in paths:
            return self.records(at, where)
        if paths and start == "[" and len(where) < _DEEPEST:
            return self.items(at, paths, where)
        return self.decode(self.text, at)

    def members(self, at: int, paths: tuple[Path, ...], where: tuple[str, ...]) -> tuple[object, int]:
        found: dict[str, object] = {}
        at = self.skip(at + 1)
        while self.text[at] != "}":
            if self.text[at] != '"':
                raise json.JSONDecodeError("a name in quotes", self.text, at)
            key, at = self.decode(self.text, at)
            at = self.expect(":", at)
            below = tuple(p[1:] for p in paths if p and p[0] in (None, key))
            found[key], at = self.value(at, below, (*where, key))
            at = self.after_item(at, "}")
        return found, at + 1

    def items(self, at: int, paths: tuple[Path, ...], where: tuple[str, ...]) -> tuple[object, int]:
        items: list[object] = []
        below = tuple(p[1:] for p in paths if p and p[0] is None)
        at = self.skip(at + 1)
        while self.text[at] != "]":
            item, at = self.value(at, below, (*where, str(len(items))))
            items.append(item)
            at = self.after_item(at, "]")
        return items, at + 1

    def records(self, at: int, where: tuple[str, ...]) -> tuple[object, int]:
        columns = TextColumns(self.fields)
        found = Records(where=where, columns=columns)
        text, decode, inner, blank = self.text, self.decode, self.inner, _BLANK.match
        appends = [(name, cells.append) for name, cells in zip(self.fields, columns.open, strict=True)]
        at, waiting = self.skip(at + 1), 0
        while text[at] != "]":
            item, at = decode(text, at)
            if inner is not None and isinstance(item, dict):
                item = item.get(inner)
            if not isinstance(item, dict):
                found.others += 1
                item = {}
            if not found.keys:
                found.keys = frozenset(item)
            for name, append in appends:
                append(item.get(name))
            waiting += 1
            if waiting == PACKED_AT:
                columns.pack()
                waiting = 0
            if text[at] == "," and text[at + 1] == "{":  # the usual case, without a look for blanks
                at += 1
                continue
            match = blank(text, at)
            at = self.after_item(match.end() if match else at, "]")
        return found, at + 1

    def expect(self, mark: str, at: int) -> int:
        at = self.skip(at)
        if self.text[at] != mark:
            raise json.JSONDecodeError(f"“{mark}”", self.text, at)
        return self.skip(at + 1)

    def after_item(self, at: int, end: str) -> int:
        at = self.skip(at)
        if self.text[at] == end:
            return at
        at = self.expect(",", at)
        if self.text[at] == end:
            raise json.JSONDecodeError("an item after the comma", self.text, at)
        return at


def records_in(document: object) -> list[Records]:
    """Every `Records` in a document, in its order."""
    if isinstance(document, Records):
        return [document]
    if isinstance(document, dict):
        return [r for member in document.values() for r in records_in(member)]
    if isinstance(document, list):
        return [r for item in document for r in records_in(item)]
    return []


def error_told(document: object) -> str | None:
    """The message of a service that answered with an error instead of data; None where there is none."""
    if not isinstance(document, dict):
        return None
    inner = document.get("error")
    told = inner if isinstance(inner, dict) else document
    words = [
        str(told[k]) for k in ("code", "message", "description", "detail", "title") if isinstance(told.get(k), str)
    ]
    if isinstance(inner, str):
        words = [inner, *words]
    has_error = inner is not None or ("code" in document and ("description" in document or "message" in document))
    return ": ".join(words)[:300] if words and has_error and not records_in(document) else None
