"""Closed-population estimates against published worked examples.

Gerking 1953, sunfish of Gordy Lake, and Dahl's trout, both as worked in Krebs, Ecological Methodology (data from
memory; their published sums agree). Edwards and Eberhardt 1967, cottontails in an enclosure (data from memory), worked
in Chao 1987, Biometrics 43:783–791.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from scipy.stats import beta, chi2

from ecology.abundance import chao_lower_bound, chapman, schnabel, schumacher_eschmeyer
from ecology.closed_window import closed_window
from ecology.exact_intervals import count_interval, share_interval

CAUGHT = [10, 27, 17, 7, 1, 5, 6, 15, 9, 18, 16, 5, 7, 19]
RECAUGHT = [0, 0, 0, 0, 0, 0, 2, 1, 5, 5, 4, 2, 2, 3]
AT_LARGE = [0, 10, 37, 54, 61, 62, 67, 71, 85, 89, 102, 112, 115, 119]


def test_schnabel_on_the_sunfish_of_gordy_lake():
    found = schnabel(CAUGHT, RECAUGHT, AT_LARGE)
    assert found.numbers["sum_cm"] == 10740
    assert found.value == pytest.approx(447.5)
    assert found.numbers["with_one_added"] == pytest.approx(429.6)
    # Limits by Garwood's exact Poisson interval for 24 recaptures, 15.37725 to 35.71010. Krebs prints others, by Crow
    # and Gardner's shortest interval.
    assert (found.low, found.high) == pytest.approx((300.755, 698.434), abs=1e-3)


def test_schumacher_and_eschmeyer_on_the_sunfish_of_gordy_lake():
    found = schumacher_eschmeyer(CAUGHT, RECAUGHT, AT_LARGE)
    assert found.numbers == {"sum_cm2": 970296, "sum_rm": 2294, "samples": 14}
    assert found.value == pytest.approx(422.971229, abs=1e-6)
    # Published: 423, 95 % limits 300 and 719.
    assert (found.low, found.high) == pytest.approx((299.659, 718.739), abs=1e-3)


def test_chapman_on_dahls_trout():
    found = chapman(109, 177, 57)
    assert found.value == pytest.approx(336.586207, abs=1e-6)
    assert found.standard_error == pytest.approx(24.811021, abs=1e-6)
    # Logit limits computed once, independently, from Sadinle's formula.
    assert (found.low, found.high) == pytest.approx((298.32, 401.87), abs=0.01)
    small = chapman(10, 15, 5)
    assert (small.value, small.standard_error) == pytest.approx((28.333333, 5.909368), abs=1e-6)
    assert (small.low, small.high) == pytest.approx((21.94, 64.66), abs=0.01)


def test_chaos_lower_bound_on_the_cottontails():
    times = [1] * 43 + [2] * 16 + [3] * 8 + [4] * 6 + [6] * 2 + [7]
    found = chao_lower_bound(times)
    assert (len(times), sum(times)) == (76, 142)
    assert found.value == pytest.approx(133.78125)  # published: 134; 135 rabbits were in the enclosure
    assert found.numbers["bias_corrected"] == pytest.approx(129.117647, abs=1e-6)
    assert found.low < 135 < found.high


def test_chaos_lower_bound_on_the_taxis():
    """Carothers 1973, taxis of Edinburgh, 420 in truth (counts from memory); the bound computed independently."""
    times = [1] * 142 + [2] * 81 + [3] * 49 + [4] * 7 + [5] * 3 + [6]
    found = chao_lower_bound(times)
    assert (len(times), sum(times)) == (283, 500)
    assert found.value == pytest.approx(407.469136, abs=1e-6)
    assert found.low < 420 < found.high


def test_the_variance_of_chaos_bound_follows_from_the_delta_method():
    """The closed forms (Chao 1987; for f2 = 0, none caught twice, from memory) against their derivation: counts f of
    animals by captures are multinomial out of N, so that a bound with slopes c by each f has the variance Σ c² f − (Σ c
    f)² ÷ N."""
    for f1, f2, more in ((43, 16, 17), (12, 0, 3), (5, 0, 1), (20, 0, 9), (2, 0, 5)):
        found = chao_lower_bound([1] * f1 + [2] * f2 + [3] * more)
        if f2:
            slopes = np.array([1 + f1 / f2, 1 - f1**2 / (2 * f2**2), 1.0])
        else:
            slopes = np.array([1 + (2 * f1 - 1) / 2, 1 - f1 * (f1 - 1) / 2, 1.0])
        counts = np.array([f1, f2, more])
        by_delta = (slopes**2 * counts).sum() - (slopes * counts).sum() ** 2 / found.value
        assert found.standard_error**2 == pytest.approx(by_delta, rel=1e-9)


def test_exact_intervals_are_those_of_scipy():
    assert share_interval(7, 9) == pytest.approx((0.399906, 0.971855), abs=1e-6)
    for k, n, level in ((0, 4, 0.9), (4, 4, 0.9), (3, 20, 0.99)):
        low, high = share_interval(k, n, level)
        tail = (1 - level) / 2
        assert low == pytest.approx(beta.ppf(tail, k, n - k + 1) if k else 0.0, abs=1e-12)
        assert high == pytest.approx(beta.ppf(1 - tail, k + 1, n - k) if k < n else 1.0, abs=1e-12)
    low, high = count_interval(24)
    assert (low, high) == pytest.approx((15.37725, 35.71010), abs=1e-5)
    assert (low, high) == pytest.approx((chi2.ppf(0.025, 48) / 2, chi2.ppf(0.975, 50) / 2))
    assert count_interval(0)[0] == 0.0


def test_a_window_of_captures_gives_the_sunfish_back():
    """The same census as captures, an animal a row: the window has to form the sums itself."""
    rows, known = [], 0
    for day, (caught, again) in enumerate(zip(CAUGHT, RECAUGHT, strict=True)):
        names = [f"f{i}" for i in range(again)] + [f"f{known + i}" for i in range(caught - again)]
        known += caught - again
        rows += [
            {"date": pd.Timestamp("2020-06-01") + pd.Timedelta(days=day), "outlet": "a", "individual": n} for n in names
        ]
    captures = pd.DataFrame(rows)
    window = closed_window(captures, captures["date"].min(), captures["date"].max())
    by_name = {e.estimator: (e, doubts) for e, doubts in window.estimates}
    # At large by the published table one fish died; by the captures every one lives on.
    at_large = np.concatenate(([0], np.cumsum(np.array(CAUGHT) - RECAUGHT)[:-1]))
    assert window.samples["at_large"].tolist() == at_large.tolist()
    assert by_name["schnabel"][0].value == pytest.approx(schnabel(CAUGHT, RECAUGHT, at_large.tolist()).value)
    assert by_name["schnabel"][0].value == pytest.approx(447.5, rel=0.02)
