"""Canada's open hydrometric data, one value a row: the narrow download, the web service, the real-time mart.

Flow is m³/s, told from level by PARAM 1, by its bilingual name, or by the number of the quantity.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.cells import Cells
from hydro.sources.column_words import fold, squeezed
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series, split_by
from hydro.sources.quantity import settle_stated_unit
from hydro.sources.reading import Reading
from hydro.sources.row_flags import read_codes
from hydro.sources.us_codes import APPROVED, PROVISIONAL, UNKNOWN, CodeMeaning, read_user_code

NAME = "Canada hydrometric data"
UNIT = "m3/s"
#: PARAM and quantity codes and words that are flow, with their statistic; others are levels.
FLOW = {"1": "mean", "47": "instantaneous", "6": "mean", "discharge": "", "dischargedebit": "", "debit": ""}
LEVEL = frozenset(("2", "46", "3", "waterlevel", "waterlevelniveaudeau", "niveaudeau", "level"))
SENTINELS = (-999999.0, -9999.0)
NOTHING = "a discharge series (PARAM 1, or “discharge/débit”)"
_BY_POSITION = re.compile(r" \(column \d+\)$")
_APPROVALS = {"1": PROVISIONAL, "2": PROVISIONAL, "3": PROVISIONAL, "4": APPROVED}


def bare(name: str) -> str:
    """A column name without its French half: “Parameter/Paramètre” -> parameter."""
    plain = _BY_POSITION.sub("", name)
    return "qaqc" if squeezed(plain) == "qaqc" else squeezed(re.sub(r"[(].*?[)]", "", plain).split("/")[0])


def fits_columns(names: Sequence[str]) -> bool:
    """Whether a table is in one of the layouts with a value a row."""
    have = [bare(n) for n in names]
    narrow = have[:1] == ["id"] and "param" in have and ("date" in have or "year" in have) and "value" in have
    # A table of one's own may have columns of these names; the service writes them in two languages.
    bilingual = any(n.strip().lower().startswith("parameter/") for n in names)
    service = have[:2] == ["id", "date"] and bilingual and "value" in have
    return narrow or service or _is_mart(have)


def _is_mart(have: Sequence[str]) -> bool:
    return have[:2] == ["id", "date"] and "waterlevel" in have and "discharge" in have


def read_canada_table(cells: Cells, origin: Origin, choices: ReadChoices) -> Reading:
    """Read any of the layouts with a value a row."""
    reading = Reading.of_table(cells, origin, choices)
    have = [bare(n) for n in cells.columns]
    if len(cells) == 0:
        reading.problem("rows of data below the header; the service found nothing for this request")
    elif _is_mart(have):
        _mart(reading, cells, have)
    else:
        _listed(reading, _without_repeated_headers(reading, cells), have)
    return reading.done(NOTHING)


def _without_repeated_headers(reading: Reading, cells: Cells) -> Cells:
    first = cells.column(cells.columns[0])
    again = np.asarray(pc.equal(pc.utf8_trim_whitespace(first), cells.columns[0].strip()))
    if not again.any():
        return cells
    reading.note(f"{int(again.sum())} repeated header row{'s' if again.sum() > 1 else ''} left out.")
    return cells.with_rows(~again)


def _listed(reading: Reading, cells: Cells, have: list[str]) -> None:
    """One parameter a row: PARAM, or words."""
    at = {name: cells.columns[i] for i, name in reversed(list(enumerate(have)))}
    parameter = at.get("param") or at["parameter"]
    times = cells.column(at["date"]) if "date" in at else days_of_year(cells.column(at["year"]), _day(cells, at))
    approval, codes = np.full(len(cells), UNKNOWN, np.int8), []
    for name in cells.columns:
        if bare(name) == "approval":
            approval, _ = read_codes(cells.column(name), read_user_code)
        elif bare(name) in ("sym", "symbol"):
            codes.append(read_codes(cells.column(name), read_symbol)[1])
        elif bare(name) in ("qualifier", "qualifiers", "grade"):
            codes.append(read_codes(cells.column(name), read_grade)[1])
    points = Points.plain(times, cells.column(at["value"]), cells.rows)
    for flags in codes:
        points = points.marked(approval, flags)
    if not codes:
        points = points.marked(approval, points.flags)
    for (station, what), rows in split_by(cells.column(at["id"]), cells.column(parameter)):
        code = squeezed(fold(what))
        if code not in FLOW:
            kind = "a water level" if code in LEVEL else "no discharge that is known here"
            reading.leave_out(f"“{what}” of station {station} is {kind}.")
            continue
        add_flow(reading, points.take(rows), station, what, FLOW[code], at["value"])


def add_flow(reading: Reading, points: Points, station: str, what: str, statistic: str, column: str) -> None:
    """One station's flow: dry days without a number are 0, ice leaves the value as it stands."""
    unit = settle_stated_unit(reading, UNIT, "layout of the agency")
    if unit is None:
        return
    dry = points.flags.has("dry") if points.flags.any else np.zeros(len(points), bool)
    if dry.any():
        empty = dry & np.asarray(pc.equal(pc.utf8_trim_whitespace(points.values), ""))
        if empty.any():
            filled = pc.if_else(pa.array(empty), "0", points.values)
            points = replace(points, values=filled)
            reading.note(f"{int(empty.sum())} blank values marked as dry were read as 0.")
    origin = replace(
        reading.origin,
        station=station,
        parameter=what,
        statistic=statistic,
        series="discharge",
        unit=unit.name,
        unit_from=unit.known_from,
    )
    rule = ClockRule(zone="UTC", zone_from="stated by the service")
    add_series(reading, points, origin, rule, sentinels=SENTINELS, column=column)


