"""The points of one series as written -> a checked series. What every reader of a declared layout ends in."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.assemble import usable_rows
from hydro.sources.gauge_file import row_problems
from hydro.sources.number_cells import parse_number_column
from hydro.sources.point_stamps import ClockRule, stamp_points
from hydro.sources.reading import Reading
from hydro.sources.row_flags import RowFlags
from hydro.sources.us_codes import UNKNOWN
from hydro.units import to_m3s


@dataclass(frozen=True, eq=False, kw_only=True)
class Points:
    """Times and values as written, one text a point, with what the format says of each.

    `rows` are lines of a text table, or the numbers of the points where a file has no lines to speak of. `approval`
    holds positions in APPROVALS.
    """

    times: pa.Array
    values: pa.Array
    rows: np.ndarray
    approval: np.ndarray
    flags: RowFlags

    @classmethod
    def plain(cls, times: pa.Array, values: pa.Array, rows: np.ndarray | None = None) -> Points:
        """Points without approvals and flags, numbered from 1 where no rows are given."""
        n = len(times)
        return cls(
            times=times,
            values=values,
            rows=np.arange(1, n + 1, dtype=np.int64) if rows is None else rows,
            approval=np.full(n, UNKNOWN, np.int8),
            flags=RowFlags.none(n),
        )

    def marked(self, approval: np.ndarray | None, flags: RowFlags) -> Points:
        """With more flags, and with approvals where they are known."""
        merged = self.approval if approval is None else np.where(approval != UNKNOWN, approval, self.approval)
        return replace(self, approval=merged, flags=self.flags.merged(flags))

    def take(self, at: np.ndarray) -> Points:
        """Only the points at these positions, in this order."""
        if len(at) == len(self) and bool((at == np.arange(len(at))).all()):
            return self
        where = pa.array(at)
        return Points(
            times=self.times.take(where),
            values=self.values.take(where),
            rows=self.rows[at],
            approval=self.approval[at],
            flags=self.flags.take(at),
        )

    def __len__(self) -> int:
        return len(self.times)


def add_series(
    reading: Reading,
    points: Points,
    origin: Origin,
    rule: ClockRule,
    *,
    sentinels: tuple[float, ...],
    separator: str = ",",
    column: str | None = None,
    row_name: str = "",
) -> None:
    """Read times and values, convert to m³/s by `origin.unit`, and take the series, or the problems that prevent it.

    Sentinels become missing before the unit is converted.
    """
    file = reading.origin.file
    numbers = parse_number_column(points.values, separator=separator, sentinels=sentinels)
    reading.problems += row_problems(
        file,
        column,
        [f"{row_name} {points.rows[p]}" if row_name else int(points.rows[p]) for p, _, _ in numbers.bad],
        [text for _, text, _ in numbers.bad],
        [expected for _, _, expected in numbers.bad],
    )
    stamps = stamp_points(points.times, points.rows, rule, reading.choices, file, column=column, row_name=row_name)
    reading.problems += stamps.problems
    for note in stamps.notes:
        reading.note(note)
    if numbers.question:
        reading.problem(numbers.question, column=column)
        return
    if set(numbers.cell_units) - {origin.unit}:
        reading.problem(f"{origin.unit} in the whole series", column=column, value=", ".join(numbers.cell_units))
        return
    if stamps.unusable:
        return
    approval = points.approval
    if numbers.approval:
        approval = approval.copy()
        for position, code in numbers.approval.items():
            approval[position] = code
    usable = stamps.readable.copy()
    usable[[p for p, _, _ in numbers.bad]] = False
    reading.take(
        usable_rows(
            usable,
            stamps=stamps.values,
            daily=stamps.daily,
            values_m3s=to_m3s(numbers.values, origin.unit),
            flags=points.flags.merged(numbers.flags),
            approval=approval,
            rows=points.rows,
            raw=numbers.raw,
            origin=replace(origin, clock=stamps.clock),
        )
    )


def split_by(*keys: pa.Array) -> list[tuple[tuple[str, ...], np.ndarray]]:
    """Rows by the texts of their keys: (texts, positions), groups in order of first appearance."""
    n = len(keys[0])
    combined = np.zeros(n, np.int64)
    for key in keys:
        # Each distinct text is trimmed once: long names of series would be copied row by row otherwise.
        coded = pc.dictionary_encode(key)
        trimmed, distinct = pd.factorize(np.array([t.strip() for t in coded.dictionary.to_pylist()], dtype=object))
        if len(distinct) > 1:
            codes = trimmed.astype(np.int64)[np.asarray(coded.indices)]
            combined, _ = pd.factorize(combined * len(distinct) + codes)
    groups = int(combined.max(initial=-1)) + 1
    if groups == 1:
        positions = [np.arange(n)]
    else:
        order = np.argsort(combined, kind="stable")
        positions = np.split(order, np.cumsum(np.bincount(combined, minlength=groups))[:-1]) if n else []
    return [(tuple(key[int(at[0])].as_py().strip() for key in keys), at) for at in positions]
