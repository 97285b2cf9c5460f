"""Which value columns of US agency data are discharge to be taken, of which statistic and in which unit."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from hydro.problems import Problem
from hydro.sources.gauge_file import ReadChoices, names_series
from hydro.sources.quantity import settle_stated_unit
from hydro.sources.reading import Reading
from hydro.sources.us_blocks import Comments
from hydro.sources.us_columns import DISCHARGE_PARAMETERS, OTHER_DISCHARGE, STATISTIC_NAMES, UsColumn
from hydro.units import UnitError, parse_unit

INSTANTANEOUS = "instantaneous"


@dataclass(frozen=True, kw_only=True)
class UsUnit:
    """The canonical name of a column's unit, and in words how it was known."""

    name: str
    known_from: str


def statistic_of(column: UsColumn) -> str:
    """“mean”, “maximum” … or “instantaneous”; the agency's code where it has no word here."""
    return STATISTIC_NAMES.get(column.statistic, column.statistic or INSTANTANEOUS)


def why_not_taken(column: UsColumn, comments: Comments, choices: ReadChoices, file: str) -> Problem | str | None:
    """None for discharge to be taken, a sentence for what is not, a problem where the file does not say."""
    text = comments.description(column.id, column.parameter, column.statistic)
    what = f"“{column.name}”" + (f" ({text})" if text else "")
    asked = choices.series or choices.column
    named = asked is not None and names_series(asked, column.name, column.id)
    if not column.parameter:
        said = " ".join(comments.lines).lower()
        if "discharge, cubic feet per second" in said or "00060" in said or choices.unit:
            return None
        expected = "a comment line that names the parameter, or a unit (unit = “cfs”) if these values are discharge"
        return Problem(file=file, column=column.name, expected=expected)
    if column.parameter in DISCHARGE_PARAMETERS:
        if named or statistic_of(column) in ("mean", INSTANTANEOUS):
            return None
        return f"{what} is the {statistic_of(column)} discharge of each day; name it as series to use it."
    if column.parameter in OTHER_DISCHARGE:
        return None if named else f"{what} is {OTHER_DISCHARGE[column.parameter][0]}; name it as series to use it."
    return f"{what} is parameter {column.parameter}, no discharge."


def unit_of(column: UsColumn, cell_units: Collection[str], asked_for: str | None, file: str) -> UsUnit | Problem:
    """The column's unit, which the parameter code fixes, or why it is in doubt.

    `cell_units` are the canonical units written in cells, `asked_for` the unit a person gave.
    """
    known = {**DISCHARGE_PARAMETERS, **OTHER_DISCHARGE}.get(column.parameter)
    asked = None
    if asked_for is not None:
        try:
            asked = parse_unit(asked_for)
        except UnitError as error:
            return Problem(file=file, value=asked_for, expected=error.expected)
    unit = known[1] if known else (asked or "cfs")
    source = f"parameter {column.parameter}" if known else ("asked for" if asked else "comment lines")
    if asked is not None and asked != unit:
        expected = f"no other unit than the file's own: {source} is in {unit}"
        return Problem(file=file, column=column.name, value=asked_for, expected=expected)
    if set(cell_units) - {unit}:
        expected = f"{unit} in the whole column"
        return Problem(file=file, column=column.name, value=", ".join(cell_units), expected=expected)
    return UsUnit(name=unit, known_from=source)


def is_wanted(reading: Reading, column: UsColumn, comments: Comments) -> bool:
    """Whether a value column is discharge to be taken; if not, a sentence or a problem says why."""
    objection = why_not_taken(column, comments, reading.choices, reading.origin.file)
    if isinstance(objection, Problem):
        reading.problems.append(objection)
    elif objection is not None:
        reading.leave_out(objection)
    return objection is None


def agreed_unit(reading: Reading, column: UsColumn, written: str, where: str, place: str) -> UsUnit | None:
    """The unit that the parameter fixes, where what the file writes agrees with it. None = a problem was told.

    `written` is "" where the file says none, `where` in words what says it, `place` the column that a problem names.
    """
    fixed = unit_of(column, (), reading.choices.unit, reading.origin.file)
    if isinstance(fixed, Problem):
        reading.problems.append(fixed)
        return None
    if not written:
        return fixed
    stated = settle_stated_unit(reading, written, where)
    if stated is None:
        return None
    if stated.name != fixed.name:
        reading.problem(f"{fixed.name}, the unit of parameter {column.parameter}", column=place, value=written)
        return None
    return UsUnit(name=fixed.name, known_from=f"{where} and {fixed.known_from}")
