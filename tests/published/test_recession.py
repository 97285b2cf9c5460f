"""Recession times and first passage against closed forms, and fits against series whose recession is known."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest

from hydro.analogues import run_rule
from hydro.first_passage import passed_by
from hydro.no_recharge import boussinesq_rate, no_recharge_stop, released_volume_m3, time_to_level
from hydro.outlook_record import StateRule
from hydro.recession import RecessionRules, find_recessions, fit_recessions, recession_path
from hydro.state_runs import DRY, RUNNING

# ---- time to a level; discharge may be in any unit, here ft³/s ----


def test_exponential_recession_reaches_the_level_when_maillet_says() -> None:
    # Maillet 1905: Q = Q0 exp(-t / k); t = k ln(60 / 40) with k = 100 days, half of it gone after k ln 2.
    assert time_to_level(60, 40, 0.01) == pytest.approx(40.546511, abs=5e-7)
    assert time_to_level(60, 30, 0.01) == pytest.approx(69.314718, abs=5e-7)
    assert math.exp(-0.01) == pytest.approx(0.990050, abs=5e-7)
    # Released: k (Q0 - Qt) = 2000 ft³/s · days = 3966.942149 acre-feet (1 ft³/s · day = 240/121 acre-feet).
    assert released_volume_m3(60, 40, 0.01) / 86400 == pytest.approx(2000)
    assert released_volume_m3(60, 40, 0.01) / 86400 * 240 / 121 == pytest.approx(3966.942149, abs=5e-7)


def test_a_free_exponent_takes_the_exact_solution() -> None:
    # 1 / Q^(b-1) grows by (b - 1) a t (Ding's exact solution of -dQ/dt = a Q^b); computed independently.
    assert time_to_level(60, 40, 0.002, 1.5) == pytest.approx(29.014438, abs=5e-7)
    assert released_volume_m3(60, 40, 0.002, 1.5) / 86400 == pytest.approx(1421.411372, abs=5e-7)
    assert time_to_level(60, 40, 0.001, 2.0) == pytest.approx((1 / 40 - 1 / 60) / 0.001)
    assert released_volume_m3(60, 40, 0.001, 2.0) / 86400 == pytest.approx(math.log(60 / 40) / 0.001)


def test_boussinesqs_quadratic_recession_is_exponent_one_and_a_half() -> None:
    # Boussinesq 1904: Q = Q0 / (1 + alpha t)², so t = (sqrt(Q0 / Qt) - 1) / alpha.
    by_hand = (math.sqrt(60 / 40) - 1) / 0.01
    assert by_hand == pytest.approx(22.474487, abs=5e-7)
    assert time_to_level(60, 40, boussinesq_rate(0.01, 60), 1.5) == pytest.approx(by_hand, rel=1e-12)


@pytest.mark.parametrize("off", [1e-4, 1e-8, 1e-12, -1e-8])
def test_the_limit_towards_exponent_one_is_the_exponential(off: float) -> None:
    assert time_to_level(60, 40, 0.01, 1 + off) == pytest.approx(40.546511, rel=5 * abs(off) + 2e-8)


@pytest.mark.parametrize("exponent", [0.5, 1.0, 1.5, 2.0, 3.0])
def test_path_time_and_volume_agree_with_a_general_solver_of_the_differential_equation(exponent: float) -> None:
    # Reference: scipy's Runge-Kutta solution (DOP853) of -dQ/dt = a Q^b and of its volume.
    from scipy.integrate import solve_ivp

    rate, t = 0.4 * 60 ** (1 - exponent) / 40, np.array([5.0, 20.0, 40.0])
    solved = solve_ivp(
        lambda _, y: [-rate * y[0] ** exponent, y[0]], (0, 40), [60.0, 0.0], "DOP853", t_eval=t, rtol=1e-11, atol=1e-9
    )
    path = recession_path(60.0, t, rate, exponent)
    assert path == pytest.approx(solved.y[0], rel=1e-8)
    assert [time_to_level(60, q, rate, exponent) for q in path] == pytest.approx(t, rel=1e-9)
    volume = [released_volume_m3(60, q, rate, exponent) / 86400 for q in path]
    assert volume == pytest.approx(solved.y[1], rel=1e-8)


def test_a_recession_below_exponent_one_runs_dry_and_stays_dry() -> None:
    # b = 0.5: sqrt(Q) falls by a / 2 a day, from 8 by 0.1 a day: dry after 80 days.
    assert recession_path(64.0, np.array([0.0, 40, 80, 500]), 0.2, 0.5) == pytest.approx([64, 16, 0, 0], abs=1e-9)


def test_a_level_above_the_start_is_reached_at_once() -> None:
    assert time_to_level(40, 60, 0.01) == 0
    with pytest.raises(ValueError, match="above 0"):
        time_to_level(40, 0, 0.01)


# ---- first passage: ln Q as a Brownian motion with drift -mu and standard deviation sigma per root day ----


def inverse_gaussian(t: float, d: float, mu: float, sigma: float) -> float:
    """P(first passage by t), the closed form for a path watched without pause (inverse Gaussian distribution)."""
    phi, root = NormalDist().cdf, sigma * math.sqrt(t)
    return phi((mu * t - d) / root) + math.exp(2 * mu * d / sigma**2) * phi((-mu * t - d) / root)


def simulate(steps_per_day: int, days: int, paths: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Share passed by each day, and share below on that day, of paths run through the outlook's own rule."""
    rng = np.random.default_rng(seed)
    n = steps_per_day * days
    steps = rng.normal(-0.01 / steps_per_day, 0.05 / math.sqrt(steps_per_day), (n, paths))
    rule = StateRule(stop_m3s=40.0, restart_m3s=40.0)
    z = rule.z(60.0 * np.exp(np.cumsum(steps, axis=0)))
    none = np.zeros(paths, dtype=np.int64)
    states = run_rule(rule, z, np.full(paths, RUNNING, dtype=np.int8), none, none)
    every = slice(steps_per_day - 1, None, steps_per_day)
    return passed_by(states, DRY)[every], (states[every] == DRY).mean(axis=1)


