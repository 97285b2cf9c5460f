"""Text whose header lines begin with “#”, the names of its columns too: Ireland, Australia, Flanders and others.

“#key;value” lines, then “#Timestamp;Value;Quality Code”, then rows. A file may hold several such blocks.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.column_words import STATISTICS, fold, squeezed, tokens
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices, names_series
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series
from hydro.sources.quantity import settle_stated_unit, why_no_discharge
from hydro.sources.ragged_rows import trimmed_rows
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_codes import APPROVED, PROVISIONAL, UNKNOWN, WORDS, CodeMeaning

NAME = "text with # header lines"
SEPARATORS = (";", "\t", ",")
_TIME_NAMES = frozenset(("timestamp", "time", "datetime", "date"))
_VALUE_NAMES = frozenset(("value", "absvalue"))
STATION_KEYS = ("stationno", "stationnumber", "stationid", "station")
NAME_KEYS = ("stationname", "sitename")
SERIES_KEYS = ("tsid", "tsshortname", "tsname")
QUANTITY_KEYS = ("stationparametername", "parametertypename", "parametername", "tsname", "tsshortname")
UNIT_KEYS = ("tsunitsymbol", "tsunitname", "unit")
SENTINELS = (-999.0, -9999.0)
#: Quality numbers, each in use by one agency only: Ireland, Australia, Flanders.
QUALITY_NUMBERS: dict[str, tuple[int, str]] = {
    "31": (APPROVED, ""), "36": (UNKNOWN, "fair"), "46": (UNKNOWN, "suspect"), "101": (UNKNOWN, "erroneous"),
    "96": (PROVISIONAL, ""), "254": (PROVISIONAL, ""), "110": (UNKNOWN, "estimated"), "210": (UNKNOWN, "missing"),
    "-1": (UNKNOWN, "missing"), "255": (UNKNOWN, "missing"),
}  # fmt: skip
#: Numbers that say that there is no value, whatever stands in its place.
NO_VALUE = "missing"
_NOTHING = "a discharge series (a unit such as m³/s in the lines above the data)"


@dataclass(frozen=True, eq=False, kw_only=True)
class _Block:
    said: dict[str, str]  # squeezed key -> value
    names: tuple[str, ...]
    separator: str
    first: int  # line of the first row
    body: memoryview
    lines: int


def fits(decoded: Decoded) -> bool:
    """Whether a line that begins with “#” names a time and a value, with only such lines above it."""
    for line in decoded.head.split("\n"):
        if line.strip() and not line.startswith("#"):
            return False
        if _names(line) is not None:
            return True
    return False


def _names(line: str) -> tuple[str, tuple[str, ...]] | None:
    """(separator, names) of the line that names the columns; None for any other."""
    if not line.startswith("#"):
        return None
    for separator in SEPARATORS:
        names = tuple(n.strip().strip('"') for n in line.lstrip("#").rstrip("\r").split(separator))
        folded = [squeezed(n.split("[")[0].split("(")[0]) for n in names]
        if len(names) >= 2 and folded[0] in _TIME_NAMES and _VALUE_NAMES & set(folded[1:]):
            return separator, names
    return None


