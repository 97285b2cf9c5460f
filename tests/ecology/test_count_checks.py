"""Each check passes on the model that made the data and fails on what it is there to find."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from ecology.cluster_errors import robust_errors
from ecology.count_checks import all_checks, check_separation
from ecology.count_design import CountDesign
from ecology.count_fit import CountFit
from ecology.count_model import fit_counts
from ecology.count_residuals import quantile_residuals_at
from ecology.count_response import Response
from ecology.freed_effort import free_effort
from ecology.influence import check_cycle_influence, check_influence
from ecology.model_checks import ModelCheck, check_collinearity, check_dispersion, check_zeros
from ecology.not_estimable import NotEstimable
from ecology.residual_checks import (
    check_autocorrelation,
    check_pattern,
    check_quantiles,
    flow_shapes,
    residual_draws,
)
from ecology.share_model import fit_shares
from tests.ecology.made_springs import OUTLETS, springs


@pytest.fixture(scope="module")
def right() -> tuple[CountDesign, CountFit]:
    return _fitted(springs(3).design())


def _fitted(d: CountDesign) -> tuple[CountDesign, CountFit]:
    return d, fit_counts(d.rows["count"].to_numpy(), d.matrix, terms=d.terms, offset=d.offset)


def _groups(d: CountDesign) -> np.ndarray:
    return d.rows["cycle"].to_numpy()


def _checks(d: CountDesign, fit: CountFit, now: float = 0.4) -> dict[str, ModelCheck]:
    robust = robust_errors(fit, kind="CL1", groups=_groups(d))
    found = all_checks(
        fit, d, _groups(d), robust, effort=free_effort(fit, d, _groups(d), 0.95), why_no_effort=None,
        now=dict.fromkeys(OUTLETS, now), seed=1,
    )  # fmt: skip
    return {c.name: c for c in found}


def test_the_model_that_made_the_data_fails_nothing(right):
    d, fit = right
    checks = _checks(d, fit)
    assert [c.name for c in checks.values() if c.passed is False] == []
    assert checks["clusters"].value == len(np.unique(_groups(d))) >= 20
    assert all(c.table is not None and len(c.table) for c in checks.values())
    assert len(checks) == 14


def test_a_bend_in_the_relation_to_flow_is_found():
    d, fit = _fitted(springs(3, bend=-2.5).design())
    assert _checks(d, fit)["flow"].passed is False


def test_counts_at_a_season_that_the_wave_cannot_follow_are_found(right):
    d, _ = right
    angle = 4 * np.pi * d.rows["date"].dt.day_of_year / 365.2425
    changed = replace(d, rows=d.rows.assign(count=np.round(d.rows["count"] * np.exp(0.9 * np.sin(angle)))))
    assert _checks(*_fitted(changed))["season"].passed is False
    assert _checks(*_fitted(changed))["time"].passed is True


def test_a_change_over_the_years_is_found_unless_the_model_has_a_trend(right):
    d, _ = right
    years = ((d.rows["date"] - d.rows["date"].min()).dt.days / 365.25).to_numpy()
    changed = replace(d, rows=d.rows.assign(count=np.round(d.rows["count"] * np.exp(0.15 * years))))
    assert _checks(*_fitted(changed))["time"].passed is False
    trend = replace(changed, matrix=np.column_stack((d.matrix, years)), terms=(*d.terms, "year"))
    assert _checks(*_fitted(trend))["time"].passed is None


def test_visits_that_share_their_luck_are_found(right):
    d, _ = right
    rng = np.random.default_rng(5)
    month = d.rows["date"].dt.year * 6 + d.rows["date"].dt.month // 2
    luck = month.map({m: rng.normal(0, 0.9) for m in month.unique()})
    changed = replace(d, rows=d.rows.assign(count=np.round(d.rows["count"] * np.exp(luck))))
    check = _checks(*_fitted(changed))["autocorrelation"]
    assert check.passed is False
    assert check.about in ("15–30 days", "31–60 days")
    assert check.table["correlation"].iloc[2] > 0.2  # visits are 21 days apart


def test_the_pairs_of_the_autocorrelation_are_those_counted_by_hand():
    dates = pd.Series(pd.to_datetime(["2020-01-01", "2020-01-05", "2020-01-20", "2020-01-03"] * 20))
    outlets = pd.Series(["a", "a", "a", "b"] * 20)
    draws = np.tile(np.random.default_rng(1).normal(size=80), (3, 1))
    table = check_autocorrelation(draws, dates + pd.to_timedelta(np.repeat(np.arange(20), 4) * 400, "D"), outlets).table
    # Per repeat, outlet a: 4 days apart, 15 and 19 days apart; repeats are further than a year apart.
    assert table["pairs"].tolist()[:3] == [20, 0, 40]
    assert table["pairs"].tolist()[3:] == [0, 0, 0, 0]


def test_too_many_zeros_are_found_and_counted(right):
    d, fit = right
    count = d.rows["count"].to_numpy().copy()
    count[::4] = 0
    few = fit_counts(count, d.matrix, terms=d.terms, offset=d.offset, family="poisson")
    check = check_zeros(few)
    assert check.passed is False
    assert check.value > 2
    table = check.table
    assert table["observed"].sum() == fit.n
    assert table["expected"].sum() == pytest.approx(fit.n)
    # Outside computation: scipy's Poisson.
    assert table["expected"].iloc[3] == pytest.approx(stats.poisson.pmf(3, few.mean).sum(), rel=1e-9)


def test_scatter_beyond_the_model_is_found(right):
    d, fit = right
    assert check_dispersion(fit).passed is True
    poisson = fit_counts(fit.count, d.matrix, terms=d.terms, offset=d.offset, family="poisson")
    assert check_dispersion(poisson).passed is False
    assert check_quantiles(residual_draws(poisson, np.arange(fit.n), 1)).passed is False


def test_counts_that_do_not_grow_with_effort_are_found_with_their_exponent(right):
    d, fit = right
    assert _checks(d, fit)["effort"].passed is True
    effort = d.rows["effort"].to_numpy()
    rng = np.random.default_rng(7)
    mean = 6 * (effort / effort.mean()) ** 0.2
    flat = replace(d, rows=d.rows.assign(count=rng.poisson(mean * rng.gamma(5, 0.2, fit.n)).astype(float)))
    _, flat_fit = _fitted(flat)
    freed = free_effort(flat_fit, flat, _groups(flat), 0.95)
    assert freed.low <= 0.2 <= freed.high < 1
    assert freed.p < 1e-4
    assert _checks(flat, flat_fit)["effort"].passed is False


def test_the_freed_exponent_is_the_fit_without_an_offset(right):
    """ln effort as an offset and as a term at once is the same model as ln effort as a term alone."""
    d, fit = right
    alone = fit_counts(fit.count, np.column_stack((d.matrix, np.log(d.rows["effort"]))), terms=(*d.terms, "log_effort"))
    assert free_effort(fit, d, _groups(d), 0.95).exponent == pytest.approx(alone.estimate[-1], abs=1e-6)


def test_equal_effort_has_no_exponent(right):
    d, fit = right
    same = replace(d, rows=d.rows.assign(effort=30.0), offset=np.full(fit.n, np.log(30.0)))
    with pytest.raises(NotEstimable, match="same on all visits"):
        free_effort(fit, same, _groups(d), 0.95)


def test_the_one_step_change_is_near_the_fit_without_the_visit(right):
    d, fit = right
    check = check_influence(fit, d.flow_term, d.rows)
    worst = check.table.iloc[0]
    keep = (d.rows["row"] != worst["row"]).to_numpy()
    without = fit_counts(fit.count[keep], d.matrix[keep], terms=d.terms, offset=d.offset[keep])
    at = d.terms.index(d.flow_term)
    true = (without.estimate[at] - fit.estimate[at]) / fit.standard_error[at]
    assert check.value == pytest.approx(true, rel=0.2)
    assert check.passed is True


def test_a_visit_that_carries_the_answer_is_named(right):
    d, _ = right
    rows = d.rows.copy()
    at = int(rows["log_discharge"].to_numpy().argmax())
    rows.loc[at, "count"] = 4000.0
    check = _checks(*_fitted(replace(d, rows=rows)))["influence"]
    assert check.passed is False
    assert check.table["row"].iloc[0] == rows.loc[at, "row"]
    assert check.about == f"{rows.loc[at, 'date']:%Y-%m-%d} at {rows.loc[at, 'outlet']}"


def test_cycles_are_listed_with_what_each_moves(right):
    d, fit = right
    robust = robust_errors(fit, kind="CL1", groups=_groups(d))
    check = check_cycle_influence(fit, d.flow_term, d.rows, _groups(d), robust)
    assert check.table["visits"].sum() == fit.n
    assert check.value == pytest.approx(check.table.loc[check.table["moved"].abs().idxmax(), "moved"])
    # All scores add up to nothing at the maximum, and so do the changes.
    assert check.table["moved"].sum() == pytest.approx(0, abs=1e-5)
    assert check_cycle_influence(fit, d.flow_term, d.rows, _groups(d), None).passed is None


def test_terms_that_can_hardly_be_told_apart_are_found_with_their_variance_inflation(right):
    """Outside computation: statsmodels' variance inflation factor is 1/(1 − share)."""
    from statsmodels.stats.outliers_influence import variance_inflation_factor

    d, fit = right
    table = check_collinearity(fit).table.set_index("term")["shared"]
    at = d.terms.index(d.flow_term)
    assert 1 / (1 - table[d.flow_term]) == pytest.approx(variance_inflation_factor(d.matrix, at), rel=1e-8)
    near = d.matrix[:, at] + np.random.default_rng(2).normal(0, 0.02, fit.n)
    twin = fit_counts(fit.count, np.column_stack((d.matrix, near)), terms=(*d.terms, "twin"), offset=d.offset)
    check = check_collinearity(twin)
    assert check.passed is False
    assert check.about in ("twin", d.flow_term)
    assert check_collinearity(twin, leave_out=("twin",)).passed is True