def test_the_closed_form_of_first_passage() -> None:
    d = math.log(60 / 40)
    expected = {14: 0.123441, 30: 0.478164, 60: 0.813093, 90: 0.927292}
    for t, value in expected.items():
        assert inverse_gaussian(t, d, 0.01, 0.05) == pytest.approx(value, abs=5e-7)
    # Watched once a day the barrier lies as if 0.5826 sigma farther (Broadie, Glasserman & Kou 1997; from memory).
    assert inverse_gaussian(30, d + 0.5826 * 0.05, 0.01, 0.05) == pytest.approx(0.42981, abs=5e-6)


def below_on_the_day(t: float, d: float, mu: float, sigma: float) -> float:
    """P(below the level on day t), closed form: the state at the end of the window alone."""
    return NormalDist().cdf((mu * t - d) / (sigma * math.sqrt(t)))


def test_the_state_on_the_last_day_understates_the_risk() -> None:
    d = math.log(60 / 40)
    for t, value in {14: 0.077954, 30: 0.350080, 60: 0.692267, 90: 0.851427}.items():
        assert below_on_the_day(t, d, 0.01, 0.05) == pytest.approx(value, abs=5e-7)
        assert inverse_gaussian(t, d, 0.01, 0.05) > value + 0.04


def test_daily_first_passage_is_what_a_daily_simulation_gives_and_not_the_state_on_the_last_day() -> None:
    passed, below = simulate(steps_per_day=1, days=90, paths=30_000, seed=3)
    # 0.4320 on day 30 by 200,000 independent simulations of the daily path; standard error here 0.003. For the other
    # days the closed form with the barrier 0.5826 sigma farther, which lies 0.002 from the simulation on day 30.
    d = math.log(60 / 40)
    assert passed[29] == pytest.approx(0.4320, abs=0.01)
    for t in (14, 30, 60, 90):
        assert passed[t - 1] == pytest.approx(inverse_gaussian(t, d + 0.5826 * 0.05, 0.01, 0.05), abs=0.012)
        assert below[t - 1] == pytest.approx(below_on_the_day(t, d, 0.01, 0.05), abs=0.01)
        assert passed[t - 1] < inverse_gaussian(t, d, 0.01, 0.05)


