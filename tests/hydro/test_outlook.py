"""The outlook of one outlet: what it must say, whatever the water."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.analogues import find_donors, run_rule
from hydro.combine import combine
from hydro.discharge import Discharge, Origin, make_frame
from hydro.outlook import Outlook, date_reached, outlook
from hydro.outlook_record import StateRule, make_record
from hydro.state_runs import RUNNING, state_runs

LEVEL = 1.0


def invented(years: int, seed: int = 1, start: str = "2000-01-01") -> pd.Series:
    """Recessions between winter storms [m³/s]: below `LEVEL` in most late summers."""
    rng = np.random.default_rng(seed)
    days = pd.date_range(start, periods=int(365.25 * years))
    wet = np.cos(2 * np.pi * days.day_of_year / 365.25)
    storm = (rng.random(len(days)) < 0.04 * (1.05 + wet)) * rng.exponential(0.9, len(days))
    log_q = np.empty(len(days))
    level = 1.0
    for k, rain in enumerate(storm):
        level = level + rain - 0.012 * (level + 1.0)
        log_q[k] = level
    return pd.Series(np.exp(log_q) + 0.2, index=days, name="discharge_m3s")


@pytest.fixture(scope="module")
def river() -> pd.Series:
    return invented(15)


def chance(answer: Outlook, lead: int) -> float:
    """The chance of running, which must be known."""
    found = answer.probability_running(lead)
    assert found is not None
    return found


def checked(answer: Outlook, horizon: int) -> Outlook:
    """The rules that hold for every outlook."""
    days = answer.days
    assert days["lead"].tolist() == list(range(horizon + 1))
    assert (days["date"] == answer.issued + pd.to_timedelta(days["lead"], unit="D")).all()
    p = days["probability_running"]
    assert p.between(0, 1).all()
    assert (days["discharge_low_m3s"] <= days["discharge_median_m3s"]).all()
    assert (days["discharge_median_m3s"] <= days["discharge_high_m3s"]).all()
    assert (days["discharge_low_m3s"] >= 0).all()
    for table, on_day in ((answer.stops_by, 1 - p), (answer.restarts_by, p)):
        if table is not None:
            by = table["probability"]
            assert (by.diff().dropna() >= 0).all() and by.between(0, 1).all()
            # By a day at least once: never less likely than on that day (lead 0 may be the reading's own day).
            assert (by.iloc[1:] >= on_day.iloc[1:] - 1e-12).all()
    return answer


def test_a_running_outlet_may_stop_and_a_dry_one_may_restart(river: pd.Series) -> None:
    running = checked(outlook(river, pd.Timestamp("2012-03-01"), stop_level_m3s=LEVEL), 180)
    assert running.state_now == "running" and running.restarts_by is None and running.stops_by is not None
    assert chance(running, 0) == 1 and running.reasons == ()
    dry_day = river.loc["2012"].index[river.loc["2012"] < LEVEL][5]
    dry = checked(outlook(river, dry_day, stop_level_m3s=LEVEL), 180)
    assert dry.state_now == "dry" and dry.stops_by is None and dry.restarts_by is not None
    assert chance(dry, 0) == 0
    assert chance(dry, 3) < 0.5 < dry.restarts_by["probability"].iloc[-1]
    assert running.probability_running(181) is None


def test_a_date_is_given_where_the_chance_is_reached(river: pd.Series) -> None:
    answer = outlook(river, pd.Timestamp("2012-05-01"), stop_level_m3s=LEVEL)
    assert answer.stops_by is not None
    half = date_reached(answer.stops_by, 0.5)
    chance = answer.stops_by.set_index("date")["probability"]
    assert half is not None and chance[half] >= 0.5 > chance[half - pd.Timedelta(days=1)]
    assert date_reached(answer.stops_by, 1.0) is None and date_reached(None, 0.5) is None


def test_nothing_dated_after_the_day_of_issue_is_used(river: pd.Series) -> None:
    issued = pd.Timestamp("2010-06-01")
    later = river.copy()
    later.loc[later.index > issued] = 0.01
    for q in (later, river.loc[:issued]):
        pd.testing.assert_frame_equal(
            outlook(q, issued, stop_level_m3s=LEVEL).days, outlook(river, issued, stop_level_m3s=LEVEL).days
        )


def test_an_old_reading_makes_the_outlook_wider_by_itself(river: pd.Series) -> None:
    last = pd.Timestamp("2012-05-20")
    fresh = outlook(river.loc[:last], last, stop_level_m3s=LEVEL)
    stale = checked(outlook(river.loc[:last], last + pd.Timedelta(days=20), stop_level_m3s=LEVEL), 180)
    assert (fresh.age_days, stale.age_days) == (0, 20)
    assert "stale reading" in stale.reasons and "stale reading" not in fresh.reasons
    assert chance(fresh, 0) == 1 and 0.3 < chance(stale, 0) < 1
    width = [a.days["discharge_high_m3s"][1] - a.days["discharge_low_m3s"][1] for a in (fresh, stale)]
    assert width[1] > 2 * width[0]
    # Twenty days on, the same day is meant.
    assert chance(stale, 0) == pytest.approx(chance(fresh, 20), abs=0.02)


def test_missing_days_at_the_end_count_as_an_old_reading(river: pd.Series) -> None:
    q = river.copy()
    issued = pd.Timestamp("2012-06-10")
    q.loc["2012-06-01":] = np.nan
    answer = outlook(q, issued, stop_level_m3s=LEVEL)
    assert (answer.reading_day, answer.age_days) == (pd.Timestamp("2012-05-31"), 10)


def test_three_years_of_record_give_a_wide_outlook_that_says_so() -> None:
    q = invented(3)
    answer = checked(outlook(q, q.index[-1], stop_level_m3s=LEVEL), 180)
    assert "short record" in answer.reasons
    assert answer.days["probability_running"].iloc[30:].between(0.02, 0.98).all()
    assert answer.n_years == pytest.approx(3, abs=0.01)


def test_a_record_of_months_still_answers_or_says_why_not() -> None:
    q = invented(1).iloc[:200]
    answer = outlook(q, q.index[-1], stop_level_m3s=LEVEL, horizon=60)
    assert "short record" in answer.reasons and len(answer.days) == 61
    nothing = outlook(q * np.nan, q.index[-1], stop_level_m3s=LEVEL)
    assert nothing.days.empty and nothing.why_none == "no reading" and nothing.probability_running(7) is None
    old = outlook(q, q.index[-1] + pd.Timedelta(days=900), stop_level_m3s=LEVEL)
    assert old.days.empty and old.why_none == "the last reading is too old"


def test_a_record_with_winters_missing_still_answers(river: pd.Series) -> None:
    q = river.copy()
    q[np.isin(q.index.month, (12, 1))] = np.nan
    answer = outlook(q, pd.Timestamp("2012-05-01"), stop_level_m3s=LEVEL)
    whole = outlook(river, pd.Timestamp("2012-05-01"), stop_level_m3s=LEVEL)
    assert chance(answer, 30) == pytest.approx(chance(whole, 30), abs=0.15)
    assert chance(answer, 100) == pytest.approx(chance(whole, 100), abs=0.2)


def test_days_without_flow_need_no_logarithm() -> None:
    q = (invented(10) - 1.0).clip(lower=0.0).round(2)
    assert (q == 0).sum() > 100
    dry_day = q.index[q == 0][-10]
    answer = checked(outlook(q, dry_day, stop_level_m3s=0.05), 180)
    assert answer.state_now == "dry" and np.isfinite(answer.days["discharge_high_m3s"]).all()
    assert answer.days["discharge_median_m3s"].iloc[0] == 0


def test_summed_gauges_serve_like_one(river: pd.Series) -> None:
    origin = Origin(file="made up", digest="", format="none")
    gauges = {}
    for name, share in (("upper", 0.3), ("lower", 0.7)):
        values = share * river.loc[:"2012-06-01"]
        if name == "upper":
            values = values.drop(values.index[2000:2003])
        frame = make_frame(pd.DatetimeIndex(values.index), values.to_numpy())
        gauges[name] = Discharge(frame=frame, step="daily", origins=(origin,))
    flow = combine("system", "Both", gauges)
    answer = checked(outlook(flow.values, pd.Timestamp("2012-06-03"), stop_level_m3s=LEVEL), 180)
    alone = outlook(river.loc[:"2012-06-01"], pd.Timestamp("2012-06-03"), stop_level_m3s=LEVEL)
    assert answer.age_days == alone.age_days == 2
    assert chance(answer, 30) == pytest.approx(chance(alone, 30), abs=0.03)


def test_a_level_that_was_never_crossed_is_said_to_be_so(river: pd.Series) -> None:
    answer = checked(outlook(river, pd.Timestamp("2012-05-01"), stop_level_m3s=0.01), 180)
    assert "never dry in the record" in answer.reasons
    assert (answer.days["probability_running"] > 0.95).all()


def test_someone_who_has_seen_the_outlet_overrules_the_record(river: pd.Series) -> None:
    issued = pd.Timestamp("2012-05-01")
    by_rule = outlook(river, issued, stop_level_m3s=LEVEL, restart_level_m3s=50.0)
    told = outlook(river, issued, stop_level_m3s=LEVEL, restart_level_m3s=50.0, state_now="dry")
    assert by_rule.state_now != "dry" and told.state_now == "dry" and chance(told, 0) == 0
    with pytest.raises(ValueError, match="dry"):
        outlook(river, issued, stop_level_m3s=LEVEL, state_now="wet")


def test_a_state_left_open_by_a_gap_is_weighed_and_named(river: pd.Series) -> None:
    q = river.copy()
    middle = q.index[(q > 1.3) & (q < 1.6) & (q.index.year == 2012)][0]
    q.loc[middle - pd.Timedelta(days=200) : middle - pd.Timedelta(days=1)] = np.nan
    answer = outlook(q, middle, stop_level_m3s=1.2, restart_level_m3s=1.8)
    assert answer.state_now == "unknown" and "state unknown at the last reading" in answer.reasons
    assert 0 < chance(answer, 0) < 1
    assert answer.stops_by is None and answer.restarts_by is None


def test_a_higher_restart_level_keeps_an_outlet_dry_for_longer(river: pd.Series) -> None:
    dry_day = river.loc["2012"].index[river.loc["2012"] < LEVEL][5]
    low = outlook(river, dry_day, stop_level_m3s=LEVEL)
    high = checked(outlook(river, dry_day, stop_level_m3s=LEVEL, restart_level_m3s=2.0), 180)
    assert high.restarts_by is not None and low.restarts_by is not None
    assert (high.restarts_by["probability"][[14, 30, 60]] <= low.restarts_by["probability"][[14, 30, 60]]).all()


def test_an_uncertain_level_or_reading_spreads_the_chances(river: pd.Series) -> None:
    issued = river.loc["2012-04":].index[(river.loc["2012-04":] < 1.35)][0]
    sure = outlook(river, issued, stop_level_m3s=LEVEL, horizon=30)
    level = checked(outlook(river, issued, stop_level_m3s=LEVEL, horizon=30, level_log_sd=0.3), 30)
    reading = checked(outlook(river, issued, stop_level_m3s=LEVEL, horizon=30, reading_log_sd=0.3), 30)
    assert chance(sure, 1) > 0.95
    for vague in (level, reading):
        assert 0.5 < chance(vague, 1) < chance(sure, 1)
    again = outlook(river, issued, stop_level_m3s=LEVEL, horizon=30, level_log_sd=0.3)
    pd.testing.assert_frame_equal(level.days, again.days)


def test_arguments_out_of_range_are_refused(river: pd.Series) -> None:
    day = pd.Timestamp("2012-05-01")
    with pytest.raises(ValueError, match="above 0"):
        outlook(river, day, stop_level_m3s=0.0)
    with pytest.raises(ValueError, match="restart level"):
        outlook(river, day, stop_level_m3s=1.0, restart_level_m3s=0.5)
    with pytest.raises(ValueError, match="horizon"):
        outlook(river, day, stop_level_m3s=1.0, horizon=0)
    with pytest.raises(ValueError, match="one row a day"):
        outlook(river.iloc[::2], day, stop_level_m3s=1.0)


# ---- the rule along a path is the rule of the record ----


@pytest.mark.parametrize(("restart", "stop_days", "restart_days"), [(1.0, 1, 1), (1.4, 1, 1), (1.4, 3, 2), (1.0, 2, 5)])
def test_states_along_a_path_are_those_that_the_record_would_have(
    restart: float, stop_days: int, restart_days: int
) -> None:
    rng = np.random.default_rng(9)
    q = np.exp(0.35 * rng.standard_normal((300, 40)).cumsum(axis=0) * 0.5)
    q[rng.random(q.shape) < 0.03] = np.nan
    q[0] = 9.0  # running on the day before the path starts
    rule = StateRule(stop_m3s=1.0, restart_m3s=restart, stop_days=stop_days, restart_days=restart_days)
    none, some = np.zeros(40, dtype=np.int64), np.full(40, 99)
    found = run_rule(rule, rule.z(q[1:]), np.full(40, RUNNING, dtype=np.int8), none, some)
    for path in range(40):
        before = np.concatenate((np.full(10, 9.0), q[1:, path]))
        expected = state_runs(before, 1.0, restart, stop_days, restart_days).by_row()[10:]
        assert found[:, path].tolist() == expected.tolist()


@pytest.mark.parametrize(("restart", "stop_days", "restart_days"), [(1.0, 1, 1), (1.5, 1, 1), (1.5, 3, 4)])
def test_the_state_as_it_was_known_is_that_of_the_record_up_to_that_day(
    river: pd.Series, restart: float, stop_days: int, restart_days: int
) -> None:
    q = river.iloc[:900].copy()
    q.iloc[100:110] = np.nan
    rule = StateRule(stop_m3s=1.0, restart_m3s=restart, stop_days=stop_days, restart_days=restart_days)
    known = make_record(q, rule).known_state
    for day in range(0, 900, 7):
        so_far = state_runs(q.to_numpy()[: day + 1], 1.0, restart, stop_days, restart_days)
        assert known[day] == so_far.state[-1]


def test_donors_are_the_nearest_days_outside_what_is_left_out(river: pd.Series) -> None:
    record = make_record(river, StateRule(stop_m3s=LEVEL, restart_m3s=LEVEL))
    start = np.array([3000])
    first, last = np.array([2900]), np.array([3100])
    row = find_donors(record, start, first, last, members=50, horizon=90).row[0]
    assert len(set(row.tolist())) == 50 and (row >= 0).all()
    assert ((row + 90 < 2900) | (row > 3100)).all() and (row + 90 < len(record)).all()
    assert (record.known_state[row] == record.known_state[3000]).all()
    apart = np.abs(record.day_of_year[row] - record.day_of_year[3000])
    assert (np.minimum(apart, 366 - apart) <= 62).all()
    assert np.abs(record.z[row] - record.z[3000]).max() < np.nanstd(record.z)
