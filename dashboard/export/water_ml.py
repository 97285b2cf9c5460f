"""The combined discharge as OGC WaterML 2.0 (10-126r4): daily means, each stamped with the END of its day.

That is what the interpolation type "average in preceding interval" means; the zone's offset is written at each stamp,
so that days of 23 and 25 hours stay what they are.
"""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

import numpy as np
import pandas as pd

from hydro.combine import Flow

_INTERPOLATION = "http://www.opengis.net/def/waterml/2.0/interpolationType/AveragePrec"
_MISSING = "http://www.opengis.net/def/nil/OGC/0/missing"
_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<wml2:Collection xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:om="http://www.opengis.net/om/2.0"
  xmlns:gml="http://www.opengis.net/gml/3.2" xmlns:xlink="http://www.w3.org/1999/xlink"
  xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" gml:id="collection">
"""


def water_ml(flow: Flow, zone: str) -> str:
    """The flow [m³/s] as a document; `zone` is the IANA zone whose days it has. Days without a value are nil points."""
    frame = flow.frame
    ends = (frame.index + pd.Timedelta(days=1)).tz_localize(zone, ambiguous=True, nonexistent="shift_forward")
    points = "\n".join(
        _point(f"{end:%Y-%m-%dT%H:%M:%S%z}", value, provisional, estimated)
        for end, value, provisional, estimated in zip(
            ends, frame["discharge_m3s"].to_numpy(), frame["provisional"], frame["estimated"], strict=True
        )
    )
    return (
        f"{_HEAD} <wml2:observationMember>\n  <om:OM_Observation gml:id={quoteattr(f'flow-{flow.id}')}>\n"
        f"   <om:procedure xlink:title={quoteattr('sum of ' + ' + '.join(flow.members.columns))}/>\n"
        '   <om:observedProperty xlink:title="Discharge"/>\n'
        f"   <om:featureOfInterest xlink:title={quoteattr(flow.title)}/>\n"
        "   <om:result>\n    <wml2:MeasurementTimeseries"
        f" gml:id={quoteattr(f'series-{flow.id}')}>\n"
        "     <wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata>"
        f'<wml2:uom code="m3/s"/><wml2:interpolationType xlink:href="{_INTERPOLATION}"/>'
        "</wml2:DefaultTVPMeasurementMetadata></wml2:defaultPointMetadata>\n"
        f"{points}\n    </wml2:MeasurementTimeseries>\n   </om:result>\n  </om:OM_Observation>\n"
        " </wml2:observationMember>\n</wml2:Collection>\n"
    )


def _point(stamp: str, value: float, provisional: bool, estimated: bool) -> str:
    at = f"{stamp[:-2]}:{stamp[-2:]}"
    marks = [name for name, is_so in (("provisional", provisional), ("estimated", estimated)) if is_so]
    told = "".join(f"<wml2:qualifier xlink:title={quoteattr(m)}/>" for m in marks)
    if np.isnan(value):
        told = f'<wml2:nilReason xlink:href="{_MISSING}"/>{told}'
        number = '<wml2:value xsi:nil="true"/>'
    else:
        number = f"<wml2:value>{escape(f'{value:.6g}')}</wml2:value>"
    metadata = (
        f"<wml2:metadata><wml2:TVPMeasurementMetadata>{told}</wml2:TVPMeasurementMetadata></wml2:metadata>"
        if told
        else ""
    )
    return (
        f"     <wml2:point><wml2:MeasurementTVP><wml2:time>{at}</wml2:time>{number}{metadata}"
        "</wml2:MeasurementTVP></wml2:point>"
    )
