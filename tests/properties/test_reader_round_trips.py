"""A series written in any layout that can be proven comes back the same, and reading never changes a file."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file
from hydro.units import FACTORS, SYMBOLS

#: Days from 2020-01-25 on reach beyond the 12th of a month, so the order of day and month is proven.
LAYOUTS = {
    "iso": "%Y-%m-%d",
    "european": "%d.%m.%Y",
    "american": "%m/%d/%Y",
    "slashes": "%Y/%m/%d",
    "named": "%d-%b-%Y",
}
DECIMALS = st.decimals(min_value="-900", max_value="90000", places=2, allow_nan=False, allow_infinity=False)
CELLS = st.lists(st.one_of(DECIMALS, st.none()), min_size=4, max_size=40)


def read_once(text: str, choices: ReadChoices):  # type: ignore[no-untyped-def]
    """Write, read, and check that the bytes are untouched."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "f.csv"
        path.write_bytes(text.encode())
        file = read_gauge_file(path, choices)
        assert path.read_bytes() == text.encode()
    return file


@given(
    cells=CELLS,
    separator=st.sampled_from([",", ";", "\t", "|"]),
    comma=st.booleans(),
    layout=st.sampled_from(sorted(LAYOUTS)),
    unit=st.sampled_from(sorted(FACTORS)),
)
def test_daily_tables_come_back_the_same(
    cells: list[object], separator: str, comma: bool, layout: str, unit: str
) -> None:
    comma = comma and separator != ","
    if all(c is None for c in cells):
        cells = [*cells, 1]
    days = pd.date_range("2020-01-25", periods=len(cells), unit="us")
    texts = ["" if c is None else f"{c:.2f}" for c in cells]
    written = [t.replace(".", ",") if comma else t for t in texts]
    rows = [f"{d.strftime(LAYOUTS[layout])}{separator}{t}" for d, t in zip(days, written, strict=True)]
    header = f"Date{separator}Flow ({SYMBOLS[unit].replace('L/s', 'l/s')})"
    file = read_once("\n".join([header, *rows]) + "\n", ReadChoices())
    assert file.problems == ()
    (series,) = file.series
    expected = np.array([np.nan if t == "" else float(t) for t in texts]) * float(FACTORS[unit])
    expected[np.isin([float(t or 0) for t in texts], (-999.0,))] = np.nan
    np.testing.assert_array_equal(series.values.to_numpy(), expected)
    assert (series.frame.index == days).all()
    assert series.frame["row"].tolist() == list(range(2, len(cells) + 2))
    assert series.origins[0].unit == unit


@given(
    cells=st.lists(
        st.tuples(
            st.one_of(DECIMALS.map(str), st.sampled_from(["", "Ice", "Eqp", "Dry", "***", "-999999"])),
            st.sampled_from(["A", "P", "A:e", "Pe", "P:<", "", "A:Ice"]),
        ),
        min_size=2,
        max_size=40,
    ),
    definitions=st.booleans(),
    junk=st.booleans(),
)
def test_agency_files_come_back_the_same(cells: list[tuple[str, str]], definitions: bool, junk: bool) -> None:
    days = pd.date_range("1999-12-20", periods=len(cells), unit="us")
    rows = [f"USGS\t09999991\t{d.date()}\t{v}\t{c}" for d, (v, c) in zip(days, cells, strict=True)]
    head = [
        "# retrieved: 2024-01-02 03:04:05 -05:00 (zz)",
        "agency_cd\tsite_no\tdatetime\t06_00060_00003\t06_00060_00003_cd",
    ]
    body = [*head, *(["5s\t15s\t20d\t14n\t10s"] if definitions else []), *rows, *(["</html>"] if junk else [])]
    file = read_once("\n".join(body) + "\n", ReadChoices())
    assert file.problems == ()
    (series,) = file.series
    assert (series.frame.index == days).all()
    for (value, code), (_, row) in zip(cells, series.frame.iterrows(), strict=True):
        flags = set(row["flags"].split())
        assert row["approval"] == {"A": "approved", "P": "provisional", "": "unknown"}[code[:1]]
        assert ("estimated" in flags) == (code in ("A:e", "Pe"))
        assert ("ice" in flags) == (value == "Ice" or code == "A:Ice")
        if value in ("", "Ice", "Eqp", "***", "-999999"):
            assert np.isnan(row["discharge_m3s"])
        else:
            number = 0.0 if value == "Dry" else float(value)
            assert row["discharge_m3s"] == pytest.approx(number * 0.3048**3, rel=1e-14, abs=1e-300)


@given(
    zone=st.sampled_from(["America/Chicago", "Europe/Berlin", "Australia/Sydney", "UTC-06:00"]),
    start=st.datetimes(min_value=pd.Timestamp("2018-01-01"), max_value=pd.Timestamp("2022-01-01")),
    hours=st.integers(min_value=2, max_value=80),
    backwards=st.booleans(),
)
def test_local_clocks_come_back_as_the_same_instants(zone: str, start, hours: int, backwards: bool) -> None:  # type: ignore[no-untyped-def]
    first = pd.Timestamp(start).floor("h").tz_localize("UTC")
    instants = pd.date_range(first, periods=2 * hours, freq="30min", unit="us")
    local = instants.tz_convert("Etc/GMT+6" if zone.startswith("UTC") else zone).tz_localize(None)
    if zone != "UTC-06:00" and local.duplicated().any() and local.duplicated().sum() != 2:
        return  # a span that begins or ends inside the repeated hour holds one pass only, which nobody can tell
    ambiguous = [t for t in local if not zone.startswith("UTC") and _repeats(t, zone)]
    if len(ambiguous) not in (0, 4):
        return
    rows = [f"{t:%Y-%m-%d %H:%M},{i}" for i, t in enumerate(local)]
    rows = rows[::-1] if backwards else rows
    file = read_once("\n".join(["t,flow_m3s", *rows]) + "\n", ReadChoices(time_zone=zone))
    assert file.problems == ()
    (series,) = file.series
    assert (series.frame.index == instants).all()
    assert series.values.tolist() == list(range(2 * hours))


def _repeats(wall: pd.Timestamp, zone: str) -> bool:
    return bool(wall.tz_localize(zone, ambiguous=True) != wall.tz_localize(zone, ambiguous=False))


@given(st.binary(max_size=400))
def test_no_bytes_make_the_reader_raise(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "f.csv"
        path.write_bytes(data)
        file = read_gauge_file(path)
    assert file.problems or file.series


@given(st.text(alphabet="0123456789-/.:,;\t \n\"'#ab€éQ()[]=<>", max_size=300))
def test_no_text_makes_the_reader_raise(text: str) -> None:
    file = read_once(text, ReadChoices(unit="cfs"))
    assert file.problems or file.series
