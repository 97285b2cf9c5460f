"""What a reader answers: every discharge series of one file, and everything that is wrong or doubtful in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from hydro.problems import InputError, Problem

if TYPE_CHECKING:
    from hydro.discharge import Discharge

#: Problems listed one by one for each kind of mistake; a file with a million bad cells gets a count instead.
MOST_ROWS_LISTED = 500


@dataclass(frozen=True, kw_only=True)
class ReadChoices:
    """Answers to what a file leaves open. None = let the file decide.

    unit         discharge unit as a person writes it; used only where the file does not say
    column       name of the column that holds discharge
    date_column  name of the column that holds dates or time stamps
    day_first    whether 03/04/2020 is 3 April; used only where the column proves neither order
    series       picks one of several discharge series: a column name, a series id or a station
    time_zone    IANA name or fixed offset (“UTC-06:00”) of instantaneous stamps that carry neither
    """

    unit: str | None = None
    column: str | None = None
    date_column: str | None = None
    day_first: bool | None = None
    series: str | None = None
    time_zone: str | None = None


def names_series(choice: str, *names: str) -> bool:
    """Whether a person's `series` choice means the series that carries these names."""
    return choice.strip().casefold() in {name.strip().casefold() for name in names if name.strip()}


@dataclass(frozen=True, eq=False, kw_only=True)
class GaugeFile:
    """One gauge file as understood.

    file           the file as the user named it
    digest         SHA-256 of its bytes ("" where there are none)
    format         the recognised format in plain words ("" where none was)
    series         every discharge series found, readable rows only
    not_discharge  sentences: what else the file holds and why it was not taken
    problems       what must be settled before the series may be used; empty = fine
    notes          doubts: repeats dropped, reversed order sorted, long runs of one value, ragged rows mended …
    """

    file: str
    digest: str = ""
    format: str = ""
    series: tuple[Discharge, ...] = ()
    not_discharge: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()

    def only_series(self, choices: ReadChoices) -> Discharge:
        """The one series that the choices leave.

        Raises InputError with all problems of the file, or one that lists the candidates with their spans where
        none or more than one is left.
        """
        if self.problems:
            raise InputError(self.problems)
        wanted = [s for s in self.series if choices.series is None or _is_wanted(s, choices.series)]
        if len(wanted) == 1:
            return wanted[0]
        listed = "; ".join(describe_series(s) for s in self.series)
        if not self.series:
            rest = " ".join(self.not_discharge)
            expected = "a discharge series" + (f"; the file holds only other things: {rest}" if rest else "")
        elif wanted:
            expected = "a choice of one series (series = “…”), by column name or station: " + listed
        else:
            expected = "the name of a series in the file: " + listed
        raise InputError([Problem(file=self.file, value=choices.series, expected=expected)])


def _is_wanted(series: Discharge, choice: str) -> bool:
    origin = series.origins[0]
    id_part = origin.series.split("_")[0] if origin.parameter else ""
    return names_series(choice, origin.series, origin.station, id_part, f"{origin.station} {origin.series}")


def describe_series(series: Discharge) -> str:
    """One series in a line: name, station, statistic, span and number of rows."""
    origin, index = series.origins[0], series.frame.index
    parts = [f"“{origin.series}”" if origin.series else "one series"]
    if origin.station:
        parts.append(f"station {origin.station}")
    if origin.description:
        parts.append(origin.description)
    if len(index):
        parts.append(f"{index[0].date()} to {index[-1].date()}, {len(index)} rows")
    return ", ".join(parts)


def series_notes(series: Sequence[Discharge]) -> tuple[str, ...]:
    """What was noted about the series of a file, each note with the name of its series where there are several."""
    if len(series) == 1:
        return series[0].notes
    named = []
    for s in series:
        name = " ".join(n for n in (s.origins[0].station, s.origins[0].series) if n)
        named += [f"{name}: {note}" for note in s.notes]
    return tuple(named)


def row_problems(
    file: str, column: str | None, rows: Sequence[int | str], values: list[str], expected: list[str]
) -> list[Problem]:
    """One Problem a row; beyond `MOST_ROWS_LISTED` rows of one kind they are counted in a closing Problem."""
    problems: list[Problem] = []
    seen: dict[str, int] = {}
    for row, value, wanted in zip(rows, values, expected, strict=True):
        seen[wanted] = seen.get(wanted, 0) + 1
        if seen[wanted] <= MOST_ROWS_LISTED:
            problems.append(Problem(file=file, row=row, column=column, value=value, expected=wanted))
    for wanted, count in seen.items():
        if count > MOST_ROWS_LISTED:
            more = f"{wanted} (and the same in {count - MOST_ROWS_LISTED} further rows)"
            problems.append(Problem(file=file, column=column, expected=more))
    return problems
