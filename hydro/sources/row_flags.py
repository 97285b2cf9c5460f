"""The flags of many rows, kept as a few distinct sets and one small number a row."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import APPROVALS
from hydro.sources.us_codes import UNKNOWN, CodeMeaning


@dataclass(eq=False)
class RowFlags:
    """`codes[i]` is the position in `sets` of row i's flags. An unflagged column is all zeros over one empty set."""

    codes: np.ndarray
    sets: list[frozenset[str]]

    @classmethod
    def none(cls, n: int) -> RowFlags:
        return cls(np.zeros(n, np.int32), [frozenset()])

    @classmethod
    def at(cls, n: int, flags: dict[int, frozenset[str]]) -> RowFlags:
        """Flags at a few positions."""
        codes = np.zeros(n, np.int32)
        sets: list[frozenset[str]] = [frozenset()]
        known = {sets[0]: 0}
        for position, each in flags.items():
            if each not in known:
                known[each] = len(sets)
                sets.append(each)
            codes[position] = known[each]
        return cls(codes, sets)

    @classmethod
    def where(cls, mask: np.ndarray, flag: str) -> RowFlags:
        return cls(mask.astype(np.int32), [frozenset(), frozenset({flag})])

    @property
    def any(self) -> bool:
        return len(self.sets) > 1 or bool(self.sets[0])

    def merged(self, other: RowFlags) -> RowFlags:
        """Row by row, the flags of both."""
        if not other.any:
            return self
        if not self.any:
            return other
        pairs, distinct = pd.factorize(self.codes.astype(np.int64) * len(other.sets) + other.codes)
        sets = [self.sets[d // len(other.sets)] | other.sets[d % len(other.sets)] for d in distinct]
        return RowFlags(pairs.astype(np.int32), sets)

    def take(self, order: np.ndarray) -> RowFlags:
        return RowFlags(self.codes[order], self.sets)

    def has(self, flag: str) -> np.ndarray:
        """Rows that carry a flag."""
        if not any(flag in each for each in self.sets):
            return np.zeros(len(self.codes), bool)
        return np.array([flag in each for each in self.sets])[self.codes]

    def categorical(self) -> pd.Categorical:
        """Flags sorted and joined by blanks, as a discharge frame keeps them."""
        texts = [" ".join(sorted(each)) for each in self.sets]
        names = sorted(set(texts) | {""})
        position = np.array([names.index(t) for t in texts], np.int32)
        return pd.Categorical.from_codes(position[self.codes] if self.any else self.codes, categories=names)


def read_codes(cells: pa.Array, meaning: Callable[[str], CodeMeaning]) -> tuple[np.ndarray, RowFlags]:
    """A column of code cells -> (position in APPROVALS of every row, flags). Each distinct text is read once."""
    coded = pc.dictionary_encode(cells)
    texts = coded.dictionary.to_pylist()
    read = [meaning(t) for t in texts] or [CodeMeaning(UNKNOWN, frozenset())]
    indices = np.asarray(coded.indices).astype(np.int32)
    approval = np.array([m.approval for m in read], np.int8)[indices]
    if not any(m.flags for m in read):
        return approval, RowFlags.none(len(cells))
    return approval, RowFlags(indices, [m.flags for m in read])


def approval_categorical(codes: np.ndarray) -> pd.Categorical:
    return pd.Categorical.from_codes(codes, categories=list(APPROVALS))
