"""Stop and restart levels from what people saw."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
import pytest

from hydro.sightings import sort_sightings
from hydro.threshold import estimate_level
from tests.benchmarks.bench_threshold import CASES, Case, covers, make_series, score


def table(dry: list[float], running: list[float], pooled: list[float] | None = None) -> pd.DataFrame:
    """Dry and running sightings by turns, two weeks apart, then the pooled ones."""
    turns: list[tuple[str, float]] = []
    for at in range(max(len(dry), len(running))):
        turns += [("dry", q) for q in dry[at : at + 1]] + [("running", q) for q in running[at : at + 1]]
    turns += [("pooled", q) for q in pooled or []]
    return pd.DataFrame(
        {
            "date": pd.date_range("2010-01-01", periods=len(turns), freq="14D"),
            "surface": [surface for surface, _ in turns],
            "discharge_m3s": [q for _, q in turns],
            "row": np.arange(len(turns)) + 2,
            "source": "visit",
        }
    )


DRY, RUNNING = [22.0, 27, 31, 35, 38], [44.0, 48, 55, 63, 80]


def test_separated_sightings_give_a_finite_interval_and_show_the_bracket() -> None:
    """The point and the width without inflation are those of an independent computation: 40.990, 29.618 to 57.469."""
    found = estimate_level(table(DRY, RUNNING))
    assert found.separated and not found.bracket.overlap
    assert (found.bracket.highest_dry_m3s, found.bracket.lowest_running_m3s) == (38.0, 44.0)
    assert found.stop_level.value_m3s == pytest.approx(40.98999, abs=1e-5)
    assert found.stop_level.inflation == 1.0
    assert found.stop_level.low_m3s == pytest.approx(29.618, abs=1e-3)
    assert found.stop_level.high_m3s == pytest.approx(57.469, abs=1e-3)
    assert "separated-width-from-penalty" in found.notes
    assert "separated-and-rarely-dry" not in found.notes
    assert found.slope == pytest.approx(8.650222, abs=1e-5)


def test_few_dry_sightings_that_do_not_overlap_are_told_apart() -> None:
    """There the interval holds less often than it says (tests/benchmarks/bench_threshold.py)."""
    running = list(np.geomspace(44, 400, 60))
    assert "separated-and-rarely-dry" in estimate_level(table(DRY, running), draws=0).notes
    assert "separated-and-rarely-dry" not in estimate_level(table([*DRY[:4], 45.0], running), draws=0).notes
    assert "separated-and-rarely-dry" not in estimate_level(table([], running), draws=0).notes


def test_one_running_sighting_just_above_many_dry_ones_keeps_the_level_in_the_bracket() -> None:
    """The penalty alone would put this level at 9e20 m³/s: nine dry sightings and one running say hardly any slope."""
    found = estimate_level(table([1.0, 2, 31, 35, 41, 44, 45, 46, 47], [48.0]))
    level = found.stop_level
    assert level.value_m3s == pytest.approx(math.sqrt(47 * 48)) and "bracket" in level.method
    assert level.low_m3s == pytest.approx(47.0) and level.high_m3s is None and level.why
    assert found.slope is None and found.curve.empty


def test_a_level_outside_all_discharges_seen_is_not_given() -> None:
    found = estimate_level(table([20.0, 30, 40, 41, 42, 43, 44, 45, 55], [54.0])).stop_level
    assert found.value_m3s is None and "outside all discharges" in (found.why or "")


def test_overlap_is_said_and_does_not_stop_the_estimate() -> None:
    found = estimate_level(table([22, 27, 31, 35, 44], [38, 48, 55, 63, 80]))
    assert found.bracket.overlap and not found.separated
    assert found.stop_level.value_m3s == pytest.approx(41.09237, abs=1e-4)  # independent computation


def test_standing_water_is_its_own_thing() -> None:
    plain, with_pools = estimate_level(table(DRY, RUNNING)), estimate_level(table(DRY, RUNNING, [37.0, 41.0, 43.0]))
    assert (with_pools.n_pooled, with_pools.pooled_low_m3s, with_pools.pooled_high_m3s) == (3, 37.0, 43.0)
    assert with_pools.stop_level == plain.stop_level
    assert (with_pools.n_dry, with_pools.n_running, with_pools.n_spells) == (5, 5, 10)


def test_only_running_seen_gives_only_an_upper_bound() -> None:
    found = estimate_level(table([], RUNNING))
    assert found.one_sided == "below" and found.bracket.lowest_running_m3s == 44.0
    assert found.stop_level.value_m3s is None and "no dry one" in (found.stop_level.why or "")
    assert found.curve.empty and found.slope is None


def test_only_dry_seen_gives_only_a_lower_bound() -> None:
    found = estimate_level(table(DRY, []))
    assert found.one_sided == "above" and found.bracket.highest_dry_m3s == 38.0
    assert found.stop_level.value_m3s is None and found.stop_level.why


def test_nothing_usable_is_said_and_is_no_bound() -> None:
    found = estimate_level(table([], []))
    assert found.one_sided is None and found.n_spells == 0
    assert found.stop_level.value_m3s is None and found.stop_level.why


def test_one_sighting_of_each_state_leaves_the_level_unbounded_not_guessed() -> None:
    found = estimate_level(table([30.0], [50.0]))
    assert found.stop_level.value_m3s == pytest.approx(math.sqrt(30 * 50), rel=1e-6)  # by symmetry
    assert found.stop_level.low_m3s is None and found.stop_level.high_m3s is None and found.stop_level.why


def test_one_discharge_for_both_states_has_no_level() -> None:
    found = estimate_level(table([40.0, 40.0], [40.0]))
    assert found.stop_level.value_m3s is None and found.stop_level.why


def test_sightings_that_run_the_wrong_way_have_no_level() -> None:
    found = estimate_level(table(RUNNING, DRY))
    assert found.stop_level.value_m3s is None and "more water" in (found.stop_level.why or "")


def test_rows_that_have_no_logarithm_or_no_discharge_are_left_out_with_the_reason() -> None:
    rows = table([*DRY, 0.0, -1.0, math.nan], RUNNING)
    rows.loc[len(rows)] = [pd.Timestamp("2012-01-01"), "", 41.0, 99, "visit"]
    found = estimate_level(rows)
    assert found.left_out["reason"].value_counts().to_dict() == {
        "discharge of 0 or below": 2,
        "no discharge that day": 1,
        "surface not recorded": 1,
    }
    assert found.stop_level.value_m3s == pytest.approx(40.98999, abs=1e-5)
    assert (found.n_dry, found.n_running) == (5, 5)


def test_a_malformed_table_is_refused() -> None:
    with pytest.raises(ValueError, match="lacks the columns"):
        estimate_level(table(DRY, RUNNING).drop(columns="surface"))
    with pytest.raises(ValueError, match="a surface is one of"):
        estimate_level(table(DRY, RUNNING).replace({"surface": {"dry": "damp"}}))
    with pytest.raises(ValueError, match="has a date"):
        estimate_level(table(DRY, RUNNING).assign(date=pd.NaT))
    with pytest.raises(ValueError, match="confidence"):
        estimate_level(table(DRY, RUNNING), level=95)


def test_the_table_handed_in_is_not_changed() -> None:
    rows = table(DRY, RUNNING)
    before = rows.copy()
    estimate_level(rows)
    pd.testing.assert_frame_equal(rows, before)


def test_sightings_of_one_state_are_one_episode_unless_two_years_lie_between() -> None:
    rows = table([], [50.0, 51.0, 52.0, 53.0])
    assert sort_sightings(rows).n_episodes == 1
    rows.loc[2:, "date"] += pd.Timedelta(days=730)
    assert sort_sightings(rows).n_episodes == 2


def test_ten_sightings_in_one_spell_do_not_make_the_level_ten_times_as_sure() -> None:
    """Every sighting repeated on ten days: the same episodes, and the interval hardly narrows.

    Were the repeats independent, the interval would narrow by about the square root of 10.
    """
    dry, running = [22.0, 27, 44, 35, 31, 30, 43, 33], [38.0, 55, 63, 80, 48, 41, 52, 60]
    once = table(dry, running)
    repeats = [once.assign(date=once["date"] + pd.Timedelta(days=day)) for day in range(10)]
    few, many = estimate_level(once), estimate_level(pd.concat(repeats, ignore_index=True))
    assert many.n_spells == few.n_spells
    assert many.stop_level.inflation > 5

    def width(low: float | None, high: float | None) -> float:
        assert low is not None and high is not None
        return math.log(high / low)

    narrowed = width(few.stop_level.low_m3s, few.stop_level.high_m3s) / width(
        many.stop_level.low_m3s, many.stop_level.high_m3s
    )
    assert narrowed < 1.7


def test_contradictions_are_held_against_the_set_level() -> None:
    found = estimate_level(table(DRY, RUNNING), set_level_m3s=36.0)
    assert found.contradictions["discharge_m3s"].tolist() == [38.0]
    assert found.contradictions["expected"].tolist() == ["running"]
    higher = estimate_level(table(DRY, RUNNING), set_level_m3s=50.0).contradictions
    assert higher["discharge_m3s"].tolist() == [44.0, 48.0] and set(higher["expected"]) == {"dry"}


def test_the_set_levels_keep_the_rule_strictly_below_to_stop_at_or_above_to_restart() -> None:
    at = estimate_level(table([38.0], [38.0]), set_level_m3s=38.0).contradictions
    assert at["surface"].tolist() == ["dry"]
    between = estimate_level(table(DRY, RUNNING), set_level_m3s=36.0, set_restart_m3s=39.0)
    assert between.contradictions.empty


def test_without_a_set_level_a_sighting_that_the_curve_gives_little_chance_is_named() -> None:
    """30 sightings each side and one dry sighting at twice the level: a slip of the pen."""
    dry, running = list(np.linspace(25, 41, 30)), list(np.linspace(39, 70, 30))
    rows = pd.concat([table(dry, running), table([160.0], []).assign(row=777)], ignore_index=True)
    found = estimate_level(rows).contradictions
    assert 777 in found["row"].tolist()
    assert (found["against"] == "fitted curve").all() and (found["probability"] < 0.025).all()


def test_the_curve_passes_one_half_at_the_level_and_stays_inside_its_band() -> None:
    found = estimate_level(table(DRY, RUNNING))
    at = np.interp(found.stop_level.value_m3s or 0, found.curve["discharge_m3s"], found.curve["probability_running"])
    assert at == pytest.approx(0.5, abs=0.01)
    assert (found.curve["low"] <= found.curve["probability_running"]).all()
    assert (found.curve["probability_running"] <= found.curve["high"]).all()
    assert found.curve["probability_running"].is_monotonic_increasing


def test_the_same_seed_gives_the_same_answer_and_no_draws_leave_the_check_out() -> None:
    rows = table([22, 27, 31, 35, 44], [38, 48, 55, 63, 80])
    assert estimate_level(rows, seed=5).stop_level == estimate_level(rows, seed=5).stop_level
    none = estimate_level(rows, draws=0).stop_level
    assert none.boot_low_m3s is None and none.low_m3s == estimate_level(rows).stop_level.low_m3s


def hysteresis(stop: float, restart: float, cycles: int) -> tuple[pd.DataFrame, pd.Series]:
    """Discharge that falls and rises between 20 and 60; seen every 6 days of a 100-day cycle."""
    day = np.arange(100 * cycles)
    q = 40.0 + 20.0 * np.cos(2 * np.pi * day / 100.0)
    running, state = np.ones(len(q), bool), True
    for at, value in enumerate(q):
        state = value >= stop if state else value >= restart
        running[at] = state
    dates = pd.date_range("2010-01-01", periods=len(q))
    seen = day[::6]
    rows = pd.DataFrame(
        {
            "date": dates[seen],
            "surface": np.where(running[seen], "running", "dry"),
            "discharge_m3s": q[seen],
            "row": seen + 2,
            "source": "visit",
        }
    )
    return rows, pd.Series(q, index=dates)


def test_an_outlet_that_restarts_higher_than_it_stops_has_two_levels() -> None:
    rows, daily = hysteresis(stop=35.0, restart=45.0, cycles=12)
    found = estimate_level(rows, discharge_by_day=daily)
    assert found.stop_level.value_m3s == pytest.approx(35.0, rel=0.05)
    assert found.restart_level.value_m3s == pytest.approx(45.0, rel=0.05)
    assert (found.stop_level.high_m3s or 99) < (found.restart_level.low_m3s or 0)
    assert found.limb_shift is not None and (found.limb_shift.high or 1) < 0
    assert "stop-level-without-rising-limb" in found.notes


def test_a_restart_level_needs_five_transitions_each_way_and_daily_discharge() -> None:
    rows, daily = hysteresis(stop=35.0, restart=45.0, cycles=4)
    few = estimate_level(rows, discharge_by_day=daily).restart_level
    assert few.value_m3s is None and "at least 5" in (few.why or "")
    rows, daily = hysteresis(stop=35.0, restart=45.0, cycles=12)
    assert "no daily discharge" in (estimate_level(rows).restart_level.why or "")
    gone = estimate_level(rows, discharge_by_day=daily * np.nan)
    assert gone.restart_level.value_m3s is None and "only one state" in (gone.restart_level.why or "")
    assert gone.stop_level == estimate_level(rows).stop_level


@pytest.mark.parametrize("case", [CASES[0], CASES[8], Case("independent", rating_share=0.0, years=10)])
def test_intervals_hold_the_level_that_made_the_sightings(case: Case) -> None:
    """40 of the series of tests/benchmarks/bench_threshold.py, which runs 500 of each kind.

    Were the coverage 0.95, fewer than 34 of 40 hits would come up once in 700 times.
    """
    hits = 0
    for number in range(40):
        found, target = score(case, number, draws=0)
        hits += covers(found.stop_level.low_m3s, found.stop_level.high_m3s, target)
    assert hits >= 34


def test_the_invented_series_of_the_benchmark_are_what_they_say() -> None:
    case = CASES[8]
    series = make_series(case, np.random.default_rng(3))
    seen = series.running[series.visits]
    assert int((seen[:-1] & ~seen[1:]).sum()) == case.spells
    assert seen[0] and seen[-1]
    error = series.published_log - series.true_log
    assert np.mean(np.abs(error) < math.log1p(0.1)) == pytest.approx(0.95, abs=0.03)
