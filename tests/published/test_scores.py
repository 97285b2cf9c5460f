"""Scores against numbers in print or worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from hydro.scores import (
    Contingency,
    area_under_roc,
    brier,
    brier_parts,
    ensemble_crps,
    fair_ensemble_brier,
    normal_crps,
    skill_score,
)

# Finley 1884, tornado forecasts, as tabulated by the WWRP/WGNE joint working group on forecast verification:
# 28 hits, 72 false alarms, 23 misses, 2680 correct negatives. In print there: 96.6 % correct (98.2 % by always saying
# "no"), probability of detection 0.55, false-alarm ratio 0.72, threat score 0.228, Peirce 0.52. The further digits,
# and the other scores, were computed independently from the definitions.
FINLEY = Contingency(hits=28, false_alarms=72, misses=23, correct_negatives=2680)


def test_finleys_table_gives_the_scores_in_print() -> None:
    expected = {
        "proportion_correct": 0.9661077,
        "frequency_bias": 1.9607843,
        "probability_of_detection": 0.5490196,
        "critical_success_index": 0.2276423,
        "hits_by_luck": 1.8194791,
        "equitable_threat_score": 0.2160456,
        "peirce_skill_score": 0.5228568,
        "heidke_skill_score": 0.3553249,
        "odds_ratio": 45.314010,
        "odds_ratio_skill_score": 0.9568165,
        "extremal_dependence_index": 0.7173624,
        "symmetric_extremal_dependence_index": 0.7528042,
    }
    assert FINLEY.n == 2803
    for name, value in expected.items():
        assert getattr(FINLEY, name) == pytest.approx(value, abs=5e-7 * max(1, value)), name
    always_no = Contingency(hits=0, false_alarms=0, misses=51, correct_negatives=2752)
    assert always_no.proportion_correct == pytest.approx(0.9818052, abs=5e-8)


def test_the_false_alarm_ratio_is_not_the_probability_of_false_detection() -> None:
    assert FINLEY.false_alarm_ratio == pytest.approx(0.72)
    assert FINLEY.probability_of_false_detection == pytest.approx(0.0261628, abs=5e-8)


def test_a_score_with_nothing_to_divide_by_is_none_and_not_zero() -> None:
    never_alarmed = Contingency(hits=0, false_alarms=0, misses=0, correct_negatives=10)
    assert never_alarmed.false_alarm_ratio is None
    assert never_alarmed.probability_of_detection is None
    assert never_alarmed.peirce_skill_score is None
    assert never_alarmed.odds_ratio is None
    assert never_alarmed.extremal_dependence_index is None
    assert never_alarmed.relative_value(0.1) is None
    assert never_alarmed.probability_of_false_detection == 0.0
    assert Contingency(hits=0, false_alarms=0, misses=0, correct_negatives=0).proportion_correct is None


def test_relative_value_at_the_base_rate_is_the_peirce_score() -> None:
    # Richardson 2000; values at 0.05, 0.10 and 0.20 computed independently from his definition.
    base = 51 / 2803
    assert FINLEY.relative_value(base) == pytest.approx(0.5228568, abs=5e-8)
    for ratio, value in {0.05: 0.4747162, 0.10: 0.3921569, 0.20: 0.1960784}.items():
        assert FINLEY.relative_value(ratio) == pytest.approx(value, abs=5e-8)


def test_the_brier_score_falls_into_murphys_parts() -> None:
    # Ten forecasts worked by hand (Murphy 1973 decomposition).
    p = np.array([0.1, 0.1, 0.1, 0.1, 0.5, 0.5, 0.9, 0.9, 0.9, 0.9])
    o = np.array([0, 0, 0, 1, 0, 1, 1, 1, 1, 0.0])
    parts = brier_parts(p, o)
    assert (parts.brier, parts.reliability, parts.resolution, parts.uncertainty) == pytest.approx(
        (0.218, 0.018, 0.05, 0.25)
    )
    assert parts.within_bins == pytest.approx(0, abs=1e-15)
    assert skill_score(parts.brier, parts.uncertainty) == pytest.approx(0.128)
    assert area_under_roc(p, o) == pytest.approx(0.74)
    binned = brier_parts(p, o, np.array([0, 0.5, 1.0]))
    assert binned.brier == pytest.approx(
        binned.reliability - binned.resolution + binned.uncertainty + binned.within_bins
    )
    assert area_under_roc(p, np.ones(10)) is None


def test_the_crps_of_a_normal_distribution() -> None:
    # Closed form of Gneiting & Raftery 2007; values by numerical integration, computed independently.
    assert normal_crps(0, 1, 0) == pytest.approx(0.2336950, abs=5e-8)
    assert normal_crps(20, 10, 25) == pytest.approx(3.3140353, abs=5e-8)


def test_the_crps_of_ensembles_plain_and_fair() -> None:
    # By hand from mean |x - y| - sum |xi - xj| / 2m² (fair: / 2m(m-1), Ferro 2014).
    assert ensemble_crps(np.array([1.0, 2, 3]), np.array(2.0)) == pytest.approx(0.2222222, abs=5e-8)
    assert ensemble_crps(np.array([1.0, 2, 3]), np.array(2.0), fair=True) == pytest.approx(0, abs=1e-15)
    both = ensemble_crps(np.array([[10.0, 40, 20], [1, 3, 2]]), np.array([25.0, 2]))
    assert both == pytest.approx([5.0, 0.2222222], abs=5e-8)
    assert ensemble_crps(np.array([10.0, 20, 40]), np.array(25.0), fair=True) == pytest.approx(1.6666667, abs=5e-8)


def test_a_large_ensemble_approaches_the_closed_form() -> None:
    members = np.random.default_rng(1).normal(20, 10, 200_000)
    assert ensemble_crps(members, np.array(25.0), fair=True) == pytest.approx(normal_crps(20, 10, 25), abs=0.05)


def test_the_fair_brier_score_does_not_depend_on_the_size_of_the_ensemble() -> None:
    # Property after Ferro 2014: members and outcome drawn with the same chance; its expected score is that chance's.
    rng = np.random.default_rng(2)
    chance = rng.uniform(size=40_000)
    happened = (rng.uniform(size=40_000) < chance).astype(float)
    for m in (2, 5, 50):
        yes = rng.binomial(m, chance)
        assert fair_ensemble_brier(yes.astype(float), np.full(40_000, m), happened) == pytest.approx(
            brier(chance, happened), abs=0.004
        )
    assert brier(rng.binomial(2, chance) / 2, happened) > brier(chance, happened) + 0.05


def test_ranks_and_ties_give_the_area_under_the_curve_that_mann_and_whitney_count() -> None:
    # Reference: scipy's U statistic over the number of pairs (Mann & Whitney 1947).
    from scipy.stats import mannwhitneyu

    rng = np.random.default_rng(3)
    p = rng.integers(0, 8, 200) / 7
    o = (rng.uniform(size=200) < p).astype(float)
    u = mannwhitneyu(p[o == 1], p[o == 0]).statistic
    assert area_under_roc(p, o) == pytest.approx(u / (o.sum() * (1 - o).sum()), rel=1e-12)


def test_the_crps_is_the_integral_of_the_squared_distance_between_the_distributions() -> None:
    # Definition (Matheson & Winkler 1976; from memory), integrated numerically: of the steps of an ensemble and of a
    # normal distribution.
    from scipy.integrate import trapezoid
    from scipy.special import ndtr

    x = np.linspace(-60, 100, 1_600_001)
    members, seen = np.array([10.0, 20, 40, 41]), 25.0
    steps = np.searchsorted(members, x, side="right") / 4
    assert ensemble_crps(members, np.array(seen)) == pytest.approx(trapezoid((steps - (x >= seen)) ** 2, x), abs=2e-4)
    normal = trapezoid((ndtr((x - 20) / 10) - (x >= seen)) ** 2, x)
    assert normal_crps(20, 10, seen) == pytest.approx(normal, abs=2e-4)


def test_relative_value_of_perfect_and_of_constant_alarms() -> None:
    # Richardson 2000: perfect forecasts are worth 1; an alarm always given is worth 0 where acting always is best.
    perfect = Contingency(hits=20, false_alarms=0, misses=0, correct_negatives=80)
    always = Contingency(hits=20, false_alarms=80, misses=0, correct_negatives=0)
    for ratio in (0.05, 0.2, 0.6):
        assert perfect.relative_value(ratio) == pytest.approx(1)
    assert always.relative_value(0.05) == pytest.approx(0)
    assert always.relative_value(0.6) == pytest.approx((0.2 - 0.6) / (0.2 * 0.4))  # worse than never acting
    assert Contingency(hits=20, false_alarms=0, misses=80, correct_negatives=0).relative_value(0.5) is None


def test_what_cannot_be_scored_is_refused() -> None:
    p, o = np.array([0.1, 0.9]), np.array([0.0, 1.0])
    for chance, happened in (
        (np.array([10.0, 90.0]), o),  # per cent
        (p, np.array([0.0, np.nan])),  # an unknown outcome is neither
        (np.array([0.1, np.nan]), o),
        (p, o[:, None]),
        (p[:0], o[:0]),
    ):
        for score in (brier, brier_parts, area_under_roc):
            with pytest.raises(ValueError, match=r"score needs|chances lie"):
                score(chance, happened)
    with pytest.raises(ValueError, match="span"):
        brier_parts(p, o, np.array([0.2, 1.0]))
    with pytest.raises(ValueError, match="at least 2 members"):
        fair_ensemble_brier(np.array([1.0]), np.array([1.0]), np.array([1.0]))
    with pytest.raises(ValueError, match="at least 2"):
        ensemble_crps(np.array([1.0]), np.array(1.0), fair=True)
    with pytest.raises(ValueError, match="sd"):
        normal_crps(0, 0, 1)
    with pytest.raises(ValueError, match="counts"):
        Contingency(hits=-1, false_alarms=0, misses=0, correct_negatives=0)
    with pytest.raises(ValueError, match="cost_over_loss"):
        FINLEY.relative_value(1.0)


def test_skill_is_the_share_of_the_way_to_perfection() -> None:
    assert skill_score(0.0, 0.2) == 1 and skill_score(0.2, 0.2) == 0
    assert skill_score(0.3, 0.2) == pytest.approx(-0.5)
    assert skill_score(0.9, 0.6, perfect=1.0) == pytest.approx(0.75)
    assert skill_score(0.1, 0.0) is None
