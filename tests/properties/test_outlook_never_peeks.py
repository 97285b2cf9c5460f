"""No forecast changes when days that it must not know are altered."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd
from hypothesis import given, settings
from hypothesis import strategies as st

from hydro.hindcast import hindcast
from hydro.outlook import outlook
from hydro.outlook_record import StateRule, make_record
from tests.hydro.test_outlook import invented

LEADS = np.array([1, 7, 30, 60])
RULES = [
    StateRule(stop_m3s=1.0, restart_m3s=1.0),
    StateRule(stop_m3s=1.0, restart_m3s=1.5),
    StateRule(stop_m3s=1.0, restart_m3s=1.5, stop_days=3, restart_days=2),
]


@cache
def river() -> pd.Series:
    q = invented(8)
    q.iloc[700:760] = np.nan
    return q


def altered(q: pd.Series, rows: slice, seed: int) -> pd.Series:
    """The same series with other water, or none at all, in `rows`."""
    rng = np.random.default_rng(seed)
    out = q.copy()
    n = len(out.iloc[rows])
    out.iloc[rows] = np.where(rng.random(n) < 0.1, np.nan, np.exp(rng.normal(0.3, 0.8, n)))
    return out


@settings(max_examples=25, deadline=None)
@given(row=st.integers(60, 2800), seed=st.integers(0, 10**6), rule=st.sampled_from(RULES))
def test_an_outlook_never_changes_with_what_comes_after_its_issue(row: int, seed: int, rule: StateRule) -> None:
    q = river()
    issued = q.index[row]
    one, two = (
        outlook(
            series,
            issued,
            stop_level_m3s=rule.stop_m3s,
            restart_level_m3s=rule.restart_m3s,
            stop_days=rule.stop_days,
            restart_days=rule.restart_days,
            horizon=60,
        )
        for series in (q, altered(q, slice(row + 1, None), seed))
    )
    pd.testing.assert_frame_equal(one.days, two.days)
    assert (one.state_now, one.reasons, one.n_members) == (two.state_now, two.reasons, two.n_members)
    if one.stops_by is not None and two.stops_by is not None:
        pd.testing.assert_frame_equal(one.stops_by, two.stops_by)


@settings(max_examples=12, deadline=None)
@given(year=st.integers(1, 6), day=st.integers(20, 300), seed=st.integers(0, 10**6))
def test_a_hindcast_never_changes_with_the_rest_of_the_year_that_it_is_judged_in(
    year: int, day: int, seed: int
) -> None:
    q = river()
    this_year = np.flatnonzero(q.index.year == 2000 + year)
    row, last = int(this_year[day]), int(this_year[-1])
    casts = [
        hindcast(make_record(series, RULES[0]), LEADS, every=9)
        for series in (q, altered(q, slice(row + 1, last + 1), seed))
    ]
    picked = [(cast.year == year) & (cast.row <= row) for cast in casts]
    assert casts[0].row[picked[0]].tolist() == casts[1].row[picked[1]].tolist()
    for name in ("forecast", "analogues", "regression", "conditional", "any_state", "persistence"):
        one, two = (getattr(cast, name)[rows] for cast, rows in zip(casts, picked, strict=True))
        np.testing.assert_allclose(one, two, atol=1e-7, err_msg=name)
