"""US WaterML 1.1, as XML or as JSON: what both forms say of a series, and the step from that to discharge.

Layout: the agency's instantaneous and daily value services. A series is agency, station, parameter, statistic and
method: two sensors of one parameter are two methods.
"""

from __future__ import annotations

import html
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa

from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series
from hydro.sources.quantity import settle_stated_unit, why_no_discharge
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_blocks import Comments
from hydro.sources.us_codes import read_us_code
from hydro.sources.us_columns import UsColumn
from hydro.sources.us_discharge import INSTANTANEOUS, agreed_unit, is_wanted, statistic_of

FORMAT = "US WaterML 1.1"
#: Members of a point, in the order of its columns.
FIELDS = ("dateTime", "value", "qualifiers")
SENTINELS = (-999999.0,)
EMPTY = "a discharge series (parameter 00060 or 30208); the agency found nothing for this request"
_PARAMETER_DIGITS = 5


@dataclass(frozen=True, eq=False, kw_only=True)
class WatermlSeries:
    """One method of one time series: what the file says of it, and its points as written."""

    station: str
    station_name: str
    parameter: str
    variable: str
    unit: str
    statistic: str
    no_data: str
    method: str
    method_name: str
    times: pa.Array
    values: pa.Array
    qualifiers: pa.Array


def plain(text: str) -> str:
    """Text whose entities were escaped once or twice: “ft&amp;#179;/s” -> “ft³/s”."""
    return html.unescape(html.unescape(text)).strip()


def take_series(reading: Reading, series: WatermlSeries, retrieved: str) -> None:
    """Add one series if it is discharge; say what it is if not."""
    column = UsColumn(
        name="_".join(p for p in (series.method, series.parameter, series.statistic) if p),
        id=series.method,
        parameter=series.parameter,
        statistic=series.statistic,
        is_code=False,
    )
    label = ", ".join(t for t in (plain(series.variable), plain(series.method_name)) if t)
    # Other providers of the same standard number their variables in their own way.
    foreign = not (len(series.parameter) == _PARAMETER_DIGITS and series.parameter.isdigit())
    if foreign:
        reason = why_no_discharge(series.variable, plain(series.unit))
        if reason:
            reading.leave_out(f"“{column.name}” ({label}) of station {series.station}: {reason}.")
            return
    else:
        said = Comments(lines=(), retrieved="", described={(series.method, series.parameter, ""): label})
        if not is_wanted(reading, column, said):
            return
    if len(series.times) == 0:
        reading.leave_out(f"“{column.name}” ({label}) of station {series.station} has no values.")
        return
    unit_text = plain(series.unit)
    if foreign:
        settled = settle_stated_unit(reading, unit_text, "unit")
        if settled is None:
            return
        name, known_from = settled.name, settled.known_from
    else:
        agreed = agreed_unit(reading, column, unit_text, "unit element", column.name)
        if agreed is None:
            return
        name, known_from = agreed.name, agreed.known_from
    approval, flags = read_codes(series.qualifiers, read_us_code)
    statistic = statistic_of(column)
    origin = replace(
        reading.origin,
        station=series.station,
        parameter=series.parameter,
        statistic=statistic,
        series=column.name,
        description=", ".join(t for t in (label, series.station_name) if t),
        unit=name,
        unit_from=known_from,
        retrieved=retrieved,
    )
    add_series(
        reading,
        Points.plain(series.times, series.values).marked(approval, flags),
        origin,
        ClockRule(daily=False if statistic == INSTANTANEOUS else None),
        sentinels=sentinels_of(series.no_data),
        column=column.name,
        row_name="point",
    )


def sentinels_of(no_data: str) -> tuple[float, ...]:
    """The variable's own number for “no value”, compared as a number, beside the agency's usual one."""
    try:
        own = float(no_data)
    except ValueError:
        return SENTINELS
    return (*SENTINELS, own) if np.isfinite(own) and own not in SENTINELS else SENTINELS
