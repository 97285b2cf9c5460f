"""Delimited text and sheets that people keep: whatever columns, with discharge in one or more of them."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.assemble import usable_rows
from hydro.sources.cells import Cells
from hydro.sources.column_roles import Roles, ValueColumn, find_roles
from hydro.sources.column_words import DISCHARGE_WORDS, OTHER_QUANTITIES, SYMBOL_NAMES, squeezed, tokens
from hydro.sources.gauge_file import ReadChoices, names_series, row_problems
from hydro.sources.number_cells import NumberColumn, numbers_in, parse_number_column
from hydro.sources.reading import Reading
from hydro.sources.row_flags import RowFlags, read_codes
from hydro.sources.stamps import Stamps, read_stamps
from hydro.sources.table_rows import drop_rows_that_are_no_data
from hydro.sources.unit_choice import settle_unit
from hydro.sources.us_codes import DRY, UNKNOWN, read_user_code
from hydro.units import to_m3s

DELIMITED, SPREADSHEET = "delimited text", "spreadsheet"
_MEAN = ("", "mean")


def read_user_table(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Understand a table whose layout nobody declared. `origin` carries file, digest and format."""
    return _Reading(cells, origin, choices).table()


class _Reading(Reading):
    """One table being read."""

    def __init__(self, cells: Cells, origin: Origin, choices: ReadChoices) -> None:
        super().__init__(origin, choices)
        self.notes += cells.notes
        self.cells = cells

    def table(self) -> Reading:
        """Read the table, and let go of its cells."""
        column = self._chosen(self.choices.column, "column")
        date_column = self._chosen(self.choices.date_column, "date_column")
        if len(self.cells) == 0:
            self.problem("rows of data below the header")
        if not self.problems:
            self._series(column, date_column)
        listed = ", ".join(f"“{name}”" for name in self.cells.columns)
        self.tell_nothing("a column of discharge" + ("" if self.not_discharge else f"; the columns are {listed}"))
        surplus = self.cells.surplus
        expected = (
            f"at most {len(self.cells.columns)} cells, as the header has (a separator inside a cell needs quotes)"
        )
        self.problems += row_problems(
            self.origin.file, None, [r for r, _ in surplus], [t for _, t in surplus], [expected] * len(surplus)
        )
        del self.cells
        return self

    def _chosen(self, name: str | None, key: str) -> str | None:
        """A column that a person named, as the file writes it."""
        if name is None:
            return None
        for column in self.cells.columns:
            if names_series(name, column):
                return column
        listed = ", ".join(f"“{c}”" for c in self.cells.columns)
        self.problem(f"the name of a column for {key}: {listed}", value=name)
        return None

    def _series(self, column: str | None, date_column: str | None) -> None:
        in_sheet = self.cells.encoding == "xlsx"
        roles = find_roles(self.cells, date_column=date_column, column=column, serials=in_sheet)
        self.not_discharge += roles.not_discharge
        for name, one, two in roles.contradictions:
            expected = f"one unit; the header says “{one}” and the row below it “{two}”"
            self.problem(expected, column=name, value=two)
        values = self._wanted(roles, column)
        if not values:
            return
        self.cells, dropped = drop_rows_that_are_no_data(self.cells, roles)
        self.notes += dropped
        if len(self.cells) == 0:
            self.problem("rows of data below the header")
            return
        stamps = read_stamps(self.cells, roles, self.choices, self.origin.file)
        self.problems += stamps.problems
        self.notes += stamps.notes
        for value in values:
            self._column(value, roles, stamps)

    def _wanted(self, roles: Roles, column: str | None) -> list[ValueColumn]:
        """The value columns to read: the one that is named, else those that are discharge by name or unit."""
        if column is not None:
            return [v for v in roles.values if v.name == column]
        asked = self.choices.series
        if asked is not None and (by_name := [v for v in roles.values if names_series(asked, v.name)]):
            return by_name
        named = [v for v in roles.values if v.named]
        for v in named:
            if v.statistic not in _MEAN:
                self.not_discharge.append(
                    f"“{v.name}” is the {v.statistic} of the discharge, not its mean; name it as series to use it."
                )
        if named:
            return [v for v in named if v.statistic in _MEAN]
        unnamed = [v for v in roles.values if v.statistic in _MEAN]
        if len(unnamed) > 1:
            candidates = ", ".join(f"“{v.name}”" for v in unnamed)
            self.problem(f"a choice of the column that holds discharge (column = “…”): {candidates}")
            return []
        return unnamed

    def _column(self, value: ValueColumn, roles: Roles, stamps: Stamps) -> None:
        cells, rows = self.cells, self.cells.rows
        numbers = numbers_in(cells.values(value.name))
        if numbers is None:
            numbers = parse_number_column(cells.column(value.name), separator=cells.separator)
        if numbers.question:
            self.problem(numbers.question, column=value.name)
        self.problems += row_problems(
            self.origin.file,
            value.name,
            [int(rows[p]) for p, _, _ in numbers.bad],
            [text for _, text, _ in numbers.bad],
            [expected for _, _, expected in numbers.bad],
        )
        settled = settle_unit(cells, value, roles.unit, numbers.cell_units, self.choices.unit, self.origin.file)
        if settled.problem is not None:
            self.problems.append(settled.problem)
        if settled.unit is None or numbers.question or stamps.unusable:
            return
        approval, flags, dry = self._codes(value, roles, numbers)
        m3s = to_m3s(numbers.values, settled.unit)
        self._settle_dry(m3s, dry, value.name)
        self._note_missing(numbers)
        usable = stamps.readable.copy()
        usable[[p for p, _, _ in numbers.bad]] = False
        origin = replace(
            self.origin,
            statistic=value.statistic,
            series=value.name,
            unit=settled.unit,
            unit_from=settled.known_from,
            clock=stamps.clock,
        )
        for station, parameter, mask in self._groups(roles):
            self.take(
                usable_rows(
                    usable if mask is None else usable & mask,
                    stamps=stamps.values,
                    daily=stamps.daily,
                    values_m3s=m3s,
                    flags=flags,
                    approval=approval,
                    rows=rows,
                    raw=numbers.raw,
                    origin=replace(origin, station=station, parameter=parameter),
                )
            )

    def _codes(
        self, value: ValueColumn, roles: Roles, numbers: NumberColumn
    ) -> tuple[np.ndarray, RowFlags, np.ndarray]:
        """(approval, flags, rows that a flag column marks as dry)."""
        n = len(self.cells)
        approval, flags, dry = np.full(n, UNKNOWN, np.int8), numbers.flags, np.zeros(n, bool)
        for name in roles.flags.get(value.name, []):
            symbols = squeezed(re.sub(r" \(column \d+\)$", "", name)) in SYMBOL_NAMES
            texts = pc.utf8_trim_whitespace(self.cells.column(name))
            codes, more = read_codes(texts, partial(read_user_code, symbols=symbols))
            approval = np.where(codes != UNKNOWN, codes, approval)
            flags = flags.merged(more)
            dry |= more.has(DRY)
        for position, code in (numbers.approval or {}).items():
            approval[position] = code
        return approval, flags, dry

    def _settle_dry(self, m3s: np.ndarray, dry: np.ndarray, column: str) -> None:
        """Rows marked dry: a blank becomes 0 (in place), a discharge above 0 is doubted."""
        if not dry.any():
            return
        blank = np.asarray(pc.equal(pc.utf8_trim_whitespace(self.cells.column(column)), ""))
        if (filled := dry & blank).any():
            m3s[filled] = 0.0
            self.notes.append(f"{int(filled.sum())} blank cells marked as dry were read as 0.")
        if (wet := dry & (m3s > 0)).any():
            first = int(self.cells.rows[np.flatnonzero(wet)[0]])
            self.notes.append(f"{int(wet.sum())} rows marked as dry have a discharge above 0 (first in row {first}).")

    def _note_missing(self, numbers: NumberColumn) -> None:
        for flag, what in (
            ("sentinel", "filler number, such as -999,"),
            ("less-than", "value given only as an upper bound (“<”)"),
            ("greater-than", "value given only as a lower bound (“>”)"),
        ):
            if count := int(numbers.flags.has(flag).sum()):
                self.notes.append(f"{count} × {what} read as missing.")

    def _groups(self, roles: Roles) -> list[tuple[str, str, np.ndarray | None]]:
        """(station, parameter, mask) of the series that lie below each other in one column; mask None = all rows."""
        coded = [
            pc.dictionary_encode(pc.utf8_trim_whitespace(self.cells.column(name))) if name else None
            for name in (roles.station, roles.parameter)
        ]
        stations, parameters = ([""] if c is None else c.dictionary.to_pylist() for c in coded)
        groups: list[tuple[str, str, np.ndarray | None]] = []
        for s, station in enumerate(stations):
            for p, parameter in enumerate(parameters):
                if parameter and self._is_other(parameter, only_one=len(parameters) == 1):
                    continue
                mask = np.ones(len(self.cells), bool)
                for c, code in zip(coded, (s, p), strict=True):
                    if isinstance(c, pa.DictionaryArray):
                        mask &= np.asarray(c.indices) == code
                groups.append((station, parameter, None if mask.all() else mask))
        return groups

    def _is_other(self, parameter: str, *, only_one: bool) -> bool:
        words = set(tokens(parameter))
        other = words & set(OTHER_QUANTITIES)
        if not other and (words & DISCHARGE_WORDS or only_one):
            return False
        self.leave_out(f"Rows of parameter “{parameter}” were not taken as discharge.")
        return True
