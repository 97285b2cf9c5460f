"""Settling the unit of one value column: what the file states, and what a person may add where it does not."""

from __future__ import annotations

from dataclasses import dataclass

import pyarrow.compute as pc

from hydro.problems import Problem
from hydro.sources.column_roles import ValueColumn
from hydro.sources.column_units import StatedUnit, read_unit, unit_in_preamble
from hydro.sources.text_table import Cells
from hydro.units import UnitError, parse_unit


@dataclass(frozen=True, kw_only=True)
class SettledUnit:
    """A canonical unit and how it was known; or None and the problem."""

    unit: str | None
    known_from: str = ""
    problem: Problem | None = None


def settle_unit(
    cells: Cells, value: ValueColumn, unit_column: str | None, cell_units: dict[str, int], asked: str | None, file: str
) -> SettledUnit:
    """The unit of a column: beside its name, in a column of units, above the table, in its cells, or asked for.

    Two units in one column are a problem, and so is an asked-for unit that the file contradicts. A unit is never
    guessed from the size of the numbers.
    """

    def wrong(expected: str, found: str | None = None, column: str | None = value.name) -> SettledUnit:
        return SettledUnit(unit=None, problem=Problem(file=file, column=column, value=found, expected=expected))

    stated, where = value.stated, value.stated_in
    if stated is None and unit_column is not None:
        texts = [t for t in pc.unique(pc.utf8_trim_whitespace(cells.column(unit_column))).to_pylist() if t]
        if len({u.unit or u.text for t in texts if (u := read_unit(t)) is not None}) > 1:
            return wrong("one unit for the whole column of values", ", ".join(texts[:5]), unit_column)
        stated, where = (read_unit(texts[0]) if texts else None), f"column “{unit_column}”"
    if stated is None:
        stated, where = unit_in_preamble(cells.preamble), "lines above the table"
    in_cells = set(cell_units)
    known = {stated.unit} if stated is not None and stated.unit else set()
    if len(in_cells | known) > 1 and in_cells:
        names = " and ".join(sorted(in_cells | known))
        return wrong(f"one unit in the whole column; its cells and header name {names}")
    if in_cells and not known:
        (only,) = in_cells
        stated, where = StatedUnit(text=only, unit=only), "cells"
    try:
        wanted = None if asked is None else parse_unit(asked)
    except UnitError as error:
        return wrong(error.expected, asked, None)
    if stated is None:
        if wanted is None:
            return wrong("a unit of discharge; the file does not say it (unit = “cfs”, “m3/s”, “l/s” …)")
        return SettledUnit(unit=wanted, known_from="asked for")
    if stated.unit is not None:
        if wanted is not None and wanted != stated.unit:
            return wrong(f"no other unit than the file's own: its {where} says “{stated.text}”", asked)
        return SettledUnit(unit=stated.unit, known_from=where)
    if not stated.open:
        return wrong(stated.expected, stated.text)
    if wanted is None or wanted not in stated.expected:
        return wrong(f"a unit that can only mean one thing (unit = “…”): {stated.expected}", stated.text)
    return SettledUnit(unit=wanted, known_from=f"asked for; the {where} says only “{stated.text}”")
