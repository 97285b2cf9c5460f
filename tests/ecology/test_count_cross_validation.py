"""Windows of flow judged on flow cycles that the fit has not seen."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from ecology.count_cross_validation import MOST_BLOCKS, blocks_of, compare_windows
from ecology.count_design import with_window
from ecology.count_model import fit_counts
from ecology.count_refit import refit
from ecology.count_response import Response
from ecology.not_estimable import NotEstimable, SeparatedError
from tests.ecology.made_springs import springs


@pytest.fixture(scope="module")
def design():
    return springs(2, years=16).design(windows=(7, 90))


def _groups(d):
    return d.rows["cycle"].to_numpy()


def test_the_window_that_made_the_counts_predicts_best_and_the_intervals_hold_what_they_say(design):
    found = compare_windows(design, _groups(design))
    assert found.best == 30
    table = found.windows.set_index("window")
    assert table.index.tolist() == [7, 30, 90]
    assert table.loc[30, ["behind", "behind_se"]].tolist() == [0, 0]
    assert (table["behind"] >= 0).all()
    # Whole counts: a central interval holds at least its level, and with means near 10 not much more.
    assert 0.93 <= table.loc[30, "covered_95"] <= 0.995
    assert 0.78 <= table.loc[30, "covered_80"] <= 0.92


def test_a_score_is_the_log_probability_by_a_whole_fit_without_the_cycle(design):
    """Computed again with the full fit and scipy's negative binomial, one block left out."""
    block = blocks_of(_groups(design), design.rows["date"])
    found = compare_windows(design, _groups(design))
    out = block == 3
    d = with_window(design, 90)
    y = d.rows["count"].to_numpy()
    fit = fit_counts(y[~out], d.matrix[~out], terms=d.terms, offset=d.offset[~out])
    mean = np.exp(d.offset[out] + d.matrix[out] @ fit.estimate)
    expected = stats.nbinom.logpmf(y[out], 1 / fit.alpha, 1 / (1 + fit.alpha * mean)).sum()
    row = found.blocks[(found.blocks["block"] == 4) & (found.blocks["window"] == 90)].iloc[0]
    assert row["score"] == pytest.approx(expected, abs=1e-6)
    assert row["n"] == out.sum()
    total = found.blocks.groupby("window")["score"].sum() / found.n
    np.testing.assert_allclose(total.to_numpy(), found.windows["score"].to_numpy(), rtol=1e-12)


def test_a_cycle_is_never_split_and_neighbours_are_joined_in_order_of_time():
    dates = pd.Series(pd.date_range("2000-01-01", periods=600, freq="7D"))
    cycle = np.arange(600) // 7
    block = blocks_of(cycle, dates)
    table = pd.DataFrame({"cycle": cycle, "block": block})
    assert (table.groupby("cycle")["block"].nunique() == 1).all()
    assert (np.diff(block) >= 0).all()
    assert block.max() + 1 <= MOST_BLOCKS
    sizes = np.bincount(block)
    assert sizes.max() <= 2 * sizes.min()
    few = blocks_of(np.array(["c", "a", "a", "b"]), pd.Series(pd.to_datetime(["2003", "2001", "2001", "2002"])))
    assert few.tolist() == [2, 0, 0, 1]


def test_the_order_of_rows_and_the_names_of_cycles_change_nothing(design):
    order = np.random.default_rng(4).permutation(len(design.rows))
    from dataclasses import replace

    shuffled = replace(
        design, rows=design.rows.iloc[order].reset_index(drop=True), matrix=design.matrix[order],
        offset=design.offset[order], log_discharge={w: v[order] for w, v in design.log_discharge.items()},
    )  # fmt: skip
    a = compare_windows(design, _groups(design))
    b = compare_windows(shuffled, np.array([f"cycle {9_000 - c}" for c in _groups(shuffled)]))
    np.testing.assert_allclose(a.windows.to_numpy(float), b.windows.to_numpy(float), rtol=1e-6, atol=1e-9)


def test_too_few_cycles_are_not_compared(design):
    with pytest.raises(NotEstimable, match="3 flow cycles are too few"):
        compare_windows(design, np.arange(len(design.rows)) % 3)


def test_a_cycle_that_alone_holds_an_outlet_is_left_out_and_said(design):
    from dataclasses import replace

    cave = (design.rows["outlet"] == "cave").to_numpy()
    longest = design.rows["cycle"].mode().iloc[0]
    keep = ~cave | (design.rows["cycle"] == longest).to_numpy()
    some = replace(
        design, rows=design.rows[keep].reset_index(drop=True), matrix=design.matrix[keep], offset=design.offset[keep],
        log_discharge={w: v[keep] for w, v in design.log_discharge.items()},
    )  # fmt: skip
    found = compare_windows(some, _groups(some))
    assert found.n_blocks == blocks_of(_groups(some), some.rows["date"]).max()
    assert len(found.skipped) == 1
    assert "alone holds a level" in found.skipped[0]


def test_shares_are_judged_by_their_own_probability():
    d = springs(2).design(windows=(7, 90), response=Response(kind="juveniles"))
    found = compare_windows(d, _groups(d))
    assert len(found.windows) == 3
    assert (found.windows["score"] < 0).all()
    # The share of juveniles was made without any effect of flow: no window is clearly worse.
    assert (found.windows["behind"] <= 3 * found.windows["behind_se"] + 1e-12).all()


def test_the_short_fit_finds_what_the_whole_one_finds(design):
    d = design
    y = d.rows["count"].to_numpy()
    whole = fit_counts(y, d.matrix, terms=d.terms, offset=d.offset)
    for start in (None, whole.estimate + 0.3):
        short = refit(y, d.matrix, d.offset, terms=d.terms, start=start)
        np.testing.assert_allclose(short.beta, whole.estimate, atol=1e-6)
        assert short.alpha == pytest.approx(whole.alpha, rel=1e-6)
    poisson = refit(y, d.matrix, d.offset, terms=d.terms, alpha=0.0)
    np.testing.assert_allclose(
        poisson.beta,
        fit_counts(y, d.matrix, terms=d.terms, offset=d.offset, family="poisson").estimate,
        atol=1e-6,
    )
    with pytest.raises(SeparatedError):
        refit(np.where(d.rows["outlet"] == "cave", 0.0, y), d.matrix, d.offset, terms=d.terms)
