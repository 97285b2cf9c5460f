"""One file while it is being read: problems, doubts and series gather here, so that all are told at once."""

from __future__ import annotations

from hydro.discharge import Origin
from hydro.problems import Problem
from hydro.sources.assemble import SeriesRows, assemble
from hydro.sources.cells import Cells
from hydro.sources.gauge_file import GaugeFile, ReadChoices, series_notes


class Reading:
    """What a reader has understood so far. Readers end in `done`; `result` builds the series once the texts are gone.

    A long file and its columns of text take several times the room of the numbers in them: both together with the
    finished series would not fit where each alone does.
    """

    def __init__(self, origin: Origin, choices: ReadChoices) -> None:
        self.origin, self.choices = origin, choices
        self.rows: list[SeriesRows] = []
        self.not_discharge: list[str] = []
        self.problems: list[Problem] = []
        self.notes: list[str] = []

    def problem(
        self,
        expected: str,
        *,
        row: int | str | None = None,
        column: str | None = None,
        value: str | None = None,
    ) -> None:
        """Something that must be settled before the file can be used."""
        self.problems.append(Problem(file=self.origin.file, row=row, column=column, value=value, expected=expected))

    def note(self, sentence: str) -> None:
        """A doubt, said once."""
        if sentence not in self.notes:
            self.notes.append(sentence)

    def leave_out(self, sentence: str) -> None:
        """Something in the file that is no discharge, said once."""
        if sentence not in self.not_discharge:
            self.not_discharge.append(sentence)

    @classmethod
    def of_table(cls, cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
        """The reading of a table of a declared layout, with what was mended in it and cells beyond its names."""
        reading = cls(origin, choices)
        for note in cells.notes:
            reading.note(note)
        for row, text in cells.surplus:
            reading.problem(f"at most {len(cells.columns)} cells, as the header has", row=row, value=text)
        return reading

    def take(self, rows: SeriesRows | None) -> None:
        """The rows of a series, where any are usable."""
        if rows is not None:
            self.rows.append(rows)

    def tell_nothing(self, expected: str) -> None:
        """A problem where there is no series and nothing else says why."""
        if not self.rows and not self.problems:
            rest = " ".join(self.not_discharge)
            self.problem(f"{expected}; the file holds only other things: {rest}" if rest else expected)

    def done(self, nothing: str = "a discharge series") -> Reading:
        """Everything is read; without any series and any other problem, `nothing` says what was expected."""
        self.tell_nothing(nothing)
        return self

    def result(self) -> GaugeFile:
        """The file as understood. Once only: each series is built as its rows are let go of."""
        series = []
        while self.rows:
            series.append(assemble(self.rows.pop(0)))
        return GaugeFile(
            file=self.origin.file,
            digest=self.origin.digest,
            format=self.origin.format,
            series=tuple(series),
            not_discharge=tuple(self.not_discharge),
            problems=tuple(self.problems),
            notes=(*dict.fromkeys(self.notes), *series_notes(series)),
        )
