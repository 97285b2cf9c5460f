"""How long reading a gauge file takes, against the bare minimum on the same bytes in the same process.

Run: python tests/benchmarks/bench_read.py
Thirty years of 15-minute values (1,051,200 rows) are written to a temporary folder: as CSV and RDB (against pandas'
own pyarrow reading), as WaterML 2.0 (against lxml's bare iterparse) and GeoJSON (against json.loads). Times are the
best of three, readers taking turns. Memory has a benchmark of its own, bench_memory.py.
"""

from __future__ import annotations

import json
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd

from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file

ROWS = 1_051_200
TURNS = 3
ENOUGH_CSV, ENOUGH_RDB, ENOUGH_MARKUP = 3.0, 4.0, 3.0
WATERML2_HEAD = """<?xml version="1.0" encoding="UTF-8"?>
<wml2:Collection xmlns:wml2="http://www.opengis.net/waterml/2.0" xmlns:gml="http://www.opengis.net/gml/3.2"
 xmlns:xlink="http://www.w3.org/1999/xlink" xmlns:om="http://www.opengis.net/om/2.0">
<wml2:observationMember><om:OM_Observation gml:id="o1"><om:observedProperty xlink:title="Discharge"/>
<om:featureOfInterest xlink:href="http://example.org/stations/999001" xlink:title="Invented beck"/><om:result>
<wml2:MeasurementTimeseries><wml2:defaultPointMetadata><wml2:DefaultTVPMeasurementMetadata><wml2:uom code="m3/s"/>
</wml2:DefaultTVPMeasurementMetadata></wml2:defaultPointMetadata>
"""
WATERML2_TAIL = """</wml2:MeasurementTimeseries></om:result></om:OM_Observation></wml2:observationMember>
</wml2:Collection>
"""


def write_files(folder: Path) -> dict[str, Path]:
    """The same invented record in three layouts."""
    index = pd.date_range("1994-01-01", periods=ROWS, freq="15min", unit="us")
    values = np.round(np.random.default_rng(7).lognormal(1.0, 0.8, ROWS), 2)
    files = {name: folder / name for name in ("utc.csv", "local.csv", "record.txt")}
    pd.DataFrame({"time": index.strftime("%Y-%m-%dT%H:%M:%SZ"), "discharge (cfs)": values}).to_csv(
        files["utc.csv"], index=False
    )
    pd.DataFrame({"time": index.strftime("%Y-%m-%d %H:%M"), "discharge (cfs)": values}).to_csv(
        files["local.csv"], index=False
    )
    rdb = pd.DataFrame(
        {
            "agency_cd": "USGS",
            "site_no": "09999991",
            "datetime": index.strftime("%Y-%m-%d %H:%M"),
            "tz_cd": "CST",
            "99999_00060": values,
            "99999_00060_cd": np.where(np.arange(ROWS) < ROWS - 5000, "A", "P"),
        }
    )
    body = rdb.to_csv(sep="\t", index=False).split("\n", 1)
    head = "# retrieved: 2024-01-02 03:04:05 -05:00 (invented)\n#\n"
    files["record.txt"].write_text(f"{head}{body[0]}\n5s\t15s\t20d\t6s\t14n\t10s\n{body[1]}")
    return files


def write_markup(folder: Path, rows: int) -> dict[str, Path]:
    """The record as WaterML 2.0 and as GeoJSON."""
    index = pd.date_range("1994-01-01", periods=rows, freq="15min", unit="us")
    values = np.round(np.random.default_rng(7).lognormal(1.0, 0.8, rows), 2)
    stamps = index.strftime("%Y-%m-%dT%H:%M:%S+00:00")
    files = {"WaterML 2.0": folder / f"record{rows}.xml", "GeoJSON": folder / f"record{rows}.json"}
    with files["WaterML 2.0"].open("w") as out:
        out.write(WATERML2_HEAD)
        for stamp, value in zip(stamps, values, strict=True):
            out.write(
                f"<wml2:point><wml2:MeasurementTVP><wml2:time>{stamp}</wml2:time><wml2:value>{value}</wml2:value>"
                "</wml2:MeasurementTVP></wml2:point>\n"
            )
        out.write(WATERML2_TAIL)
    with files["GeoJSON"].open("w") as out:
        out.write('{"type":"FeatureCollection","features":[')
        for i, (stamp, value) in enumerate(zip(stamps, values, strict=True)):
            approval = "Approved" if i < rows - 5000 else "Provisional"
            out.write(
                f'{"," if i else ""}{{"type":"Feature","geometry":null,"id":"{i:032x}","properties":{{"id":"{i:032x}",'
                '"time_series_id":"627c17455f9e4a4286e1d75dde4d8470","monitoring_location_id":"USGS-09999991",'
                f'"parameter_code":"00060","statistic_id":"00011","time":"{stamp}","value":"{value}",'
                f'"unit_of_measure":"ft^3/s","approval_status":"{approval}","qualifier":null,'
                '"last_modified":"2026-08-07T18:55:14.240081+00:00"}}'
            )
        out.write(f'],"numberReturned":{rows}}}')
    return files


