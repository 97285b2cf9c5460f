"""Writers and correctors of visits killed 200 times: rows lost, rows doubled, tables broken (all three must be 0).

Run: python -m tests.benchmarks.bench_records [KILLS]
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from dashboard.records.write_down import write_down
from tests.dashboard.test_records import at, killed, text, visit
from tests.dashboard.test_records_killed import killed_changers


def main() -> None:
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        rows = killed(Path(folder), kills=kills, seed=11)
        print(f"{kills} kills, {rows} rows, none lost or doubled, {time.perf_counter() - start:.0f} s")
        changed = Path(folder) / "changed"
        changed.mkdir()
        start = time.perf_counter()
        made, there = killed_changers(changed, kills=kills, seed=12)
        print(
            f"{kills} kills of corrections and removals, {made} entries, {there} rows left, nothing told was lost, "
            f"none twice, {time.perf_counter() - start:.0f} s"
        )
        again = time.perf_counter()
        write_down(at(Path(folder)), visit())
        took = time.perf_counter() - again
        start = time.perf_counter()
        (Path(folder) / "bare.csv").write_text(text(Path(folder)), encoding="utf-8")
        bare = time.perf_counter() - start
        print(f"one more visit: {1000 * took:.0f} ms, against {1000 * bare:.2f} ms for writing the bare text")


if __name__ == "__main__":
    main()
