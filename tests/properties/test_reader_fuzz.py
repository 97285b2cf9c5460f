"""Broken gauge files: no reader raises, and no value comes out that was not in the file.

The full run, 20,000 files, is tests/benchmarks/bench_fuzz_readers.py.
"""

from __future__ import annotations

import random
import tempfile
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from hydro.sources.gauge_file import ReadChoices
from hydro.sources.recognise import read_gauge_file
from tests.hydro.gauge_layouts import LAYOUTS
from tests.hydro.mutations import invented, mutate


@given(name=st.sampled_from(sorted(LAYOUTS)), seed=st.integers(min_value=0, max_value=2**32))
def test_a_broken_file_never_raises_and_never_yields_a_value_that_is_not_in_it(name: str, seed: int) -> None:
    data = mutate(LAYOUTS[name].data, random.Random(seed))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "f"
        path.write_bytes(data)
        file = read_gauge_file(path, ReadChoices(time_zone="UTC-06:00"))
    assert file.problems or file.series
    assert invented(file, data) == []
