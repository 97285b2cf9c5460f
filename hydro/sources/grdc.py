"""Text files of the Global Runoff Data Centre: “#” lines, then a header without “#”, rows divided by semicolons.

A flag of -999 means that no correction was made, not that the value is missing. Contributed files pad days that do
not exist (31 September) with -10 or the filler number.
"""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from hydro.discharge import Origin
from hydro.sources.decoding import Decoded
from hydro.sources.gauge_file import ReadChoices
from hydro.sources.point_stamps import ClockRule
from hydro.sources.points import Points, add_series
from hydro.sources.quantity import settle_stated_unit
from hydro.sources.ragged_rows import trimmed_rows
from hydro.sources.reading import Reading
from hydro.sources.row_flags import RowFlags, read_codes
from hydro.sources.us_codes import UNKNOWN, CodeMeaning

NAME = "GRDC station text"
TITLE = re.compile(r"^#\s*Title:\s*GRDC STATION DATA FILE", re.IGNORECASE | re.MULTILINE)
HEADER = re.compile(r"^\s*YYYY-MM-DD\s*;\s*hh:mm\s*;", re.IGNORECASE)
MISSING = -999.0
SENTINELS = (MISSING,)
PADDING = (-10.0, MISSING)
NO_CORRECTION = "-999"
UNIT = "m3/s"
_KEY = re.compile(r"^#\s*([^:]+?)\s*:\s*(.*?)\s*$")


def fits(decoded: Decoded) -> bool:
    """Whether the comment lines carry the centre's title, or the header is the centre's."""
    return bool(TITLE.search(decoded.head[:4000])) or any(HEADER.match(t) for t in decoded.head.split("\n")[:80])


def read_grdc(decoded: Decoded, origin: Origin, choices: ReadChoices) -> Reading:
    """Read one station file."""
    reading = Reading(origin, choices)
    above = decoded.head.split("\n")
    at = next((i for i, text in enumerate(above) if HEADER.match(text)), None)
    if at is None:
        reading.problem("a header “YYYY-MM-DD;hh:mm; Value” below the comment lines")
        return reading.done()
    said = {m[1].casefold(): m[2] for text in above[:at] if (m := _KEY.match(text.rstrip("\r")))}
    names = [n.strip().casefold() for n in above[at].rstrip("\r").split(";")]
    names = names[: max(i for i, n in enumerate(names) if n) + 1]
    body = memoryview(decoded.data)[len("\n".join(above[: at + 1]).encode()) + 1 :]
    lines = max(0, decoded.data.count(b"\n") - at - 1 + int(not decoded.data.endswith(b"\n") and len(body) > 0))
    # Rows end in a separator that their header may lack: one more column, with nothing in it.
    width = max(len(names), len(above[at + 1].split(";")) if at + 1 < len(above) else 0)
    names += [f"column {i + 1}" for i in range(len(names), width)]
    texts, rows, notes, surplus = trimmed_rows(body, ";", width, at + 2, lines)
    del body
    decoded.forget()
    for note in notes:
        reading.note(note)
    for row, text in surplus:
        reading.problem(f"at most {len(names)} cells, as the header has", row=row, value=text)
    for i in range(len(names)):
        if names[i].startswith("column ") and not bool(pc.all(pc.equal(texts[i], "")).as_py()):
            reading.problem("no more cells than the header has names", column=names[i])
    columns = dict(zip(names, texts, strict=True))
    del texts
    promised = said.get("data lines", "").strip()
    if promised.isdecimal() and int(promised) != len(rows):
        reading.note(f"The file promises {promised} data lines and has {len(rows)}: it may have been cut off.")
    if len(rows) == 0:
        reading.problem("rows of data below the header")
        return reading.done()
    if bool(pc.all(pc.ends_with(columns[names[0]], "-00")).as_py()):
        reading.problem("daily values; the days are all 00, so these are monthly means, no daily discharge")
        return reading.done()
    _take(reading, columns, names, rows, said)
    return reading.done()