def test_a_flow_outside_the_visits_is_told_with_its_outlets(right):
    d, fit = right
    assert _checks(d, fit)["flow range"].passed is True
    check = _checks(d, fit, now=-9.0)["flow range"]
    assert (check.passed, check.about) == (False, "pool, cave, ledge")
    assert _checks(d, fit, now=np.nan)["flow range"].passed is None


def test_the_reason_of_a_separated_fit_is_its_failed_check(right):
    d, _ = right
    count = np.where(d.rows["outlet"] == "cave", 0.0, d.rows["count"])
    zeros = replace(d, rows=d.rows.assign(count=count))
    with pytest.raises(NotEstimable) as why:
        _fitted(zeros)
    check = check_separation(zeros, why.value.reason)
    assert check.passed is False
    assert "outlet[cave]" in check.why
    assert check.table.set_index("outlet").loc["cave", "found"] == 0


def test_the_pattern_test_is_hotellings_on_the_scores_of_the_cycles(right):
    """Outside computation: T² of the group scores by scipy's F distribution, worked with plain matrices."""
    d, fit = right
    x = d.rows["log_discharge"].to_numpy()
    Z = flow_shapes(x)
    Z = (Z - Z.mean(0)) / Z.std(0)
    W = np.diag(fit.eta_weight)
    rest = Z - d.matrix @ np.linalg.inv(d.matrix.T @ W @ d.matrix) @ d.matrix.T @ W @ Z
    u = pd.DataFrame(fit.eta_score[:, None] * rest).groupby(_groups(d)).sum().to_numpy()
    g, q = u.shape
    t2 = g * u.mean(0) @ np.linalg.inv(np.cov(u.T)) @ u.mean(0)
    expected = stats.f.sf(t2 * (g - q) / (q * (g - 1)), q, g - q)
    draws = residual_draws(fit, np.arange(fit.n), 1)
    check = check_pattern(fit, "flow", x, flow_shapes(x), _groups(d), draws)
    assert check.value == pytest.approx(expected, rel=1e-8)


