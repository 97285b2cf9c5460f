"""The combined discharge as OGC WaterML 2.0 (10-126r4): daily means, each stamped with the END of its day.

That is what the interpolation type "average in preceding interval" means; the zone's offset is written at each stamp,
so that days of 23 and 25 hours stay what they are.
"""

from __future__ import annotations

import re
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import pandas as pd

from hydro.combine import Flow

_INTERPOLATION = "http://www.opengis.net/def/waterml/2.0/interpolationType/AveragePrec"
_MISSING = "http://www.opengis.net/def/nil/OGC/0/missing"
_WITHHELD = "http://www.opengis.net/def/nil/OGC/0/withheld"
_PROCESS = "http://www.opengis.net/def/waterml/2.0/processType/Algorithm"
#: The CF standard name of discharge, by its address in the vocabulary server that keeps those names.
_PROPERTY = "http://vocab.nerc.ac.uk/standard_name/water_volume_transport_in_river_channel/"
_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<wml2:Collection xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:om="http://www.opengis.net/om/2.0"
  xmlns:gml="http://www.opengis.net/gml/3.2" xmlns:xlink="http://www.w3.org/1999/xlink"
  xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" gml:id="collection">
"""


def water_ml(flow: Flow, zone: str, as_of: pd.Timestamp) -> str:
    """The flow [m³/s] as a document; `zone` is the IANA zone whose days it has. Days without a value are nil points.

    as_of   the day as of which the result stands (its result time)

    What Observations and Measurements 2.0 asks of every observation is there: times, procedure, property, feature and
    result. The feature is named and its place withheld, which is said with OGC's own word for that.
    """
    frame = flow.frame
    days = pd.DatetimeIndex([*frame.index, frame.index[-1] + pd.Timedelta(days=1)])
    stamps = [
        f"{t:%Y-%m-%dT%H:%M:%S}{t:%z}"[:-2] + ":" + f"{t:%z}"[-2:]
        for t in days.tz_localize(zone, ambiguous=True, nonexistent="shift_forward")
    ]
    points = "\n".join(
        _point(end, value, provisional, estimated)
        for end, value, provisional, estimated in zip(
            stamps[1:], frame["discharge_m3s"].to_numpy(), frame["provisional"], frame["estimated"], strict=True
        )
    )
    # An XML id has neither blanks nor most other signs.
    id = re.sub(r"[^\w.-]", "_", flow.id)
    return (
        f"{_HEAD} <wml2:observationMember>\n  <om:OM_Observation gml:id={quoteattr(f'flow-{id}')}>\n"
        f"   <om:phenomenonTime><gml:TimePeriod gml:id={quoteattr(f'period-{id}')}><gml:beginPosition>{stamps[0]}"
        f"</gml:beginPosition><gml:endPosition>{stamps[-1]}</gml:endPosition></gml:TimePeriod></om:phenomenonTime>\n"
        f"   <om:resultTime><gml:TimeInstant gml:id={quoteattr(f'result-{id}')}><gml:timePosition>{as_of:%Y-%m-%d}"
        "</gml:timePosition></gml:TimeInstant></om:resultTime>\n"
        f"   <om:procedure><wml2:ObservationProcess gml:id={quoteattr(f'procedure-{id}')}><gml:description>"
        f"{escape('sum of ' + ' + '.join(flow.members.columns))}</gml:description>"
        f'<wml2:processType xlink:href="{_PROCESS}" xlink:title="Algorithm"/></wml2:ObservationProcess>'
        "</om:procedure>\n"
        f'   <om:observedProperty xlink:href="{_PROPERTY}" xlink:title="Discharge"/>\n'
        f'   <om:featureOfInterest xlink:href="{_WITHHELD}" xlink:title={quoteattr(flow.title)}/>\n'
        "   <om:result>\n    <wml2:MeasurementTimeseries"
        f" gml:id={quoteattr(f'series-{id}')}>\n"
        "     <wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata>"
        f'<wml2:uom code="m3/s"/><wml2:interpolationType xlink:href="{_INTERPOLATION}"/>'
        "</wml2:DefaultTVPMeasurementMetadata></wml2:defaultPointMetadata>\n"
        f"{points}\n    </wml2:MeasurementTimeseries>\n   </om:result>\n  </om:OM_Observation>\n"
        " </wml2:observationMember>\n</wml2:Collection>\n"
    )


def _point(at: str, value: float, provisional: bool, estimated: bool) -> str:
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
