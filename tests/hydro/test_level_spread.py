"""The quick standard deviation of a level agrees with the interval that is reported."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.level_spread import level_log_sd
from hydro.running_evidence import log_sd_of_interval
from hydro.threshold import estimate_level


def sightings(n=300, level=1.0, slope=25.0, seed=3):
    rng = np.random.default_rng(seed)
    q = np.exp(rng.normal(0.1, 0.35, n))
    runs = rng.random(n) < 1 / (1 + np.exp(-slope * np.log(q / level)))
    date = pd.Timestamp("2010-01-01") + pd.to_timedelta(np.sort(rng.integers(0, 3650, n)), unit="D")
    return pd.DataFrame(
        {
            "date": date,
            "surface": np.where(runs, "running", "dry"),
            "discharge_m3s": q,
            "row": np.arange(n),
            "source": "visit",
        }
    )


@pytest.mark.parametrize("seed", range(4))
def test_it_is_close_to_what_the_profile_interval_implies(seed):
    table = sightings(seed=seed)
    level = estimate_level(table, draws=0).stop_level
    implied = log_sd_of_interval(level.value_m3s, level.low_m3s, level.high_m3s, level.level)
    assert level_log_sd(table) == pytest.approx(implied, rel=0.15)


def test_without_both_states_there_is_none():
    table = sightings()
    assert level_log_sd(table.assign(surface="running")) is None
    assert level_log_sd(table.iloc[:0]) is None
    assert level_log_sd(table.assign(discharge_m3s=1.0)) is None
