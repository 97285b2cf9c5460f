"""OGC WaterML 2.0 (10-126r4): measurement time series, bare, in a collection or inside a SOAP answer.

A daily mean whose interpolation type says that it stands for the preceding interval carries the END of its day; read
as the day itself, a whole record would lie one day late.
"""

from __future__ import annotations

from typing import Any

from hydro.discharge import Origin
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.reading import Reading
from hydro.sources.text_columns import PACKED_AT
from hydro.sources.waterml2_codes import last_part
from hydro.sources.waterml2_points import NAMESPACE, NOTHING, WML, PointList, PointMetadata, read_metadata
from hydro.sources.waterml2_series import Described, take_observation
from hydro.sources.xml_text import FORGET_EVERY, XLINK, forget, local, xml_events

NAME = "OGC WaterML 2.0"
OM = "{http://www.opengis.net/om/2.0}"
GML = "{http://www.opengis.net/gml/3.2}"
POINT, OBSERVATION = f"{WML}point", f"{OM}OM_Observation"
_ENDS = (
    POINT,
    f"{WML}baseTime",
    f"{WML}spacing",
    f"{WML}defaultPointMetadata",
    f"{WML}generationDate",
    f"{OM}procedure",
    f"{OM}observedProperty",
    f"{OM}featureOfInterest",
    OBSERVATION,
)


def fits(decoded: Decoded) -> bool:
    """Whether an XML text uses the namespace of WaterML 2.0."""
    return f'"{NAMESPACE}"' in decoded.head or f"'{NAMESPACE}'" in decoded.head


def read_waterml2(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read every observation of the document. Raises NotATableError for XML that is not whole."""
    reading = Reading(origin, choices)
    described, defaults, points = Described(), NOTHING, PointList()
    spacing = base = retrieved = ""
    observations = inside = 0
    element: Any
    for event, element in xml_events(decoded, (OBSERVATION,), _ENDS):
        tag = element.tag
        if tag == POINT:
            points.add(element, timed=not base)
            if points.count % FORGET_EVERY == 0:
                forget(element.getparent())
                if points.count % PACKED_AT == 0 and points.count:
                    points.columns.pack()
            continue
        if event == "start":
            described, defaults, points = Described(id=element.get(f"{GML}id") or ""), NOTHING, PointList()
            spacing = base = ""
            inside += 1
            continue
        name = local(tag)
        text = (element.text or "").strip()
        if name == "baseTime":
            base = text
        elif name == "spacing":
            spacing = text or element.get("value") or ""
        elif name == "defaultPointMetadata":
            defaults = _defaults(element)
        elif name == "generationDate":
            retrieved = text
        elif name == "procedure":
            described.procedure = _words(element)
            described.statistic = _statistic(element)
        elif name == "observedProperty":
            described.observed = element.get(f"{XLINK}href") or ""
            described.observed_name = element.get(f"{XLINK}title") or last_part(described.observed)
        elif name == "featureOfInterest":
            described.feature, described.feature_name = _feature(element)
        elif tag == OBSERVATION:
            observations += 1
            described.base, described.spacing, described.retrieved = base, spacing, retrieved
            take_observation(reading, described, defaults, points)
            element.clear()
    if observations == 0:
        reading.problem("an observation; this WaterML 2.0 document holds none, so the service found nothing")
    return reading.done()


def _defaults(element: Any) -> PointMetadata:
    return read_metadata(element[0]) if len(element) else NOTHING


def _words(element: Any) -> str:
    """Reference and title of an element."""
    return " ".join(t for t in (element.get(f"{XLINK}href"), element.get(f"{XLINK}title")) if t)


def _statistic(element: Any) -> str:
    """The name of a parameter “Statistic” of the process, as the US agency writes it."""
    for named in element.iter(f"{OM}NamedValue"):
        name = next(named.iter(f"{OM}name"), None)
        parent = named.getparent()
        title = (parent.get(f"{XLINK}title") or "") if parent is not None else ""
        if title.lower() == "statistic" and name is not None:
            return str(name.get(f"{XLINK}title") or "").lower()
    return ""


def _feature(element: Any) -> tuple[str, str]:
    """(station, its name): an identifier inside, else the last part of the reference."""
    identifier = next((e for e in element.iter(f"{GML}identifier") if e.text), None)
    reference = element.get(f"{XLINK}href") or ""
    name = element.get(f"{XLINK}title") or ""
    if not name:
        named = next((e for e in element.iter(f"{GML}name") if e.text), None)
        name = str(named.text).strip() if named is not None else ""
    if identifier is not None:
        return str(identifier.text).strip().rstrip("/").rpartition("/")[2], name
    return ("" if reference.startswith("#") else reference.rstrip("/").rpartition("/")[2]), name
