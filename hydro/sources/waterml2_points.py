"""The points of a WaterML 2.0 series: time, value, and what default and own metadata say of each."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

from hydro.sources.text_columns import TextColumns
from hydro.sources.us_codes import UNKNOWN
from hydro.sources.waterml2_codes import PointMark, last_part, read_qualifier, read_quality, read_reason
from hydro.sources.xml_text import XLINK, local

NAMESPACE = "http://www.opengis.net/waterml/2.0"
WML = f"{{{NAMESPACE}}}"
TVP, TIME, VALUE, METADATA = f"{WML}MeasurementTVP", f"{WML}time", f"{WML}value", f"{WML}metadata"
NIL = "{http://www.w3.org/2001/XMLSchema-instance}nil"


@dataclass(frozen=True, kw_only=True)
class PointMetadata:
    """Everything that may stand once as the default of a series or again at a point. "" = not said.

    A point's own element replaces the default; of an element that may be repeated (qualifier) all defaults go.
    """

    unit: str = ""
    interpolation: str = ""
    qualifiers: tuple[PointMark, ...] = ()
    quality: PointMark | None = None
    reason: PointMark | None = None

    def under(self, own: PointMetadata) -> PointMetadata:
        """These defaults with a point's own metadata laid over them."""
        return PointMetadata(
            unit=own.unit or self.unit,
            interpolation=own.interpolation or self.interpolation,
            qualifiers=own.qualifiers or self.qualifiers,
            quality=own.quality or self.quality,
            reason=own.reason or self.reason,
        )

    def mark(self) -> PointMark:
        """Approval and flags of all of it."""
        marks = [m for m in (*self.qualifiers, self.quality, self.reason) if m is not None]
        approval = next((m.approval for m in marks if m.approval != UNKNOWN), UNKNOWN)
        return PointMark(approval=approval, flags=frozenset().union(*(m.flags for m in marks)))


NOTHING = PointMetadata()


def read_metadata(element: Any) -> PointMetadata:
    """A default or a point's metadata element."""
    found = NOTHING
    qualifiers: list[PointMark] = []
    for child in element:
        name = local(child.tag)
        if name == "qualifier":
            qualifiers.append(read_qualifier(_category(child)))
        elif name == "quality":
            found = replace(found, quality=read_quality(_said(child)))
        elif name in ("nilReason", "censoredReason"):
            found = replace(found, reason=read_reason(_said(child)))
        elif name == "uom":
            found = replace(found, unit=child.get("code") or child.get(f"{XLINK}title") or (child.text or "").strip())
        elif name == "interpolationType":
            reference = child.get(f"{XLINK}href") or child.get(f"{XLINK}title") or ""
            found = replace(found, interpolation=last_part(reference).lower())
    return replace(found, qualifiers=tuple(qualifiers))


def _said(element: Any) -> str:
    return element.get(f"{XLINK}href") or element.get(f"{XLINK}title") or (element.text or "").strip()


def _category(element: Any) -> str:
    """The value inside swe:Category, else the reference or title."""
    for inner in element.iter():
        if local(inner.tag) == "value" and inner.text:
            return str(inner.text).strip()
    return last_part(element.get(f"{XLINK}href") or "") or element.get(f"{XLINK}title") or (element.text or "").strip()


@dataclass(eq=False)
class PointList:
    """Points of one series while they are read. `own` holds metadata of points that carry some, by position."""

    columns: TextColumns = field(default_factory=lambda: TextColumns(("time", "value")))
    own: dict[int, PointMetadata] = field(default_factory=dict)
    count: int = 0
    empty: int = 0
    _known: dict[bytes, PointMetadata] = field(default_factory=dict)

    def add(self, point: Any, *, timed: bool) -> None:
        """Take one wml2:point; one without time and value is passed over, unless points are timed by their number."""
        time = value = None
        nil = False
        own: PointMetadata | None = None
        for tvp in point:
            for child in tvp:
                tag = child.tag
                if tag == TIME:
                    time = child.text
                elif tag == VALUE:
                    value = child.text
                    if child.attrib:
                        nil = child.get(NIL) in ("true", "1")
                        if reason := child.get("nilReason"):
                            own = (own or NOTHING).under(PointMetadata(reason=read_reason(reason)))
                elif tag == METADATA and len(child) and len(child[0]):
                    own = self._metadata(child[0]).under(own or NOTHING)
        if timed and time is None and value is None and not nil:
            self.empty += 1
            return
        open_times, open_values = self.columns.open
        open_times.append(time)
        open_values.append(None if nil else value)
        if own is not None:
            self.own[self.count] = own
        self.count += 1

    def _metadata(self, element: Any) -> PointMetadata:
        """Points of a series repeat a few sets of metadata; each is read once."""
        from lxml import etree

        key = etree.tostring(element, with_tail=False)
        if key not in self._known:
            if len(self._known) > 1000:
                return read_metadata(element)
            self._known[key] = read_metadata(element)
        return self._known[key]
