"""What a report is made of."""

from __future__ import annotations

from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Table
from dashboard.figures.drawing import Drawing
from dashboard.wording.tables import Columns


@dataclass(frozen=True, eq=False, kw_only=True)
class Plate:
    """A picture with the key to its marks."""

    drawing: Drawing
    key: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class ShortTable:
    """A table that is printed: its rows, and which columns are shown under which words."""

    title: str
    frame: pd.DataFrame
    columns: Columns


@dataclass(frozen=True, eq=False, kw_only=True)
class Section:
    """One question about one outlet, or about all of them.

    name      file-name safe
    question  the page's question
    about     the outlet's title, "" where it is about all
    answer    one sentence
    details   sentences below it
    unknown   what is not known about it: repeated on the last page
    tables    in full precision, for files beside the report
    """

    name: str
    question: str
    answer: str
    about: str = ""
    details: tuple[str, ...] = ()
    plates: tuple[Plate, ...] = ()
    printed: tuple[ShortTable, ...] = ()
    cautions: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()


@dataclass(frozen=True, eq=False, kw_only=True)
class Report:
    """A whole report. `first` and `last` are the days it is about, both inside; `unit` is the unit of discharge."""

    title: str
    first: pd.Timestamp
    last: pd.Timestamp
    as_of: pd.Timestamp
    unit: str
    method_version: str
    summary: tuple[str, ...]
    sections: tuple[Section, ...]
    warnings: tuple[str, ...]
    sources: tuple[ShortTable, ...]
    cautions: tuple[str, ...]

    @property
    def unknown(self) -> list[str]:
        """Everything that the sections could not say, each once."""
        return list(dict.fromkeys(sentence for s in self.sections for sentence in s.unknown))
