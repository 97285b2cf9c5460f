"""Columns of the count regression: what each term is, and which visits it leaves out."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.interpolate import BSpline

from ecology.count_design import with_window
from ecology.count_response import Response, TemperatureBand
from ecology.count_terms import (
    ModelTerms,
    cyclic_spline,
    dry_length_column,
    recovery_column,
    season_columns,
)
from ecology.visit_numbers import column_as_numbers, numeric_columns
from tests.ecology.made_springs import springs


@pytest.fixture(scope="module")
def made():
    return springs()


def test_the_cyclic_spline_is_scipys_b_spline_wrapped_round_the_year():
    """Outside computation: scipy.interpolate.BSpline on evenly spaced knots, the copies one turn apart added up."""
    turn = np.linspace(0, 1, 200, endpoint=False)
    mine = cyclic_spline(turn, 6)
    for knot in range(6):
        piece = BSpline.basis_element((np.arange(5) - 2 + knot) / 6, extrapolate=False)
        wrapped = sum(np.nan_to_num(piece(turn + shift)) for shift in (-1, 0, 1))
        np.testing.assert_allclose(mine[:, knot], wrapped, atol=1e-12)


def test_the_spline_of_the_year_joins_at_new_year_and_has_mean_zero():
    dates = pd.Series(pd.date_range("2019-01-01", "2019-12-31"))
    columns = season_columns(dates, "spline")
    assert len(columns) == 5
    for column in columns.values():
        steps = np.abs(np.diff(column))
        # From day 365 to day 1 is 1.2425 days of a year of 365.2425.
        assert abs(column[0] - column[-1]) <= 1.25 * steps.max()
        assert abs(column.mean()) < 2e-3


def test_a_longer_dry_spell_deepens_the_recovery_term_and_an_unknown_one_does_not():
    recovery = recovery_column(np.array([0.0, 30.0, 400.0, 30.0]))
    column = dry_length_column(recovery, np.array([181.0, 90.0, 300.0, np.nan]))
    assert column[0] == pytest.approx(-np.log(181) * np.log(2))  # 182 / 91 days
    assert column[1:].tolist() == [0.0, 0.0, 0.0]


def test_a_row_does_not_depend_on_the_other_rows(made):
    """Rows left out change no column of the others: a model can be applied to visits it has not seen."""
    terms = ModelTerms(season="spline", dry_length=True, year_trend=True, flow_by_outlet=True, covariates=("depth",))
    whole = made.design(terms=terms)
    part = type(made)(visits=made.visits[made.visits["row"] % 5 > 0], water=made.water, cycles=made.cycles)
    some = part.design(terms=terms)
    assert some.terms == whole.terms
    at = whole.rows["row"].isin(some.rows["row"]).to_numpy()
    np.testing.assert_allclose(whole.matrix[at], some.matrix)


def test_visits_are_left_out_for_the_first_reason_that_applies(made):
    visits = made.visits.copy()
    visits.loc[visits.index[:3], "effort"] = np.nan
    visits.loc[visits.index[4], "depth"] = ""
    changed = type(made)(visits=visits, water=made.water, cycles=made.cycles)
    d = changed.design(terms=ModelTerms(covariates=("depth",)))
    n_dry = int((visits["kind"] == "dry").sum())
    assert d.left_out["dry"] == n_dry
    assert d.left_out["no depth"] == 1
    assert d.left_out["no effort"] == int((visits.iloc[:3]["kind"] != "dry").sum())
    assert len(d.rows) + sum(d.left_out.values()) == len(visits) == len(d.rows) + len(d.left_out_rows)


def test_stages_as_a_factor_give_two_rows_a_visit_that_add_up_to_its_count(made):
    d = made.design(terms=ModelTerms(factor="stage"))
    counted = made.visits[made.visits["kind"] == "counted"]
    assert d.n_visits == len(counted)
    assert len(d.rows) == 2 * d.n_visits
    assert d.terms[-1] == "stage[juvenile]"
    both = d.rows.groupby("row")["count"].sum()
    np.testing.assert_array_equal(both.to_numpy(), counted.set_index("row")["count"].loc[both.index].to_numpy())
    assert len(d.left_out_rows) == d.left_out["dry"]


def test_one_taxon_and_taxa_as_levels(made):
    one = made.design(response=Response(taxon="snail"))
    counted = made.visits[made.visits["kind"] == "counted"]
    assert one.left_out["another taxon"] == int((counted["taxon"] == "shrimp").sum())
    assert "taxon[snail]" in made.design(terms=ModelTerms(factor="taxon")).terms


def test_shares_are_out_of_the_animals_that_could_have_been_in_them(made):
    d = made.design(response=Response(kind="gravid"))
    there = made.visits.set_index("row").loc[d.rows["row"]]
    np.testing.assert_array_equal(d.rows["count"], there["gravid"])
    np.testing.assert_array_equal(d.rows["trials"], there["adults"])
    assert not d.offset.any()
    assert d.left_out["none to take a share of"] == int((made.visits["adults"] == 0).sum())


def test_a_temperature_is_outside_its_band_on_either_side_and_at_dry_outlets_it_does_not_count(made):
    band = TemperatureBand(limit_c=0.5)
    assert band.usual_c == pytest.approx(22.2222, abs=1e-4)  # 72 °F
    assert band.outside(pd.Series([21.7, 21.8, 22.8, np.nan])).tolist() == [True, False, True, False]
    d = made.design(response=Response(kind="temperature", band=band))
    assert set(d.rows["count"]) == {0.0, 1.0}
    assert d.left_out["dry"] == int((made.visits["kind"] == "dry").sum())


def test_another_window_is_the_design_asked_for_with_it(made):
    terms = ModelTerms(flow_by_outlet=True)
    switched = with_window(made.design(windows=(7, 90), terms=terms), 90)
    asked = made.design(window=90, windows=(30, 7), terms=terms)
    assert switched.terms == asked.terms
    assert switched.formula == asked.formula
    np.testing.assert_allclose(switched.matrix, asked.matrix)


def test_numbers_are_read_as_written_and_what_could_mean_two_things_is_told():
    values, wrong = column_as_numbers(pd.Series(["1.5", "2,5", "", "1,500", "deep", "-3e2"]))
    assert values.tolist()[:2] == [1.5, 2.5]
    assert values.iloc[5] == -300
    assert wrong.tolist() == [False, False, False, True, True, False]
    frame = pd.DataFrame({"date": [1, 2], "depth": ["0.3", "0.4"], "who": ["A", "B"], "same": ["1", "1"]})
    assert numeric_columns(frame) == ["depth"]
