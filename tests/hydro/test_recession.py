"""Recessions: the rules that pick them, what a fit keeps and leaves out, and what an answer may have seen."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hydro.no_recharge import NoRechargeStop, no_recharge_stop
from hydro.recession import RecessionModel, RecessionRules, find_recessions, fit_recessions, recession_path
from hydro.scores import ensemble_crps

PLAIN = RecessionRules(smooth_days=1, drop_first=0.0, least_ratio=None)


def daily(values: list[float] | np.ndarray) -> pd.Series:
    return pd.Series(np.asarray(values, float), index=pd.date_range("2001-01-01", periods=len(values)))


def river(years: int, seed: int = 1, storms: float = 0.03) -> pd.Series:
    """Storms and exponential recessions, each at its own rate [m³/s]."""
    rng = np.random.default_rng(seed)
    log_q, rate = 0.0, 0.02
    out = np.empty(int(365.25 * years))
    for k in range(len(out)):
        if rng.random() < storms:
            log_q, rate = 0.5 * log_q + rng.exponential(1.0), 0.02 * np.exp(0.4 * rng.normal())
        log_q -= rate
        out[k] = log_q
    return daily(np.exp(out + 0.003 * rng.normal(size=len(out))))


@pytest.fixture(scope="module")
def water() -> pd.Series:
    return river(12)


@pytest.fixture(scope="module")
def model(water: pd.Series) -> RecessionModel:
    fitted = fit_recessions(find_recessions(water))
    assert fitted is not None
    return fitted


# ---- the rules ----


def test_a_recession_of_the_least_length_counts_and_one_day_less_does_not() -> None:
    # The first day has no day before it to fall from.
    assert find_recessions(daily(np.linspace(2, 1, 11)), rules=PLAIN).n == 1
    assert find_recessions(daily(np.linspace(2, 1, 10)), rules=PLAIN).n == 0


def test_the_first_part_is_dropped_and_the_rest_kept() -> None:
    found = find_recessions(daily(np.linspace(2, 1, 21)), rules=RecessionRules(smooth_days=1, drop_first=0.3))
    assert len(found.day) == 14 and found.day[0] == pd.Timestamp("2001-01-08")


def test_the_mean_of_three_days_is_that_day_and_the_two_before() -> None:
    q = daily(np.random.default_rng(2).gamma(3.0, size=400))
    rules = RecessionRules(min_days=3, drop_first=0.0, least_ratio=None)
    mean = q.rolling(3).mean()
    found = find_recessions(q, rules=rules)
    assert found.n > 5 and (mean[found.day] < mean.shift(1)[found.day]).all()


def test_means_that_are_equal_do_not_decline_by_rounding() -> None:
    # (0.93 + 0.93 + 1.21) / 3 and (0.93 + 1.21 + 0.93) / 3 differ in their last binary digit, not in what was measured.
    rules = RecessionRules(min_days=3, drop_first=0.0, least_ratio=None)
    assert find_recessions(daily([1e6, *([0.93, 0.93, 1.21] * 50)]).iloc[1:], rules=rules).n == 0
    assert find_recessions(daily([0.3, 0.1, 0.2] * 50), rules=rules).n == 0


def test_a_day_without_a_value_ends_a_recession() -> None:
    q = daily(np.linspace(2, 1, 41))
    q.iloc[20] = np.nan
    found = find_recessions(q, rules=PLAIN)
    assert found.n == 2 and not np.isnan(found.discharge_m3s).any()
    assert q.index[21] not in found.day  # its change from the day before is not known
    three = find_recessions(q, rules=RecessionRules(drop_first=0.0, least_ratio=None))
    assert three.n == 2 and not q.index[21:24].isin(three.day).any()


def test_dry_and_negative_days_belong_to_no_recession() -> None:
    assert find_recessions(daily(np.linspace(0, -1, 30)), rules=PLAIN).n == 0
    found = find_recessions(daily(np.linspace(1.0, -0.5, 31)), rules=PLAIN)
    assert found.n == 1 and (found.discharge_m3s > 0).all()


def test_what_is_not_a_daily_series_is_refused() -> None:
    q = daily(np.linspace(2, 1, 40))
    with pytest.raises(ValueError, match="one row a day"):
        find_recessions(q.drop(q.index[20]))
    with pytest.raises(ValueError, match="same days"):
        find_recessions(q, unsure=pd.Series(False, index=q.index + pd.Timedelta(days=1)))
    with pytest.raises(ValueError, match="infinite"):
        find_recessions(q.where(q.index != q.index[3], np.inf))


@pytest.mark.parametrize(
    "wrong",
    [
        {"min_days": 2},
        {"smooth_days": 0},
        {"drop_first": 1.0},
        {"min_days": 5, "drop_first": 0.6},
        {"least_ratio": 0.0},
        {"at_most_m3s": 0.0},
    ],
)
def test_rules_out_of_range_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(ValueError, match=r"at least|above 0"):
        RecessionRules(**wrong)  # type: ignore[arg-type]


def test_the_series_given_is_left_as_it_was(water: pd.Series) -> None:
    before, unsure = water.copy(), water < water.median()
    find_recessions(water, unsure=unsure)
    no_recharge_stop(water, water.index[-1], stop_level_m3s=0.01, unsure=unsure)
    pd.testing.assert_series_equal(water, before)


def test_an_empty_series_has_no_recessions_and_no_model() -> None:
    empty = pd.Series([], dtype=float, index=pd.DatetimeIndex([]))
    assert find_recessions(empty).n == 0 and fit_recessions(find_recessions(empty)) is None


# ---- the fit ----


def test_two_recessions_are_too_few_and_three_are_not_compared() -> None:
    def events(n: int) -> pd.Series:
        return daily(np.concatenate([3.0 * np.exp(-0.02 * np.arange(40))] * n))

    assert fit_recessions(find_recessions(events(2))) is None
    three, four = (fit_recessions(find_recessions(events(n))) for n in (3, 4))
    assert three is not None and three.exponent == 1.0 and np.isnan(three.crps_free)
    assert four is not None and np.isfinite(four.crps_free)


def test_one_rate_an_event_and_every_event_accounted_for(water: pd.Series, model: RecessionModel) -> None:
    assert len(model.rates) == len(model.events) and (model.rates > 0).all()
    assert len(model.events) + model.n_not_falling == find_recessions(water).n
    assert (model.events["last"] - model.events["first"]).dt.days.add(1).tolist() == model.events["days"].tolist()


def test_rates_come_back_within_their_spread(model: RecessionModel) -> None:
    # Drawn as 0.02 exp(0.4 N(0, 1)) a day.
    assert model.exponent == 1.0
    assert np.exp(np.median(np.log(model.events["rate"]))) == pytest.approx(0.02, rel=0.15)
    assert np.log(model.events["rate"]).std() == pytest.approx(0.4, abs=0.1)


def test_the_comparison_is_the_crps_of_each_event_forecast_by_the_others(water: pd.Series) -> None:
    """Reference: the plain loop, one event and one day at a time, through `ensemble_crps`."""
    found = find_recessions(water.iloc[:1500])
    fitted = fit_recessions(found)
    assert fitted is not None and fitted.n_not_falling == 0
    rates = 1.0 / fitted.events["k_days"].to_numpy()
    scores = []
    for event in range(found.n):
        q = found.discharge_m3s[found.event == event]
        others = np.delete(rates, event)
        paths = np.array([np.log(recession_path(q[0], np.arange(1, len(q)), rate)) for rate in others])
        scores.append(ensemble_crps(paths.T, np.log(q[1:])).mean())
    assert fitted.crps_exponential == pytest.approx(np.mean(scores), rel=1e-10)


@pytest.mark.parametrize(("fall_a_day", "log_line_falls"), [(1e-4, False), (0.0064, True)])
def test_an_event_whose_fitted_line_rises_is_counted_and_not_used(fall_a_day: float, log_line_falls: bool) -> None:
    # Every day lies below that of three days before, yet a line through the last seven rises: through ln Q as well, or
    # through Q^(1-b) of a low exponent alone. Neither has a rate whatever the exponent.
    low = 0.9 if log_line_falls else 1.1
    flat = np.resize([low, 1.0, 1.2], 13) - fall_a_day * np.arange(13)
    q = daily(np.concatenate([3.0 * np.exp(-0.02 * np.arange(40))] * 3 + [[np.nan], flat]))
    found = find_recessions(q)
    fitted = fit_recessions(found)
    assert found.n == 4 and (np.polyfit(np.arange(7), np.log(flat[-7:]), 1)[0] < 0) == log_line_falls
    assert fitted is not None
    assert fitted.n_not_falling == 1 and fitted.rates == pytest.approx([0.02] * 3)


@given(st.floats(1e-6, 1e6))
def test_the_unit_of_discharge_changes_neither_exponent_nor_dates(factor: float) -> None:
    q = river(4, seed=3)
    one, other = fit_recessions(find_recessions(q)), fit_recessions(find_recessions(q * factor))
    assert one is not None and other is not None
    assert other.exponent == one.exponent and other.exponent_free == one.exponent_free
    assert other.rates == pytest.approx(one.rates * factor ** (1 - one.exponent), rel=1e-6)
    assert other.crps_free == pytest.approx(one.crps_free, rel=1e-6)
    a = no_recharge_stop(q, q.index[-1], stop_level_m3s=float(q.iloc[-1]) / 2)
    b = no_recharge_stop(q * factor, q.index[-1], stop_level_m3s=float(q.iloc[-1]) * factor / 2)
    assert abs((a.stop_date - b.stop_date).days) <= 1  # type: ignore[operator]


# ---- what an answer may have seen ----


def same(a: NoRechargeStop, b: NoRechargeStop) -> bool:
    plain = [f.name for f in fields(NoRechargeStop) if f.name != "model"]
    if any(getattr(a, name) != getattr(b, name) for name in plain):
        return False
    if a.model is None or b.model is None:
        return a.model is b.model
    return np.array_equal(a.model.rates, b.model.rates) and a.model.events.equals(b.model.events)


def test_later_rows_change_nothing(water: pd.Series) -> None:
    rng = np.random.default_rng(4)
    unsure = pd.Series(rng.random(len(water)) < 0.02, index=water.index)
    for row in (900, 2000, 3500):
        issued = water.index[row]
        level = float(water.iloc[row]) / 2
        after = water.index > issued
        answer = no_recharge_stop(water, issued, stop_level_m3s=level, unsure=unsure, level=0.8)
        assert answer.stop_date is not None
        for later in (rng.gamma(2.0, size=len(water)), np.nan, 1e-9, 1e9):
            changed, doubt = water.where(~after, later), unsure | after
            again = no_recharge_stop(changed, issued, stop_level_m3s=level, unsure=doubt, level=0.8)
            assert same(answer, again)
        cut = no_recharge_stop(water[~after], issued, stop_level_m3s=level, unsure=unsure[~after], level=0.8)
        assert same(answer, cut)


def test_doubtful_days_take_no_part(water: pd.Series) -> None:
    issued, level = water.index[-1], float(water.iloc[-1]) / 2
    unsure = pd.Series(False, index=water.index)
    unsure.iloc[100:3000] = True
    invented = water.where(~unsure, np.random.default_rng(5).gamma(2.0, size=len(water)))
    a = no_recharge_stop(water, issued, stop_level_m3s=level, unsure=unsure)
    b = no_recharge_stop(invented, issued, stop_level_m3s=level, unsure=unsure)
    assert same(a, b) and not same(a, no_recharge_stop(water, issued, stop_level_m3s=level))


def test_a_wider_share_of_recessions_gives_a_wider_range_about_the_same_middle(water: pd.Series) -> None:
    issued, level = water.index[-1], float(water.iloc[-1]) / 2
    narrow, wide = (no_recharge_stop(water, issued, stop_level_m3s=level, level=c) for c in (0.5, 0.8))
    assert narrow.stop_date == wide.stop_date
    assert wide.earliest < narrow.earliest < narrow.stop_date < narrow.latest < wide.latest  # type: ignore[operator]


def test_a_rate_too_slow_for_any_calendar_has_no_date_instead_of_a_fault() -> None:
    days = np.arange(40)
    falls = [np.exp(-rate * days) for rate in (0.001, 0.02, 0.3, 0.02)]
    series = daily(np.concatenate([np.r_[fall, 1.5] for fall in falls])[:-1])
    found = no_recharge_stop(series, series.index[-1], stop_level_m3s=1e-3, level=0.95)
    assert found.model is not None
    assert found.latest is None


@pytest.mark.parametrize("wrong", [{"level": 0.0}, {"level": 1.0}, {"horizon": 0}, {"stop_level_m3s": 0.0}])
def test_an_answer_out_of_range_is_refused(wrong: dict[str, float]) -> None:
    series = daily(np.exp(-0.02 * np.arange(60)))
    asked = {"stop_level_m3s": 0.1, **wrong}
    with pytest.raises(ValueError, match="level lies between"):
        no_recharge_stop(series, series.index[-1], **asked)  # type: ignore[arg-type]
