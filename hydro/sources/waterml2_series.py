"""One WaterML 2.0 observation -> a checked series: is it discharge, in which unit, and which day is a daily stamp."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.column_words import STATISTICS, tokens
from hydro.sources.dates import parse_date_column
from hydro.sources.gauge_file import names_series
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series
from hydro.sources.quantity import settle_stated_unit, why_no_discharge
from hydro.sources.reading import Reading
from hydro.sources.row_flags import RowFlags
from hydro.sources.time_steps import is_once_a_day
from hydro.sources.us_codes import UNKNOWN
from hydro.sources.us_columns import STATISTIC_NAMES
from hydro.sources.waterml2_codes import BEGINS_INTERVAL, ENDS_INTERVAL, STATISTIC_OF, TOTALS, seconds_of
from hydro.sources.waterml2_points import PointList, PointMetadata
from hydro.units import FACTORS

SENTINELS = (-999999.0, -9999.0, -999.0)
#: The US agency's observation ids: “obs.USGS.09999991.00060.1.00003”.
_US_ID = re.compile(r"\.(\d{8,15})\.(\d{5})\.(\w+)\.(\d{5})$")
_US_PARAMETER = re.compile(r"parmCd=(\d{5})")
_HALF_DAY = 12  # [h]


@dataclass(eq=False)
class Described:
    """What an observation says of itself, as far as it has been read."""

    id: str = ""
    procedure: str = ""
    statistic: str = ""
    observed: str = ""
    observed_name: str = ""
    feature: str = ""
    feature_name: str = ""
    base: str = ""
    spacing: str = ""
    retrieved: str = ""


def take_observation(reading: Reading, said: Described, defaults: PointMetadata, points: PointList) -> None:
    """Add one observation if it is discharge; say what it is if not."""
    us = _US_ID.search(said.id)
    station = us[1] if us else said.feature or said.feature_name
    parameter = us[2] if us else (m[1] if (m := _US_PARAMETER.search(said.observed)) else "")
    interpolation = defaults.interpolation or _most_used(points)
    statistic = _statistic(said, us[4] if us else "", interpolation)
    name = said.id or said.procedure.rpartition("/")[2].split(" ")[0]
    what = f"“{name}” of station {station} ({said.observed_name or 'no observed property'})"
    units = {m.unit for m in points.own.values() if m.unit}
    unit_text = defaults.unit or (next(iter(units)) if len(units) == 1 else "")
    label = f"{said.observed_name} {'discharge' if parameter in ('00060', '30208') else ''}"
    if reason := why_no_discharge(label, unit_text):
        reading.leave_out(f"{what}: {reason}.")
        return
    if interpolation in TOTALS:
        reading.leave_out(f"{what} holds totals of each interval, no discharge.")
        return
    asked = reading.choices.series
    if statistic not in ("", "mean", "instantaneous") and not (asked and names_series(asked, name)):
        reading.leave_out(f"{what} is the {statistic} discharge of each interval; name it as series to use it.")
        return
    if points.count == 0:
        reading.leave_out(f"{what} has no values.")
        return
    unit = settle_stated_unit(reading, unit_text, "uom")
    if unit is None:
        return
    times = points.columns.column("time")
    if said.base and said.spacing:
        equidistant = _equidistant(reading, said, points.count)
        if equidistant is None:
            return
        times = equidistant
    rule = _rule(reading, times, interpolation, statistic, what)
    marked = _marked(times, _in_one_unit(reading, points, unit.name), defaults, points)
    if points.empty:
        reading.note(f"{points.empty} empty point{'s' if points.empty > 1 else ''} without time and value passed over.")
    origin: Origin = replace(
        reading.origin,
        station=station,
        parameter=parameter or said.observed_name,
        statistic=statistic,
        series=name,
        description=", ".join(t for t in (said.observed_name, said.feature_name) if t),
        unit=unit.name,
        unit_from=unit.known_from,
        retrieved=said.retrieved,
    )
    add_series(reading, marked, origin, rule, sentinels=SENTINELS, column=name, row_name="point")


def _statistic(said: Described, code: str, interpolation: str) -> str:
    if said.statistic or code:
        word = STATISTICS.get(said.statistic, said.statistic)
        return word or STATISTIC_NAMES.get(code, code)
    words = tokens(said.procedure.rpartition("/")[2])
    by_name = next((STATISTICS[w] for w in words if w in STATISTICS), "")
    return by_name or STATISTIC_OF.get(interpolation, "")


def _most_used(points: PointList) -> str:
    named = [m.interpolation for m in points.own.values() if m.interpolation]
    return max(set(named), key=named.count) if named else ""


def _rule(reading: Reading, times: pa.Array, interpolation: str, statistic: str, what: str) -> ClockRule:
    """Civil days or instants, and to which day a daily stamp belongs."""
    dates = parse_date_column(times, reading.choices.day_first)
    known = dates.values[~np.isnat(dates.values)]
    if not dates.has_clock:
        return ClockRule(daily=True, said="the date is the day itself")
    if statistic in ("", "instantaneous") and not interpolation.startswith("average"):
        return ClockRule(daily=False)
    if len(known) < 2 or not is_once_a_day(np.unique(known), True):
        means = statistic == "mean"
        end = interpolation in ENDS_INTERVAL
        return ClockRule(
            daily=False, said=f"each value is the mean {'up to' if end else 'from'} its stamp on" if means else ""
        )
    if interpolation in ENDS_INTERVAL:
        return ClockRule(daily=True, middle=-_HALF_DAY, said="stamps end their day, the day before was taken")
    if interpolation in BEGINS_INTERVAL:
        return ClockRule(daily=True, middle=_HALF_DAY, said="stamps begin their day")
    reading.note(
        f"{what} does not say whether a stamp begins or ends its day: its date was taken as written, which may be a "
        "day off."
    )
    return ClockRule(daily=True)


def _equidistant(reading: Reading, said: Described, count: int) -> pa.Array | None:
    """Times of points that carry none: the first, and one spacing more for each."""
    seconds = seconds_of(said.spacing)
    if seconds is None:
        expected = "a spacing of fixed length, such as PT15M for fifteen minutes"
        if re.fullmatch(r"P\d+M", said.spacing):
            expected += f" ({said.spacing} is {said.spacing[1:-1]} months)"
        reading.problem(expected, column="spacing", value=said.spacing)
        return None
    first = parse_date_column([said.base])
    if first.bad or np.isnat(first.values[0]):
        reading.problem("a time at which the series begins", column="baseTime", value=said.base)
        return None
    offset = said.base[-6:] if re.search(r"[+-]\d{2}:\d{2}$", said.base) else ("Z" if said.base.endswith("Z") else "")
    steps = np.arange(count) * np.timedelta64(round(seconds * 1_000_000), "us")
    texts = np.datetime_as_string((first.values[0] + steps).astype("datetime64[us]"), unit="ms")
    return pa.array([f"{t}{offset}" for t in texts], type=pa.string())


def _in_one_unit(reading: Reading, points: PointList, unit: str) -> pa.Array:
    """Values in the unit of the series; points that override the unit are converted to it."""
    values = points.columns.column("value")
    changed: dict[int, str] = {}
    for at, own in points.own.items():
        if not own.unit:
            continue
        settled = settle_stated_unit(reading, own.unit, "uom")
        if settled is None or settled.name == unit:
            continue
        text = values[at].as_py().strip()
        try:
            number = float(text)
        except ValueError:
            continue
        changed[at] = repr(number * float(FACTORS[settled.name] / FACTORS[unit]))
    if not changed:
        return values
    reading.note(f"{len(changed)} points state another unit than the series and were converted.")
    texts = values.to_pylist()
    for at, text in changed.items():
        texts[at] = text
    return pa.array(texts, type=pa.string())


def _marked(times: pa.Array, values: pa.Array, defaults: PointMetadata, points: PointList) -> Points:
    n = len(values)
    base = defaults.mark()
    sets: list[frozenset[str]] = [base.flags]
    approval = np.full(n, base.approval, np.int8)
    codes = np.zeros(n, np.int32)
    seen = {base.flags: 0}
    for at, own in points.own.items():
        mark = defaults.under(own).mark()
        if mark.flags not in seen:
            seen[mark.flags] = len(sets)
            sets.append(mark.flags)
        codes[at], approval[at] = seen[mark.flags], mark.approval
    known = approval if (approval != UNKNOWN).any() else None
    plain = Points.plain(times, pc.utf8_trim_whitespace(values))
    return plain.marked(known, RowFlags(codes, sets))
