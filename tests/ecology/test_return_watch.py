"""Spacing of visits that knows a return soon, by hand and by playing it through."""

from __future__ import annotations

import numpy as np
import pytest

from ecology.interval_fits import fit_intervals
from ecology.return_watch import LagShape, known_within, plan_watch, widest_spacing
from ecology.survey_plan import DetectionRange

SURELY = DetectionRange(low=1.0, high=1.0, value=1.0)


def test_a_visit_that_never_misses_knows_every_return_once_the_days_are_covered():
    """Days 0 to 14 after a return are 15: every 15 days each return meets exactly one visit in time."""
    assert known_within(1.0, 15, 14) == 1.0
    assert known_within(1.0, 16, 14) == pytest.approx(15 / 16)
    assert widest_spacing(1.0, 14, 0.99) == 15


def test_weekly_visits_at_forty_in_hundred_by_hand():
    """15 days hold two visits of the week for six phases and three for one: 1 − (6 · 0.36 + 0.216) / 7."""
    assert known_within(0.4, 7, 14) == pytest.approx(1 - (6 * 0.36 + 0.216) / 7)


def test_playing_a_watch_through_meets_the_formula():
    rng = np.random.default_rng(7)
    n, every, within, p = 20_000, 9, 20, 0.45
    first = rng.integers(0, every, size=n)
    offsets = first[:, None] + every * np.arange(4)
    known = ((rng.random((n, 4)) < p) & (offsets <= within)).any(axis=1).mean()
    assert abs(known - known_within(p, every, within)) < 4 * np.sqrt(0.25 / n)


def test_what_even_daily_visits_do_not_know_has_no_plan():
    plan = plan_watch(DetectionRange(low=0.05, high=0.2), sure=0.9, within_days=3, watch_days=60)
    assert plan.every_days is None
    assert plan.visits_needed is None
    assert plan.curve["probability"].max() < 0.9


def test_a_plan_holds_for_the_low_end_and_counts_its_visits():
    plan = plan_watch(DetectionRange(low=0.5, high=0.9, value=0.7), sure=0.9, within_days=14, watch_days=90)
    assert plan.every_days < plan.every_at_estimate
    assert plan.visits_needed == len(range(0, 91, plan.every_days))
    row = plan.curve[plan.curve["every_days"] == plan.every_days].iloc[0]
    assert row["low"] >= 0.9
    assert row["at_worst"] <= row["low"] <= row["probability"] <= row["high"]


@pytest.mark.parametrize("shape", ["weibull", "lognormal", "loglogistic"])
def test_quantiles_of_the_lags_are_those_of_the_fit(shape):
    """Parameters as `fit_intervals` names them; its distribution function is checked against published fits."""
    high = np.array([12.0, 20, 25, 31, 40, 44, 52, 60, 75, 90])
    fit = fit_intervals(high - 5.0, high, shape)
    lag = LagShape(distribution=shape, parameters=fit.parameters)
    for share in (0.05, 0.5, 0.9):
        assert float(fit.cdf(lag.quantile(share))) == pytest.approx(share, abs=1e-9)
        assert lag.share_by(lag.quantile(share)) == pytest.approx(share, abs=1e-12)
    assert lag.share_by(0.0) == 0.0


def test_a_watch_that_begins_later_spares_visits_and_says_what_it_misses():
    lag = LagShape(distribution="weibull", parameters={"shape": 2.0, "scale": 60.0})
    plan = plan_watch(SURELY, sure=0.9, within_days=6, watch_days=100, lag=lag)
    assert plan.start_day == int(60 * np.sqrt(-np.log(0.95)))
    assert plan.share_before_start == pytest.approx(1 - np.exp(-((plan.start_day / 60) ** 2)))
    assert plan.visits_from_start == (100 - plan.start_day) // plan.every_days + 1 < plan.visits_needed
