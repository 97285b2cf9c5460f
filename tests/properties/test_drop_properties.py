"""What holds of a judged period whatever the data: exact products, and no say for names and for the order of rows."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ecology.count_drop import judge_drop
from ecology.drop_factors import PeriodVisits, split_drop
from tests.ecology.made_survey import made_survey, year

OUTLETS = ("a", "b", "c")


@st.composite
def periods(draw: st.DrawFn) -> PeriodVisits:
    n = draw(st.integers(1, 12))
    outlet = np.array(draw(st.lists(st.sampled_from(OUTLETS), min_size=n, max_size=n)), dtype=object)
    counted = np.array(draw(st.lists(st.booleans(), min_size=n, max_size=n)))
    counted[draw(st.integers(0, n - 1))] = True
    seed = draw(st.integers(0, 2**16))
    log_parts = np.random.default_rng(seed).normal(size=(2, int(counted.sum()), 4)) * 2
    return PeriodVisits(outlet=outlet, counted=counted, log_parts=log_parts, total=draw(st.integers(1, 500)))


@given(before=periods(), after=periods(), nothing=st.booleans(), seed=st.integers(0, 99))
def test_factors_multiply_and_animals_add_exactly_and_do_not_depend_on_order(before, after, nothing, seed):
    rng = np.random.default_rng(seed)
    level = {o: rng.normal(size=2) for o in OUTLETS}
    if nothing:
        after = PeriodVisits(outlet=after.outlet, counted=after.counted, log_parts=after.log_parts, total=0)
    found = split_drop(before, after, level)
    ratio = (after.total / len(after.outlet)) / (before.total / len(before.outlet))
    assert found.factors.prod(axis=1) == pytest.approx(ratio, rel=1e-9)
    scale = max(1.0, float(np.abs(found.animals).max()))
    assert found.animals.sum(axis=1) == pytest.approx(found.difference, abs=1e-9 * scale)
    mixed = []
    for p in (before, after):
        order = rng.permutation(len(p.outlet))
        place = np.cumsum(p.counted) - 1
        parts = p.log_parts[:, place[order][p.counted[order]]]
        mixed.append(PeriodVisits(outlet=p.outlet[order], counted=p.counted[order], log_parts=parts, total=p.total))
    again = split_drop(mixed[0], mixed[1], level)
    np.testing.assert_allclose(again.factors, found.factors, rtol=1e-9)
    np.testing.assert_allclose(again.animals, found.animals, atol=1e-9 * scale)


@settings(max_examples=4)
@given(seed=st.integers(0, 2**16))
def test_names_of_outlets_and_order_of_rows_change_nothing(seed):
    rng = np.random.default_rng(seed)
    made = made_survey(rng, years=8, visits_a_year=8, outlets=OUTLETS)
    spans = {"baseline": year(5), "judged": year(6), "draws": 500}
    first = judge_drop(*made.design(), **spans)
    names = dict(zip(OUTLETS, rng.permutation(OUTLETS), strict=True))
    visits = made.visits.assign(outlet=made.visits["outlet"].map(names))
    visits = visits.iloc[rng.permutation(len(visits))]
    again = judge_drop(*made.design(visits), **spans)
    assert (again.verdict, again.why) == (first.verdict, first.why)
    if first.predicted is not None:
        assert np.array_equal(again.predicted.totals, first.predicted.totals)
        np.testing.assert_allclose(
            again.factors[["factor", "low", "high", "animals"]], first.factors[["factor", "low", "high", "animals"]],
            rtol=1e-9, atol=1e-9,
        )  # fmt: skip