def test_first_passage_of_a_finely_watched_path_approaches_the_closed_form() -> None:
    passed, _ = simulate(steps_per_day=48, days=30, paths=3000, seed=4)
    shifted = inverse_gaussian(30, math.log(60 / 40) + 0.5826 * 0.05 / math.sqrt(48), 0.01, 0.05)
    assert passed[29] == pytest.approx(shifted, abs=0.03)
    assert passed[29] > 0.44


def test_paths_lost_from_sight_count_while_they_were_watched() -> None:
    # Kaplan & Meier's product-limit estimate by hand: 4 watched, 1 passes; then 1 lost; then 1 of 2 passes.
    states = np.array([[1, 2, 2, 2], [1, 0, 2, 2], [1, 0, 1, 2]], dtype=np.int8)
    assert passed_by(states, DRY) == pytest.approx([0.25, 0.25, 1 - 0.75 * 0.5])


# ---- events and fits ----


def falling(rates: np.ndarray, exponent: float, days: int = 60, noise: float = 0.0) -> pd.Series:
    """Recessions one after another, each jumping up where the last one ends."""
    rng = np.random.default_rng(5)
    t = np.arange(days)
    pieces = []
    for rate in rates:
        q0 = 3.0 * np.exp(0.3 * rng.normal())
        e = exponent - 1
        pieces.append(q0 * np.exp(-rate * t) if e == 0 else (q0**-e + e * rate * t) ** (-1 / e))
    q = np.concatenate(pieces) * np.exp(noise * rng.normal(size=days * len(rates)))
    return pd.Series(q, index=pd.date_range("2001-01-01", periods=len(q)))


def test_exponential_recessions_give_back_their_rates() -> None:
    rates = 0.02 * np.exp(0.2 * np.random.default_rng(6).normal(size=12))
    model = fit_recessions(find_recessions(falling(rates, 1.0)))
    assert model is not None and model.exponent == 1.0
    assert np.sort(model.rates) == pytest.approx(np.sort(rates), rel=1e-9)
    assert model.events["k_days"].to_numpy() == pytest.approx(1 / rates, rel=1e-9)
    assert model.k_days == pytest.approx(1 / np.median(rates))


def test_a_curved_recession_is_found_where_it_predicts_better() -> None:
    model = fit_recessions(find_recessions(falling(np.full(12, 0.04), 1.8, days=120)))
    assert model is not None
    assert model.exponent == pytest.approx(1.8, abs=0.01)
    assert model.rates == pytest.approx(np.full(12, 0.04), rel=0.02)
    assert model.crps_free < model.crps_exponential


def test_noise_does_not_bend_an_exponential() -> None:
    rates = 0.02 * np.exp(0.3 * np.random.default_rng(7).normal(size=15))
    model = fit_recessions(find_recessions(falling(rates, 1.0, noise=0.002)))
    assert model is not None
    assert model.exponent == 1.0
    assert np.median(model.rates) == pytest.approx(np.median(rates), rel=0.1)


def test_doubtful_days_and_sudden_drops_end_a_recession() -> None:
    q = falling(np.full(1, 0.02), 1.0, days=41)
    rules = RecessionRules(smooth_days=1, drop_first=0.0)
    assert find_recessions(q, rules=rules).n == 1
    doubtful = pd.Series(False, index=q.index)
    doubtful.iloc[20] = True
    found = find_recessions(q, unsure=doubtful, rules=rules)
    assert found.n == 2 and q.index[20] not in found.day and q.index[21] not in found.day[found.event == 0]
    dropped = q.copy()
    dropped.iloc[20:] *= 0.5
    assert find_recessions(dropped, rules=rules).n == 2
    assert find_recessions(dropped, rules=RecessionRules(smooth_days=1, drop_first=0.0, least_ratio=None)).n == 1
    thirds = find_recessions(q, rules=RecessionRules(smooth_days=1, drop_first=0.3))
    assert len(thirds.day) == 28


