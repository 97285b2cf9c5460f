"""The dashboard against a one-line Streamlit app served and driven the same way; many people at once; the report.

Run: python -m tests.benchmarks.bench_dashboard [PEOPLE] [SECONDS]

Cold: from starting the server to the first complete page in a new browser window. A choice: from a click to a page on
which nothing runs and everything is drawn, on 20 years of daily values. People: sessions that click through pages at
once, each in a window of its own; memory is that of the server's process.
"""

from __future__ import annotations

import contextlib
import random
import shutil
import socket
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from dashboard.first_page import KEPT_AT
from tests.browser.conftest import ARGUMENTS, DEMO, ROOT, Tab, find_chromium, settle

ONE_LINE = 'import streamlit as st\nst.write("one line")\n'
#: The least that a changed period can cost: one choice and one line of as many days as the choice names.
ONE_FIGURE = """import numpy as np, plotly.graph_objects as go, streamlit as st
days = {"All": 11000, "10 years": 3650, "3 years": 1095}
n = days[st.segmented_control("Period", list(days), default="All", required=True)]
x, y = np.datetime_as_string(np.datetime64("1995-01-01") + np.arange(n)), np.sin(np.arange(n) / 58.1)
st.plotly_chart(go.Figure(go.Scatter(x=x, y=y, mode="lines")), key="one")
"""
#: What is drawn: the sentence of our picture, or the first label of days of the bare one.
_PICTURE = """() => { const ours = document.querySelector('.pointed-picture svg');
  if (ours) return ours.getAttribute('aria-label');
  return [...document.querySelectorAll('.xtick')].map(e => e.textContent).join(); }"""
_REPEATS = 5


@contextlib.contextmanager
def served(command: list[str]) -> Iterator[tuple[str, int]]:
    """A server started by `command` plus a port; its address and process id. Ready when it answers."""
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        port = s.getsockname()[1]
    words = [w.replace("PORT", str(port)) for w in command]
    server = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=ROOT)
    address = f"http://127.0.0.1:{port}"
    try:
        while True:
            with contextlib.suppress(urllib.error.URLError, ConnectionError):
                if urllib.request.urlopen(f"{address}/_stcore/health").read() == b"ok":
                    break
            time.sleep(0.02)
        yield address, server.pid
    finally:
        server.terminate()
        server.wait(20)


def ours(folder: Path) -> list[str]:
    return [sys.executable, "-m", "dashboard.cli", "serve", str(folder), "--port", "PORT"]


def bare(folder: Path, code: str = ONE_LINE) -> list[str]:
    app = folder / "bare.py"
    app.write_text(code)
    return [sys.executable, "-m", "streamlit", "run", str(app), "--server.port=PORT", "--server.headless=true",
            "--server.fileWatcherType=none", "--browser.gatherUsageStats=false"]  # fmt: skip


def cold(browser: Any, command: list[str], leaves: Path | None = None) -> float:
    """Seconds from its start to the first complete page; the server stops when it has written what it `leaves`."""
    start = time.perf_counter()
    with served(command) as (address, _):
        context = browser.new_context(viewport={"width": 1280, "height": 800})
        page = context.new_page()
        page.goto(address)
        settle(page)
        took = time.perf_counter() - start
        context.close()
        until = time.monotonic() + 20
        while leaves is not None and not leaves.exists() and time.monotonic() < until:
            time.sleep(0.05)
    return took


def _starts(browser: Any, folder: Path) -> tuple[float, float, float]:
    """One start each: of the one-line app, of ours on a workspace never opened, and of ours once more."""
    one_line = cold(browser, bare(folder))
    shutil.rmtree(folder / "springs" / ".resurgence", ignore_errors=True)
    new = cold(browser, ours(folder / "springs"), folder / "springs" / KEPT_AT)
    return one_line, new, cold(browser, ours(folder / "springs"))


def choices(browser: Any, command: list[str], page: str) -> tuple[list[float], int]:
    """Seconds of a changed period, and the most bytes that one change sent."""
    with served(command) as (address, _):
        t = Tab(browser.new_context(viewport={"width": 1280, "height": 800}).new_page(), address)
        t.open(page)
        took, most = [], 0
        for k in range(24):
            name = ("3 years", "All", "10 years")[k % 3]
            t.received = 0
            start = time.perf_counter()
            was = t.page.evaluate(_PICTURE)
            t.act(t.page.get_by_role("radio", name=name, exact=True).click)
            t.page.wait_for_function(f"was => ({_PICTURE})() !== was", arg=was)  # drawn, and not the one before
            if k >= 3:  # each picture has been drawn once
                took.append(time.perf_counter() - start)
            most = max(most, t.received)
        t.page.context.close()
    return took, most


