"""Gauge files broken at random, and whether what a reader took from one was in it at all."""

from __future__ import annotations

import html
import random
import re

import numpy as np

from hydro.sources.decoding import NotATableError, decode
from hydro.sources.gauge_file import GaugeFile
from hydro.units import from_m3s
from tests.hydro.gauge_layouts import LAYOUTS

_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?")
#: What people and programs put into files: separators, marks, words, numbers, dates, markup.
SNIPPETS = [
    ",", ";", "\t", "|", " ", "\n", "\r\n", "\r", "\"", "'", "#", "\u0000", "\ufeff", "é", "³", "\u202f", "&",
    "&amp;", "<", ">", "</", "/>", "{", "}", "[", "]", ":", "null", "true", "NaN", "-999", "-9999", "-999999",
    "1e999", "1,5", "1.234,5", "1,234.5", "0", "-1", "Ice", "Eqp", "Dry", "***", "--", "e", "A", "P", "D",
    "2021-02-30", "31.12.2021", "03/04/2021", "24:00", "2021-03-28T02:30:00", "+01:00", "Z", "cfs", "m3/s",
    "l/s", "m", "ft", "date", "value", "flow", "site_no", "²", "٣", "\\ud800", "\\u0035", "&#53;", "<!DOCTYPE x>",
    "<![CDATA[7]]>", "<!-- 8 -->", "=1+1", "sep=;\n",
]  # fmt: skip


def mutate(data: bytes, rng: random.Random) -> bytes:
    """One to four random changes of a file."""
    for _ in range(rng.randint(1, 4)):
        kind = rng.randrange(10)
        n = len(data)
        at, to = sorted((rng.randrange(n + 1), rng.randrange(n + 1)))
        if kind == 0:
            data = data[:at] + data[min(to, at + 40) :]
        elif kind == 1:
            data = data[:to] + data[at : min(to, at + 200)] + data[to:]
        elif kind in (2, 3):
            data = data[:at] + rng.choice(SNIPPETS).encode("utf-8", "replace") + data[at:]
        elif kind == 4:
            data = data[:at] + bytes([rng.randrange(256)]) + data[at + 1 :]
        elif kind == 5:
            lines = data.split(b"\n")
            i, j = rng.randrange(len(lines)), rng.randrange(len(lines))
            lines[i], lines[j] = lines[j], lines[i]
            data = b"\n".join(lines)
        elif kind == 6:
            lines = data.split(b"\n")
            del lines[rng.randrange(len(lines))]
            data = b"\n".join(lines)
        elif kind == 7:
            one, two = rng.choice(SNIPPETS[:6]).encode(), rng.choice(SNIPPETS[:6]).encode()
            data = data.replace(one, two)
        elif kind == 8:
            data = data[:at] if rng.random() < 0.3 else data[: at + (n - at) * 9 // 10]
        else:
            other = rng.choice(list(LAYOUTS.values())).data
            data = data[:at] + other[rng.randrange(len(other)) :]
        if not data:
            break
    return data


def numbers_in(data: bytes) -> np.ndarray:
    """Every number that the bytes can be read to hold, with any decimal mark and any grouping of thousands."""
    try:
        text = decode(data).text
    except NotATableError:
        return np.empty(0)
    text += "\n" + html.unescape(html.unescape(text))
    text += "\n" + re.sub(r"\\u([0-9a-fA-F]{4})", lambda m: chr(int(m[1], 16)), text)
    readings = (
        text,
        text.replace(",", "."),
        text.replace(",", ""),
        text.replace(".", "").replace(",", "."),
        re.sub(r"(?<=\d)[ '’\u00a0\u202f](?=\d)", "", text),
        re.sub(r"(?<=\d)[ '’\u00a0\u202f](?=\d)", "", text).replace(",", "."),
        re.sub(r"<!--.*?-->|<!\[CDATA\[|\]\]>", "", text),  # XML joins what stands on both sides of these
    )
    return np.unique([float(m) for reading in readings for m in _NUMBER.findall(reading)])


def invented(file: GaugeFile, data: bytes) -> list[float]:
    """Values, in the file's own unit, that no number in the bytes accounts for. A dry mark accounts for 0."""
    known = numbers_in(data)
    found: list[float] = []
    for series in file.series:
        values = from_m3s(series.values.to_numpy(), series.origins[0].unit)
        dry = series.frame["flags"].str.contains("dry").to_numpy(dtype=bool)
        for value in values[~np.isnan(values) & ~((values == 0) & dry)].tolist():
            if not known.size or not np.isclose(known, value, rtol=1e-12, atol=0).any():
                found.append(value)
    return found