def test_the_stop_without_recharge_lies_where_the_closed_form_puts_it() -> None:
    rates = 0.02 * np.exp(0.1 * np.random.default_rng(8).normal(size=12))
    q = falling(rates, 1.0)
    issued = q.index[-30]
    answer = no_recharge_stop(q, issued, stop_level_m3s=1.0)
    days = time_to_level(float(q[issued]), 1.0, float(np.median(answer.model.rates)))  # type: ignore[union-attr]
    assert answer.stop_date == issued + pd.Timedelta(days=math.floor(days) + 1)
    assert answer.earliest is not None and answer.latest is not None and answer.stop_date is not None
    assert issued < answer.earliest < answer.stop_date < answer.latest
    later = q.copy()
    later.loc[later.index > issued] = 99.0
    assert no_recharge_stop(later, issued, stop_level_m3s=1.0).stop_date == answer.stop_date


def test_a_stop_that_cannot_be_told_says_why() -> None:
    q = falling(np.full(2, 0.02), 1.0)
    assert no_recharge_stop(q, q.index[-1], stop_level_m3s=0.5).why_none == "fewer than 3 recessions in the record"
    assert no_recharge_stop(q, q.index[-1], stop_level_m3s=50.0).why_none == "already below the level"
    assert no_recharge_stop(q * np.nan, q.index[-1], stop_level_m3s=1.0).why_none == "no reading"
    q = falling(np.full(12, 0.02), 1.0)
    far = no_recharge_stop(q, q.index[-60], stop_level_m3s=1e-6)
    assert far.why_none == "beyond the horizon" and far.stop_date is None and far.model is not None


def test_karst_recessions_are_of_the_order_that_hydrologists_give(karst_river) -> None:  # type: ignore[no-untyped-def]
    # Orders of magnitude of karst recession coefficients: conduits 0.1, fissures 0.01, matrix 0.001 per day (common
    # knowledge of karst hydrology; value from memory). At low flow a karst river drains its fissures.
    q = karst_river("Y3204010")
    model = fit_recessions(find_recessions(q, rules=RecessionRules(at_most_m3s=0.6)))
    assert model is not None
    k = model.events["k_days"]
    assert len(k) > 50 and 10 < k.median() < 100


def test_recessions_that_came_later_end_within_the_stated_spread(karst_river) -> None:  # type: ignore[no-untyped-def]
    # An 80 % interval should hold about 80 % of what happened next. Recessions of the later half of each record are
    # forecast from their first day, with what was known by then, down to where they ended.
    held, n = 0, 0
    for station in ("Y3204010", "Y3204030", "Y3204040"):
        q = karst_river(station)
        found = find_recessions(q)
        first = np.flatnonzero(np.diff(found.event, prepend=-1))
        ends = zip(first, np.append(first[1:], len(found.event)) - 1, strict=True)
        later = [
            (a, b)
            for a, b in ends
            if found.day[a] > q.index[len(q) // 2] and found.discharge_m3s[b] < 0.9 * found.discharge_m3s[a]
        ]
        for a, b in later[:: max(1, len(later) // 40)]:
            level = found.discharge_m3s[b] * (1 + 1e-9)
            answer = no_recharge_stop(q, found.day[a], stop_level_m3s=level, level=0.8, horizon=10_000)
            if answer.earliest is None:
                continue
            n += 1
            held += answer.earliest <= found.day[b] and (answer.latest is None or found.day[b] <= answer.latest)
    assert n >= 100
    # It errs to the wide side (0.93 of these): a short recession's own scatter counts as spread between recessions.
    assert 0.8 < held / n < 0.97
