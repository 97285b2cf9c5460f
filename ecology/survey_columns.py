"""Cells of a survey table into dates, words and numbers, every cell that cannot be read becoming a problem."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from hydro.problems import Problem
from hydro.sources.dates import parse_date_column
from hydro.sources.text_table import TextTable

_PLAIN = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?")


@dataclass(eq=False)
class ColumnReader:
    """Reads named columns of one table and gathers what is wrong with them.

    `names` maps our column names to the user's where they differ. A column that the table lacks reads as blanks.
    """

    table: TextTable
    file: str
    names: Mapping[str, str] = field(default_factory=dict)
    problems: list[Problem] = field(default_factory=list)
    _texts: dict[str, pd.Series] = field(default_factory=dict)

    def header(self, column: str) -> str:
        """The user's name of one of our columns: as mapped, or ours where the table has only that."""
        theirs = self.names.get(column, column)
        return column if theirs not in self.table.columns and column in self.table.columns else theirs

    def has(self, column: str) -> bool:
        return self.header(column) in self.table.columns

    def require(self, columns: Sequence[str]) -> bool:
        """True where all columns are there; a problem for each that is not."""
        absent = [c for c in columns if not self.has(c)]
        for column in absent:
            found = ", ".join(self.table.columns) or "no columns"
            self.problems.append(
                Problem(
                    file=self.file,
                    column=self.header(column),
                    expected=f"a column “{self.header(column)}”; the file has: {found}. "
                    f'If yours is named otherwise, say so under [surveys]: columns = {{ {column} = "…" }}',
                )
            )
        return not absent

    def text(self, column: str) -> pd.Series:
        """Trimmed cells, "" where blank or absent."""
        if column not in self._texts:
            cells = pd.Series("", index=self.table.cells.index, dtype=object)
            if self.has(column):
                cells = self.table.cells[self.header(column)].astype(object).str.strip()
            self._texts[column] = cells
        return self._texts[column]

    def wrong(self, column: str, at: np.ndarray, expected: str) -> None:
        """Note the cells at the positions where `at` is true."""
        text = self.text(column)
        for i in np.flatnonzero(at).tolist():
            self.problems.append(
                Problem(
                    file=self.file,
                    row=int(self.table.rows[i]),
                    column=self.header(column),
                    value=text.iloc[i],
                    expected=expected,
                )
            )

    def dates(self, column: str, day_first: bool | None) -> pd.Series:
        """Civil days; NaT where unreadable (a problem). The layout is proved by the whole column or asked for."""
        text = self.text(column)
        parsed = parse_date_column(text.tolist(), day_first=day_first)
        if parsed.question is not None:
            self.problems.append(Problem(file=self.file, column=self.header(column), expected=parsed.question))
        days = pd.Series(pd.DatetimeIndex(parsed.values), index=text.index).dt.normalize()
        if parsed.question is None:
            self.wrong(column, days.isna().to_numpy(), "a date such as 2024-03-05")
        return days

    def choice(self, column: str, allowed: Sequence[str], *, blank: bool = True) -> pd.Series:
        """Lower-cased words out of `allowed`; anything else is a problem and reads as blank."""
        words = self.text(column).str.lower()
        ok = words.isin(list(allowed)) | ((words == "") & blank)
        self.wrong(column, (~ok).to_numpy(), " or ".join(allowed) + (", or blank" if blank else ""))
        return words.where(ok, "")

    def number(self, column: str, *, least: float, above: bool = False, whole: bool = False, most: float = np.inf,
               meaning: str) -> pd.Series:  # fmt: skip
        """Numbers within bounds, NaN where blank; `meaning` says what is accepted. A decimal comma is read where
        the table's separator leaves no doubt."""
        text = self.text(column)
        plain = text if self.table.separator == "," else text.str.replace(r"^([+-]?\d+),(\d+)$", r"\1.\2", regex=True)
        looks = plain.str.fullmatch(_PLAIN).fillna(False).astype(bool)
        values = pd.to_numeric(plain.where(looks, np.nan), errors="coerce").astype(np.float64)
        low = values > least if above else values >= least
        ok = looks & low & (values <= most)
        if whole:
            ok &= values == values.round()
        self.wrong(column, ((text != "") & ~ok).to_numpy(), meaning)
        return values.where(ok)