def _take(
    reading: Reading, columns: dict[str, pa.Array], names: list[str], rows: np.ndarray, said: dict[str, str]
) -> None:
    original = next((n for n in ("original", "value") if n in columns), None)
    if original is None:
        reading.problem("a column “Value” or “Original”", value="; ".join(names))
        return
    days, values = columns[names[0]], columns[original]
    flags = RowFlags.none(len(rows))
    if "calculated" in columns:
        instead = _is(values, SENTINELS) & ~_is(columns["calculated"], SENTINELS)
        values = pc.if_else(pa.array(instead), columns["calculated"], values)
        flags = flags.merged(RowFlags.where(instead, "calculated"))
    if "flag" in columns:
        flags = flags.merged(read_codes(columns["flag"], read_flag)[1])
    unit = settle_stated_unit(reading, _stated_unit(said), "comment lines")
    if unit is None:
        return
    clocks = columns.get("hh:mm", pa.array(["--:--"] * len(rows)))
    timed = not bool(pc.all(pc.match_substring(clocks, "-")).as_py())
    times = pc.binary_join_element_wise(days, clocks, " ") if timed else days
    impossible = _is(values, PADDING)
    padded = np.flatnonzero(impossible)
    impossible[padded] = ~_exists(days.take(pa.array(padded)))
    if impossible.any():
        reading.note(f"{int(impossible.sum())} rows of days that do not exist hold only padding and were left out.")
    points = Points.plain(times, values, rows).marked(None, flags)
    origin = replace(
        reading.origin,
        station=said.get("grdc-no.", ""),
        parameter="discharge",
        statistic="" if timed else "mean",
        series="",
        description=", ".join(t for t in (said.get("station", ""), said.get("river", "")) if t),
        unit=unit.name,
        unit_from=unit.known_from,
        retrieved=said.get("file generation date", ""),
    )
    add_series(
        reading, points.take(np.flatnonzero(~impossible)), origin, ClockRule(), sentinels=SENTINELS, column=original
    )


def _stated_unit(said: dict[str, str]) -> str:
    """The unit in the comment lines; the centre publishes discharge in m³/s, which a broken encoding may hide."""
    text = next((v for k, v in said.items() if k.startswith("unit")), "")
    return UNIT if not text or re.fullmatch(r"m\W*/s", text) else text


def _is(texts: pa.Array, numbers: tuple[float, ...]) -> np.ndarray:
    """Cells that are one of these numbers."""
    # Few texts can be one of them: only those are read as numbers.
    starts = "|".join(str(int(n)) for n in numbers)
    return np.asarray(pc.match_substring_regex(texts, rf"^(?:{starts})(?:\.0*)?$"))


def _exists(days: pa.Array) -> np.ndarray:
    """Cells that are dates of the calendar."""
    parts = pc.extract_regex(days, r"^(?P<y>\d{4})-(?P<m>\d{2})-(?P<d>\d{2})$")
    found = np.asarray(pc.is_valid(parts))
    number = [np.asarray(pc.fill_null(pc.cast(pc.struct_field(parts, k), pa.int64()), 1)) for k in ("y", "m", "d")]
    year, month, day = (np.where(found, n, 1) for n in number)
    ok = found & (month >= 1) & (month <= 12) & (day >= 1)
    start = ((np.where(ok, year, 1970) - 1970) * 12 + np.where(ok, month, 1) - 1).astype("datetime64[M]")
    length = ((start + 1).astype("datetime64[D]") - start.astype("datetime64[D]")).astype(int)
    return ok & (day <= length)


def read_flag(text: str) -> CodeMeaning:
    """-999 says that nothing was corrected; other numbers stay as marks."""
    word = text.strip().removesuffix(".000")
    if word in ("", NO_CORRECTION):
        return CodeMeaning(UNKNOWN, frozenset())
    return CodeMeaning(UNKNOWN, frozenset({f"flag-{word}"}))
