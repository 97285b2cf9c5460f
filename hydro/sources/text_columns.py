"""Columns of text that grow while a long file is read, kept as Arrow arrays so that they stay small."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pyarrow as pa
import pyarrow.compute as pc

#: Rows that wait as Python objects before they are packed; a Python text takes several times the room of its letters.
PACKED_AT = 50_000


class TextColumns:
    """Named columns of text. Append to every list in `open`, `pack` now and then; `column` gives the whole."""

    def __init__(self, names: Sequence[str]) -> None:
        self.names = tuple(names)
        self.open: list[list[object]] = [[] for _ in self.names]
        self._packed: list[list[pa.Array]] = [[] for _ in self.names]
        self._before = 0

    def __len__(self) -> int:
        return self._before + len(self.open[0])

    def pack(self) -> None:
        """Take what waits in `open` into Arrow arrays, and empty the lists in place."""
        self._before += len(self.open[0])
        for waiting, packed in zip(self.open, self._packed, strict=True):
            packed.append(_strings(waiting))
            waiting.clear()

    def column(self, name: str) -> pa.Array:
        """All cells of a column as text; what was missing is ""."""
        if self.open[0]:
            self.pack()
        chunks = self._packed[self.names.index(name)]
        return pa.concat_arrays(chunks) if chunks else pa.array([], type=pa.string())


def _strings(cells: list[object]) -> pa.Array:
    try:
        array = pa.array(cells, type=pa.string())
    except (pa.ArrowInvalid, pa.ArrowTypeError, UnicodeEncodeError):
        array = pa.array([as_text(cell) for cell in cells], type=pa.string())
    return pc.fill_null(array, "") if array.null_count else array


def as_text(cell: object) -> str:
    """A JSON value as the text of a cell: lists with blanks between their items, nothing for null."""
    if cell is None:
        return ""
    if isinstance(cell, str):
        return cell.encode("utf-8", "replace").decode()  # half a surrogate pair has no place in any text
    if isinstance(cell, bool):
        return str(cell).lower()
    if isinstance(cell, list):
        return " ".join(as_text(item) for item in cell)
    if isinstance(cell, dict):
        named = next((cell[k] for k in ("@id", "value") if k in cell), None)
        return as_text(named) if named is not None else json.dumps(cell)
    return str(cell)