def read_hash_header(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read every block of the text."""
    reading = Reading(origin, choices)
    for block in _blocks(decoded.data):
        _take(reading, block)
    return reading.done(_NOTHING)


def _blocks(data: bytes) -> Iterator[_Block]:
    at, line = 0, 1
    said: dict[str, str] = {}
    while at < len(data):
        end = data.find(b"\n", at)
        end = len(data) if end < 0 else end
        text = data[at:end].decode("utf-8", "replace")
        named = _names(text)
        at, line = end + 1, line + 1
        if named is None:
            said |= _key_and_value(text)
            continue
        separator, names = named
        # Rows go on until the next line that begins with “#”.
        stop = data.find(b"\n#", at - 1) + 1 or len(data)
        body = memoryview(data)[at:stop]
        lines = data.count(b"\n", at, stop) + int(stop > at and data[stop - 1 : stop] != b"\n")
        yield _Block(said=said, names=names, separator=separator, first=line, body=body, lines=lines)
        at, line, said = stop, line + lines, {}


def _key_and_value(text: str) -> dict[str, str]:
    bare = text.lstrip("#").strip()
    for separator in (*SEPARATORS, ":"):
        key, found, value = bare.partition(separator)
        if found and squeezed(key):
            return {squeezed(key): value.strip().strip(separator).strip().strip('"')}
    return {}


def _take(reading: Reading, block: _Block) -> None:
    said = block.said
    name = _first(said, SERIES_KEYS)
    station = _first(said, STATION_KEYS)
    quantity = " ".join(said[k] for k in QUANTITY_KEYS if said.get(k))
    value_at = next(i for i, n in enumerate(block.names) if squeezed(n.split("[")[0].split("(")[0]) in _VALUE_NAMES)
    in_name = re.search(r"[\[(]([^\])]+)[\])]", block.names[value_at])
    unit_text = _first(said, UNIT_KEYS) or (in_name[1] if in_name else "")
    what = f"“{name or quantity or 'a block'}” of station {station or 'without a number'}"
    asked_unit = reading.choices.unit is not None and not unit_text
    label = quantity if not _is_only_a_statistic(quantity) else "discharge"
    if (reason := why_no_discharge(label, unit_text)) and not (asked_unit and "neither" in reason):
        reading.leave_out(f"{what}: {reason}.")
        return
    statistic = next((STATISTICS[w] for w in tokens(_first(said, ("tsshortname", "tsname"))) if w in STATISTICS), "")
    if statistic not in ("", "mean") and not names_series(reading.choices.series or "", name):
        reading.leave_out(f"{what} is the {statistic} discharge; name it as series to use it.")
        return
    if block.lines == 0:
        reading.leave_out(f"{what} has no values.")
        return
    unit = settle_stated_unit(reading, unit_text, "header lines")
    if unit is None:
        return
    columns, rows, notes, surplus = trimmed_rows(
        block.body, block.separator, len(block.names), block.first, block.lines
    )
    for note in notes:
        reading.note(note)
    for row, text in surplus:
        reading.problem(f"at most {len(block.names)} cells, as the header has", row=row, value=text)
    points = Points.plain(columns[0], columns[value_at], rows)
    by_name = any(squeezed(n) == "qualitycodename" for n in block.names)
    for i, column_name in enumerate(block.names):
        if i not in (0, value_at) and "quality" in fold(column_name):
            points = points.marked(*read_codes(columns[i], read_quality))
    points = _without_values_marked_missing(reading, points)
    erroneous = int(points.flags.has("erroneous").sum())
    if erroneous:
        reading.note(f"{erroneous} values are marked as erroneous by the agency; they were kept, with that mark.")
    origin = replace(
        reading.origin,
        station=station,
        parameter=said.get("stationparametername", "") or said.get("parametertypename", ""),
        statistic=statistic,
        series=name,
        description=", ".join(t for t in (said.get("tsname", ""), _first(said, NAME_KEYS)) if t),
        unit=unit.name,
        unit_from=unit.known_from,
    )
    # The form with names of qualities comes from loggers that keep GMT all year and write no zone.
    zone = "UTC" if by_name else None
    rule = ClockRule(zone=zone, zone_from="stamps without a zone, from loggers that keep GMT all year")
    separator = block.separator if block.separator != ";" else "\t"  # rows of machines: a dot is a decimal point
    add_series(reading, points, origin, rule, sentinels=SENTINELS, separator=separator, column=block.names[value_at])


def _is_only_a_statistic(label: str) -> bool:
    """“DayMean”, “15minute.Cmd.P”: names that say how values came about and not what they are."""
    return not label.strip() or why_no_discharge(label, "") == "neither its name nor a unit says discharge"


def _without_values_marked_missing(reading: Reading, points: Points) -> Points:
    gone = points.flags.has(NO_VALUE)
    filled = gone & ~np.asarray(pc.equal(points.values, ""))
    if not filled.any():
        return points
    reading.note(f"{int(filled.sum())} values whose quality says that there is none were read as missing.")
    return replace(points, values=pc.if_else(pa.array(filled), "", points.values))


def read_quality(text: str) -> CodeMeaning:
    """A quality number or name; unknown numbers stay as marks."""
    word = fold(text.strip())
    if not word:
        return CodeMeaning(UNKNOWN, frozenset())
    if word in QUALITY_NUMBERS:
        approval, flag = QUALITY_NUMBERS[word]
        return CodeMeaning(approval, frozenset({flag} - {""}))
    if word.lstrip("-").isdigit():
        return CodeMeaning(UNKNOWN, frozenset({f"quality-{word}"}))
    if word in ("good", "excellent"):
        return CodeMeaning(APPROVED, frozenset())
    if word == "unchecked":
        return CodeMeaning(PROVISIONAL, frozenset())
    return CodeMeaning(UNKNOWN, frozenset({WORDS.get(word, "-".join(word.split()))}))


def _first(said: dict[str, str], keys: tuple[str, ...]) -> str:
    return next((said[k] for k in keys if said.get(k)), "")
