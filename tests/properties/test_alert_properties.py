"""Alerts on random records: against a walk day by day, and what must hold whatever the water."""

from __future__ import annotations

import numpy as np
import pandas as pd
from hypothesis import given
from hypothesis import strategies as st

from hydro.alert_choice import AlertNeeds
from hydro.alert_level import CLEAR_TIMES, judge_levels
from hydro.alert_outcomes import stop_record
from hydro.dry_spells import find_dry_spells

STOP, LEVELS = 10.0, [12.0, 15.0, 20.0]


def random_record(seed: int, gaps: bool) -> pd.Series:
    """Falls and rises around the levels, some days missing where asked."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(50, 700))
    walk = np.cumsum(rng.normal(0, rng.uniform(0.03, 0.3), n))
    q = pd.Series(15 * np.exp(walk - walk.mean()), index=pd.date_range("2001-01-01", periods=n))
    if gaps:
        for _ in range(int(rng.integers(0, 8))):
            at = int(rng.integers(n))
            q.iloc[at : at + int(rng.integers(1, 12))] = np.nan
    return q


def walked(q: list[float], spells: list[tuple[int, int]], level: float, needs: AlertNeeds) -> dict[str, int]:
    """The same counts by walking through a record without gaps, one day after the other."""
    episodes: list[list[int]] = []  # first day, and the day after which it was over
    standing, stops, dry = False, dict(spells), {d for a, b in spells for d in range(a, b + 1)}
    counts = dict.fromkeys(("hits", "late", "misses", "not_judged", "too_soon", "false_alerts", "open_alerts"), 0)
    warned: dict[int, int] = {}  # episode -> the first stop that it stood at
    last_dry = -1
    for day, value in enumerate(q):
        if value <= level and not standing:
            standing = True
            soon = episodes and day - episodes[-1][1] <= 14
            if soon and not dry & set(range(episodes[-1][0], day)):
                episodes[-1][1] = len(q)
            else:
                episodes.append([day, len(q)])
        elif value >= CLEAR_TIMES * level and standing:
            standing = False
            episodes[-1][1] = day
        if day in stops and day > 0:
            from_day = max(episodes[-1][0], last_dry + 1)
            if episodes[-1][0] > last_dry:
                warned.setdefault(len(episodes) - 1, day)
            if last_dry >= 0 and day - last_dry - 1 < needs.lead_days:
                counts["too_soon"] += 1
            elif from_day == 0 and last_dry < 0:
                # Standing since before the record: too early where even the record's part of it is, else open.
                counts["misses" if day > needs.horizon_days else "not_judged"] += 1
            elif not 1 <= day - from_day <= needs.horizon_days:
                counts["misses"] += 1
            else:
                counts["hits" if day - from_day >= needs.lead_days else "late"] += 1
        if day in dry:
            last_dry = day
    for k, (begin, over) in enumerate(episodes):
        if k in warned and begin > 0:
            counts["false_alerts"] += warned[k] - begin > needs.horizon_days
        elif k in warned:
            counts["false_alerts" if warned[k] > needs.horizon_days else "open_alerts"] += 1
        elif begin not in dry:
            told = over + 14 < len(q) or begin + needs.horizon_days < len(q)
            counts["false_alerts" if told and begin > 0 else "open_alerts"] += 1
    return counts


@given(seed=st.integers(0, 10**6), lead=st.integers(1, 30), more=st.integers(0, 90))
def test_stops_are_judged_as_a_walk_day_by_day_judges_them(seed: int, lead: int, more: int) -> None:
    q = random_record(seed, gaps=False)
    needs = AlertNeeds(lead_days=lead, horizon_days=lead + more)
    dry = find_dry_spells(q, STOP, join_days=5)
    at = q.index.get_indexer
    spells = list(zip(at(dry.joined["first"]).tolist(), at(dry.joined["last"]).tolist(), strict=True))
    t = judge_levels(stop_record(dry), q.to_numpy(), LEVELS, needs)
    for k, level in enumerate(LEVELS):
        counts = walked(q.tolist(), spells, level, needs)
        assert {name: int(t.table[name].iloc[k]) for name in counts} == counts


@given(seed=st.integers(0, 10**6), gaps=st.booleans())
def test_every_stop_and_every_alert_is_counted_once(seed: int, gaps: bool) -> None:
    q = random_record(seed, gaps)
    t = judge_levels(stop_record(find_dry_spells(q, STOP)), q.to_numpy(), LEVELS, AlertNeeds())
    counted = t.table[["hits", "late", "misses", "not_judged", "too_soon"]].sum(axis=1)
    assert (counted == t.n_events).all()
    for k in range(len(LEVELS)):
        kinds = t.alerts(k)["outcome"].value_counts()
        row = t.table.iloc[k]
        assert kinds.get("false", 0) == row["false_alerts"]
        assert kinds.get("not judged", 0) == row["open_alerts"]
        assert len(t.alerts(k)) == row["alerts"]
        total = t.by_year.total(k)
        assert all(row[name] == n for name, n in total.items() if name in row)
        stops = t.stops(k)
        known = stops[stops["outcome"].isin(["in time", "late"])]
        assert ((known["stop"] - known["alert"]).dt.days == known["lead_days"]).all()
        assert known.loc[known["outcome"] == "in time", "lead_days"].between(14, 90).all()
        assert known.loc[known["outcome"] == "late", "lead_days"].between(1, 13).all()


@given(seed=st.integers(0, 10**6), factor=st.floats(0.01, 100.0))
def test_the_unit_of_discharge_changes_nothing(seed: int, factor: float) -> None:
    q = random_record(seed, gaps=True)
    one = judge_levels(stop_record(find_dry_spells(q, STOP)), q.to_numpy(), LEVELS, AlertNeeds())
    # A level that a value meets exactly could fall on the other side of it by rounding; random values do not.
    scaled = q * factor
    two = judge_levels(
        stop_record(find_dry_spells(scaled, STOP * factor)),
        scaled.to_numpy(),
        [x * factor for x in LEVELS],
        AlertNeeds(),
    )
    pd.testing.assert_frame_equal(one.table.drop(columns="at"), two.table.drop(columns="at"))


@given(seed=st.integers(0, 10**6), cut=st.floats(0.3, 0.95))
def test_what_was_raised_and_judged_before_never_changes_with_what_comes_after(seed: int, cut: float) -> None:
    q = random_record(seed, gaps=True)
    part = q.iloc[: int(cut * len(q))]
    whole, early = (
        judge_levels(stop_record(find_dry_spells(x, STOP)), x.to_numpy(), LEVELS, AlertNeeds()) for x in (q, part)
    )
    for k in range(len(LEVELS)):
        raised = early.alerts(k)
        later = whole.alerts(k)
        sure = raised[raised["outcome"] != "not judged"]
        both = sure.merge(later, on="raised", how="left", suffixes=("", "_later"))
        assert (both["outcome"] == both["outcome_later"]).all()
        stops = early.stops(k).merge(whole.stops(k), on="stop", how="left", suffixes=("", "_later"))
        assert (stops["outcome"] == stops["outcome_later"]).all()
        assert (stops["lead_days"].fillna(-1) == stops["lead_days_later"].fillna(-1)).all()
