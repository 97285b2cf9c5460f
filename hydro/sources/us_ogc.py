"""US Water Data API (OGC API Features), daily and continuous values: GeoJSON answers, and the CSV of the same columns.

A long list: every point names its series. The ids of points change at every refresh and their order is not given, so
a point is known by its series and time. Geometry and ids are not read.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.cells import Cells
from hydro.sources.decoding import Decoded, NotATableError
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.json_text import Path, load_json, records_in
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series, split_by
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_blocks import Comments
from hydro.sources.us_codes import CodeMeaning, read_us_code
from hydro.sources.us_columns import UsColumn
from hydro.sources.us_discharge import INSTANTANEOUS, agreed_unit, is_wanted, statistic_of

JSON_NAME, CSV_NAME = "US Water Data API (GeoJSON)", "US Water Data API (CSV)"
SERIES, STATION, PARAMETER, STATISTIC = "time_series_id", "monitoring_location_id", "parameter_code", "statistic_id"
TIME, VALUE, UNIT, APPROVAL, QUALIFIER, MODIFIED = (
    "time", "value", "unit_of_measure", "approval_status", "qualifier", "last_modified",
)  # fmt: skip
FIELDS = (SERIES, STATION, PARAMETER, STATISTIC, TIME, VALUE, UNIT, APPROVAL, QUALIFIER, MODIFIED)
NEEDED = frozenset((SERIES, STATION, PARAMETER, STATISTIC, TIME, VALUE))
#: One answer, or several collections saved together.
FEATURES: tuple[Path, ...] = (("features",), (None, "features"))
SENTINELS = (-999999.0,)
#: The service cuts a CSV answer at its limit without saying so.
PAGE_LIMITS = (10_000, 50_000)
#: A column of this tool's own: when the row as it stands first came (UTC). Such a table was put together from whole
#: walks, so that its number of rows says nothing.
FETCHED = "fetched"
_CODE_DIGITS = 5
_NOTHING = "a discharge series (parameter 00060 or 30208, daily means or continuous values)"


def fits_json(decoded: Decoded) -> bool:
    """Whether a JSON text is a collection of features that name a monitoring location."""
    return b'"features"' in decoded.data and f'"{STATION}"'.encode() in decoded.data


def fits_columns(names: Sequence[str]) -> bool:
    """Whether a table has the service's columns, in any order."""
    return {*NEEDED} <= {n.strip().lower() for n in names}


def read_ogc_json(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read the features of one answer. Raises NotATableError for JSON that is not whole."""
    document = load_json(decoded.spend(), FEATURES, FIELDS, inner="properties")
    collections = records_in(document)
    if not collections:
        raise NotATableError("a list of features; this JSON names one and holds none")
    reading = Reading(origin, choices)
    if isinstance(document, dict) and _has_next(document.get("links")):
        reading.note("The answer names a next page: the file holds only a part of what was asked for.")
    for records in collections:
        name = records.where[0] if len(records.where) > 1 else ""
        if len(records.columns) and not records.keys >= NEEDED:
            what = f"The collection “{name}”" if name else "The file"
            reading.leave_out(f"{what} holds no series (features without {SERIES}, {STATISTIC} or {VALUE}).")
            continue
        _take(reading, records.columns.column, np.arange(1, len(records.columns) + 1), "point")
    if not reading.rows and not reading.problems and not reading.not_discharge:
        reading.problem(f"{_NOTHING}; the service found nothing for this request")
    return reading.done(_NOTHING)


def read_ogc_table(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read the same columns saved as a table."""
    reading = Reading.of_table(cells, origin, choices)
    if len(cells) == 0:
        reading.problem("rows of data below the header; the service found nothing for this request")
        return reading.done(_NOTHING)
    if len(cells) in PAGE_LIMITS and FETCHED not in cells.columns:
        reading.note(f"The file has exactly {len(cells)} rows, a limit of the service: it may have been cut off there.")
    written = cells.by_lower_name()

    def column(name: str) -> pa.Array:
        texts = written(name)
        if name not in (PARAMETER, STATISTIC):
            return texts
        digits = pc.match_substring_regex(texts, r"^[0-9]{1,4}$")
        if pc.any(digits).as_py():
            reading.note(f"Codes in {name} have lost their leading zeros, as spreadsheets do; they were filled up.")
        return pc.if_else(digits, pc.utf8_lpad(texts, _CODE_DIGITS, "0"), texts)

    _take(reading, column, cells.rows, "")
    return reading.done(_NOTHING)


def _take(reading: Reading, get: Callable[[str], pa.Array], rows: np.ndarray, row_name: str) -> None:
    """All series of one list; `get` gives the texts of a column."""
    keys = [get(k) for k in (SERIES, STATION, PARAMETER, STATISTIC, UNIT)]
    times, values, modified = (get(k) for k in (TIME, VALUE, MODIFIED))
    if len(times) == 0:
        return
    approval, _ = read_codes(get(APPROVAL), read_us_code)
    _, flags = read_codes(get(QUALIFIER), read_qualifier)
    points = Points.plain(times, values, np.asarray(rows, dtype=np.int64)).marked(approval, flags)
    for (series, station, parameter, statistic, unit), at in split_by(*keys):
        key = (series, station, parameter, statistic, unit)
        alone = len(at) == len(points)
        _take_series(reading, points.take(at), modified if alone else modified.take(pa.array(at)), key, row_name)


def _take_series(
    reading: Reading, points: Points, modified: pa.Array, key: tuple[str, str, str, str, str], row_name: str
) -> None:
    series, station, parameter, statistic, unit_text = key
    column = UsColumn(name=series or parameter, id=series, parameter=parameter, statistic=statistic, is_code=False)
    said = Comments(lines=(), retrieved="", described={(series, parameter, ""): f"{station}, {unit_text}"})
    if not is_wanted(reading, column, said):
        return
    agreed = agreed_unit(reading, column, unit_text, UNIT, UNIT)
    if agreed is None:
        return
    if pc.count_distinct(points.times).as_py() < len(points):
        # The newest version of a point comes first: it is the one that stands.
        newest = np.asarray(pc.array_sort_indices(modified, order="descending"))
        points = points.take(newest)
    origin = replace(
        reading.origin,
        station=station,
        parameter=parameter,
        statistic=statistic_of(column),
        series=series,
        unit=agreed.name,
        unit_from=agreed.known_from,
    )
    rule = ClockRule(daily=False) if origin.statistic == INSTANTANEOUS else ClockRule()
    add_series(reading, points, origin, rule, sentinels=SENTINELS, column=VALUE, row_name=row_name)


def read_qualifier(text: str) -> CodeMeaning:
    """“ICE”, “['ICE', 'ESTIMATED']”, “ICE, REGULATED”, in any case: words that are not known stay, in lower case."""
    meaning = read_us_code(text)
    known = {t for t in meaning.flags if t == t.lower()}
    return replace(meaning, flags=frozenset(known | {t.lower() for t in meaning.flags - known}))


def _has_next(links: object) -> bool:
    return isinstance(links, list) and any(isinstance(link, dict) and link.get("rel") == "next" for link in links)
