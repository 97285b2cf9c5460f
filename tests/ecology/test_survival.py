"""Survival and recapture: the likelihood against enumeration, what is fixed and what is at a boundary, known truths."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from ecology.capture_chances import CaptureChances
from ecology.not_estimable import NotEstimable
from ecology.release_counts import release_counts
from ecology.survival import fit_survival
from ecology.survival_likelihood import SurvivalModel, log_likelihood
from ecology.survival_models import BY_DRY_INTERVAL, CONSTANT, WITH, WITHOUT, survival_models


def counts_of(histories: np.ndarray, available: np.ndarray):
    """Release counts of 0/1 histories at one outlet (animals × occasions)."""
    start, end = [], []
    for row in histories:
        met = np.flatnonzero(row)
        start += met.tolist()
        end += [*met[1:].tolist(), -1] if len(met) else []
    n = len(start)
    return release_counts(
        np.array(start, int),
        np.zeros(n, int),
        np.array(end, int),
        np.ones(n, bool),
        np.ones(n),
        available=available[None],
    )


def constant(gaps: np.ndarray, available: np.ndarray) -> SurvivalModel:
    return SurvivalModel(
        name="constant",
        years=gaps[None, None],
        looks=np.ones((1, len(available))),
        look_class=np.where(available, 0, -1)[None],
        survival_names=("a year",),
        recapture_names=("an occasion",),
    )


def simulated(rng, n, gaps, phi, p, available, entry=1.0):
    """Histories of `n` animals that join at random; `phi` yearly by interval, `p` by occasion where available."""
    T = len(available)
    joined = rng.integers(0, T - 1, n)
    out = np.zeros((n, T), int)
    alive = np.zeros(n, bool)
    for t in range(T):
        if t:
            alive &= rng.random(n) < phi[t - 1] ** gaps[t - 1]
        alive |= joined == t
        met = alive & available[t] & ((rng.random(n) < p) | ((joined == t) & (rng.random(n) < entry)))
        out[:, t] = met
    return out[out.any(axis=1)]


def test_the_likelihood_is_that_of_every_history_written_out():
    """Four occasions: the chance of each history after its first sighting is summed over all fates, by hand."""
    phi, p, gaps = 0.7, 0.4, np.array([0.5, 1.0, 2.0])
    available = np.array([True, True, False, True])
    model = constant(gaps, available)
    theta = np.log([phi / (1 - phi), p / (1 - p)])
    chance = np.array([0, p, 0, p])
    for rest in itertools.product((0, 1), (0,), (0, 1)):
        history = np.array([1, *rest])
        total = 0.0
        for died in range(4):  # the interval in which it dies; 3 = lives on
            q = np.prod([phi ** gaps[t] for t in range(min(died, 3))]) * (1 - phi ** gaps[died] if died < 3 else 1)
            for t in range(1, 4):
                alive = t <= died
                here = chance[t] if alive else 0.0
                q *= here if history[t] else 1 - here
            total += q
        value = log_likelihood(counts_of(history[None], available), model, theta)[0]
        assert value == pytest.approx(np.log(total), abs=1e-12)


def test_the_gradient_is_that_of_the_likelihood():
    rng = np.random.default_rng(4)
    T = 9
    available = rng.random((2, T)) < 0.8
    available[:, 0] = True
    start = rng.integers(0, T - 1, 60)
    outlet = rng.integers(0, 2, 60)
    end = np.where(rng.random(60) < 0.6, np.minimum(start + rng.integers(1, 4, 60), T - 1), -1)
    same = rng.random(60) < 0.9
    available[outlet[same & (end >= 0)], end[same & (end >= 0)]] = True
    counts = release_counts(start, outlet, end, same, np.ones(60), available=available)
    model = SurvivalModel(
        name="two of each",
        years=rng.random((2, 2, T - 1)),
        looks=1.0 + rng.integers(0, 3, (2, T)),
        look_class=np.where(available, rng.integers(0, 2, (2, T)), -1),
        survival_names=("a", "b"),
        recapture_names=("c", "d"),
    )
    for theta in rng.normal(size=(5, 4)):
        slope = log_likelihood(counts, model, theta)[1]
        for i, step in enumerate(1e-6 * np.eye(4)):
            up, down = log_likelihood(counts, model, theta + step)[0], log_likelihood(counts, model, theta - step)[0]
            assert slope[i] == pytest.approx((up - down) / 2e-6, abs=1e-5)


def test_an_occasion_on_which_nobody_could_be_met_changes_nothing():
    rng = np.random.default_rng(1)
    gaps = np.array([1.0, 1.0, 1.0, 1.0])
    histories = simulated(rng, 80, gaps, np.full(4, 0.6), 0.5, np.ones(5, bool))
    plain = fit_survival(counts_of(histories, np.ones(5, bool)), constant(gaps, np.ones(5, bool)))
    wider = np.insert(histories, 2, 0, axis=1)
    available = np.array([True, True, False, True, True, True])
    cut = np.array([1.0, 0.3, 0.7, 1.0, 1.0])
    again = fit_survival(counts_of(wider, available), constant(cut, available))
    assert again.minus_two_log_likelihood == pytest.approx(plain.minus_two_log_likelihood, abs=1e-8)
    assert again.theta == pytest.approx(plain.theta, abs=1e-5)


def test_taking_a_dry_occasion_for_a_failed_search_lowers_the_chance_of_being_met():
    """Every animal is out of reach together while it is dry: the chance is fixed at 0, not estimated."""
    rng = np.random.default_rng(7)
    available = np.array([t % 3 != 2 for t in range(18)])
    gaps = np.full(17, 0.25)
    histories = simulated(rng, 900, gaps, np.full(17, 0.5), 0.4, available)
    right = fit_survival(counts_of(histories, available), constant(gaps, available))
    wrong = fit_survival(counts_of(histories, np.ones(18, bool)), constant(gaps, np.ones(18, bool)))
    assert right.rates[1].low < 0.4 < right.rates[1].high
    assert right.rates[0].low < 0.5 < right.rates[0].high
    assert wrong.rates[1].high < 0.35


def test_survival_at_its_boundary_is_said_to_be_so_and_keeps_a_limit_on_one_side():
    histories = np.array([[1, 1, 1, 1]] * 12 + [[1, 0, 1, 1]] * 6 + [[1, 1, 0, 1]] * 5)
    fit = fit_survival(counts_of(histories, np.ones(4, bool)), constant(np.ones(3), np.ones(4, bool)))
    phi, p = fit.rates
    assert (phi.value, phi.boundary, phi.standard_error) == (1.0, True, None)
    assert 0.8 < phi.low < 1.0
    assert phi.high == 1.0
    assert not p.boundary
    # Where survival is 1, recapture is the plain share of chances taken: 58 of 69.
    assert p.value == pytest.approx(58 / 69, abs=1e-5)


def test_nothing_is_estimated_where_no_animal_was_met_again():
    counts = counts_of(np.eye(4, dtype=int), np.ones(4, bool))
    with pytest.raises(NotEstimable):
        fit_survival(counts, constant(np.ones(3), np.ones(4, bool)))


def test_an_animal_met_where_none_could_be_met_is_refused():
    with pytest.raises(ValueError, match="could be met"):
        counts_of(np.array([[1, 0, 1]]), np.array([True, True, False]))


def test_moving_to_another_outlet_proves_life_but_not_a_find_at_the_first():
    """Released at 0, met elsewhere on occasion 2: it lived two intervals and was not met here on occasion 1."""
    counts = release_counts(
        np.array([0]), np.array([0]), np.array([2]), np.array([False]), np.array([1]), available=np.ones((1, 4), bool)
    )
    assert counts.lived.tolist() == [[1, 1, 0]]
    assert counts.missed.tolist() == [[0, 1, 0, 0]]
    assert counts.met.sum() == 0
    assert counts.lost.sum() == 0


def chances_of(available: np.ndarray, dry_days: np.ndarray) -> CaptureChances:
    return CaptureChances(
        available=available[None],
        fixed=np.where(available, "", "dry")[None],
        looks=np.ones((1, len(available))),
        dry_days=dry_days[None].astype(float),
        unknown_days=np.zeros((1, len(dry_days))),
    )


def test_survival_with_and_without_a_dry_spell_is_found_back():
    rng = np.random.default_rng(11)
    gaps = rng.uniform(0.15, 0.5, 19)
    dry = np.arange(19) % 4 == 2
    available = np.append(True, ~dry)
    phi = np.where(dry, 0.2, 0.7)
    histories = simulated(rng, 1500, gaps, phi, 0.5, available)
    chances = chances_of(available, np.where(dry, 40, 0))
    found = {m.name: fit_survival(counts_of(histories, available), m) for m in survival_models(gaps, chances, ("a",))}
    fit = found[BY_DRY_INTERVAL]
    assert fit.rate(WITH).low < 0.2 < fit.rate(WITH).high
    assert fit.rate(WITHOUT).low < 0.7 < fit.rate(WITHOUT).high
    assert fit.rate(WITH).high < fit.rate(WITHOUT).low
    assert found[CONSTANT].minus_two_log_likelihood > fit.minus_two_log_likelihood + 3.84


@pytest.mark.parametrize(("animals", "phi", "p"), [(60, 0.5, 0.3), (200, 0.8, 0.15)])
def test_intervals_cover_the_truth_about_as_often_as_they_say(animals, phi, p):
    """80 simulated sets; a true coverage of 0.95 falls below 0.88 in less than one of 200 tries (binomial)."""
    rng = np.random.default_rng(2)
    available = np.array([t % 5 != 3 for t in range(15)])
    gaps = rng.uniform(0.1, 0.6, 14)
    model = constant(gaps, available)
    hits = np.zeros(2)
    estimates = []
    for _ in range(80):
        histories = simulated(rng, animals, gaps, np.full(14, phi), p, available)
        a, b = fit_survival(counts_of(histories, available), model).rates
        hits += [a.low <= phi <= a.high, b.low <= p <= b.high]
        estimates.append((a.value, b.value))
    assert (hits / 80 >= 0.88).all()
    # The mean lies within four of its own standard errors of the truth.
    far = np.abs(np.mean(estimates, axis=0) - [phi, p]) / (np.std(estimates, axis=0) / 80**0.5)
    assert (far < 4).all()
