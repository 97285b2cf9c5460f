"""Return lags that allow for missed animals: against counting, outside distributions and stated truths."""

from __future__ import annotations

import re
from itertools import product

import numpy as np
import pytest
from scipy import optimize, stats

from ecology.interval_fits import fit_intervals
from ecology.missed_animals import (
    ASSUMED_DETECTIONS,
    RETURN_DISTRIBUTIONS,
    ReturnDistribution,
    SpellSearches,
    fit_missed_animals,
)
from ecology.missed_animals_likelihood import log_likelihood
from ecology.missed_animals_searches import BLOCK_SPELLS, lay_out
from ecology.not_estimable import NotEstimable


def _spell(
    days: list[float], found: str, effort: list[float] | None = None, *, restart_slack: float = 0.0
) -> SpellSearches:
    """`found` has a 1 for each search that found and a 0 for each that did not."""
    return SpellSearches(
        days=np.array(days),
        found=np.array([c == "1" for c in found], dtype=bool),
        effort=np.full(len(days), np.nan) if effort is None else np.array(effort),
        restart_slack=restart_slack,
    )


def _made(
    n: int, p: float, seed: int, *, every: int = 14, shape: float = 1.5, median: float = 45.0, effort: bool = True
) -> list[SpellSearches]:
    """Lags from a Weibull distribution with the stated median, searches with the stated detection (made here)."""
    rng = np.random.default_rng(seed)
    spells = []
    for _ in range(n):
        back = median * (rng.exponential() / np.log(2.0)) ** (1.0 / shape)
        days = np.arange(rng.integers(every), 280, every)
        spent = rng.choice([0.5, 1.0, 1.0, 2.0], days.size) if effort else np.ones(days.size)
        found = (days >= np.floor(back)) & (rng.random(days.size) < 1.0 - (1.0 - p) ** spent)
        spells.append(SpellSearches(days=days, found=found, effort=spent))
    return spells


def _log_probability(spell: SpellSearches, theta: list[float], distribution: ReturnDistribution = "weibull") -> float:
    return log_likelihood(lay_out([spell], 1.0), np.array(theta), distribution)[0]


def _log_rate(p: float) -> float:
    return float(np.log(-np.log1p(-p)))


def _law(distribution: ReturnDistribution, median: float, sigma: float) -> stats.rv_continuous:
    return {
        "weibull": stats.weibull_min(1.0 / sigma, scale=median / np.log(2.0) ** sigma),
        "lognormal": stats.lognorm(sigma, scale=median),
        "loglogistic": stats.fisk(1.0 / sigma, scale=median),
    }[distribution]


def test_animals_present_from_the_start_are_first_found_on_the_third_visit_with_the_geometric_probability() -> None:
    """Arithmetic: with p = 0.4, 0.6² · 0.4 = 0.144 for the third visit, 0.6² = 0.36 for two without a find."""
    present = [np.log(1e-6), np.log(0.1), _log_rate(0.4)]
    assert np.exp(_log_probability(_spell([0, 5, 9], "001"), present)) == pytest.approx(0.144, abs=1e-12)
    assert np.exp(_log_probability(_spell([0, 5], "00"), present)) == pytest.approx(0.36, abs=1e-12)
    # Two passes of one day are two searches at one time.
    assert np.exp(_log_probability(_spell([3, 3, 3], "001"), present)) == pytest.approx(0.144, abs=1e-12)


@pytest.mark.parametrize("distribution", RETURN_DISTRIBUTIONS)
def test_a_history_has_the_probability_that_counting_day_by_day_gives(distribution: ReturnDistribution) -> None:
    """Every day the animals can return, with its probability from scipy.stats, times what each search then does."""
    spell = _spell([2, 9, 9, 20, 26, 33], "000101", [1, 2, 0.5, 1, 3, 1])
    p, law = 0.35, _law(distribution, 18.0, 0.7)
    counted = 0.0
    for day in range(400):
        there = spell.days >= day
        finds = np.where(there, 1.0 - (1.0 - p) ** spell.effort, 0.0)
        counted += (law.cdf(day + 1) - law.cdf(day)) * np.prod(np.where(spell.found, finds, 1.0 - finds))
    at = [np.log(18.0), np.log(0.7), _log_rate(p)]
    assert _log_probability(spell, at, distribution) == pytest.approx(np.log(counted), abs=1e-10)


