"""Alert levels: a record worked by hand, scores in print, what missing days leave open, and choosing."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.alert_choice import AlertNeeds, Sums, choose
from hydro.alert_counts import alert_rates
from hydro.alert_level import TOO_FEW_EVENTS, AlertTable, judge_chances, judge_levels
from hydro.alert_outcomes import stop_record
from hydro.dry_spells import find_dry_spells
from hydro.scores import Contingency

STOP = 10.0


def series(*parts: tuple[float, int]) -> pd.Series:
    """Values held for so many days, one after the other, from 1 January 2001."""
    values = np.concatenate([np.full(days, value, dtype=np.float64) for value, days in parts])
    return pd.Series(values, index=pd.date_range("2001-01-01", periods=len(values)))


def judged(q: pd.Series, levels: list[float], **needs: float) -> AlertTable:
    record = stop_record(find_dry_spells(q, STOP))
    return judge_levels(record, q.to_numpy(), levels, AlertNeeds(**needs))  # type: ignore[arg-type]


# Six dry spells (5.0). The level 20 is crossed 20 days before the first, 7 before the second, on the day of the third,
# 120 before the fourth, 23 before the fifth (over for 6 days in between: one episode) and 16 before the sixth; 15 days
# of 18 before the third come to nothing, and the record ends below the level. The level 25 is crossed 10 days earlier
# before the first and second, and once more for nothing. 12 is never crossed before the water is gone.
BY_HAND = series(
    (30, 40), (24, 10), (18, 20), (5, 30),
    (30, 100), (24, 10), (18, 7), (5, 10),
    (30, 100), (18, 15), (30, 60), (24, 5), (30, 30), (5, 20),
    (30, 100), (19, 120), (5, 15),
    (30, 50), (18, 5), (30, 6), (18, 12), (5, 10),
    (30, 80), (18, 16), (5, 10),
    (30, 50), (18, 8),
)  # fmt: skip
#: Days from which no stop came within 90: 27 before the second spell, 120 before the third, 130 before the fourth, 6
#: before the sixth, in pieces of 90 days: 3.14, so 3 quiet periods.
QUIET_DAYS = 27 + 120 + 130 + 6
YEARS = 939 / 365.25


def test_every_cell_of_the_table_of_a_record_worked_by_hand() -> None:
    assert len(BY_HAND) == 939
    t = judged(BY_HAND, [12, 20, 25])
    assert t.n_events == 6
    assert t.quiet_periods == pytest.approx(QUIET_DAYS / 90)
    none = np.nan
    expected = {
        "at": [12, 20, 25],
        "hits": [0, 3, 4],
        "late": [0, 1, 0],
        "misses": [6, 2, 2],
        "not_judged": [0, 0, 0],
        "too_soon": [0, 0, 0],
        "too_early": [0, 1, 1],
        "carried": [0, 0, 0],
        "false_alerts": [0, 2, 3],
        "open_alerts": [0, 1, 1],
        "alerts": [0, 7, 8],
        "hit_rate": [0, 3 / 6, 4 / 6],
        "false_alarm_ratio": [none, 2 / 6, 3 / 7],
        "false_alarm_rate": [0, 2 / 3, 3 / 3],
        "value_at_cost": [none, none, none],
        "alerts_per_year": [0, 7 / YEARS, 8 / YEARS],
        "false_per_year": [0, 2 / YEARS, 3 / YEARS],
        # Leads 7, 16, 20, 23 and 16, 17, 23, 30 days; quantiles by linear interpolation.
        "lead_p10": [none, 9.7, 16.3],
        "lead_median": [none, 18, 20],
        "lead_p90": [none, 22.1, 27.9],
    }
    assert set(t.table) == set(expected)
    for name, values in expected.items():
        assert t.table[name].tolist() == pytest.approx(values, nan_ok=True), name


def test_the_rows_behind_the_table_of_the_record_worked_by_hand() -> None:
    t = judged(BY_HAND, [20])
    stops = t.stops(0)
    assert stops["outcome"].tolist() == ["in time", "late", "missed", "missed", "in time", "in time"]
    assert stops["lead_days"].tolist() == [20, 7, 0, 120, 23, 16]
    assert (stops["stop"] - stops["alert"]).dt.days.tolist() == [20, 7, 0, 120, 23, 16]
    alerts = t.alerts(0)
    assert alerts["outcome"].tolist() == [
        "followed by a stop", "followed by a stop", "false", "false", "followed by a stop", "followed by a stop",
        "not judged",
    ]  # fmt: skip
    assert alerts["over"].isna().tolist() == [False] * 6 + [True]
    assert (alerts["over"] - alerts["raised"]).dt.days.tolist()[2] == 15


def test_a_needed_lead_of_a_month_makes_the_same_alerts_late() -> None:
    t = judged(BY_HAND, [25], lead_days=30)
    assert t.table[["hits", "late", "misses", "false_alerts"]].iloc[0].tolist() == [1, 3, 2, 3]
    t = judged(BY_HAND, [25], lead_days=30, horizon_days=120)
    assert t.table[["hits", "late", "misses", "false_alerts"]].iloc[0].tolist() == [2, 3, 1, 2]


# ---- scores in print --------------------------------------------------------------------------------------------

# Finley 1884, tornado forecasts, as tabulated by the WWRP/WGNE joint working group on forecast verification: 28 hits,
# 72 false alarms, 23 misses, 2680 correct negatives; probability of detection 0.55 and false-alarm ratio 0.72 in print.
FINLEY = {"hits": 28, "late": 0, "misses": 23, "false_alerts": 72, "followed": 28, "open_alerts": 0}


def test_finleys_table_through_the_same_code() -> None:
    found = alert_rates(FINLEY, 10.0, 2680 + 72, AlertNeeds())
    assert found["hit_rate"] == pytest.approx(0.5490196, abs=5e-8)
    assert found["false_alarm_ratio"] == pytest.approx(0.72)
    assert found["false_alarm_rate"] == pytest.approx(0.0261628, abs=5e-8)
    assert (found["alerts_per_year"], found["false_per_year"]) == (10.0, 7.2)


def test_of_less_than_a_year_of_record_no_number_a_year_is_given() -> None:
    shorter, longer = (alert_rates(FINLEY, years, 2680 + 72, AlertNeeds()) for years in (364 / 365.25, 1.0))
    assert np.isnan([shorter["alerts_per_year"], shorter["false_per_year"]]).all()
    assert shorter["alerts"] == longer["alerts"] == longer["alerts_per_year"] == 100


@pytest.mark.parametrize(("cost_over_loss", "value"), [(0.05, 0.4747162), (0.10, 0.3921569), (0.20, 0.1960784)])
def test_the_value_in_a_cost_loss_situation_through_the_same_code(cost_over_loss: float, value: float) -> None:
    # Values computed independently from Richardson's (2000) definition for Finley's table. A miss worth k false alerts
    # is a ratio of cost to loss of 1 / (1 + k).
    needs = AlertNeeds(miss_cost=1 / cost_over_loss - 1)
    assert needs.cost_over_loss == pytest.approx(cost_over_loss)
    assert alert_rates(FINLEY, 10.0, 2680 + 72, needs)["value_at_cost"] == pytest.approx(value, abs=5e-8)


def test_at_the_base_rate_the_value_is_the_peirce_score() -> None:
    base = 51 / 2803
    table = Contingency(hits=28, false_alarms=72, misses=23, correct_negatives=2680)
    found = alert_rates(FINLEY, 10.0, 2680 + 72, AlertNeeds(miss_cost=1 / base - 1))
    assert found["value_at_cost"] == pytest.approx(0.5228568, abs=5e-8)
    assert found["value_at_cost"] == pytest.approx(table.peirce_skill_score)


def test_the_level_of_least_cost_is_the_one_of_greatest_value() -> None:
    # Murphy 1977: ranking by expected expense and by value is the same, where every stop is judged.
    rng = np.random.default_rng(3)
    for _ in range(50):
        hits = rng.integers(0, 21, 8)
        false = rng.integers(0, 40, 8)
        zeros = np.zeros(8, np.int64)
        needs = AlertNeeds(miss_cost=float(rng.uniform(0.5, 20)))
        best = choose(Sums(hits=hits, late=zeros, misses=20 - hits, not_judged=zeros, false_alerts=false), needs)
        assert best is not None and needs.cost_over_loss is not None
        worth = [
            Contingency(hits=int(h), false_alarms=int(f), misses=20 - int(h), correct_negatives=60 - int(f))
            .relative_value(needs.cost_over_loss)
            for h, f in zip(hits, false, strict=True)
        ]  # fmt: skip
        assert worth[best] == pytest.approx(max(w for w in worth if w is not None))


# ---- what is not known stays so ---------------------------------------------------------------------------------


def test_an_alert_that_runs_into_missing_days_is_neither_hit_nor_false() -> None:
    t = judged(series((30, 40), (18, 10), (np.nan, 20), (30, 200)), [20])
    row = t.table.iloc[0]
    assert (row["false_alerts"], row["open_alerts"], row["alerts"]) == (0, 1, 1)


def test_missing_days_between_alert_and_stop_leave_open_when_it_stopped() -> None:
    late_or_in_time = judged(series((30, 40), (18, 10), (np.nan, 2), (18, 10), (5, 10), (30, 99)), [20])
    assert late_or_in_time.stops(0)["outcome"].tolist() == ["not judged"]
    assert np.isnan(late_or_in_time.table["hit_rate"].iloc[0])
    # On whichever of the missing days it stopped, it had been announced 20 to 40 days ahead.
    in_time_anyway = judged(series((30, 40), (18, 20), (np.nan, 2), (18, 18), (5, 10), (30, 99)), [20])
    assert in_time_anyway.stops(0)["outcome"].tolist() == ["in time"]


def test_a_crossing_after_missing_days_may_have_come_on_any_of_them() -> None:
    late = judged(series((30, 40), (np.nan, 3), (18, 8), (5, 10), (30, 99)), [20])
    assert late.stops(0)["outcome"].tolist() == ["late"]  # 8 to 11 days
    either = judged(series((30, 40), (np.nan, 9), (18, 8), (5, 10), (30, 99)), [20])
    assert either.stops(0)["outcome"].tolist() == ["not judged"]  # 8 to 17 days


def test_a_stop_inside_missing_days_is_judged_where_all_of_them_agree() -> None:
    sure = judged(series((30, 40), (18, 20), (np.nan, 5), (5, 10), (30, 99)), [20])
    assert sure.stops(0)["outcome"].tolist() == ["in time"]
    unsure = judged(series((30, 40), (18, 10), (np.nan, 5), (5, 10), (30, 99)), [20])
    assert unsure.stops(0)["outcome"].tolist() == ["not judged"]


def test_an_alert_that_the_record_begins_or_ends_with_is_not_judged() -> None:
    begins = judged(series((18, 20), (5, 10), (30, 99)), [20])
    assert begins.stops(0)["outcome"].tolist() == ["not judged"]
    assert begins.table["open_alerts"].iloc[0] == 1
    ends = judged(series((30, 99), (18, 90)), [20])
    assert (ends.table["open_alerts"].iloc[0], ends.table["false_alerts"].iloc[0]) == (1, 0)
    a_day_more = judged(series((30, 99), (18, 91)), [20])
    assert (a_day_more.table["open_alerts"].iloc[0], a_day_more.table["false_alerts"].iloc[0]) == (0, 1)


def test_a_spell_that_the_record_begins_with_is_no_stop() -> None:
    assert judged(series((5, 10), (30, 40), (18, 20), (5, 10), (30, 9)), [20]).n_events == 1


def test_a_stop_too_soon_after_the_water_came_back_is_counted_apart() -> None:
    # 13 running days cannot hold a warning of 14; 14 can, although the alert was never over.
    short = judged(series((30, 40), (18, 20), (5, 10), (18, 13), (5, 10), (30, 99)), [20])
    assert short.stops(0)["outcome"].tolist() == ["in time", "too soon after the last"]
    assert short.table[["hits", "late", "misses", "too_soon", "hit_rate"]].iloc[0].tolist() == [1, 0, 0, 1, 1]
    enough = judged(series((30, 40), (18, 20), (5, 10), (18, 14), (5, 10), (30, 99)), [20])
    assert enough.stops(0)["outcome"].tolist() == ["in time", "in time"]
    assert enough.stops(0)["carried"].tolist() == [False, True]
    assert enough.stops(0)["lead_days"].tolist() == [20, 14]
    assert enough.table["alerts"].iloc[0] == 1


def test_discharge_between_the_level_and_a_tenth_above_it_changes_nothing() -> None:
    q = series((30, 40), (21, 5), (18, 5), (21.9, 30), (18, 5), (5, 10), (30, 99))
    stops = judged(q, [20]).stops(0)
    assert stops["lead_days"].tolist() == [40]


def test_a_level_below_the_stop_level_is_reached_only_after_the_stop_and_announces_nothing() -> None:
    # 8 is crossed within each dry spell and cleared (at 8.8) before the water is back: nothing stands at a later stop.
    q = series(*([(30, 60), (9, 10), (5, 10), (9, 10)] * 3), (30, 99))
    t = judged(q, [8, 20])
    assert t.stops(0)["outcome"].tolist() == ["missed"] * 3
    assert t.table[["hits", "late", "misses", "false_alerts", "alerts"]].iloc[0].tolist() == [0, 0, 3, 0, 0]
    assert t.stops(0)["lead_days"].isna().all() and not t.stops(0)["carried"].any()


# ---- chances ----------------------------------------------------------------------------------------------------


def test_a_chance_is_judged_on_the_same_scale() -> None:
    q = series((30, 60), (5, 20), (30, 120), (5, 20), (30, 100))
    record = stop_record(find_dry_spells(q, STOP))
    chance = np.full(len(q), 0.02)
    chance[40:60] = 0.6  # 20 days before the first stop
    chance[192:200] = 0.4  # 8 days before the second
    chance[100:110] = 0.5  # for nothing
    t = judge_chances(record, chance, [0.3, 0.5, 0.7], AlertNeeds())
    assert t.at.tolist() == [0.7, 0.5, 0.3]
    assert t.table[["hits", "late", "misses", "false_alerts"]].to_numpy().tolist() == [
        [0, 0, 2, 0], [1, 0, 1, 1], [1, 1, 0, 1],
    ]  # fmt: skip


# ---- choosing ---------------------------------------------------------------------------------------------------


def test_below_five_stops_nothing_is_recommended_and_the_table_still_stands() -> None:
    four = judged(series(*([(30, 100), (18, 20), (5, 30)] * 4), (30, 99)), [20, 25])
    assert len(four.table) == 2
    r = four.recommended
    assert (r.candidate, r.held_out, r.why_none) == (None, None, TOO_FEW_EVENTS)
    five = judged(series(*([(30, 100), (18, 20), (5, 30)] * 5), (30, 99)), [20, 25])
    assert five.recommended.candidate == 0


def test_the_fewest_false_alerts_among_those_that_reach_the_hit_rate() -> None:
    zeros = np.zeros(4, np.int64)
    sums = Sums(
        hits=np.array([5, 9, 10, 10]), late=zeros, misses=np.array([5, 1, 0, 0]), not_judged=zeros,
        false_alerts=np.array([0, 4, 4, 9]),
    )  # fmt: skip
    assert choose(sums, AlertNeeds(hit_rate=0.9)) == 2  # as few false alerts as the level below, and more hits
    assert choose(sums, AlertNeeds(hit_rate=0.5)) == 0
    assert choose(sums, AlertNeeds(miss_cost=0.5)) == 0
    assert choose(sums, AlertNeeds(miss_cost=2.0)) == 2
    never = Sums(hits=zeros, late=zeros, misses=zeros, not_judged=zeros + 3, false_alerts=zeros)
    assert choose(never, AlertNeeds()) is None


def test_each_year_is_judged_by_a_level_that_it_had_no_part_in_choosing() -> None:
    # Nine years in which 20 serves, and one in which only 25 comes early enough.
    year = [(30, 200), (18, 20), (5, 60), (30, 85)]
    odd = [(30, 200), (24, 20), (5, 60), (30, 85)]
    q = series(*(year * 9), *odd)
    t = judged(q, [20, 25], hit_rate=0.95)
    r = t.recommended
    assert float(t.at[r.candidate or 0]) == 25  # the whole record needs 25 for 95 in 100
    assert r.held_out is not None
    # Without the odd year the others choose 20, which misses it: 9 of 10, where the record that chose claims 10 of 10.
    assert t.table["hit_rate"].iloc[1] == 1
    assert (r.held_out["hits"], r.held_out["misses"]) == (9, 1)
    assert r.chosen == {20.0: 1, 25.0: 9}


@pytest.mark.parametrize(
    "wrong",
    [{"lead_days": 0}, {"horizon_days": 5}, {"hit_rate": 0.0}, {"hit_rate": 1.1}, {"miss_cost": 0.0}],
)
def test_needs_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"lead_days|hit_rate|miss_cost"):
        AlertNeeds(**wrong)  # type: ignore[arg-type]


def test_levels_and_chances_out_of_range_are_refused() -> None:
    q = series((30, 40), (5, 5))
    record = stop_record(find_dry_spells(q, STOP))
    for levels in ([], [0.0, 20.0]):
        with pytest.raises(ValueError, match="above 0"):
            judge_levels(record, q.to_numpy(), levels, AlertNeeds())
    with pytest.raises(ValueError, match="between 0 and 1"):
        judge_chances(record, q.to_numpy(), [1.5], AlertNeeds())


# ---- simulation -------------------------------------------------------------------------------------------------


def test_a_level_chosen_on_half_the_years_keeps_its_promise_on_the_other_half() -> None:
    """A small version of tests/benchmarks/bench_alert_levels.py, which prints 200 runs."""
    from hydro.count_limits import share_limits
    from tests.benchmarks.bench_alert_levels import LEVELS, river

    meets, trained, tested = [], [], []
    for seed in range(16):
        q = river(30, seed)
        record = stop_record(find_dry_spells(q, 1.0))
        t = judge_levels(record, q.to_numpy(), LEVELS, AlertNeeds())
        even = t.by_year.year % 2 == 0
        k = choose(t.by_year.sums(even), t.needs)
        assert k is not None
        for years, rates in ((even, trained), (~even, tested)):
            s = t.by_year.sums(years)
            n = int(s.hits[k] + s.late[k] + s.misses[k])
            rates.append(s.hits[k] / n)
            if rates is tested:
                meets.append(share_limits(int(s.hits[k]), n)[1] >= 0.9)
    # 200 runs: 94 in 100 of the intervals reach up to 0.9; the rate falls from 0.98 to 0.93.
    assert sum(meets) >= 13
    assert np.mean(tested) > 0.85
    assert 0.0 <= np.mean(trained) - np.mean(tested) < 0.12