def _mart(reading: Reading, cells: Cells, have: list[str]) -> None:
    """Level and discharge side by side, each followed by grade, symbol and review code of the same names."""
    at = have.index("discharge")
    reading.leave_out("“Water Level” is a water level, no discharge.")
    points = Points.plain(cells.column(cells.columns[1]), cells.column(cells.columns[at]), cells.rows)
    for i in range(at + 1, len(have)):
        texts = pc.utf8_trim_whitespace(cells.column(cells.columns[i]))
        if have[i] == "qaqc":
            approval, none = read_codes(texts, lambda t: CodeMeaning(_APPROVALS.get(t, UNKNOWN), frozenset()))
            points = points.marked(approval, none)
        else:
            points = points.marked(None, read_codes(texts, read_symbol if have[i] == "symbol" else read_grade)[1])
    for (station,), rows in split_by(cells.column(cells.columns[0])):
        add_flow(reading, points.take(rows), station, "discharge", "", cells.columns[at])


def read_symbol(text: str) -> CodeMeaning:
    """A partial day, B ice, D dry, E estimated, S sample, R revised; words of the real-time service as they are."""
    return read_user_code(text.strip(), symbols=True)


def read_grade(text: str) -> CodeMeaning:
    """A grade or qualifier: kept as a mark where it says anything but -1 (unspecified)."""
    word = "-".join(fold(text.strip()).split("/")[0].split())
    return CodeMeaning(UNKNOWN, frozenset({f"grade-{word}" if word.isdigit() else word} - {"", "-1"}))


def _day(cells: Cells, at: dict[str, str]) -> pa.Array:
    name = next((at[n] for n in ("dayofyear", "julian", "jd", "day", "dd", "doy") if n in at), cells.columns[3])
    return cells.column(name)


def days_of_year(years: pa.Array, days: pa.Array) -> pa.Array:
    """Year and day of the year -> ISO texts; what is no date stays unreadable."""
    texts = []
    for year, day in zip(years.to_pylist(), days.to_pylist(), strict=True):
        year, day = year.strip(), day.strip()
        text = f"day {day} of {year}"
        if re.fullmatch(r"[0-9]{4}", year) and re.fullmatch(r"[0-9]{1,3}", day) and int(day) >= 1:
            date = np.datetime64(f"{year}-01-01") + np.timedelta64(int(day) - 1, "D")
            text = str(date) if str(date).startswith(year) else text
        texts.append(text)
    return pa.array(texts, type=pa.string())