def test_an_uncertain_restart_is_the_mean_over_its_days() -> None:
    p, law = 0.35, _law("weibull", 18.0, 0.7)
    spell = _spell([2, 9, 20, 26], "0010", [1, 2, 1, 1], restart_slack=4)
    counted = 0.0
    for restart, day in product(range(5), range(400)):
        there = spell.days >= day + restart
        finds = np.where(there, 1.0 - (1.0 - p) ** spell.effort, 0.0)
        counted += (law.cdf(day + 1) - law.cdf(day)) * np.prod(np.where(spell.found, finds, 1.0 - finds)) / 5
    assert _log_probability(spell, [np.log(18.0), np.log(0.7), _log_rate(p)]) == pytest.approx(np.log(counted))


def test_all_histories_together_have_probability_one() -> None:
    at = [np.log(18.0), np.log(0.7), _log_rate(0.35)]
    every = ("".join(outcome) for outcome in product("01", repeat=5))
    total = sum(np.exp(_log_probability(_spell([0, 7, 7, 30, 90], found, [1, 1, 2, 1, 1]), at)) for found in every)
    assert total == pytest.approx(1.0, abs=1e-12)


@pytest.mark.parametrize("distribution", RETURN_DISTRIBUTIONS)
def test_score_and_information_are_the_slopes_of_the_likelihood(distribution: ReturnDistribution) -> None:
    histories = lay_out([*_made(8, 0.4, 1), _spell([3, 20], "01", restart_slack=6)], 1.0, within_days=60)
    at, unit = np.array([3.6, -0.4, -0.6]), 1e-5 * np.eye(3)
    _, score, information = log_likelihood(histories, at, distribution)
    either_side = [(log_likelihood(histories, at + e, distribution), log_likelihood(histories, at - e, distribution))
                   for e in unit]  # fmt: skip
    np.testing.assert_allclose(score, [(up[0] - down[0]) / 2e-5 for up, down in either_side], rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(
        information, [(down[1] - up[1]) / 2e-5 for up, down in either_side], rtol=1e-5, atol=1e-5
    )


def test_many_spells_in_pieces_have_the_likelihood_of_each_alone() -> None:
    spells = _made(BLOCK_SPELLS + 7, 0.4, 5)
    at, weights = np.array([3.6, -0.4, -0.6]), np.arange(float(len(spells)))
    value, score, information = log_likelihood(lay_out(spells, 1.0), at, "weibull", weights)
    alone = [log_likelihood(lay_out([spell], 1.0), at, "weibull") for spell in spells]
    assert value == pytest.approx(sum(w * one[0] for w, one in zip(weights, alone, strict=True)))
    np.testing.assert_allclose(score, sum(w * one[1] for w, one in zip(weights, alone, strict=True)))
    np.testing.assert_allclose(information, sum(w * one[2] for w, one in zip(weights, alone, strict=True)))


@pytest.mark.parametrize("distribution", RETURN_DISTRIBUTIONS)
def test_searches_that_never_miss_give_the_interval_censored_fit(distribution: ReturnDistribution) -> None:
    """First finds at face value: day d is (d, d + 1], so a find on day h after none on day l is (l + 1, h + 1]."""
    spells = [*_made(25, 0.6, 3), _spell([5, 40], "00"), _spell([0, 10], "10")]
    low, high = [], []
    for spell in spells:
        first = int(np.argmax(spell.found)) if spell.found.any() else len(spell.days)
        low.append(spell.days[first - 1] + 1.0 if first else 0.0)
        high.append(spell.days[first] + 1.0 if first < len(spell.days) else np.inf)
    outside = fit_intervals(np.array(low), np.array(high), distribution)
    sure = fit_missed_animals(spells, distribution=distribution, detection=1.0)
    assert sure.median_days is not None and sure.parameters is not None and sure.log_likelihood is not None
    assert sure.log_likelihood == pytest.approx(outside.log_likelihood, abs=1e-8)
    assert sure.median_days.value == pytest.approx(outside.median, rel=1e-5)
    assert dict(sure.parameters) == pytest.approx(dict(outside.parameters), rel=1e-4)
    nearly = fit_missed_animals(spells, distribution=distribution, detection=1.0 - 1e-9)
    assert nearly.median_days is not None
    assert nearly.median_days.value == pytest.approx(outside.median, rel=1e-5)
    face = sure.medians_by_detection[0].median_days
    assert face is not None and face.value == pytest.approx(outside.median, rel=1e-5)


def test_the_stated_truth_comes_back_and_face_value_is_late() -> None:
    """40 made sets of 30 spells at p = 0.4, true median 45 days. The full table: benchmarks/bench_missed_animals.py."""
    fits = [fit_missed_animals(_made(30, 0.4, seed)) for seed in range(40)]
    medians = np.array([f.median_days.value for f in fits if f.median_days])
    face = np.array(
        [f.medians_by_detection[0].median_days.value for f in fits if f.medians_by_detection[0].median_days]
    )
    held = [f.median_days.low <= 45.0 <= f.median_days.high for f in fits if f.median_days]
    p_held = [f.detection.low <= 0.4 <= f.detection.high for f in fits if f.detection]
    assert len(medians) == len(face) == 40
    assert np.mean(face) > 1.3 * 45.0
    assert abs(np.mean(medians) / 45.0 - 1.0) < 0.05 + 2.0 * np.std(medians) / 45.0 / np.sqrt(40)
    # With 95 % coverage fewer than 34 of 40 hold the truth in 3 of 1,000 cases (binomial).
    assert sum(held) >= 34 and sum(p_held) >= 34


def test_profile_ends_lie_where_the_likelihood_has_fallen_as_far_as_stated() -> None:
    """At an end the best fit with that median (scipy's simplex) is t²/2 below the peak, t from scipy.stats."""
    spells = _made(20, 0.5, 4)
    fit = fit_missed_animals(spells, within_days=np.inf)
    assert fit.median_days is not None and fit.log_likelihood is not None and fit.detection is not None
    histories = lay_out(spells, fit.typical_effort)
    drop = stats.t.ppf(0.975, 18) ** 2 / 2
    for end in (fit.median_days.low, fit.median_days.high):
        climbed = optimize.minimize(
            lambda at, end=end: -log_likelihood(histories, np.array([np.log(end), *at]), "weibull")[0],
            [-0.4, -0.4],
            method="Nelder-Mead",
            options={"xatol": 1e-6, "fatol": 1e-8},
        )
        assert -climbed.fun == pytest.approx(fit.log_likelihood - drop, abs=1e-3)


def test_the_medians_fall_as_the_assumed_detection_does() -> None:
    fit = fit_missed_animals(_made(30, 0.4, 2))
    assert tuple(m.detection for m in fit.medians_by_detection) == ASSUMED_DETECTIONS == (1.0, 0.7, 0.5, 0.3)
    values = [m.median_days.value for m in fit.medians_by_detection if m.median_days]
    assert len(values) == 4 and values == sorted(values, reverse=True)


def test_the_unit_of_effort_changes_nothing() -> None:
    spells = _made(20, 0.5, 6)
    minutes = [SpellSearches(days=s.days, found=s.found, effort=60.0 * s.effort) for s in spells]
    hours, others = fit_missed_animals(spells), fit_missed_animals(minutes)
    assert hours.median_days is not None and others.median_days is not None
    assert others.typical_effort == 60.0 * hours.typical_effort
    assert others.median_days.value == pytest.approx(hours.median_days.value, rel=1e-6)


def test_an_unknown_effort_counts_as_typical_and_is_told() -> None:
    spells = _made(20, 0.5, 7)
    typical = float(np.median(np.concatenate([s.effort for s in spells])))
    hidden = [SpellSearches(days=s.days, found=s.found, effort=np.where(s.effort == typical, np.nan, s.effort))
              for s in spells[:1]]  # fmt: skip
    told, known = fit_missed_animals(hidden + spells[1:]), fit_missed_animals(spells)
    assert told.median_days is not None and known.median_days is not None
    assert told.median_days.value == pytest.approx(known.median_days.value, rel=1e-6)
    assert told.n_effort_unknown > 0
    assert any("no effort recorded and count as typical" in c for c in told.caveats)
    none = [SpellSearches(days=s.days, found=s.found, effort=np.full(s.days.size, np.nan)) for s in spells]
    assert "No effort is recorded: all searches count alike." in fit_missed_animals(none).caveats


def test_only_searches_soon_after_the_first_find_count_for_detection() -> None:
    spells = _made(20, 0.5, 8)
    later = [SpellSearches(days=s.days, found=s.found | (s.days > s.days[np.argmax(s.found)] + 60), effort=s.effort)
             if s.found.any() else s for s in spells]  # fmt: skip
    fit, changed, all_count = (
        fit_missed_animals(spells),
        fit_missed_animals(later),
        fit_missed_animals(later, within_days=np.inf),
    )
    assert fit.detection is not None and changed.detection is not None and all_count.detection is not None
    assert changed.detection.value == fit.detection.value
    assert changed.after.left_out > 0
    assert all_count.detection.value > fit.detection.value + 0.1


def test_detection_that_changes_after_the_first_find_is_told() -> None:
    fit = fit_missed_animals(_made(20, 0.5, 8))
    assert not any("detection grows" in c or "leaving again" in c for c in fit.caveats)
    for found_late, told in ((True, "detection grows with time"), (False, "animals may be leaving again")):
        changed = []
        for s in _made(20, 0.5, 8):
            since = s.days - s.days[np.argmax(s.found)]
            found = np.where(since <= 0.0, s.found, (since > 30.0) == found_late) & bool(s.found.any())
            changed.append(SpellSearches(days=s.days, found=found, effort=s.effort))
        assert any(told in c for c in fit_missed_animals(changed).caveats)


def test_repeat_passes_of_one_day_hold_detection() -> None:
    """Two passes a visit and nothing after the first find's visit: its other pass says how often a pass misses."""
    rng = np.random.default_rng(12)
    spells = []
    for _ in range(60):
        back = 45.0 * (rng.exponential() / np.log(2.0)) ** (1.0 / 1.5)
        days = np.repeat(np.arange(rng.integers(14), 280, 14), 2)
        found = (days >= np.floor(back)) & (rng.random(days.size) < 0.4)
        upto = days <= days[np.argmax(found)]
        spells.append(SpellSearches(days=days[upto], found=found[upto], effort=np.ones(int(upto.sum()))))
    fit = fit_missed_animals(spells)
    assert fit.detection is not None and fit.median_days is not None
    assert fit.detection.low < 0.4 < fit.detection.high
    assert fit.median_days.low < 45.0 < fit.median_days.high


def test_passes_beside_a_first_find_are_enough_to_estimate_detection() -> None:
    """No visit after the one with the first find; p = 0.4 a pass, two passes a visit."""
    rng = np.random.default_rng(3)
    spells = []
    for back in 45.0 * (rng.exponential(size=60) / np.log(2.0)) ** (1.0 / 1.5):
        days = np.repeat(np.arange(rng.integers(14), 280, 14), 2)
        found = (days >= np.floor(back)) & (rng.random(days.size) < 0.4)
        # Searching stops at the first find: what tells detection is the pass before it on the same day.
        upto = np.arange(days.size) <= np.argmax(found)
        spells.append(SpellSearches(days=days[upto], found=found[upto], effort=np.ones(int(upto.sum()))))
    fit = fit_missed_animals(spells)
    assert fit.after.searches == 0 < fit.after.missed_beside
    assert fit.detection is not None
    assert fit.detection.low < 0.4 < fit.detection.high


def test_detection_grows_with_effort_as_independent_searches_do() -> None:
    """Arithmetic: with p = 0.3 a search of double effort finds with 1 − 0.7² = 0.51, of half with 1 − √0.7."""
    present = [np.log(1e-6), np.log(0.1), _log_rate(0.3)]
    for effort, chance in ((1.0, 0.3), (2.0, 0.51), (0.5, 1.0 - np.sqrt(0.7))):
        assert np.exp(_log_probability(_spell([4], "1", [effort]), present)) == pytest.approx(chance, abs=1e-12)


def test_ignoring_effort_makes_the_lag_wrong_where_early_searches_are_short() -> None:
    """Short searches before day 60, long ones later: alike they look like late returns. 10 made sets, p = 0.4."""
    told, alike = [], []
    for seed in range(10):
        rng = np.random.default_rng(seed)
        spells = []
        for back in 45.0 * (rng.exponential(size=30) / np.log(2.0)) ** (1.0 / 1.5):
            days = np.arange(rng.integers(14), 280, 14)
            effort = np.where(days < 60, 0.3, 2.0)
            found = (days >= np.floor(back)) & (rng.random(days.size) < 1.0 - 0.6**effort)
            spells.append(SpellSearches(days=days, found=found, effort=effort))
        blind = [SpellSearches(days=s.days, found=s.found, effort=np.ones(s.days.size)) for s in spells]
        for fits, data in ((told, spells), (alike, blind)):
            fit = fit_missed_animals(data)
            if fit.median_days is not None:
                fits.append(fit.median_days.value)
    assert len(told) >= 9 and len(alike) >= 9
    assert abs(np.mean(told) / 45.0 - 1.0) < 0.06 + 2.0 * np.std(told) / 45.0 / np.sqrt(len(told))
    assert np.mean(alike) > 1.2 * np.mean(told)


@pytest.mark.parametrize(
    ("spells", "reason"),
    [
        (_made(4, 0.4, 1), "4 spells have searches; .* at least 5"),
        (
            [_spell([0, 10 + 3 * i, 14 + 3 * i], "001") for i in range(8)],
            "0 searches in 0 spells came after a first find",
        ),
        (
            [_spell([0, 7 + 5 * i, 12 + 5 * i, 70, 72], "00111") for i in range(8)],
            "All 16 searches .* cannot be told from 1",
        ),
        ([_spell([0, 7 + 5 * i, 12 + 5 * i, 70, 72], "00100") for i in range(8)], "None of the .* had left"),
    ],
)
def test_what_the_searches_do_not_hold_is_refused_and_medians_stand_beside_each_other(
    spells: list[SpellSearches], reason: str
) -> None:
    fit = fit_missed_animals(spells)
    assert fit.why is not None and re.search(reason, fit.why)
    assert fit.detection is fit.median_days is fit.parameters is None
    assert all((m.median_days is None) == (m.why is not None) for m in fit.medians_by_detection)
    assert sum(m.median_days is not None for m in fit.medians_by_detection) >= 3


def test_the_bound_when_all_found_is_that_of_clopper_and_pearson() -> None:
    fit = fit_missed_animals([_spell([0, 7 + 5 * i, 12 + 5 * i, 70, 72], "00111") for i in range(8)])
    assert fit.why is not None
    bound = stats.binomtest(16, 16).proportion_ci(0.90, method="exact").low  # two-sided 90 % is one-sided 95 %
    assert f"above {bound:.2f} with 95 %" in fit.why


@pytest.mark.parametrize(
    ("days", "found", "reason"),
    [
        ([0, 20, 40, 60], "0110", "One return time lies within every spell's interval"),
        ([0, 20, 40, 60], "1110", "In every spell animals can have been back from the first day on"),
    ],
)
@pytest.mark.parametrize("detection", [None, 1.0, 0.5])
def test_spells_that_one_return_time_explains_do_not_hold_a_spread(
    days: list[float], found: str, reason: str, detection: float | None
) -> None:
    fit = fit_missed_animals([_spell(days, found)] * 8, detection=detection)
    assert fit.why is not None and reason in fit.why
    assert all(m.why is not None and reason in m.why for m in fit.medians_by_detection)


def test_nothing_ever_found_is_no_lag() -> None:
    with pytest.raises(NotEstimable, match=r"No search after any of the 6 spells found animals"):
        fit_missed_animals([_spell([0, 14, 28], "000")] * 6)


def test_a_spread_that_missed_animals_alone_explain_is_told() -> None:
    """All lags 30 days and p = 0.3: the waits beyond are misses, and nothing says that the lags differ."""
    rng = np.random.default_rng(1)
    spells = []
    for _ in range(20):
        days = np.arange(rng.integers(7), 200, 7)
        spells.append(
            SpellSearches(days=days, found=(days >= 30) & (rng.random(days.size) < 0.3), effort=np.ones(days.size))
        )
    fit = fit_missed_animals(spells)
    assert fit.spread_is_least and fit.covariance is not None and fit.median_days is not None
    assert np.isnan(fit.covariance[1, 1]) and np.isfinite(fit.covariance[0, 0])
    assert any("Missed animals alone could explain" in c for c in fit.caveats)
    assert fit.median_days.low < 30.5 < fit.median_days.high


def test_the_lowest_aic_is_taken() -> None:
    spells = _made(30, 0.5, 9)
    aics = {name: fit_missed_animals(spells, distribution=name).aic for name in RETURN_DISTRIBUTIONS}
    best = fit_missed_animals(spells, distribution="lowest-aic")
    assert best.aic == min(aic for aic in aics.values() if aic is not None)
    assert aics[best.distribution] == best.aic


def test_the_bootstrap_repeats_with_its_seed_and_tells_its_progress() -> None:
    spells = _made(20, 0.5, 10)
    told: list[tuple[int, int]] = []
    fit = fit_missed_animals(spells, draws=40, seed=3, progress=lambda done, of: told.append((done, of)))
    assert told == [(i, 40) for i in range(1, 41)]
    assert fit.bootstrap_median_days is not None and fit.median_days is not None
    again = fit_missed_animals(spells, draws=40, seed=3).bootstrap_median_days
    assert again is not None and (again.low, again.high) == (
        fit.bootstrap_median_days.low,
        fit.bootstrap_median_days.high,
    )
    assert fit.bootstrap_median_days.low < fit.median_days.value < fit.bootstrap_median_days.high


def test_spells_without_a_search_say_nothing() -> None:
    spells = _made(20, 0.5, 11)
    with_empty = fit_missed_animals([*spells, _spell([], "")])
    assert with_empty.n_spells == 20
    assert with_empty.log_likelihood == fit_missed_animals(spells).log_likelihood


@pytest.mark.parametrize(
    ("days", "found", "effort", "slack", "reason"),
    [
        ([3, 1], [True, False], [1, 1], 0, "in order"),
        ([1.5], [True], [1], 0, "whole days"),
        ([-1], [True], [1], 0, "whole days of 0 or more"),
        ([1], [True], [0], 0, "effort is above 0"),
        ([1], [2], [1], 0, "true or false"),
        ([1, 2], [True], [1], 0, "are not one list"),
        ([1], [True], [1], 0.5, "restart_slack"),
    ],
)
def test_searches_that_do_not_fit_together_are_refused(
    days: list[float], found: list[bool], effort: list[float], slack: float, reason: str
) -> None:
    with pytest.raises(ValueError, match=reason):
        SpellSearches(days=np.array(days), found=np.array(found), effort=np.array(effort), restart_slack=slack)


@pytest.mark.parametrize(
    "wrong",
    [
        {"detection": 0.0},
        {"detection": 1.2},
        {"level": 1.0},
        {"draws": -1},
        {"within_days": np.nan},
        {"distribution": "exponential"},
    ],
)
def test_options_out_of_range_are_refused(wrong: dict) -> None:
    with pytest.raises(ValueError, match="not"):
        fit_missed_animals(_made(6, 0.5, 1), **wrong)