def compare_markup(name: str, path: Path) -> tuple[float, float]:
    """(our time, the bare parser's time) [s]; fails if a row is lost."""
    from lxml import etree

    def ours() -> object:
        (series,) = read_gauge_file(path).series
        if len(series.frame) != ROWS:
            raise RuntimeError(f"{len(series.frame)} rows of {ROWS}")
        return series

    def bare() -> object:
        if name == "GeoJSON":
            return json.loads(path.read_bytes())
        for _, element in etree.iterparse(str(path)):
            element.clear()
        return None

    times = best_of(TURNS, ours, bare)
    return times[0], times[1]


def best_of(turns: int, *tasks: Callable[[], object]) -> list[float]:
    """Best time of every task [s], tasks taking turns so that a slow moment of the machine hits all."""
    best = [float("inf")] * len(tasks)
    for _ in range(turns):
        for i, task in enumerate(tasks):
            start = time.perf_counter()
            task()
            best[i] = min(best[i], time.perf_counter() - start)
    return best


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        files = write_files(Path(folder))
        fixed, zoned = ReadChoices(time_zone="UTC-06:00"), ReadChoices(time_zone="America/Chicago")
        for label, name, choices, enough in (
            ("CSV, stamps in UTC", "utc.csv", ReadChoices(), ENOUGH_CSV),
            ("CSV, fixed offset asked for", "local.csv", fixed, ENOUGH_CSV),
            ("RDB", "record.txt", ReadChoices(), ENOUGH_RDB),
        ):
            ours, bare = compare(files[name], choices)
            print(f"{label}: {ours:.3f} s, pandas {bare:.3f} s, ratio {ours / bare:.2f} (at most {enough:.0f})")
        skipped = files["local.csv"]
        text = skipped.read_text().split("\n")
        # A clock with summer time has no 02:00 to 02:59 on one day a year: leave the rows of March and April out.
        skipped.write_text("\n".join(line for line in text if line[5:8] not in ("03-", "04-")))
        ours, bare = compare(skipped, zoned)
        print(f"CSV, local time of a zone: {ours:.3f} s, pandas {bare:.3f} s, ratio {ours / bare:.2f}")
        for name, path in write_markup(Path(folder), ROWS).items():
            ours, bare = compare_markup(name, path)
            print(
                f"{name}: {ours:.3f} s, bare parser {bare:.3f} s, ratio {ours / bare:.2f} (at most {ENOUGH_MARKUP:.0f})"
            )


def compare(path: Path, choices: ReadChoices) -> tuple[float, float]:
    """(our time, pandas' time) [s] for one file; fails if a row is lost."""
    is_rdb = path.suffix == ".txt"

    def ours() -> object:
        (series,) = read_gauge_file(path, choices).series
        return series

    def bare() -> object:
        if is_rdb:
            return pd.read_csv(
                path,
                engine="pyarrow",
                sep="\t",
                skiprows=4,
                names=["agency_cd", "site_no", "datetime", "tz_cd", "value", "code"],
                dtype={"site_no": str},
                parse_dates=["datetime"],
            )
        return pd.read_csv(path, engine="pyarrow", parse_dates=["time"])

    times = best_of(TURNS, ours, bare)
    return times[0], times[1]


if __name__ == "__main__":
    main()
