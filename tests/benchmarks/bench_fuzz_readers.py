"""20,000 gauge files broken at random: no crash, no hang, no value that was not in the file.

Run: python tests/benchmarks/bench_fuzz_readers.py [files] [seed]
Every layout in turn. Prints how many were read, refused or partly read, the slowest file, and every failure with the
seed that makes it again.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
import traceback
from collections import Counter
from pathlib import Path

from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file
from tests.hydro.gauge_layouts import LAYOUTS
from tests.hydro.mutations import invented, mutate

FILES, SEED, SLOWEST_ALLOWED = 20_000, 20_311, 2.0


def main() -> None:
    files = int(sys.argv[1]) if len(sys.argv) > 1 else FILES
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else SEED
    names = sorted(LAYOUTS)
    outcome: Counter[str] = Counter()
    slowest, slowest_name, failures = 0.0, "", 0
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "f"
        for i in range(files):
            name = names[i % len(names)]
            data = mutate(LAYOUTS[name].data, random.Random(f"{seed} {i}"))
            path.write_bytes(data)
            start = time.process_time()
            try:
                file = read_gauge_file(path, ReadChoices(time_zone="UTC-06:00"))
                wrong = invented(file, data)
            except Exception:  # noqa: BLE001 - whatever it is, it is what this run looks for
                failures += 1
                print(f"CRASH {name} {i}\n{traceback.format_exc(limit=-4)}")
                continue
            took = time.process_time() - start
            if took > slowest:
                slowest, slowest_name = took, f"{name} {i}"
            if wrong:
                failures += 1
                print(f"INVENTED {name} {i}: {wrong[:3]}")
            if i % 1000 == 999:
                print(f"{i + 1} files, {failures} failures, slowest {slowest:.2f} s", flush=True)
            outcome["read" if not file.problems else "partly read" if file.series else "refused"] += 1
    print(f"{files} files: {dict(outcome)}, {failures} failures")
    print(f"slowest {slowest:.2f} s of processor time ({slowest_name}), at most {SLOWEST_ALLOWED:.0f}")
    sys.exit(1 if failures or slowest > SLOWEST_ALLOWED else 0)


if __name__ == "__main__":
    main()
