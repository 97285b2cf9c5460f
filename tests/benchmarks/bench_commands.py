"""Whole commands on the demo against `python -c "import pandas"`, in one run, interleaved.

Run: python tests/benchmarks/bench_commands.py
"""

from __future__ import annotations

import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

DEMO = Path(str(files("demo_data") / "quillmere"))
REPEATS = 5


def seconds(command: list[str]) -> float:
    start = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - start


def main() -> None:
    cli = [sys.executable, "-m", "dashboard.cli"]
    commands = {
        "import pandas": [sys.executable, "-c", "import pandas"],
        "--help": [*cli, "--help"],
        **{name: [*cli, name, str(DEMO)] for name in ("status", "check", "spells", "returns", "counts")},
    }
    best = dict.fromkeys(commands, float("inf"))
    for _ in range(REPEATS):
        for name, command in commands.items():
            best[name] = min(best[name], seconds(command))
    for name, value in best.items():
        print(f"{name:<14} {value:6.2f} s  {value / best['import pandas']:5.2f} times importing pandas")


if __name__ == "__main__":
    main()
