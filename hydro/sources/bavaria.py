"""CSV with a preamble of “key:;value” lines, as Bavaria's gauge service writes it: decimal commas, German words.

The preamble names source, station and clock; the header is “Datum;Mittelwert;Maximum;Minimum;Prüfstatus” for daily
values, or “Datum;” and one value.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.cells import Cells
from hydro.sources.column_units import unit_in_name, unit_in_preamble
from hydro.sources.column_words import fold, squeezed
from hydro.sources.gauge_file import ReadChoices, names_series
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series
from hydro.sources.quantity import settle_stated_unit, why_no_discharge
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_codes import read_user_code

NAME = "CSV with a German preamble (Bavaria)"
_KEY = re.compile(r"^\"?([^:;\"]+):\"?\s*;\s*(.*?)\s*;*\s*$")
STATION_KEYS = ("messstellennr", "messstellennummer")
NAME_KEYS = ("messstellenname",)
DATE, STATUS = "datum", ("prufstatus", "pruefstatus")
DISCHARGE = "abfluss"
NOT_DISCHARGE = ("wasserstand", "wassertemperatur", "niederschlag")
STATISTICS = {"mittelwert": "mean", "maximum": "maximum", "minimum": "minimum"}
SENTINELS = (-999.0, -9999.0)
#: Clock of the service [value from memory]: Central European Time all year, where the preamble says MEZ.
_ZONES = (("mesz", None), ("mez", "UTC+01:00"), ("utc", "UTC"))
_NOTHING = "a discharge series (a column “Mittelwert” or “Abfluss”)"


def said_above(preamble: Sequence[str]) -> dict[str, str]:
    """The “key:;value” lines above a table."""
    return {squeezed(m[1]): m[2].strip('"') for line in preamble if (m := _KEY.match(line.strip()))}


def fits_cells(cells: Cells) -> bool:
    """Whether the lines above a table name a station in German and the table begins with a date."""
    keys = said_above(cells.preamble)
    names = [squeezed(n) for n in cells.columns]
    return any(k in keys for k in (*STATION_KEYS, *NAME_KEYS)) and names[:1] == [DATE]


def read_bavaria(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read one station's table."""
    reading = Reading.of_table(cells, origin, choices)
    if len(cells) == 0:
        reading.problem("rows of data below the header")
        return reading.done(_NOTHING)
    said = said_above(cells.preamble)
    approval = None
    for name in cells.columns:
        if squeezed(name) in STATUS:
            approval, _ = read_codes(pc.utf8_trim_whitespace(cells.column(name)), read_user_code)
    for name in cells.columns[1:]:
        key = squeezed(name.split("[")[0])
        if key in STATUS or name.startswith("column "):
            continue
        _take(reading, cells, name, key, said, approval)
    return reading.done(_NOTHING)


def _take(
    reading: Reading, cells: Cells, name: str, key: str, said: dict[str, str], approval: np.ndarray | None
) -> None:
    statistic = STATISTICS.get(key, "")
    asked = reading.choices.series or reading.choices.column
    if statistic in ("maximum", "minimum") and not (asked and names_series(asked, name)):
        reading.leave_out(f"“{name}” is the {statistic} of each day; name it as series to use it.")
        return
    above = fold(" ".join(cells.preamble))
    stated = unit_in_name(name) or unit_in_preamble(cells.preamble)
    unit_text = stated.text if stated else next((u for line in cells.preamble if (u := _unit_of_level(line))), "")
    quantity = DISCHARGE if DISCHARGE in above else next((w for w in NOT_DISCHARGE if w in above), "")
    label = name if statistic == "" and quantity == DISCHARGE else f"{name} {quantity}"
    reason = why_no_discharge(label, unit_text)
    # A preamble that names no quantity leaves the question to the unit, which is asked for.
    if reason and (unit_text or quantity or "neither" not in reason):
        reading.leave_out(f"“{name}”: {reason}.")
        return
    unit = settle_stated_unit(reading, unit_text, "header" if unit_in_name(name) else "lines above the table", name)
    if unit is None:
        return
    points = Points.plain(cells.column(cells.columns[0]), cells.column(name), cells.rows)
    if approval is not None:
        points = points.marked(approval, points.flags)
    clock = fold(" ".join(v for k, v in said.items() if "zeit" in k or "datum" in k))
    zone = next((z for word, z in _ZONES if word in clock), None)
    origin = replace(
        reading.origin,
        station=next((said[k] for k in STATION_KEYS if said.get(k)), ""),
        parameter="Abfluss",
        statistic=statistic,
        series=name,
        description=next((said[k] for k in NAME_KEYS if said.get(k)), ""),
        unit=unit.name,
        unit_from=unit.known_from,
    )
    rule = ClockRule(zone=zone, zone_from="named above the table")
    add_series(reading, points, origin, rule, sentinels=SENTINELS, separator=";", column=name)


def _unit_of_level(line: str) -> str:
    match = re.search(r"\[(\w+)\]|;\s*(cm|m)\s*;*$", line)
    return (match[1] or match[2]) if match else ""
