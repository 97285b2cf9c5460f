"""Return lags: left, interval and right censoring."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.return_lag import return_lags
from hydro.dry_spells import find_dry_spells

NAN = np.nan


def lags(discharge, searches, today=None, join_days=0):
    """`searches` maps a day number (0 = first day of the record) to a count, or to "dry" / None (no search)."""
    index = pd.date_range("2020-01-01", periods=len(discharge), freq="D")
    dry = find_dry_spells(pd.Series(np.array(discharge, float), index=index), 40.0, join_days=join_days)
    kinds = {"dry": "dry", None: "not-searched"}
    rows = [
        {
            "date": index[0] + pd.Timedelta(days=day),
            "kind": kinds.get(value, "counted") if not isinstance(value, int) else "counted",
            "count": float(value) if isinstance(value, int) else NAN,
            "row": number,
            "effort": 30.0,
        }
        for number, (day, value) in enumerate(searches)
    ]
    visits = pd.DataFrame(rows, columns=["date", "kind", "count", "row", "effort"])
    return return_lags(dry, visits, index[-1] if today is None else index[0] + pd.Timedelta(days=today))


WET = [50] * 40
ONE_SPELL = [50, 30, 30, *WET]  # restart on day 3


def only(result):
    assert len(result.lags) == 1
    return result.lags.iloc[0]


def test_the_return_lies_between_the_last_search_without_and_the_first_with_a_find():
    lag = only(lags(ONE_SPELL, [(5, 0), (9, 0), (14, 2), (20, 0)]))
    assert (lag["low_days"], lag["high_days"], lag["censoring"], lag["searches"]) == (6, 11, "interval", 3)


def test_found_by_the_first_search_is_left_censored_and_may_be_day_zero():
    result = lags(ONE_SPELL, [(9, 1)])
    lag = only(result)
    assert (lag["low_days"], lag["high_days"], lag["censoring"]) == (0, 6, "left")
    assert result.intervals()[0].tolist() == [-1.0]


def test_a_find_on_the_first_running_day_is_a_lag_of_zero():
    lag = only(lags(ONE_SPELL, [(3, 1)]))
    assert (lag["low_days"], lag["high_days"], lag["censoring"]) == (0, 0, "left")


def test_never_found_is_right_censored_at_the_last_search():
    result = lags(ONE_SPELL, [(5, 0), (30, 0)])
    lag = only(result)
    assert (lag["low_days"], lag["censoring"]) == (27, "right")
    assert np.isnan(lag["high_days"])
    assert result.intervals()[1].tolist() == [np.inf]


def test_never_searched_says_nothing_and_is_not_used():
    result = lags(ONE_SPELL, [])
    assert not only(result)["informative"]
    assert len(result.intervals()[0]) == 0


def test_visits_that_did_not_search_and_dry_visits_are_no_searches():
    assert only(lags(ONE_SPELL, [(5, None), (6, "dry"), (9, 1)]))["censoring"] == "left"


def test_a_find_after_the_next_dry_spell_does_not_count_for_the_one_before():
    result = lags([50, 30, 50, 50, 50, 50, 30, *WET], [(3, 0), (9, 1)])
    assert result.lags["censoring"].tolist() == ["right", "left"]
    assert result.lags["low_days"].tolist() == [1, 0]


def test_a_restart_inside_a_gap_widens_the_interval_at_both_ends():
    lag = only(lags([50, 30, 30, NAN, NAN, NAN, *WET], [(8, 0), (12, 1)]))
    # Water came back on day 3 at the earliest and on day 6 at the latest.
    assert (lag["low_days"], lag["high_days"]) == (2, 9)
    assert np.isnan(lag["dry_days"])


def test_a_gap_between_two_dry_stretches_may_have_hidden_a_return():
    result = lags([50, 30, NAN, 30, 50, 50], [(5, 1)])
    assert result.unseen == 1
    assert len(result.lags) == 1


def test_a_spell_that_is_running_on_has_no_lag_yet():
    result = lags([50, 30, 30], [])
    assert (result.still_dry, len(result.lags)) == (1, 0)


def test_the_histories_hold_every_search_with_its_effort_and_the_slack_of_the_restart():
    (spell,) = lags([50, 30, 30, NAN, NAN, NAN, *WET], [(8, 0), (12, 1), (15, 0)]).histories()
    assert spell.days.tolist() == [5, 9, 12]
    assert spell.found.tolist() == [False, True, False]
    assert spell.effort.tolist() == [30, 30, 30]
    assert spell.restart_slack == 3


def test_without_any_dry_spell_there_are_no_intervals():
    result = lags(WET, [(5, 1)])
    assert result.lags.empty
    assert [len(side) for side in result.intervals()] == [0, 0]


def test_several_rows_of_one_day_are_one_search():
    lag = only(lags(ONE_SPELL, [(5, 0), (9, 0), (9, 3)]))
    assert (lag["low_days"], lag["high_days"], lag["searches"]) == (2, 6, 2)


def test_nothing_after_the_day_asked_is_used():
    lag = only(lags(ONE_SPELL, [(5, 0), (14, 2)], today=10))
    assert lag["censoring"] == "right"


@pytest.mark.parametrize("join_days", [0, 3])
def test_short_interruptions_are_joined_when_asked(join_days):
    result = lags([50, 30, 50, 50, 30, *WET], [(3, 1), (9, 1)], join_days=join_days)
    assert len(result.lags) == (1 if join_days else 2)


def seen(discharge, rows, *, join_days=0, today=None):
    """Lags from rows (day, surface, count or None[, effort[, time]])."""
    index = pd.date_range("2020-01-01", periods=len(discharge), freq="D")
    dry = find_dry_spells(pd.Series(np.array(discharge, float), index=index), 40.0, join_days=join_days)
    made = []
    for number, (day, surface, count, *more) in enumerate(rows):
        kind = "dry" if surface == "dry" else "counted" if count is not None else "not-searched"
        made.append(
            {
                "date": index[0] + pd.Timedelta(days=day),
                "kind": kind,
                "surface": surface,
                "count": NAN if count is None else float(count),
                "row": number + 2,
                "effort": float(more[0]) if more else 30.0,
                "time": more[1] if len(more) > 1 else "",
            }
        )
    columns = ["date", "kind", "surface", "count", "row", "effort", "time"]
    return return_lags(dry, pd.DataFrame(made, columns=columns), index[-1] if today is None else index[today])


GAP = [50, 30, 30, NAN, NAN, NAN, NAN, NAN, *WET]  # the restart lies in the gap: day 3 to day 8


def test_a_first_visit_months_late_is_left_censored_there():
    result = seen([50, 30, 30, *[50] * 200], [(160, "running", 4)])
    lag = only(result)
    assert (lag["low_days"], lag["high_days"], lag["censoring"]) == (0, 157, "left")
    assert [side.tolist() for side in result.intervals()] == [[-1.0], [157.0]]


def test_never_found_before_the_next_dry_spell_is_right_censored_and_followed_to_its_eve():
    result = seen([50, 30, *[50] * 20, 30, *[50] * 10], [(5, "running", 0), (15, "running", 0), (30, "running", 2)])
    first = result.lags.iloc[0]
    assert (first["censoring"], first["low_days"]) == ("right", 13)
    assert first["follow_up_end"] == pd.Timestamp("2020-01-22")
    assert len(result.searches[result.searches["spell"] == 0]) == 2


def test_a_spell_still_running_has_no_lag_even_with_a_find_in_its_last_puddle():
    result = seen([50, 50, 30, 30, 30], [(3, "pooled", 2), (4, "dry", None)])
    assert (result.still_dry, len(result.lags)) == (1, 0)


def test_a_record_that_stops_in_a_dry_spell_leaves_its_end_unknown():
    result = seen([50, 30, 30, NAN, NAN], [])
    assert (result.end_unknown, result.unseen, result.still_dry, len(result.lags)) == (1, 0, 0, 0)


def test_people_who_saw_the_surface_inside_the_gap_narrow_the_restart():
    lag = only(seen(GAP, [(4, "dry", None), (6, "running", 0), (12, "running", 3)]))
    assert (lag["restart"], lag["restart_latest"]) == (pd.Timestamp("2020-01-06"), pd.Timestamp("2020-01-07"))
    assert lag["restart_narrowed"]
    assert (lag["low_days"], lag["high_days"], lag["censoring"]) == (0, 7, "interval")


def test_sightings_that_contradict_one_another_do_not_narrow_the_restart():
    lag = only(seen(GAP, [(4, "running", 0), (6, "dry", None), (12, "running", 3)]))
    assert (lag["restart"], lag["restart_latest"]) == (pd.Timestamp("2020-01-04"), pd.Timestamp("2020-01-09"))
    assert not lag["restart_narrowed"]


def test_a_restart_seen_by_a_person_after_the_record_stopped_is_used():
    lag = only(seen([50, 30, 30, NAN, NAN, NAN, NAN, NAN], [(5, "running", 0), (7, "running", 1)]))
    assert (lag["restart"], lag["restart_latest"]) == (pd.Timestamp("2020-01-04"), pd.Timestamp("2020-01-06"))
    assert (lag["low_days"], lag["high_days"]) == (0, 4)


def test_a_find_inside_the_gap_bounds_the_restart_too():
    lag = only(seen(GAP, [(5, "", 2)]))
    assert lag["restart_latest"] == pd.Timestamp("2020-01-06")
    assert (lag["high_days"], lag["censoring"]) == (2, "left")


def test_a_search_before_the_latest_restart_bounds_nothing_from_below():
    lag = only(seen(GAP, [(5, "pooled", 0), (20, "running", 1)]))
    assert (lag["low_days"], lag["censoring"], lag["high_days"]) == (0, "left", 17)


def test_passes_of_one_day_are_kept_apart_and_in_the_order_of_their_times():
    result = seen(
        ONE_SPELL,
        [(5, "running", 0, 20, "09:00"), (9, "running", 3, 15, "11:00"), (9, "running", 0, 25, "09:30")],
    )
    lag = only(result)
    assert (lag["searches"], lag["passes"]) == (2, 3)
    (history,) = result.histories()
    assert history.days.tolist() == [2, 6, 6]
    assert history.found.tolist() == [False, False, True]
    assert history.effort.tolist() == [20, 25, 15]
