"""US agency daily and instantaneous values: tab-delimited text (RDB), or the same columns saved as CSV or a sheet.

Only mean daily and instantaneous discharge is taken unless a series is named; everything else is listed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.problems import Problem
from hydro.sources.assemble import usable_rows
from hydro.sources.cells import Cells
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices, row_problems
from hydro.sources.number_cells import parse_number_column
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.stamps import Stamps
from hydro.sources.us_blocks import Comments, read_blocks, read_comments, without_markup
from hydro.sources.us_codes import UNKNOWN, read_us_code
from hydro.sources.us_columns import DATE_NAMES, STATION_NAMES, UsColumn, is_us_header, read_us_column
from hydro.sources.us_discharge import INSTANTANEOUS, is_wanted, statistic_of, unit_of
from hydro.sources.us_stamps import read_us_stamps
from hydro.units import to_m3s

RDB = "US tab-delimited (RDB)"
SENTINELS = (-999999.0,)
_NOTHING = "a discharge series (parameter 00060 or 30208, daily means or instantaneous)"
_HEAD = 4000
_SHORT_STATION = 7  # station ids have at least 8 digits; spreadsheets drop the leading zero


def read_us_blocks(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read a tab-delimited file block by block."""
    reading = _Reading(replace(origin, format=RDB), choices)
    body, cut = without_markup(decoded.data)
    if cut:
        reading.note("Web page markup below the data was left out.")
    blocks = list(read_blocks(body, decoded.encoding))
    del body
    decoded.forget()
    if not blocks:
        reading.problem("rows of data below the comment lines; the agency found nothing for this request")
    while blocks:
        reading.block(*blocks.pop(0))
    return reading.done(_NOTHING)


def read_us_table(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read agency columns that a client library or a spreadsheet saved as delimited text or a sheet."""
    reading = _Reading(origin, choices)
    reading.block(cells, read_comments(list(cells.preamble)))
    return reading.done(_NOTHING)


class _Reading(Reading):
    """One file of blocks being read."""

    def block(self, cells: Cells, comments: Comments) -> None:
        """Take the discharge of one block, and say what else it holds."""
        for note in cells.notes:
            self.note(note)
        for row, text in cells.surplus:
            self.problem(f"at most {len(cells.columns)} cells, as the header has", row=row, value=text)
        columns = [c for n in cells.columns if (c := read_us_column(n)) is not None]
        wanted = [c for c in columns if not c.is_code and is_wanted(self, c, comments)]
        if not wanted:
            return
        lower = {n.strip().lower(): n for n in cells.columns}
        date_name = next((lower[n] for n in DATE_NAMES if n in lower), None)
        if date_name is None or len(cells) == 0:
            self.problem("rows of data below the header" if date_name else f"a column named {' or '.join(DATE_NAMES)}")
            return
        stamps = read_us_stamps(
            cells,
            date_name,
            lower.get("tz_cd"),
            self.choices,
            self.origin.file,
            may_be_daily=any(statistic_of(c) != INSTANTANEOUS for c in wanted),
        )
        self.problems += stamps.problems
        for note in stamps.notes:
            self.note(note)
        if stamps.unusable:
            return
        codes = {c.key: c.name for c in columns if c.is_code}
        stations = self._stations(cells, next((lower[n] for n in STATION_NAMES if n in lower), None))
        for column in wanted:
            self._column(cells, column, codes.get(column.key), stamps, stations, comments)

    def _column(
        self,
        cells: Cells,
        column: UsColumn,
        code_name: str | None,
        stamps: Stamps,
        stations: list[tuple[str, np.ndarray | None]],
        comments: Comments,
    ) -> None:
        numbers = parse_number_column(cells.column(column.name), separator="\t", sentinels=SENTINELS)
        self.problems += row_problems(
            self.origin.file,
            column.name,
            [int(cells.rows[p]) for p, _, _ in numbers.bad],
            [text for _, text, _ in numbers.bad],
            [expected for _, _, expected in numbers.bad],
        )
        if numbers.question:
            self.problem(numbers.question, column=column.name)
            return
        unit = unit_of(column, numbers.cell_units, self.choices.unit, self.origin.file)
        if isinstance(unit, Problem):
            self.problems.append(unit)
            return
        approval, flags = np.full(len(cells), UNKNOWN, np.int8), numbers.flags
        if code_name is not None:
            approval, more = read_codes(cells.column(code_name), read_us_code)
            flags = flags.merged(more)
        for position, code in (numbers.approval or {}).items():
            approval[position] = code
        usable = stamps.readable.copy()
        usable[[p for p, _, _ in numbers.bad]] = False
        number = column.id
        origin = replace(
            self.origin,
            parameter=column.parameter,
            statistic=statistic_of(column),
            series=column.name,
            description=comments.description(number, column.parameter, column.statistic),
            unit=unit.name,
            unit_from=unit.known_from,
            retrieved=comments.retrieved,
            clock=stamps.clock,
        )
        for station, mask in stations:
            self.take(
                usable_rows(
                    usable if mask is None else usable & mask,
                    stamps=stamps.values,
                    daily=stamps.daily,
                    values_m3s=to_m3s(numbers.values, unit.name),
                    flags=flags,
                    approval=approval,
                    rows=cells.rows,
                    raw=numbers.raw,
                    origin=replace(origin, station=station),
                )
            )

    def _stations(self, cells: Cells, name: str | None) -> list[tuple[str, np.ndarray | None]]:
        if name is None:
            return [("", None)]
        coded = pc.dictionary_encode(pc.utf8_trim_whitespace(cells.column(name)))
        stations = coded.dictionary.to_pylist()
        for station in stations:
            digits = station.removeprefix("USGS-")
            if digits.isdigit() and len(digits) == _SHORT_STATION:
                self.note(
                    f"Station {station} has 7 digits where the agency's have 8 or more: a spreadsheet may have dropped "
                    f"a leading zero (0{digits}?)."
                )
        if len(stations) == 1:
            return [(stations[0], None)]
        indices = np.asarray(coded.indices)
        return [(station, indices == i) for i, station in enumerate(stations)]


def is_rdb(decoded: Decoded) -> bool:
    """Whether a text is tab-delimited agency output: comments, then a row of names with its tabs and codes."""
    head, data = decoded.head[:_HEAD], decoded.data
    at = 0
    while at < len(data):
        end = data.find(b"\n", at)
        line = data[at : end if end >= 0 else len(data)]
        if line.strip() and not line.startswith(b"#"):
            return b"\t" in line and is_us_header(line.decode("utf-8", "replace").split("\t"))
        at = end + 1 if end >= 0 else len(data)
    # Comments only: the agency's way to say that nothing was found.
    return "File-format description" in head or "# retrieved:" in head or "U.S. Geological Survey" in head
