"""Rows of one day as passes, and as one pass that counted several taxa."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ecology.search_passes import search_passes


def passes(*rows, columns=("date", "count", "effort", "row")):
    """(count, effort, pass) of every pass."""
    frame = pd.DataFrame(rows, columns=list(columns))
    frame["date"] = pd.to_datetime(frame["date"])
    made = search_passes(frame)
    return list(zip(made["count"], made["effort"], made["pass"], strict=True))


FULL = ("date", "time", "taxon", "pass", "count", "effort", "row")


def test_two_rows_of_one_day_are_two_passes():
    assert passes(("2020-01-01", 0, 30, 2), ("2020-01-01", 3, 20, 3)) == [(0, 30, 1), (3, 20, 2)]


def test_rows_of_different_taxa_at_one_time_are_one_pass_that_spent_its_effort_once():
    rows = [("2020-01-01", "10:00", t, "", n, 30, i) for i, (t, n) in enumerate((("a", 2), ("b", 1)))]
    assert passes(*rows, columns=FULL) == [(3, 30, 1)]


def test_different_times_are_different_passes_even_of_different_taxa():
    rows = [("2020-01-01", "10:00", "a", "", 2, 30, 1), ("2020-01-01", "15:00", "b", "", 1, 20, 2)]
    assert passes(*rows, columns=FULL) == [(2, 30, 1), (1, 20, 2)]


def test_without_times_the_nth_rows_of_each_taxon_belong_together():
    rows = [("2020-01-01", "", t, "", n, 30, i) for i, (t, n) in enumerate((("a", 2), ("b", 1), ("a", 0), ("b", 4)))]
    assert passes(*rows, columns=FULL) == [(3, 30, 1), (4, 30, 2)]


def test_the_label_of_the_pass_goes_before_the_time():
    rows = [
        ("2020-01-01", "10:00", "", "left bank", 2, 30, 1),
        ("2020-01-01", "10:20", "", "left bank", 1, 10, 2),
        ("2020-01-01", "10:40", "", "right bank", 0, 15, 3),
    ]
    assert passes(*rows, columns=FULL) == [(3, 40, 1), (0, 15, 2)]


def test_an_unknown_part_of_the_effort_makes_the_sum_unknown():
    rows = [("2020-01-01", "", "", "1", 2, 30, 1), ("2020-01-01", "", "", "1", 1, np.nan, 2)]
    ((count, effort, number),) = passes(*rows, columns=FULL)
    assert (count, number) == (3, 1)
    assert np.isnan(effort)


def test_passes_are_in_the_order_of_their_times_not_of_the_file():
    rows = [("2020-01-01", "15:00", "", "", 5, 30, 1), ("2020-01-01", "09:00", "", "", 0, 30, 2)]
    assert passes(*rows, columns=FULL) == [(0, 30, 1), (5, 30, 2)]


def test_no_search_is_no_pass():
    assert search_passes(pd.DataFrame(columns=["date", "count", "effort", "row"])).empty
