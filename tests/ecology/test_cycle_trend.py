"""What is left over of a fit, flow cycle by flow cycle, against time."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from ecology.count_model import fit_counts
from ecology.cycle_trend import CycleTrend, trend_left_over
from ecology.not_estimable import NotEstimable
from tests.ecology.made_survey import MadeSurvey, made_counts, made_survey

MADE = made_survey(np.random.default_rng(3), years=16, visits_a_year=8, spread=0.0)


def trend_of(made: MadeSurvey, count: np.ndarray, kept: slice = slice(None)) -> CycleTrend:
    design, groups = made.design(made.visits.assign(count=count.astype(float)))
    y, X, offset = design.rows["count"].to_numpy(), design.matrix, design.offset
    fit = fit_counts(y[kept], X[kept], terms=design.terms, offset=offset[kept])
    return trend_left_over(fit, design.rows["date"][kept], groups[kept])


def test_counts_without_a_drift_show_none_and_a_drift_is_found_with_its_size():
    rng = np.random.default_rng(1)
    still = trend_of(MADE, made_counts(rng, MADE.mean, 0.3))
    assert still.trend.n == 16 and still.trend.p > 0.05
    assert still.percent_a_year[1] < 0 < still.percent_a_year[2]
    years = (MADE.visits["date"] - pd.Timestamp("2000-01-01")).dt.days.to_numpy() / 365.25
    falling = trend_of(MADE, made_counts(rng, MADE.mean * 0.92**years, 0.3))
    value, low, high = falling.percent_a_year
    assert falling.trend.p < 0.01
    assert low < -8 < high < 0
    assert value == pytest.approx(-8, abs=4)


def test_cycles_are_told_in_order_with_what_was_observed_and_expected():
    found = trend_of(MADE, made_counts(np.random.default_rng(1), MADE.mean, 0.3)).cycles
    assert found["visits"].tolist() == [8] * 16
    assert found["first"].is_monotonic_increasing and (found["first"] <= found["last"]).all()
    assert found["expected"].sum() == pytest.approx(found["observed"].sum(), rel=0.1)


def test_the_names_of_cycles_and_the_order_of_rows_change_nothing():
    design, groups = MADE.design()
    fit = fit_counts(design.rows["count"].to_numpy(), design.matrix, terms=design.terms, offset=design.offset)
    first = trend_left_over(fit, design.rows["date"], groups).trend
    names = np.array([f"c{99 - int(g)}" for g in groups])
    assert trend_left_over(fit, design.rows["date"], names).trend == first


def test_few_cycles_and_cycles_on_the_same_days_are_not_judged():
    counts = made_counts(np.random.default_rng(1), MADE.mean, 0.3)
    with pytest.raises(NotEstimable, match="9 flow cycles show no trend: at least 10"):
        trend_of(MADE, counts, slice(0, 72))
    design, groups = MADE.design()
    fit = fit_counts(design.rows["count"].to_numpy(), design.matrix, terms=design.terms, offset=design.offset)
    twice = pd.Series(np.repeat(design.rows["date"].to_numpy()[::8], 8))
    with pytest.raises(NotEstimable, match="same days"):
        trend_left_over(fit, twice, np.array([f"{g} {i % 2}" for i, g in enumerate(groups)]))
