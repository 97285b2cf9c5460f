"""What a plan for absence refuses, rounds and scales; its numbers are checked in tests/published."""

from __future__ import annotations

import math

import pytest

from ecology.survey_plan import (
    MOST_VISITS,
    DetectionRange,
    best_visits_per_site,
    fewer_than,
    plan_absence,
    probability_found,
    probability_present,
    visits_for_absence,
    visits_for_posterior,
)


def test_twice_the_effort_is_two_visits_in_one():
    one = DetectionRange(low=0.2, high=0.6, value=0.4, searches=30, typical_effort=45.0)
    two = one.for_effort(90.0)
    assert (two.low, two.value, two.high) == pytest.approx((0.36, 0.64, 0.84))
    assert two.typical_effort == 90.0
    assert two.searches == 30


def test_an_effort_without_a_typical_one_is_refused():
    with pytest.raises(ValueError, match="efforts are above 0"):
        DetectionRange(low=0.2, high=0.6).for_effort(90.0)


def test_a_range_that_is_none_is_refused():
    for low, high, value in ((0.6, 0.2, None), (0.2, 0.6, 0.7), (-0.1, 0.5, None), (0.5, 1.1, None)):
        with pytest.raises(ValueError, match="detection is a range"):
            DetectionRange(low=low, high=high, value=value)


def test_a_visit_that_never_finds_never_ends():
    plan = plan_absence(DetectionRange(low=0.0, high=0.5, value=0.2), sure=0.95)
    assert plan.visits_needed is None
    assert plan.at_estimate == 14
    assert visits_for_posterior(0.5, 0.0, 0.05) == math.inf
    assert visits_for_posterior(1.0, 0.5, 0.05) == math.inf


def test_a_prior_that_is_low_already_needs_no_visit():
    assert visits_for_posterior(0.05, 0.3, 0.05) == 0
    assert visits_for_posterior(0.0, 0.3, 0.05) == 0
    assert plan_absence(DetectionRange(low=0.3, high=0.3), sure=0.9, prior=0.05).visits_needed == 0


def test_certainty_before_looking_stays():
    assert probability_present(1.0, 0.5, 10.0) == 1.0
    assert probability_present(0.0, 0.5, 10.0) == 0.0
    assert probability_present(1.0, 1.0, 1.0) == 0.0
    assert probability_found(1.0, 0.0) == 0.0


def test_a_plan_is_never_longer_than_anyone_could_go():
    plan = plan_absence(DetectionRange(low=0.001, high=0.01), sure=0.95)
    assert plan.visits_needed is None
    assert plan.curve["visits"].max() <= MOST_VISITS


def test_chances_outside_their_range_are_refused():
    for wrong in (0.0, 1.0, -0.1):
        with pytest.raises(ValueError, match="alpha"):
            visits_for_absence(0.3, wrong)
    with pytest.raises(ValueError, match="detection"):
        visits_for_absence(1.5, 0.05)
    with pytest.raises(ValueError, match="prior"):
        probability_present(1.2, 0.3, 1)
    with pytest.raises(ValueError, match="occupied"):
        best_visits_per_site(1.0, 0.3)


def test_fewer_visits_are_three_quarters_half_and_a_quarter():
    assert fewer_than(12) == [9, 6, 3]
    assert fewer_than(2) == [1]
    assert fewer_than(1) == []