def test_the_checks_apply_to_shares_as_far_as_they_can():
    d = springs(3).design(response=Response(kind="juveniles"))
    y, n = d.rows["count"].to_numpy(), d.rows["trials"].to_numpy()
    fit = fit_shares(y, n, d.matrix, terms=d.terms)
    robust = robust_errors(fit, kind="CL1", groups=_groups(d))
    found = all_checks(
        fit, d, _groups(d), robust, effort=None, why_no_effort="A share does not depend on effort.",
        now=dict.fromkeys(OUTLETS, 0.4), seed=1,
    )  # fmt: skip
    state = {c.name: c.passed for c in found}
    assert (state["zeros"], state["effort"]) == (None, None)
    assert [name for name, passed in state.items() if passed is False] == []


def test_residuals_do_not_depend_on_the_order_in_which_visits_are_written(right):
    _, fit = right
    order = np.random.default_rng(3).permutation(fit.n)
    key = np.lexsort((fit.mean, fit.count))
    shuffled = replace(fit, count=fit.count[order], mean=fit.mean[order])
    there = residual_draws(shuffled, np.lexsort((shuffled.mean, shuffled.count)), 1)
    np.testing.assert_array_equal(residual_draws(fit, key, 1)[:, order], there)
    u = np.full(fit.n, 0.5)
    assert np.isfinite(quantile_residuals_at(fit.count, fit.mean, fit.alpha, u)).all()
