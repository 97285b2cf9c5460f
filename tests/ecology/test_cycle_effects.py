"""Counts whose flow cycles differ, and totals predicted from them, against scipy as an outside computation."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from ecology.count_drop import tried_by_chance
from ecology.count_model import fit_counts
from ecology.cycle_effects import SPREAD_PRIOR, VARIATION_PRIOR, CycleModel, CycleNode, fit_cycles
from ecology.predicted_total import coefficient_draws, predict_total, predict_totals


def exactly(mean: float, alpha: float) -> CycleModel:
    """A model that leaves nothing open but the count itself."""
    node = CycleNode(
        variation=alpha**0.5, spread=0.0, weight=1.0, coefficients=np.log([mean]), root=np.zeros((1, 1)),
        deviation=np.zeros(1), precision=np.ones(1), slope=np.zeros((1, 1)),
    )  # fmt: skip
    return CycleModel(nodes=(node,), labels=np.array(["a"]), n=1)


def one_visit(model: CycleModel, draws: int = 200_000):
    return predict_total(model, np.ones((1, 1)), np.zeros(1), np.array(["b"]), draws=draws, seed=1)


def test_tails_and_intervals_of_one_visit_are_those_of_the_two_distributions():
    """Mean 12, alpha 0.4; numbers computed independently: P(Y ≤ 3) 0.120780 and 0.002292, 95 % 1–33 and 6–19."""
    nb, poisson = one_visit(exactly(12, 0.4)), one_visit(exactly(12, 0.0))
    assert stats.nbinom.cdf(3, 2.5, 1 / 5.8) == pytest.approx(0.120780, abs=1e-6)
    assert stats.poisson.cdf(3, 12) == pytest.approx(0.002292, abs=1e-6)
    assert nb.at_most(3) == pytest.approx(0.120780, abs=0.003)
    assert poisson.at_most(3) == pytest.approx(0.002292, abs=0.0005)
    assert nb.interval(0.95) == (1, 33)
    assert poisson.interval(0.95) == (6, 19)
    assert np.mean(nb.totals == 0) == pytest.approx(0.0123433, abs=0.001)
    assert nb.totals.var() == pytest.approx(69.6, rel=0.03)  # 12 + 0.4 · 144
    assert nb.expected == pytest.approx(12)


def test_one_of_many_periods_is_out_by_chance():
    """24 looks at 5 in 100: 1 - 0.95^24 = 0.708."""
    assert tried_by_chance(0.05, 24) == pytest.approx(0.708, abs=5e-4)
    assert tried_by_chance(0.05, 1) == pytest.approx(0.05)
    assert tried_by_chance(1.0, 3) == 1.0
    with pytest.raises(ValueError, match="at least one"):
        tried_by_chance(0.05, 0)


def sample(seed: int, cycles: int, visits: int, spread: float, alpha: float = 0.3):
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(cycles), visits)
    design = np.column_stack((np.ones(group.size), rng.normal(size=group.size)))
    ln = design @ [1.8, 0.5] + spread * rng.standard_normal(cycles)[group]
    return rng.poisson(np.exp(ln) * rng.gamma(1 / alpha, alpha, group.size)), design, group


def fitted(y, design, group) -> CycleModel:
    plain = fit_counts(y, design, terms=["intercept", "flow"])
    start = plain.alpha if plain.alpha > 0 else 0.0
    return fit_cycles(y, design, np.zeros(len(y)), group, start=plain.estimate, start_alpha=start)


def test_weights_of_the_nodes_are_those_of_the_likelihood_integrated_by_quadrature():
    """Intercept alone, four cycles: every u and the intercept integrated numerically, at all nodes of the grid."""
    y, _, group = sample(4, 4, 6, 0.5)
    plain = fit_counts(y, np.ones((24, 1)), terms=["intercept"], family="negative-binomial")
    model = fit_cycles(y, np.ones((24, 1)), np.zeros(24), group, start=plain.estimate, start_alpha=plain.alpha)
    u, weight = np.polynomial.hermite_e.hermegauss(40)
    weight = weight / np.sqrt(2 * np.pi)

    def log_marginal(node: CycleNode) -> float:
        beta = np.linspace(node.coefficients[0] - 3, node.coefficients[0] + 3, 101)
        mean = np.exp(beta[:, None] + node.spread * u)
        total = np.zeros(beta.size)
        for g in range(4):
            terms = stats.nbinom.logpmf(y[group == g][:, None, None], 1 / node.alpha, 1 / (1 + node.alpha * mean))
            total += np.log((np.exp(terms.sum(axis=0)) * weight).sum(axis=1))
        top = total.max()
        return float(top + np.log(integrate.trapezoid(np.exp(total - top), beta)))

    log_prior = [
        -0.5 * (n.variation / VARIATION_PRIOR) ** 2 - 0.5 * (n.spread / SPREAD_PRIOR) ** 2 for n in model.nodes
    ]
    exact = np.array([log_marginal(n) for n in model.nodes]) + log_prior
    exact = np.exp(exact - exact.max())
    np.testing.assert_allclose([n.weight for n in model.nodes], exact / exact.sum(), atol=0.006)


def test_without_differences_between_cycles_the_coefficients_are_those_of_the_plain_fit():
    y, design, group = sample(1, 30, 20, 0.0)
    plain = fit_counts(y, design, terms=["intercept", "flow"])
    model = fitted(y, design, group)
    np.testing.assert_allclose(model.coefficients, plain.estimate, atol=0.02)
    assert model.alpha == pytest.approx(plain.alpha, abs=0.03)
    assert model.spread < 0.12
    spread = np.cov(coefficient_draws(model, 20_000, 1).T)
    np.testing.assert_allclose(np.sqrt(np.diag(spread)), plain.standard_error, rtol=0.25)


def test_the_spread_between_cycles_is_found():
    model = fitted(*sample(2, 200, 8, 0.5))
    assert model.spread == pytest.approx(0.5, abs=0.08)
    assert model.alpha == pytest.approx(0.3, abs=0.05)


def test_a_cycle_that_is_known_pulls_its_own_prediction_and_no_other():
    y, design, group = sample(3, 20, 10, 0.0)
    y = np.where(group == 4, 3 * y, y)
    model = fitted(y, design, group)
    visit = (np.array([[1.0, 0.0]] * 5), np.zeros(5))
    here = predict_total(model, *visit, np.array([4] * 5), seed=1)
    elsewhere = predict_total(model, *visit, np.array([7] * 5), seed=1)
    new = predict_total(model, *visit, np.array([99] * 5), seed=1)
    assert here.expected > 1.3 * elsewhere.expected
    assert np.ptp(np.quantile(elsewhere.means, [0.1, 0.9])) < np.ptp(np.quantile(new.means, [0.1, 0.9]))


def test_visits_of_one_new_cycle_move_together():
    model = fitted(*sample(2, 60, 8, 0.5))
    design, offset = np.tile([1.0, 0.0], (10, 1)), np.zeros(10)
    together = predict_total(model, design, offset, np.array(["x"] * 10), seed=1)
    apart = predict_total(model, design, offset, np.array([f"x{i}" for i in range(10)]), seed=1)
    assert together.totals.std() > 1.5 * apart.totals.std()
    two = predict_totals(model, design, offset, np.array(["x"] * 10), np.arange(10) % 2, draws=4_000, seed=1)
    assert np.corrcoef(two.means.T)[0, 1] == pytest.approx(1.0)


def test_the_same_seed_gives_the_same_draws():
    model = fitted(*sample(2, 20, 8, 0.3))
    twice = [predict_total(model, np.array([[1.0, 0.0]]), np.zeros(1), np.array([0]), seed=5).totals for _ in range(2)]
    assert np.array_equal(*twice)
