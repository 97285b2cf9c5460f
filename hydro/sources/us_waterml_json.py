"""US WaterML 1.1 as JSON."""

from __future__ import annotations

from typing import Any

from hydro.discharge import Origin
from hydro.sources.decoding import Decoded, NotATableError
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.json_text import Path, Records, load_json
from hydro.sources.reading import Reading
from hydro.sources.text_columns import as_text
from hydro.sources.us_waterml import EMPTY, FIELDS, FORMAT, WatermlSeries, take_series

NAME = f"{FORMAT} (JSON)"
#: value.timeSeries[i].values[method].value[point]; some programs save only the inner object.
POINTS: tuple[Path, ...] = (
    ("value", "timeSeries", None, "values", None, "value"),
    ("timeSeries", None, "values", None, "value"),
)


def fits(decoded: Decoded) -> bool:
    """Whether a JSON text holds time series with source information."""
    head = decoded.head
    return '"timeSeries"' in head and ('"queryInfo"' in head or '"sourceInfo"' in head)


def read_waterml_json(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read every method of every time series. Raises NotATableError for JSON that is not whole."""
    document = load_json(decoded.spend(), POINTS, FIELDS)
    answer = _member(document, "value") if isinstance(_member(document, "value"), dict) else document
    listed = _member(answer, "timeSeries")
    if not isinstance(listed, list):
        raise NotATableError("a list of time series; this JSON names one and holds none")
    reading = Reading(origin, choices)
    notes = _member(_member(answer, "queryInfo"), "note")
    retrieved = next((as_text(_member(n, "value")) for n in _items(notes) if _member(n, "title") == "requestDT"), "")
    for item in listed:
        for method in _items(_member(item, "values")):
            take_series(reading, _series(item, method), retrieved)
    return reading.done(EMPTY)


def _series(item: object, method: object) -> WatermlSeries:
    source, variable = _member(item, "sourceInfo"), _member(item, "variable")
    code = _first(_member(variable, "variableCode"))
    options = _items(_member(_member(variable, "options"), "option"))
    statistic = next((o for o in options if _member(o, "name") == "Statistic"), None)
    how = _first(_member(method, "method"))
    points = _member(method, "value")
    empty = Records(where=(), columns=_no_points())
    records = points if isinstance(points, Records) else empty
    return WatermlSeries(
        station=as_text(_member(_first(_member(source, "siteCode")), "value")).strip(),
        station_name=as_text(_member(source, "siteName")).strip(),
        parameter=as_text(_member(code, "value")).strip(),
        variable=as_text(_member(variable, "variableName")),
        unit=as_text(_member(_member(variable, "unit"), "unitCode")),
        statistic=as_text(_member(statistic, "optionCode")).strip(),
        no_data=as_text(_member(variable, "noDataValue")),
        method=as_text(_member(how, "methodID")).strip(),
        method_name=as_text(_member(how, "methodDescription")),
        times=records.columns.column("dateTime"),
        values=records.columns.column("value"),
        qualifiers=records.columns.column("qualifiers"),
    )


def _no_points() -> Any:
    from hydro.sources.text_columns import TextColumns

    return TextColumns(FIELDS)


def _member(value: object, name: str) -> object:
    return value.get(name) if isinstance(value, dict) else None


def _items(value: object) -> list[object]:
    return value if isinstance(value, list) else [value] if isinstance(value, dict) else []


def _first(value: object) -> object:
    items = _items(value)
    return items[0] if items else None
