"""One file while it is being read: problems, doubts and series gather here, so that all are told at once."""

from __future__ import annotations

from hydro.discharge import Discharge, Origin
from hydro.problems import Problem
from hydro.sources.gauge_file import GaugeFile, ReadChoices, series_notes


class Reading:
    """What a reader has understood so far. `result` closes it."""

    def __init__(self, origin: Origin, choices: ReadChoices) -> None:
        self.origin, self.choices = origin, choices
        self.series: list[Discharge] = []
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

    def tell_nothing(self, expected: str) -> None:
        """A problem where there is no series and nothing else says why."""
        if not self.series and not self.problems:
            rest = " ".join(self.not_discharge)
            self.problem(f"{expected}; the file holds only other things: {rest}" if rest else expected)

    def result(self, nothing: str = "a discharge series") -> GaugeFile:
        """The file as understood; without any series and any other problem, `nothing` says what was expected."""
        self.tell_nothing(nothing)
        return GaugeFile(
            file=self.origin.file,
            digest=self.origin.digest,
            format=self.origin.format,
            series=tuple(self.series),
            not_discharge=tuple(self.not_discharge),
            problems=tuple(self.problems),
            notes=(*dict.fromkeys(self.notes), *series_notes(self.series)),
        )
