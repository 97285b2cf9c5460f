"""How the outlook is judged."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.hindcast import hindcast
from hydro.outlook_record import OutlookRecord, StateRule, make_record
from hydro.reliability import bin_edges, outcome_correlation, reliability_bins
from hydro.season_climatology import season_climatology
from hydro.skill import LEADS, outlook_skill
from hydro.state_regression import fit_dry_chance
from tests.hydro.test_outlook import LEVEL, invented

DAYS = np.array(LEADS)


@pytest.fixture(scope="module")
def river() -> pd.Series:
    q = invented(12)
    q.iloc[1500:1560] = np.nan
    return q


@pytest.fixture(scope="module")
def record(river: pd.Series) -> OutlookRecord:
    return make_record(river, StateRule(stop_m3s=LEVEL, restart_m3s=LEVEL))


def test_climatology_is_the_share_of_like_days_in_other_years(record: OutlookRecord) -> None:
    first, last = record.left_out(90)
    climate = season_climatology(record, DAYS, first, last)
    rng = np.random.default_rng(1)
    rows = np.arange(len(record))
    for _ in range(40):
        year, k = int(rng.integers(record.n_years)), int(rng.integers(len(DAYS)))
        day, state, lead = int(rng.integers(1, 366)), int(rng.integers(1, 3)), int(DAYS[k])
        apart = np.abs(record.day_of_year - day)
        near = np.minimum(apart, 366 - apart) <= 40
        free = (rows + lead < first[year]) | (rows > last[year])
        pick = rows[near & free & (record.known_state > 0) & (rows + lead < len(record))]
        pick = pick[record.state[pick + lead] > 0]
        same = pick[record.known_state[pick] == state]
        any_state = np.mean(record.state[pick + lead] == 1)
        expected = np.mean(record.state[same + lead] == 1) if len(same) >= 10 else any_state
        assert climate.any_state[year, k, day - 1] == pytest.approx(any_state)
        assert climate.conditional[year, k, state - 1, day - 1] == pytest.approx(expected)


def test_a_forecast_that_ends_within_its_year_leaves_out_that_year_and_no_more(record: OutlookRecord) -> None:
    cast = hindcast(record, DAYS)
    rows, k, lead = np.arange(len(record)), 6, 90
    rng = np.random.default_rng(2)
    first, last = record.left_out(np.zeros(1, dtype=np.int64), look_back=0)
    far = record.left_out(np.array([lead]), look_back=0)
    seen = set()
    for i in rng.choice(len(cast.row), 60, replace=False).tolist():
        row, year = int(cast.row[i]), int(cast.year[i])
        crosses = row + lead >= len(record) or record.year[row + lead] != year
        a, b = (far[0][year, 0], far[1][year, 0]) if crosses else (first[year, 0], last[year, 0])
        seen.add(bool(crosses))
        apart = np.abs(record.day_of_year - record.day_of_year[row])
        near = (np.minimum(apart, 366 - apart) <= 40) & (record.known_state == record.known_state[row])
        pick = rows[near & ((rows + lead < a) | (rows > b)) & (rows + lead < len(record))]
        pick = pick[record.state[pick + lead] > 0]
        if len(pick) >= 10:
            assert cast.conditional[i, k] == pytest.approx(np.mean(record.state[pick + lead] == 1))
    assert seen == {True, False}


def test_the_common_correlation_is_that_of_all_seasons_and_fades_where_the_outcome_hardly_varies() -> None:
    """A state that tells as much in every season: season and state together are the season's share and one slope."""
    rng = np.random.default_rng(8)
    n = 40 * 365
    run = np.repeat(rng.random(n // 40) < 0.4, 40)  # 40 days in one state, drawn anew whatever the season
    q = pd.Series(np.where(run, 0.5, 2.0), index=pd.date_range("1961-01-01", periods=n))
    steady = make_record(q, StateRule(stop_m3s=1.0, restart_m3s=1.0))
    climate = season_climatology(steady, np.array([10]), np.array([n]), np.array([n - 1]))
    # Ten days on, a day is still in its stretch with 3/4 chance, else drawn anew: correlation 3/4.
    slope = climate.common[0, 0, 0] - climate.common[0, 0, 1]
    assert slope == pytest.approx(0.75, abs=0.03)
    assert climate.common[0, 0].mean(axis=1) == pytest.approx([0.75 + 0.25 * 0.4, 0.25 * 0.4], abs=0.06)
    assert climate.common[0, 0].std() < climate.conditional[0, 0].std()
    # Where it is never dry at the lead, a dry day adds next to nothing.
    seasonal = q.copy()
    seasonal[np.isin(seasonal.index.month, [1, 2, 3, 4, 5])] = 2.0
    winter = make_record(seasonal, StateRule(stop_m3s=1.0, restart_m3s=1.0))
    found = season_climatology(winter, np.array([150]), np.array([n]), np.array([n - 1]))
    assert found.common[0, 0, 0, 319] < 0.02  # from mid-November to mid-April


def test_a_spell_that_crosses_into_the_year_judged_is_left_out_whole() -> None:
    days = pd.date_range("2001-01-01", "2004-12-31")
    q = pd.Series(2.0, index=days)
    q["2001-12-20":"2002-01-10"] = 0.5
    q["2003-03-25":"2003-04-20"] = 0.5
    record = make_record(q, StateRule(stop_m3s=1.0, restart_m3s=1.0))
    first, last = record.left_out(90)
    assert record.index[first[1]] == pd.Timestamp("2001-12-20")
    # 90 days after the end of 2002 lies in the spell of 2003, which is left out to its end.
    assert record.index[last[1]] == pd.Timestamp("2003-04-20")
    assert (record.index[first[0]], record.index[last[3]]) == (days[0], days[-1])


def test_the_regression_is_the_ridge_fit_that_a_general_optimiser_finds(record: OutlookRecord) -> None:
    # Reference: scipy.optimize.minimize (BFGS) on the penalised likelihood.
    from scipy.optimize import minimize

    n = len(record)
    found = fit_dry_chance(record, np.array([14]), np.array([n]), np.array([n - 1]))[0, 0]
    rows = np.arange(0, n - 14, 5)
    rows = rows[record.usable[rows] & (record.state[rows + 14] > 0)]
    x, dry = record.features[rows], record.state[rows + 14] == 1
    penalty = 3.0 * np.maximum(x.var(axis=0), 1e-6)
    penalty[0] = 1e-3

    def loss(beta: np.ndarray) -> float:
        eta = x @ beta
        return float(np.sum(np.logaddexp(0.0, eta) - dry * eta) + 0.5 * np.sum(penalty * beta**2))

    def slope(beta: np.ndarray) -> np.ndarray:
        return x.T @ (1 / (1 + np.exp(-(x @ beta))) - dry) + penalty * beta

    best = minimize(loss, np.zeros(x.shape[1]), jac=slope, method="BFGS", options={"gtol": 1e-6, "maxiter": 2000})
    assert found == pytest.approx(best.x, abs=1e-4)


def test_the_table_has_one_row_a_lead_and_counts_what_was_judged(river: pd.Series, record: OutlookRecord) -> None:
    found = outlook_skill(river, stop_level_m3s=LEVEL, resamples=200)
    table = found.table
    assert table["lead"].tolist() == list(LEADS)
    cast = found.hindcast
    assert (table["n"] == np.isfinite(cast.outcome + cast.forecast).sum(axis=0)).all()
    # No forecast starts from a missing day, and none is judged on one.
    assert not np.isin(cast.row, np.arange(1500, 1560)).any()
    judged_on = cast.row[np.isfinite(cast.outcome[:, 3])] + 14
    assert not np.isin(judged_on, np.arange(1500, 1560)).any()
    assert (table["n_years"] <= 12).all() and (table["n_events"] == (record.runs.state == 1).sum()).all()
    parts = table["brier_reliability"] - table["brier_resolution"] + table["brier_uncertainty"]
    assert (parts + table["brier_within_bins"]).to_numpy() == pytest.approx(table["brier"].to_numpy())
    expected = 1 - table["brier"] / table["brier_conditional_climatology"]
    assert table["skill_vs_conditional_climatology"].to_numpy() == pytest.approx(expected.to_numpy())
    assert (table["low"] <= table["high"]).all() and table["why_no_skill"].isna().all()
    ran = 1 - cast.outcome[:, 2]
    assert table["base_rate"][2] == pytest.approx(np.nanmean(ran))
    assert found.reliability.groupby("lead")["n"].sum().tolist() == table["n"].tolist()


def test_fewer_than_five_dry_spells_give_a_table_without_a_skill() -> None:
    q = invented(4)
    level = float(q.min() * 1.02)
    found = outlook_skill(q, stop_level_m3s=level)
    assert 1 <= found.n_events < 5
    assert found.table["skill_vs_conditional_climatology"].isna().all()
    assert found.table["low"].isna().all() and (found.table["why_no_skill"] == "fewer than 5 dry spells").all()
    assert found.table["brier"].notna().all() and (found.table["n_events"] == found.n_events).all()


def test_a_record_of_one_year_has_nothing_to_be_judged_by() -> None:
    found = outlook_skill(invented(1).iloc[:360], stop_level_m3s=LEVEL)
    assert (found.table["n"] == 0).all() and (found.table["why_no_skill"] == "no day to judge").all()
    assert found.table["brier"].isna().all() and found.reliability.empty


def test_an_empty_record_is_answered_the_same_way() -> None:
    nothing = pd.Series(np.nan, index=pd.date_range("2001-01-01", periods=400))
    found = outlook_skill(nothing, stop_level_m3s=LEVEL)
    assert (found.table["n"] == 0).all() and found.n_events == 0


def test_the_same_seed_gives_the_same_table_and_other_days_cut_off(river: pd.Series) -> None:
    one, two = (outlook_skill(river, stop_level_m3s=LEVEL, seed=7, resamples=100) for _ in range(2))
    pd.testing.assert_frame_equal(one.table, two.table)
    pd.testing.assert_frame_equal(one.reliability, two.reliability)
    until = pd.Timestamp("2008-12-31")
    early = outlook_skill(river, stop_level_m3s=LEVEL, until=until, seed=7, resamples=100)
    cut = outlook_skill(river.loc[:until], stop_level_m3s=LEVEL, seed=7, resamples=100)
    pd.testing.assert_frame_equal(early.table, cut.table)


def test_a_rule_with_memory_is_judged_by_its_own_states(river: pd.Series) -> None:
    plain = outlook_skill(river, stop_level_m3s=1.6, resamples=100)
    slow = outlook_skill(river, stop_level_m3s=1.6, restart_level_m3s=2.0, stop_days=3, resamples=100)
    assert 5 <= slow.n_events < plain.n_events
    assert (slow.table["brier"] < slow.table["brier_climatology"]).all()
    assert (slow.table["skill_vs_conditional_climatology"] > -0.01).all()
    assert slow.table["skill_vs_conditional_climatology"].iloc[2:5].mean() > 0.03


def test_a_path_by_the_quick_way_and_day_by_day_give_the_same_chances(river: pd.Series) -> None:
    # Two rules that mean the same: without memory, and with a restart level a hair above the stop level.
    quick = hindcast(make_record(river, StateRule(stop_m3s=LEVEL, restart_m3s=LEVEL)), DAYS, every=37)
    hair = StateRule(stop_m3s=LEVEL, restart_m3s=LEVEL * (1 + 1e-13))
    slow = hindcast(make_record(river, hair), DAYS, every=37)
    assert slow.analogues == pytest.approx(quick.analogues, abs=1e-12, nan_ok=True)
    assert slow.forecast == pytest.approx(quick.forecast, abs=1e-9, nan_ok=True)


def test_the_outlook_is_reliable_on_water_whose_level_is_known() -> None:
    # Simulated, so that the truth is known: observed shares lie in 95 % consistency bars about as often as they should.
    inside, n = 0, 0
    for seed in (11, 12, 13):
        bins = outlook_skill(invented(20, seed), stop_level_m3s=LEVEL, leads=(7, 14, 30), resamples=50).reliability
        inside += int(bins["observed"].between(bins["bar_low"] - 1e-9, bins["bar_high"] + 1e-9).sum())
        n += len(bins)
    assert n > 60 and inside / n > 0.85


# ---- reliability bins ----


def test_five_bins_do_for_fewer_than_a_hundred_forecasts() -> None:
    assert (len(bin_edges(99)), len(bin_edges(100))) == (6, 11)
    rng = np.random.default_rng(3)
    p = rng.uniform(size=60)
    bins = reliability_bins(p, (rng.uniform(size=60) < p).astype(float), rng)
    assert len(bins) <= 5 and bins["n"].sum() == 60
    assert reliability_bins(p[:0], p[:0], rng).empty


def test_bars_of_independent_outcomes_are_binomial() -> None:
    # Reference: the binomial quantiles of 400 trials at 0.35 (exact, from cumulative sums of its probabilities).
    p = np.full(400, 0.35)
    bins = reliability_bins(p, np.zeros(400), np.random.default_rng(4), resamples=4000)
    assert (bins["bar_low"][0], bins["bar_high"][0]) == pytest.approx((122 / 400, 159 / 400), abs=0.006)


def test_bars_of_outcomes_that_hang_together_are_wider_and_hold() -> None:
    rng = np.random.default_rng(5)
    p, r = np.full(1500, 0.5), 0.9
    alone = reliability_bins(p, p, rng, correlation=0.0)
    wide = reliability_bins(p, p, rng, correlation=0.8)
    assert (wide["bar_high"] - wide["bar_low"])[0] > 2 * (alone["bar_high"] - alone["bar_low"])[0]
    held, correlations = 0, []
    for _ in range(60):
        noise = rng.standard_normal(1500)
        for k in range(1, 1500):
            noise[k] = r * noise[k - 1] + np.sqrt(1 - r * r) * noise[k]
        happened = (noise < 0).astype(float)
        correlations.append(outcome_correlation(p, happened))
        bins = reliability_bins(p, happened, rng, correlation=correlations[-1], resamples=200)
        held += bool(bins["observed"].between(bins["bar_low"], bins["bar_high"]).all())
    # Normal scores correlated by r give yes-no outcomes correlated by 2 asin(r) / π.
    assert np.mean(correlations) == pytest.approx(2 / np.pi * np.arcsin(r), abs=0.02)
    assert held >= 51
