"""Passes of the watch over many outlets, against the bare minimum of looking at their files; and killed passes.

Run from the project's folder: python tests/benchmarks/bench_watch.py [OUTLETS] [KILLS]
"""

from __future__ import annotations

import datetime
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
from werkzeug.serving import make_server
from werkzeug.wrappers import Request

from dashboard.watch.one_pass import run_pass
from tests.dashboard.watch.conftest import MailServer, free_port
from tests.dashboard.watch.kill_trials import Hook, kills, ready, trial
from tests.dashboard.watch.passes_that_die import Dying

YEARS = 20
FIRST = pd.Timestamp("2005-01-01")
OUTLET = """
[gauges.g{i}]
file = "discharge/g{i}.csv"
[outlets.o{i}]
flow = "g{i}"
stops_below = "1.0 m3/s"
restarts_above = "1.1 m3/s"
[outlets.o{i}.alerts]
level = "1.4 m3/s"
chance = 0.5
chance_days = 30
stopped = true
running_again = true
no_reading_hours = 96
revised = true
visit_due_days = 14
"""


def many(folder: Path, n: int) -> datetime.datetime:
    """A workspace of `n` outlets, each with a gauge of its own; gives the instant of the pass after them."""
    days = pd.date_range(FIRST, periods=round(365.25 * YEARS), freq="D")
    (folder / "discharge").mkdir(parents=True)
    rng = np.random.default_rng(5)
    season = 0.7 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 60) / 365.25)
    for i in range(n):
        noise = rng.normal(0.0, 0.05, len(days))
        log, level = np.empty(len(days)), 0.0
        for t, e in enumerate(noise):
            level = 0.98 * level + e
            log[t] = level
        q = np.exp(0.6 + season + log)
        lines = [f"{d},{v:.3f}" for d, v in zip(days.strftime("%Y-%m-%d"), q, strict=True)]
        (folder / "discharge" / f"g{i}.csv").write_text("\n".join(["date,discharge (m3/s)", *lines, ""]), "utf-8")
    head = 'title = "Many"\ntime_zone = "UTC"\n' + '[watch.channels.feed]\nfeed_file = "alerts.xml"\n'
    (folder / "workspace.toml").write_text(head + "".join(OUTLET.format(i=i) for i in range(n)), encoding="utf-8")
    return (days[-1] + pd.Timedelta(hours=36)).to_pydatetime().replace(tzinfo=datetime.UTC)


def passes(n: int) -> None:
    """Times of a first pass, of one where nothing changed, and of one where one gauge did."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "springs"
        now = many(folder, n)

        def timed(what: str) -> float:
            start = time.perf_counter()
            result = run_pass(folder, environment={}, now=now)
            took = time.perf_counter() - start
            told = f"{len(result.raised)} raised, {len(result.standing)} standing"
            print(f"{what:<58}{took:9.3f} s   {told}")
            return took

        timed(f"first pass over {n} outlets, {YEARS} years each")
        warm = min(timed("pass where nothing changed") for _ in range(3))
        start = time.perf_counter()
        for path in (folder / "discharge").iterdir():
            path.stat()
        bare = time.perf_counter() - start
        print(f"{'  bare: looking at each file once':<58}{bare:9.3f} s")
        print(f"  warm pass / bare look: {warm / bare:.0f} times; wanted of the warm pass: at most 3 s for 200 outlets")
        path = folder / "discharge" / "g0.csv"
        path.write_text(path.read_text(encoding="utf-8") + f"{now.date() - datetime.timedelta(1)},0.5\n", "utf-8")
        timed("pass where one gauge has a new day")


def killed(n: int) -> None:
    """What holds after passes that were killed with SIGKILL."""
    from aiosmtpd.controller import Controller

    mail, hook = MailServer(free_port()), Hook()
    controller = Controller(mail, hostname="127.0.0.1", port=mail.port)
    controller.start()
    web = make_server("127.0.0.1", 0, Request.application(hook), threaded=True)
    threading.Thread(target=web.serve_forever, daemon=True).start()
    address = f"http://127.0.0.1:{web.server_port}/"
    with tempfile.TemporaryDirectory() as place, Dying() as dying:
        folder = Path(place)
        springs = ready(folder / "springs")
        trial(springs, folder / "first", dying, mail, hook, address, {})
        (folder / "whole").mkdir()
        whole = ready(folder / "whole" / "springs")
        one = dying.run(whole.folder, {"MAIL": mail.address, "HOOK": address}, whole.now)
        counts: Counter[str] = Counter()
        for i, kill in enumerate(kills(n, one["steps"], one["seconds"], seed=11)):
            t = trial(springs, folder / f"t{i}", dying, mail, hook, address, kill)
            counts["killed"] += t.killed
            counts["alerts × channels"] += 3 * t.raised
            counts["never sent"] += t.never_sent
            counts["marked sent, not sent"] += t.marked_but_not_sent
            counts["told again by a later pass"] += t.told_again
            counts["passes with one message twice"] += t.twice == 1
            counts["passes with more than one twice"] += t.twice > 1
            counts["good"] += t.good
        print(f"{n} passes of {one['steps']} steps and {one['seconds']:.2f} s:")
        for name, value in counts.items():
            print(f"  {name:<40}{value}")
    web.shutdown()
    controller.stop()


if __name__ == "__main__":
    passes(int(sys.argv[1]) if len(sys.argv) > 1 else 200)
    killed(int(sys.argv[2]) if len(sys.argv) > 2 else 200)
