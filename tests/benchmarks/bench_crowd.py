"""Many people at once and very long records, as the server sees them: light sessions, no browser.

Run: python -m tests.benchmarks.bench_crowd [PEOPLE] [SECONDS] [ROWS]

Prints the server's processor time beside the time on the clock: on a busy machine only the first can be compared.
"""

from __future__ import annotations

import os
import random
import shutil
import statistics
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np
import pandas as pd

from dashboard.wording import pages as words
from tests.benchmarks.bench_dashboard import memory_mb, ours, served
from tests.benchmarks.light_session import LightSession
from tests.browser.conftest import DEMO

PERIODS = tuple(words.PERIODS[p] for p in ("all", "10y", "3y", "1y"))
_CHANGES = 24


def processor_s(pid: int) -> float:
    """Seconds of processor time that a process has had."""
    fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def p95(values: list[float]) -> float:
    return sorted(values)[int(0.95 * (len(values) - 1))]


def crowd(people: int, seconds: float) -> None:
    """People who change periods on the page of dry spells, each at their own pace."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "springs"
        shutil.copytree(DEMO, folder)
        with served(ours(folder)) as (address, pid):
            one = LightSession(address, "dry")
            one.run()
            for period in PERIODS:
                one.choose(words.PERIOD, period)
            before, started = memory_mb(pid), processor_s(pid)
            took: list[float] = []
            errors: list[object] = []
            open_now: list[LightSession] = [one]

            def person(seed: int) -> None:
                rng = random.Random(seed)
                try:
                    session = LightSession(address, "dry")
                    open_now.append(session)
                    session.run()
                    until = time.monotonic() + seconds
                    while time.monotonic() < until:
                        time.sleep(rng.uniform(1.0, 5.0))
                        took.append(session.choose(words.PERIOD, rng.choice(PERIODS)))
                    errors.extend([session.errors] if session.errors else [])
                except Exception as error:  # noqa: BLE001 - whatever happens to a person is an error to report
                    errors.append(error)

            threads = [threading.Thread(target=person, args=(k,)) for k in range(people)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            during, used = memory_mb(pid), processor_s(pid) - started
            for session in open_now:
                session.close()
            time.sleep(2)
            after = memory_mb(pid)
    print(
        f"{people} people for {seconds:.0f} s: {len(took)} changes, median {statistics.median(took):.2f} s, "
        f"p95 {p95(took):.2f} s, {used / len(took):.3f} s of processor a change, {len(errors)} errors {errors[:3]}; "
        f"memory {before:.0f} MB → {during:.0f} MB ({(during - before) / people:.1f} MB a further session), "
        f"{after:.0f} MB when all had gone; load {os.getloadavg()[0]:.0f}"
    )


def long_workspace(folder: Path, rows: int, step: str) -> Path:
    """A copy of the demo's settings with one gauge of so many rows at a time step."""
    folder.mkdir()
    rng = np.random.default_rng(1)
    times = pd.date_range(end="2025-10-19 23:45" if step != "D" else "2025-10-19", periods=rows, freq=step)
    per_day = 1 if step == "D" else 96
    season = np.sin(np.arange(rows) / per_day / 365.25 * 2 * np.pi)
    values = np.exp(4 + 0.6 * season + 0.02 * np.cumsum(rng.normal(size=rows)) / np.sqrt(per_day) % 1.5)
    stamp = times.strftime("%Y-%m-%d" if step == "D" else "%Y-%m-%dT%H:%MZ")
    pd.DataFrame({"time": stamp, "discharge (cfs)": values.round(2)}).to_csv(folder / "gauge.csv", index=False)
    (folder / "workspace.toml").write_text(
        'title = "Long"\ntime_zone = "UTC"\nas_of = "2025-10-19"\ndisplay_unit = "cfs"\n'
        '[gauges.one]\nfile = "gauge.csv"\n[flows.system]\ngauges = ["one"]\n'
        '[outlets.ledge]\nflow = "system"\nstops_below = "50 cfs"\n'
    )
    return folder


def changes(folder: Path) -> tuple[float, float, float, int, float]:
    """First run, then median clock and processor time of a changed period, the most bytes of one, memory [MB]."""
    with served(ours(folder)) as (address, pid):
        session = LightSession(address, "dry")
        first = session.run(600)
        took, most, started = [], 0, 0.0
        for k in range(_CHANGES):
            if k == len(PERIODS):
                started = processor_s(pid)
            session.received = 0
            seconds = session.choose(words.PERIOD, PERIODS[(k + 1) % len(PERIODS)])
            most = max(most, session.received)
            if k >= len(PERIODS):  # each picture has been drawn once
                took.append(seconds)
        used = (processor_s(pid) - started) / len(took)
        session.close()
        return first, statistics.median(took), used, most, memory_mb(pid)


def long_records(rows: int) -> None:
    with tempfile.TemporaryDirectory() as place:
        days = rows // 96
        daily = changes(long_workspace(Path(place) / "daily", days, "D"))
        quarter = changes(long_workspace(Path(place) / "quarter", rows, "15min"))
    for name, (first, median, used, most, memory) in ((f"{days} days", daily), (f"{rows} 15-minute rows", quarter)):
        print(
            f"{name}: first run {first:.2f} s; a changed period {median:.3f} s, processor {used:.3f} s, "
            f"{most / 1e6:.2f} MB at most; {memory:.0f} MB"
        )
    print(
        f"changed period, rows against days: {quarter[1] / daily[1]:.2f} times, processor {quarter[2] / daily[2]:.2f}"
    )


def main() -> None:
    asked = [float(a) for a in sys.argv[1:]]
    people, seconds, rows = (*asked, *(20, 180.0, 1_000_000)[len(asked) :])
    if rows:
        long_records(int(rows))
    crowd(int(people), seconds)


if __name__ == "__main__":
    main()
