"""What keeping a long record current costs beside the bare reading and writing of its table.

Fifteen years of quarter-hours (525,600 values) are kept, and an answer of a week comes. Run from the project's folder:
`python tests/benchmarks/bench_services.py`.
"""

from __future__ import annotations

import datetime
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.csv

from hydro.services.merge import FETCHED, merge, read_table, table_bytes
from hydro.services.provider import Stretch
from hydro.services.us_water import CONTINUOUS

YEARS = 15
WHEN = datetime.datetime(2025, 1, 1, tzinfo=datetime.UTC)


def record() -> pd.DataFrame:
    times = pd.date_range("2010-01-01", periods=YEARS * 365 * 96, freq="15min", tz="UTC")
    values = np.random.default_rng(1).lognormal(4, 1, len(times)).round(1)
    fixed = {
        "time_series_id": "0123456789abcdef0123456789abcdef", "monitoring_location_id": "USGS-09999999",
        "parameter_code": "00060", "statistic_id": "00011", "unit_of_measure": "ft^3/s",
        "approval_status": "Approved", "qualifier": "", "last_modified": "2024-03-01T00:00:00.000000+00:00",
        FETCHED: "2024-03-10T12:00:00+00:00",
    }  # fmt: skip
    table = pd.DataFrame(fixed, index=range(len(times)))
    table["time"] = times.strftime("%Y-%m-%dT%H:%M:%S+00:00").to_numpy()
    table["value"] = values.astype(str)
    return table[[*CONTINUOUS.columns, FETCHED]].astype(str)


def best(run: Callable[[], object], times: int = 3) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        taken.append(time.perf_counter() - start)
    return min(taken)


def main() -> None:
    table = record()
    week = table.tail(7 * 96)
    rows = [tuple(r) for r in week[list(CONTINUOUS.columns)].itertuples(index=False)]
    rows[5] = tuple("99.9" if c == "value" else v for c, v in zip(CONTINUOUS.columns, rows[5], strict=True))
    days = [datetime.date.fromisoformat(t[:10]) for t in (week["time"].iloc[0], week["time"].iloc[-1])]
    stretch = Stretch(first=days[0], last=days[1])
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "values.csv"
        path.write_bytes(table_bytes(table))

        def bare() -> None:
            pa.csv.write_csv(pa.csv.read_csv(path), Path(folder) / "bare.csv")

        def ours() -> None:
            merged = merge(CONTINUOUS, read_table(path, CONTINUOUS), rows, stretch, WHEN)
            assert len(merged.changes) == 1
            (Path(folder) / "ours.csv").write_bytes(table_bytes(merged.table))

        a, b = best(bare), best(ours)
        print(f"{len(table):,} values, {path.stat().st_size >> 20} MB")
        print(f"bare read and write of the table  {a:6.2f} s")
        print(f"read, merge a week, write         {b:6.2f} s  {b / a:.1f} times")


if __name__ == "__main__":
    main()
