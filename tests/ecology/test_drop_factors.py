"""The split of a ratio into factors and of a difference into animals."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from ecology.drop_factors import PARTS, PeriodVisits, part_of, split_drop
from ecology.not_estimable import NotEstimable

NO_LEVEL = {"o": np.zeros(1)}


def period(log_parts, total, outlet=None, counted=None):
    parts = np.array(log_parts, dtype=float)[None]
    n = parts.shape[1]
    return PeriodVisits(
        outlet=np.array(["o"] * n if outlet is None else outlet, dtype=object),
        counted=np.ones(n, dtype=bool) if counted is None else np.array(counted),
        log_parts=parts,
        total=total,
    )


def test_one_visit_each_splits_into_slope_times_change():
    """exp(1 + 0.8 ln Q + ln effort + season), Q 60 to 30, effort 2 to 1, season +0.1 to -0.1.

    Log parts and means by arithmetic; Shapley's animals computed independently (mean over all orders, in the test below
    again by brute force): -46.656389, -57.403444, -17.522084.
    """
    before = period([[math.log(2), 0.8 * math.log(60), 0.1, 0.0]], math.exp(1 + 0.8 * math.log(60) + math.log(2) + 0.1))
    after = period([[0.0, 0.8 * math.log(30), -0.1, 0.0]], math.exp(1 + 0.8 * math.log(30) - 0.1))
    assert (before.total, after.total) == pytest.approx((158.955265, 37.373351), abs=5e-6)
    found = split_drop(before, after, NO_LEVEL)
    factors = dict(zip(PARTS, np.log(found.factors[0]), strict=True))
    animals = dict(zip(PARTS, found.animals[0], strict=True))
    assert factors["flow"] == pytest.approx(-0.5545177, abs=1e-7)
    assert factors["effort"] == pytest.approx(-0.6931472, abs=1e-7)
    assert factors["season"] == pytest.approx(-0.2, abs=1e-12)
    assert sum(factors.values()) == pytest.approx(-1.4476650, abs=1e-7)
    assert animals["flow"] == pytest.approx(-46.656389, abs=1e-6)
    assert animals["effort"] == pytest.approx(-57.403444, abs=1e-6)
    assert animals["season"] == pytest.approx(-17.522084, abs=1e-6)
    assert sum(animals.values()) == pytest.approx(-121.581917, abs=1e-6)
    for still in ("surface dry", "outlet", "unexplained"):
        assert factors[still] == pytest.approx(0.0, abs=1e-12)
        assert animals[still] == pytest.approx(0.0, abs=1e-9)


def test_animals_are_the_mean_over_all_orders_of_exchange():
    ratio = dict(zip(PARTS[:4], (0.5, 0.7, 1.2, 0.9), strict=True)) | {"unexplained": 0.6}
    start = 20.0
    found = split_drop(
        period([[0.0] * 4], start), period([np.log([ratio[p] for p in PARTS[:4]])], start * math.prod(ratio.values())),
        NO_LEVEL,
    )  # fmt: skip
    shares = dict.fromkeys(ratio, 0.0)
    orders = list(itertools.permutations(ratio))
    for order in orders:
        value = start
        for part in order:
            shares[part] += value * (ratio[part] - 1) / len(orders)
            value *= ratio[part]
    for part, share in shares.items():
        assert found.animals[0][PARTS.index(part)] == pytest.approx(share, abs=1e-9)
        assert found.factors[0][PARTS.index(part)] == pytest.approx(ratio[part])


def test_a_period_in_which_one_outlet_was_dry_is_explained_by_dryness_not_by_the_mix_of_outlets():
    """Two outlets visited equally in both periods, one with 4 and one with 10 animals a visit; the first falls dry."""
    level = {"shelf": np.log([4.0]), "pool": np.log([10.0])}
    both = ["shelf"] * 5 + ["pool"] * 5
    before = period(np.zeros((10, 4)), 70, outlet=both)
    after = period(np.zeros((5, 4)), 50, outlet=both[5:] + both[:5], counted=[True] * 5 + [False] * 5)
    factors = dict(zip(PARTS, split_drop(before, after, level).factors[0], strict=True))
    assert factors["surface dry"] == pytest.approx(50 / 70)
    assert factors["outlet"] == pytest.approx(1.0)
    assert factors["unexplained"] == pytest.approx(1.0)


def test_visits_that_went_elsewhere_are_explained_by_the_mix_of_outlets():
    level = {"shelf": np.log([4.0]), "pool": np.log([10.0])}
    before = period(np.zeros((4, 4)), 28, outlet=["shelf", "shelf", "pool", "pool"])
    after = period(np.zeros((4, 4)), 16, outlet=["shelf"] * 4)
    factors = dict(zip(PARTS, split_drop(before, after, level).factors[0], strict=True))
    assert factors["outlet"] == pytest.approx(4 / 7)
    assert factors["unexplained"] == pytest.approx(1.0)


def test_a_count_of_zero_is_a_factor_of_zero_and_the_others_keep_theirs():
    before, after = period([[0.0] * 4], 12), period([[math.log(0.5), 0.0, 0.0, 0.0]], 0)
    found = split_drop(before, after, NO_LEVEL)
    assert found.factors[0].tolist() == pytest.approx([0.5, 1, 1, 1, 1, 0])
    assert found.animals[0].sum() == pytest.approx(-12)


def test_a_baseline_without_animals_has_no_ratio():
    with pytest.raises(NotEstimable, match="baseline counted no animals"):
        split_drop(period([[0.0] * 4], 0), period([[0.0] * 4], 3), NO_LEVEL)


def test_an_outlet_that_only_one_period_knows_and_the_other_found_dry_still_gives_an_exact_product():
    level = {"shelf": np.zeros(1), "pool": np.zeros(1)}
    before = period(np.zeros((3, 4)), 9, outlet=["shelf"] * 3)
    after = period(np.zeros((2, 4)), 4, outlet=["pool", "pool", "shelf"], counted=[True, True, False])
    found = split_drop(before, after, level)
    assert np.isfinite(found.factors).all()
    assert found.factors[0].prod() == pytest.approx(found.ratio, rel=1e-12) == pytest.approx((4 / 3) / 3)


def test_every_term_of_the_count_design_has_its_part_and_an_unknown_one_is_refused():
    terms = ("intercept", "log_discharge_30d", "season_sin", "season_cos", "log_days_since_restart", "outlet[pool]")
    assert [part_of(t) for t in terms] == [None, "flow", "season", "season", "surface dry", "outlet"]
    with pytest.raises(ValueError, match="no part of a drop"):
        part_of("people_in_water")
