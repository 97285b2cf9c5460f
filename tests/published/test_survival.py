"""Open-population survival against published analyses.

Dipper: Lebreton, Burnham, Clobert and Anderson 1992, Ecological Monographs 62:67–118, both sexes, 1981–87. The counts
of releases and first recaptures are from memory; that all five likelihoods below agree with the published ones shows
that they are right. Capsids: Jolly 1965, Biometrika 52:225–247, as in Seber 1982, chapter 5; counts from memory, their
sums Σr = Σm = 869 agree.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.jolly_seber import jolly_seber
from ecology.release_counts import ReleaseCounts, release_counts
from ecology.survival import SurvivalFit, fit_survival, profile_interval
from ecology.survival_likelihood import SurvivalModel

RELEASED = (22, 60, 78, 80, 88, 98)
AGAIN = ((11, 2, 0, 0, 0, 0), (0, 24, 1, 0, 0, 0), (0, 0, 34, 2, 0, 0), (0, 0, 0, 45, 1, 2), (0, 0, 0, 0, 51, 0),
         (0, 0, 0, 0, 0, 52))  # fmt: skip
EACH = (0, 1, 2, 3, 4, 5)
SAME = (0,) * 6
FLOOD = (0, 1, 1, 0, 0, 0)


def dippers() -> ReleaseCounts:
    start, end, number = [], [], []
    for i, row in enumerate(AGAIN):
        for j, n in enumerate(row):
            if n:
                start.append(i)
                end.append(j + 1)
                number.append(n)
        start.append(i)
        end.append(-1)
        number.append(RELEASED[i] - sum(row))
    rows = np.array(start), np.zeros(len(start), int), np.array(end), np.ones(len(start), bool), np.array(number)
    return release_counts(*rows, available=np.ones((1, 7), bool))


def fitted(survival: tuple[int, ...], recapture: tuple[int, ...]) -> SurvivalFit:
    years = np.zeros((max(survival) + 1, 1, 6))
    years[list(survival), 0, np.arange(6)] = 1.0
    model = SurvivalModel(
        name="dipper",
        years=years,
        looks=np.ones((1, 7)),
        look_class=np.array([[-1, *recapture]]),
        survival_names=tuple(f"s{i}" for i in range(max(survival) + 1)),
        recapture_names=tuple(f"p{i}" for i in range(max(recapture) + 1)),
    )
    return fit_survival(dippers(), model)


@pytest.mark.parametrize(
    ("survival", "recapture", "deviance", "parameters"),
    [
        (SAME, SAME, 666.83766, 2),
        (FLOOD, SAME, 660.10277, 3),
        (EACH, SAME, 659.73009, 7),
        (SAME, EACH, 664.48017, 7),
        (EACH, EACH, 656.95021, 11),
    ],
)
def test_the_five_dipper_models_have_their_published_likelihoods(survival, recapture, deviance, parameters):
    fit = fitted(survival, recapture)
    assert fit.minus_two_log_likelihood == pytest.approx(deviance, abs=1e-5)
    assert fit.n_estimable == parameters
    assert fit.gradient < 1e-4


def test_dipper_survival_and_recapture_with_their_published_errors():
    phi, p = fitted(SAME, SAME).rates
    assert (phi.value, phi.standard_error) == pytest.approx((0.560243, 0.025133), abs=2e-6)
    assert (p.value, p.standard_error) == pytest.approx((0.902583, 0.028586), abs=2e-6)
    # Logit intervals as published (value from memory: .5105–.6088 and .8305–.9460).
    assert (phi.low, phi.high) == pytest.approx((0.5105, 0.6088), abs=1e-4)
    assert (p.low, p.high) == pytest.approx((0.8305, 0.9460), abs=1e-4)
    fit = fitted(SAME, SAME)
    assert fit.theta == pytest.approx([0.2421484, 2.226266], abs=1e-5)
    assert np.sqrt(np.diag(fit.covariance)) == pytest.approx([0.1020127, 0.3251093], abs=1e-5)


def test_dippers_survived_worse_in_the_years_of_the_flood():
    without, flood, p = fitted(FLOOD, SAME).rates
    assert (without.value, without.standard_error) == pytest.approx((0.607096, 0.030949), abs=2e-6)
    assert (flood.value, flood.standard_error) == pytest.approx((0.468827, 0.043236), abs=2e-6)
    assert (p.value, p.standard_error) == pytest.approx((0.899789, 0.029270), abs=2e-6)


def test_the_last_survival_and_recapture_are_only_known_as_a_product():
    fit = fitted(EACH, EACH)
    values = [r.value for r in fit.rates]
    assert values[:5] == pytest.approx([0.718182, 0.434671, 0.478171, 0.626118, 0.598533], abs=2e-6)
    assert values[6:11] == pytest.approx([0.696203, 0.923077, 0.913044, 0.900789, 0.932414], abs=2e-6)
    assert values[5] is None
    assert values[11] is None
    assert "combination" in str(fit.rates[5].why)
    product = np.prod(1 / (1 + np.exp(-fit.theta[[5, 11]])))
    assert product == pytest.approx(52 / 98, abs=1e-6)


def test_survival_by_year_with_one_recapture_rate():
    expected = [0.625836, 0.454191, 0.478377, 0.624404, 0.607944, 0.583298, 0.902066]
    assert [r.value for r in fitted(EACH, SAME).rates] == pytest.approx(expected, abs=2e-6)


def test_the_profile_interval_is_close_to_the_logit_interval_where_data_are_many():
    fit = fitted(SAME, SAME)
    low, high = profile_interval(fit, "s0")
    assert (low, high) == pytest.approx((fit.rates[0].low, fit.rates[0].high), abs=2e-3)
    # At its ends ln L has fallen by half the 95 % quantile of chi² on one degree of freedom, 3.841459.
    for end in (low, high):
        held = fit.theta.copy()
        held[0] = np.log(end / (1 - end))
        best = max(_likelihood_at(fit, held[0], p) for p in np.linspace(1.5, 3.2, 400))
        assert 2 * (fit.log_likelihood - best) == pytest.approx(3.841459, abs=2e-3)


def _likelihood_at(fit: SurvivalFit, phi: float, p: float) -> float:
    from ecology.survival_likelihood import log_likelihood

    return log_likelihood(fit.counts, fit.model, np.array([phi, p]))[0]


CAPSIDS = pd.DataFrame(
    {
        "n": [54, 146, 169, 209, 220, 209, 250, 176, 172, 127, 123, 120, 142],
        "m": [0, 10, 37, 56, 53, 77, 112, 86, 110, 84, 77, 72, 95],
        "R": [54, 143, 164, 202, 214, 207, 243, 175, 169, 126, 120, 120, 0],
        "r": [24, 80, 70, 71, 109, 101, 108, 99, 70, 58, 44, 35, 0],
        "z": [0, 14, 57, 71, 89, 121, 110, 132, 121, 107, 88, 60, 0],
    }
)


def test_capsid_abundance_and_survival_are_jollys():
    """Published (value from memory): N 511.2, 779.1, 963.0, 945.3, 882.2, 802.5, 653.6, 628.8, 478.5, 506.4, 462.8,
    Jolly having rounded M on the way; survival .649, 1.015, .867, .564, .836, .790, .651, .985, .686, .884, .771."""
    assert CAPSIDS["m"].sum() == CAPSIDS["r"].sum() == 869
    found = jolly_seber(CAPSIDS, bias_corrected=False)
    exact = [511.365, 778.966, 962.893, 945.311, 882.116, 802.455, 653.519, 628.783, 478.440, 506.377, 462.857]
    assert found["abundance"].iloc[1:12].tolist() == pytest.approx(exact, abs=1e-3)
    published = [511.2, 779.1, 963.0, 945.3, 882.2, 802.5, 653.6, 628.8, 478.5, 506.4, 462.8]
    assert found["abundance"].iloc[1:12].tolist() == pytest.approx(published, rel=5e-4)
    phi = [0.649, 1.015, 0.867, 0.564, 0.836, 0.790, 0.651, 0.985, 0.686, 0.884, 0.771]
    assert found["survival"].iloc[:11].tolist() == pytest.approx(phi, abs=6e-4)
    assert found[["abundance", "recapture"]].iloc[[0, 12]].isna().all(axis=None)


def test_capsid_abundance_without_its_small_sample_bias():
    """Computed once, independently, from Seber's formula with one added to R, r, n and m."""
    found = jolly_seber(CAPSIDS)["abundance"].iloc[1:12].tolist()
    assert found == pytest.approx([466.2424, 758.1319, 943.8231, 928.8325, 871.6214, 795.7334, 647.6166, 622.9844,
                                   473.3320, 498.5789, 453.6119], abs=1e-4)  # fmt: skip


def test_capsid_errors_are_near_jollys():
    """Jolly's standard errors of N (value from memory): 151.2, 129.3, 140.9, 125.5, 96.1, 74.8, 61.7, 61.9, 51.8, 65.8,
    70.2; he used rounded M and a form that differs in the second digit."""
    found = jolly_seber(CAPSIDS, bias_corrected=False)["abundance_se"].iloc[1:12].tolist()
    assert found == pytest.approx([151.2, 129.3, 140.9, 125.5, 96.1, 74.8, 61.7, 61.9, 51.8, 65.8, 70.2], rel=0.06)