def memory_mb(pid: int) -> float:
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS"):
            return int(line.split()[1]) / 1024
    return float("nan")


def crowd(people: int, seconds: float) -> None:
    """People who click through pages, each at their own pace, in plain windows of one browser a thread."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "springs"
        shutil.copytree(DEMO, folder)
        with served(ours(folder)) as (address, pid):
            took: list[float] = []
            wrong: list[object] = []
            before = memory_mb(pid)

            def person(seed: int) -> None:
                rng = random.Random(seed)
                with sync_playwright() as playwright:
                    browser = playwright.chromium.launch(executable_path=find_chromium(), args=list(ARGUMENTS))
                    t = Tab(browser.new_context(viewport={"width": 1280, "height": 800}).new_page(), address)
                    t.act(lambda: t.page.goto(f"{address}/dry"), timeout=120)
                    until = time.monotonic() + seconds
                    while time.monotonic() < until:
                        name = rng.choice(("3 years", "All", "10 years", "1 year"))
                        start = time.perf_counter()
                        button = t.page.get_by_role("radio", name=name, exact=True)
                        if button.is_checked():
                            continue
                        t.act(button.click, timeout=60)
                        took.append(time.perf_counter() - start)
                        time.sleep(rng.uniform(1.0, 5.0))
                    wrong.extend(t.wrong)
                    browser.close()

            threads = [threading.Thread(target=person, args=(k,)) for k in range(people)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            after = memory_mb(pid)
    ranked = sorted(took)
    print(
        f"{people} people for {seconds:.0f} s: {len(took)} clicks, median {statistics.median(took):.2f} s, p95 "
        f"{ranked[int(0.95 * len(ranked))]:.2f} s, {len(wrong)} errors, memory {before:.0f} → {after:.0f} MB "
        f"({(after - before) / people:.1f} MB a session)"
    )


def report() -> None:
    """The whole command, from nothing to its end: two processes, and a browser that prints."""
    with tempfile.TemporaryDirectory() as place:
        out = Path(place) / "report.html"
        drop = ["--explain", "2022-05-01/2022-12-19"]
        command = [sys.executable, "-m", "dashboard.cli", "report", str(DEMO), "--out", str(out), *drop]
        start = time.perf_counter()
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        took = time.perf_counter() - start
        sizes = ", ".join(
            f"{p.suffix[1:].upper()} {p.stat().st_size / 1e6:.1f} MB" for p in sorted(out.parent.iterdir())
        )
        print(f"report with all sections: {took:.1f} s; {sizes}")


def main() -> None:
    from playwright.sync_api import sync_playwright

    people = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    seconds = float(sys.argv[2]) if len(sys.argv) > 2 else 180.0
    with tempfile.TemporaryDirectory() as place, sync_playwright() as playwright:
        folder = Path(place)
        shutil.copytree(DEMO, folder / "springs")
        browser = playwright.chromium.launch(executable_path=find_chromium(), args=list(ARGUMENTS))
        found = [_starts(browser, folder) for _ in range(_REPEATS)]
        plain, new, again = (statistics.median(each) for each in zip(*found, strict=True))
        print(
            f"start to the first complete page: bare {plain:.2f} s; a workspace never opened before {new:.2f} s = "
            f"{new / plain:.2f} times; one opened before and not changed {again:.2f} s = {again / plain:.2f} times"
        )
        one, _ = choices(browser, bare(folder, ONE_FIGURE), "/")
        took, most = choices(browser, ours(folder / "springs"), "/dry")
        ranked = sorted(took)
        p95, least = ranked[int(0.95 * len(ranked))], statistics.median(one)
        print(
            f"a changed period: median {statistics.median(took):.2f} s, p95 {p95:.2f} s, {most / 1e6:.2f} MB at most; "
            f"one bare line of 11,000 days {least:.2f} s: {statistics.median(took) / least:.1f} times"
        )
        browser.close()
    report()
    crowd(people, seconds)


if __name__ == "__main__":
    main()
