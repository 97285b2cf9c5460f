"""Processes that enter, correct and take out visits, killed at any moment: what they told is so, and nothing more."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from dashboard.records.kept import SAVED, UNDONE
from dashboard.records.write_down import settle
from tests.dashboard.test_records import at, notes, place, text

#: Enters visits, corrects each note once or twice and takes every third out again; tells each thing that is done.
CHANGER = """
import sys
from pathlib import Path
from dashboard.records.write_down import correct, undo, write_down
from tests.dashboard.test_records import at, visit
folder, name = at(Path(sys.argv[1])), sys.argv[2]
for n in range(40):
    entry = visit(note=f"by {name} no {n} first")
    write_down(folder, entry)
    print("entered", entry.id, n, "first", flush=True)
    for word in ("second", "third")[: 1 + n % 2]:
        correct(folder, entry.id, dict(entry.values) | {"note": f"by {name} no {n} {word}"}, "Joss")
        print("corrected", entry.id, n, word, flush=True)
    if n % 3 == 2:
        undo(folder, entry.id, "Joss")
        print("taken-out", entry.id, n, "none", flush=True)
"""
_WORDS = ("first", "second", "third", "none")


def killed_changers(folder: Path, *, kills: int, seed: int) -> tuple[int, int]:
    """Kill a process `kills` times; entries made and rows there in the end. Asserts that nothing told was lost."""
    place(folder)
    rng = random.Random(seed)
    told: dict[str, tuple[str, str]] = {}
    for k in range(kills):
        running = subprocess.Popen(
            [sys.executable, "-c", CHANGER, str(folder), f"w{k}"], stdout=subprocess.PIPE, text=True,
            cwd=Path(__file__).parents[2],
        )  # fmt: skip
        assert running.stdout is not None
        lines = [running.stdout.readline() for _ in range(rng.randrange(1, 9))]
        time.sleep(rng.random() * 0.1)
        running.send_signal(signal.SIGKILL)
        lines += list(running.stdout)
        running.wait()
        for line in lines:
            if line.endswith("\n"):
                _, id, n, word = line.split()
                told[id] = (f"by w{k} no {n}", word)
        assert len(notes(folder)) >= 2  # always a whole table
    kept = settle(at(folder))
    found = notes(folder)
    for id, (start, word) in told.items():
        rows = [note for note in found if note.startswith(start + " ")]
        assert len(rows) <= 1, f"{start} is there {len(rows)} times"
        # What was asked after the last thing told may have been done too, and nothing that came before it.
        reached = "none" if not rows else rows[0].removeprefix(start + " ")
        assert _WORDS.index(reached) >= _WORDS.index(word), f"{start}: told {word}, found {reached}"
        assert kept[id].state == (SAVED if rows else UNDONE)
    assert all(entry.state in (SAVED, UNDONE) for entry in kept.values())
    in_file = sorted(note for note in found if note.startswith("by "))
    assert in_file == sorted(entry.entry.values["note"] for entry in kept.values() if entry.state == SAVED)
    assert text(folder).endswith("\r\n")
    return len(kept), len(in_file)


def test_corrections_and_removals_cut_short_are_done_once_or_not_at_all(tmp_path: Path) -> None:
    """SIGKILL at random moments; the full number of kills is in the benchmarks."""
    made, there = killed_changers(tmp_path, kills=3, seed=5)
    assert made >= there > 0
