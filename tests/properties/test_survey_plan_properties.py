"""What holds for every plan: more detection or more visits never tell less, and plans invert their curves."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ecology.return_watch import known_within, known_within_at_worst, widest_spacing
from ecology.survey_plan import (
    DetectionRange,
    plan_absence,
    probability_found,
    probability_present,
    visits_for_absence,
    visits_for_posterior,
)

hundredths = st.integers(1, 99)
chances = st.floats(0.001, 0.999)


@given(p=hundredths, alpha=st.integers(1, 999))
def test_the_visits_are_the_fewest_by_exact_arithmetic(p, alpha):
    missed, most = 1 - Fraction(p, 100), Fraction(alpha, 1000)
    n = int(visits_for_absence(p / 100, alpha / 1000))
    assert missed**n <= most
    assert n == 1 or missed ** (n - 1) > most


@given(p=hundredths, n=st.integers(1, 60))
def test_a_chance_made_of_n_visits_needs_n_visits(p, n):
    if (alpha := (1 - p / 100) ** n) > 0.0:
        assert visits_for_absence(p / 100, alpha) == n


@given(p=hundredths, prior=hundredths, alpha=st.integers(1, 500))
def test_visits_for_a_posterior_are_the_fewest_by_exact_arithmetic(p, prior, alpha):
    missed, before, most = 1 - Fraction(p, 100), Fraction(prior, 100), Fraction(alpha, 1000)

    def there(k: int) -> Fraction:
        return before * missed**k / (before * missed**k + 1 - before)

    n = int(visits_for_posterior(prior / 100, p / 100, alpha / 1000))
    assert there(n) <= most
    assert n == 0 or there(n - 1) > most


@given(p=chances, more=chances, prior=chances)
def test_more_detection_and_more_visits_never_tell_less(p, more, prior):
    low, high = sorted((p, more))
    k = np.arange(40)
    assert np.all(np.diff(probability_found(low, k)) >= 0.0)
    assert np.all(probability_found(high, k) >= probability_found(low, k))
    present = probability_present(prior, low, k)
    assert present[0] == pytest.approx(prior)
    assert np.all(np.diff(present) <= 0.0)
    assert np.all(probability_present(prior, high, k) <= present + 1e-12)
    assert visits_for_absence(high, 0.05) <= visits_for_absence(low, 0.05)


@given(p=chances, every=st.integers(1, 60), within=st.integers(0, 90))
def test_a_return_is_known_as_often_as_going_through_every_day_says(p, every, within):
    """Each day between two visits in turn: the first visit comes so many days after the return."""
    missed = [(1 - p) ** len(range(first, within + 1, every)) for first in range(every)]
    assert known_within(p, every, within) == pytest.approx(1 - sum(missed) / every, abs=1e-12)
    assert known_within_at_worst(p, every, within) == pytest.approx(1 - max(missed), abs=1e-12)


@given(p=chances, within=st.integers(0, 90), sure=st.floats(0.05, 0.99))
def test_the_widest_spacing_is_enough_and_a_day_more_is_not(p, within, sure):
    found = widest_spacing(p, within, sure)
    if found is None:
        assert known_within(p, 1, within) < sure
        return
    assert known_within(p, found, within) >= sure - 1e-9
    assert all(known_within(p, found + more, within) < sure for more in (1, 2, 7))


@given(low=hundredths, high=hundredths, sure=st.integers(50, 99), prior=st.none() | hundredths)
def test_a_plan_is_enough_for_all_of_its_range_and_its_curve_says_so(low, high, sure, prior):
    low, high = sorted((low / 100, high / 100))
    plan = plan_absence(
        DetectionRange(low=low, high=high), sure=sure / 100, prior=None if prior is None else prior / 100
    )
    row = plan.curve[plan.curve["visits"] == plan.visits_needed].iloc[0]
    if prior is None:
        assert row["low"] >= sure / 100 - 1e-9
    else:
        assert row["present_high"] <= 1 - sure / 100 + 1e-9
