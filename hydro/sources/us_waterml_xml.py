"""US WaterML 1.1 as XML (WaterML 1.0 of other providers has the same elements under another namespace)."""

from __future__ import annotations

from typing import Any

from hydro.discharge import Origin
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.reading import Reading
from hydro.sources.text_columns import PACKED_AT, TextColumns
from hydro.sources.us_waterml import EMPTY, FIELDS, FORMAT, WatermlSeries, take_series
from hydro.sources.xml_text import FORGET_EVERY, forget, local, root_name, xml_events

NAME = f"{FORMAT} (XML)"
NAMESPACES = ("http://www.cuahsi.org/waterML/1.1/", "http://www.cuahsi.org/waterML/1.0/")
ROOT = "timeSeriesResponse"
_STARTS = ("timeSeries", "values")
_ENDS = ("sourceInfo", "variable", "method", "values", "timeSeries", "note", "value")


def fits(decoded: Decoded) -> bool:
    """Whether the first element is the answer of a WaterML 1.x service."""
    head = decoded.head
    return root_name(head).rpartition(":")[2] == ROOT and any(n in head for n in NAMESPACES)


def read_waterml_xml(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read every time series of the document. Raises NotATableError for XML that is not whole."""
    reading = Reading(origin, choices)
    site: dict[str, str] = {}
    variable: dict[str, str] = {}
    method: tuple[str, str] = ("", "")
    columns = TextColumns(FIELDS)
    retrieved, count = "", 0
    times, values, qualifiers = (cells.append for cells in columns.open)
    value_tags = {f"{{{n}}}value" for n in NAMESPACES}
    element: Any
    for event, element in xml_events(decoded, _tags(_STARTS), _tags(_ENDS)):
        tag = element.tag
        if tag in value_tags:
            times(element.get("dateTime"))
            values(element.text)
            qualifiers(element.get("qualifiers"))
            count += 1
            if count % FORGET_EVERY == 0:
                forget(element.getparent())
                if count % PACKED_AT == 0:
                    columns.pack()
            continue
        name = local(tag)
        if event == "start":
            if name == "timeSeries":
                site, variable = {}, {}
            else:
                columns, method = TextColumns(FIELDS), ("", "")
                times, values, qualifiers = (cells.append for cells in columns.open)
        elif name == "note" and element.get("title") == "requestDT":
            retrieved = (element.text or "").strip()
        elif name == "sourceInfo":
            site = {"code": _text(element, "siteCode"), "name": _text(element, "siteName")}
        elif name == "variable":
            variable = _variable(element)
        elif name == "method":
            method = (element.get("methodID") or "", _text(element, "methodDescription"))
        elif name == "values":
            series = WatermlSeries(
                station=site.get("code", ""),
                station_name=site.get("name", ""),
                parameter=variable.get("code", ""),
                variable=variable.get("name", ""),
                unit=variable.get("unit", ""),
                statistic=variable.get("statistic", ""),
                no_data=variable.get("no_data", ""),
                method=method[0],
                method_name=method[1],
                times=columns.column("dateTime"),
                values=columns.column("value"),
                qualifiers=columns.column("qualifiers"),
            )
            take_series(reading, series, retrieved)
            element.clear()
    return reading.done(EMPTY)


def _tags(names: tuple[str, ...]) -> list[str]:
    return [f"{{{namespace}}}{name}" for namespace in NAMESPACES for name in names]


def _text(element: Any, name: str) -> str:
    """The text of the first descendant of that name, in whatever namespace; "" where there is none."""
    found = next((e for e in element.iter("{*}" + name)), None)
    return (found.text or "").strip() if found is not None else ""


def _variable(element: Any) -> dict[str, str]:
    option = next((e for e in element.iter("{*}option") if e.get("name") == "Statistic"), None)
    unit = _text(element, "unitCode") or _text(element, "unitAbbreviation")
    return {
        "code": _text(element, "variableCode"),
        "name": _text(element, "variableName"),
        "unit": unit,
        "statistic": (option.get("optionCode") or "") if option is not None else "",
        "no_data": _text(element, "noDataValue"),
    }
