"""England's open hydrology service: readings as CSV or JSON. The name of each measure holds its station, what it is,
its statistic and its period.

Stamps carry no zone and the service documents none: they are read as GMT all year. Daily rows have a civil date of
their own, which is used as it stands (the stamp beside it is 09:00 for some).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from hydro.discharge import Origin
from hydro.sources.cells import Cells
from hydro.sources.column_words import fold
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices, names_series
from hydro.sources.json_text import Path, load_json, records_in
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series, split_by
from hydro.sources.quantity import settle_stated_unit
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_codes import APPROVED, PROVISIONAL, UNKNOWN, WORDS, CodeMeaning

JSON_NAME, CSV_NAME = "England hydrology readings (JSON)", "England hydrology readings (CSV)"
MEASURE, STAMP, DATE, VALUE, COMPLETE, QUALITY, QCODE = (
    "measure", "dateTime", "date", "value", "completeness", "quality", "qcode",
)  # fmt: skip
FIELDS = (MEASURE, STAMP, DATE, VALUE, COMPLETE, QUALITY, QCODE, "qflag")
ITEMS: tuple[Path, ...] = (("items",),)
#: …/measures/{station}-flow-m-86400-m3s-qualified
_MEASURE = re.compile(
    r"(?:^|/)(?P<station>[\w-]+?)-(?P<what>flow|level|rainfall|dissolved|[a-z]+)-(?P<statistic>m|i|min|max|t)-"
    r"(?P<seconds>\d+)-(?P<unit>[^-/]+)(?:-(?P<kind>[\w.-]+))?$"
)
STATISTICS = {"m": "mean", "i": "instantaneous", "min": "minimum", "max": "maximum", "t": "sum"}
UNITS = {"m3s": "m3/s", "ls": "l/s", "mld": "ML/d"}
_A_DAY = 86_400
_NOTHING = "a discharge series (a measure “flow”, daily mean or instantaneous)"


@dataclass(frozen=True, kw_only=True)
class Measure:
    """A measure's name taken apart; `seconds` is its period [s]."""

    station: str
    what: str
    statistic: str
    seconds: int
    unit: str


def read_measure(name: str) -> Measure | None:
    """None where a text is no name of a measure."""
    match = _MEASURE.search(name.strip())
    if match is None:
        return None
    return Measure(
        station=match["station"],
        what=match["what"],
        statistic=STATISTICS[match["statistic"]],
        seconds=int(match["seconds"]),
        unit=match["unit"],
    )


def fits_json(decoded: Decoded) -> bool:
    """Whether a JSON text is a list of items that name a measure."""
    head = decoded.head
    return '"items"' in head and f'"{MEASURE}"' in head and f'"{VALUE}"' in head


def fits_columns(names: Sequence[str]) -> bool:
    """Whether a table has the service's columns."""
    return {MEASURE, STAMP.lower(), VALUE} <= {n.strip().lower() for n in names}


def read_england_json(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read the readings of one answer. Raises NotATableError for JSON that is not whole."""
    reading = Reading(origin, choices)
    for records in records_in(load_json(decoded.spend(), ITEMS, FIELDS)):
        _take(reading, records.columns.column, np.arange(1, len(records.columns) + 1), "item")
    return reading.done(_NOTHING)


def read_england_table(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read the service's CSV."""
    reading = Reading.of_table(cells, origin, choices)
    _take(reading, cells.by_lower_name(), cells.rows, "")
    return reading.done(_NOTHING)


def _take(reading: Reading, get: Callable[[str], pa.Array], rows: np.ndarray, row_name: str) -> None:
    groups = split_by(get(MEASURE))
    if not groups:
        reading.problem("rows of data; the service found nothing for this request")
        return
    approval, flags = read_codes(get(QUALITY), read_quality)
    _, codes = read_codes(get(QCODE), read_qcode)
    _, old_codes = read_codes(get("qflag"), read_qcode)
    _, incomplete = read_codes(get(COMPLETE), read_completeness)
    stamps, dates, values = get(STAMP), get(DATE), get(VALUE)
    for (name,), at in groups:
        measure = read_measure(name)
        short = name.rstrip("/").rpartition("/")[2]
        if measure is None:
            reading.problem("the name of a measure, such as …-flow-m-86400-m3s-qualified", column=MEASURE, value=name)
            continue
        if measure.what != "flow":
            reading.leave_out(f"“{short}” is {measure.what}, no discharge.")
            continue
        wanted = reading.choices.series is not None and names_series(reading.choices.series, short, name)
        if measure.statistic not in ("mean", "instantaneous") and not wanted:
            reading.leave_out(f"“{short}” is the {measure.statistic} discharge; name it as series to use it.")
            continue
        unit = settle_stated_unit(reading, UNITS.get(measure.unit, measure.unit), "name of the measure", MEASURE)
        if unit is None:
            continue
        daily = measure.seconds == _A_DAY
        points = Points.plain(dates if daily else stamps, values, np.asarray(rows, dtype=np.int64))
        for each in (flags, codes, old_codes, incomplete):
            points = points.marked(approval, each)
        origin = replace(
            reading.origin,
            station=measure.station,
            parameter=measure.what,
            statistic=measure.statistic,
            series=short,
            unit=unit.name,
            unit_from=unit.known_from,
        )
        rule = (
            ClockRule(daily=True, said="the service's own date of each value")
            if daily
            else ClockRule(daily=False, zone="UTC", zone_from="stamps without a zone, taken as GMT all year")
        )
        add_series(reading, points.take(at), origin, rule, sentinels=(), column=VALUE, row_name=row_name)


def read_quality(text: str) -> CodeMeaning:
    """Good, Estimated, Suspect: checked; Unchecked: not yet; Missing: no value."""
    word = fold(text.strip())
    approval = {"good": APPROVED, "unchecked": PROVISIONAL}.get(word, UNKNOWN)
    flag = "" if word in ("good", "unchecked") else WORDS.get(word, "-".join(word.split()))
    return CodeMeaning(approval, frozenset({flag} - {""}))


def read_qcode(text: str) -> CodeMeaning:
    """Remarks such as “Edited”, kept in lower case; several are parted by commas."""
    words = ["-".join(fold(part).split()) for part in text.split(",")]
    return CodeMeaning(UNKNOWN, frozenset({WORDS.get(word, word) for word in words} - {""}))


def read_completeness(text: str) -> CodeMeaning:
    """“Incomplete” is a mark; a blank says nothing, least of all that the day is complete."""
    word = fold(text.strip())
    return CodeMeaning(UNKNOWN, frozenset({"partial-day"}) if word == "incomplete" else frozenset())
