"""What must not change the count regression: the names of outlets, the order of rows, units of a covariate."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ecology.cluster_errors import robust_errors
from ecology.count_checks import all_checks
from ecology.count_design import CountDesign, count_design
from ecology.count_fit import CountFit
from ecology.count_model import fit_counts
from ecology.count_terms import ModelTerms
from tests.ecology.made_springs import OUTLETS, Springs, springs

MADE = springs(5, years=9, every=30)
TERMS = ModelTerms(flow_by_outlet=True, covariates=("depth",))


def _answer(made: Springs, outlets: tuple[str, ...], terms: ModelTerms = TERMS) -> tuple[CountDesign, CountFit, list]:
    d = count_design(made.visits, made.water, made.cycles, outlets=outlets, terms=terms)
    fit = fit_counts(d.rows["count"].to_numpy(), d.matrix, terms=d.terms, offset=d.offset)
    groups = d.rows["cycle"].to_numpy()
    robust = robust_errors(fit, kind="CL1", groups=groups)
    checks = all_checks(
        fit, d, groups, robust, effort=None, why_no_effort="not asked", now=dict.fromkeys(outlets, 0.3), seed=1
    )
    values = [(c.name, c.passed, -1.0 if c.value is None else c.value) for c in checks]
    return d, fit, values + [("errors", None, v) for v in robust.standard_error]


def _same(a: list, b: list) -> None:
    assert [x[:2] for x in a] == [x[:2] for x in b]
    for (name, _, x), (_, _, y) in zip(a, b, strict=True):
        assert x == pytest.approx(y, rel=1e-5, abs=1e-7), name


@settings(max_examples=3, deadline=None)
@given(st.integers(0, 10_000))
def test_the_order_of_rows_changes_nothing(seed: int) -> None:
    _, fit, found = _answer(MADE, OUTLETS)
    shuffled = replace(MADE, visits=MADE.visits.sample(frac=1, random_state=seed).reset_index(drop=True))
    _, again, there = _answer(shuffled, OUTLETS)
    np.testing.assert_allclose(again.estimate, fit.estimate, atol=1e-6)
    _same(found, there)


@settings(max_examples=3, deadline=None)
@given(st.permutations(["zz top", "aa", "mm [x]"]))
def test_the_names_of_outlets_change_nothing_but_the_names(names: list[str]) -> None:
    _, fit, found = _answer(MADE, OUTLETS)
    new = dict(zip(OUTLETS, names, strict=True))
    renamed = Springs(
        visits=MADE.visits.assign(outlet=MADE.visits["outlet"].map(new)),
        water={new[o]: w for o, w in MADE.water.items()},
        cycles={new[o]: c for o, c in MADE.cycles.items()},
    )
    d, again, there = _answer(renamed, tuple(names))
    assert d.baseline_outlet == names[0]
    np.testing.assert_allclose(again.estimate, fit.estimate, atol=1e-8)
    _same(found, there)


@settings(max_examples=3, deadline=None)
@given(st.permutations(list(OUTLETS)))
def test_the_outlet_that_is_the_baseline_changes_no_expected_count(order: list[str]) -> None:
    d, fit, _ = _answer(MADE, OUTLETS)
    there, again, _ = _answer(MADE, tuple(order))
    assert again.log_likelihood == pytest.approx(fit.log_likelihood, abs=1e-7)
    mine = pd.Series(fit.mean, index=d.rows["row"]).sort_index()
    theirs = pd.Series(again.mean, index=there.rows["row"]).sort_index()
    np.testing.assert_allclose(mine, theirs, rtol=1e-6)


@settings(max_examples=3, deadline=None)
@given(st.floats(0.01, 1000), st.floats(-50, 50))
def test_the_unit_of_a_covariate_changes_only_its_own_coefficient(scale: float, shift: float) -> None:
    terms = ModelTerms(covariates=("depth",))
    d, fit, _ = _answer(MADE, OUTLETS, terms)
    other = (MADE.visits["depth"].astype(float) * scale + shift).map(repr)
    _, again, _ = _answer(replace(MADE, visits=MADE.visits.assign(depth=other)), OUTLETS, terms)
    at = d.terms.index("depth")
    assert again.estimate[at] * scale == pytest.approx(fit.estimate[at], rel=1e-4, abs=1e-7)
    assert again.estimate[d.terms.index(d.flow_term)] == pytest.approx(
        fit.estimate[d.terms.index(d.flow_term)], abs=1e-6
    )


def test_cluster_intervals_cover_the_effect_of_flow_when_cycles_share_their_luck() -> None:
    """Simulated with known truth: 100 sets, log-normal noise shared by each of some 25 flow cycles.

    The flow effect is compared within cycles, so that both kinds of interval should hold it; of a term that is
    constant within each cycle only the interval by cycle does.
    """
    d = springs(5, years=20, every=60).design()
    cycle = np.unique(d.rows["cycle"], return_inverse=True)[1]
    rng = np.random.default_rng(8)
    level = rng.normal(size=cycle.max() + 1)[cycle]
    matrix, terms = np.column_stack((d.matrix, level)), (*d.terms, "level")
    at = d.terms.index(d.flow_term)
    hits = {"flow by cycle": 0, "level by cycle": 0, "level by observed information": 0}
    sets = 100
    for _ in range(sets):
        shared = rng.normal(0, 0.5, cycle.max() + 1)[cycle]
        mean = np.exp(np.log(10.0) + 0.6 * (d.matrix[:, at] - d.matrix[:, at].mean()) + shared)
        fit = fit_counts(rng.poisson(mean * rng.gamma(2.5, 0.4, len(mean))), matrix, terms=terms)
        low, high = robust_errors(fit, kind="CL1", groups=cycle).intervals(fit.estimate)
        hits["flow by cycle"] += bool(low[at] <= 0.6 <= high[at])
        hits["level by cycle"] += bool(low[-1] <= 0 <= high[-1])
        hits["level by observed information"] += bool(abs(fit.estimate[-1]) <= 1.96 * fit.standard_error[-1])
    share = {k: v / sets for k, v in hits.items()}
    # Cluster-robust errors of so few clusters are known to be somewhat small (Cameron and Miller 2015).
    assert 0.85 <= share["flow by cycle"] <= 0.99, share
    assert 0.84 <= share["level by cycle"] <= 0.99, share
    assert share["level by observed information"] < 0.8, share
