"""What a record gives for a forecast, and what weight each source gets for it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from hydro.hindcast import hindcast
from hydro.outlook import outlook
from hydro.outlook_blend import FULL_WEIGHT_DAYS, Sources, blend, blend_weight, steadied
from hydro.outlook_evidence import Evidence, evidence_outside
from hydro.outlook_record import OutlookRecord, StateRule, make_record
from hydro.skill import LEADS, outlook_skill
from tests.hydro.test_outlook import LEVEL, invented

DAYS = np.array(LEADS)
NOTHING = np.array([0]), np.array([-1])


def record_of(q: pd.Series, level: float = LEVEL) -> OutlookRecord:
    return make_record(q, StateRule(stop_m3s=level, restart_m3s=level))


def ground(*, years: float = 8.0, rarer_days: float = 400.0, memory: float = 0.95) -> Evidence:
    one = [np.array([value]) for value in (years, years, rarer_days, memory)]
    return Evidence(known_years=one[0], years=one[1], rarer_days=one[2], memory=one[3])


def informed(weights: Sources) -> np.ndarray:
    """Weight of what looks at the day's own water."""
    return weights.analogues[0] + weights.regression[0]


def test_evidence_is_counted_from_the_rows_outside_the_range() -> None:
    q = invented(6)
    q.iloc[400:430] = np.nan
    record = record_of(q)
    first, last = record.left_out(90)
    found = evidence_outside(record, np.append(first, 0), np.append(last, -1))
    for k, (a, b) in enumerate(zip([*first, 0], [*last, -1], strict=True)):
        keep = np.ones(len(record), bool)
        keep[a : b + 1] = False
        kept = pd.Series(np.where(keep, record.state, 0))
        dry, running = kept == 1, kept == 2
        assert found.rarer_days[k] == min(dry.sum(), running.sum())
        assert found.known_years[k] == pytest.approx((dry.sum() + running.sum()) / 365.25)
        by_state = [len(np.unique(record.year[state])) for state in (dry, running)]
        assert found.years[k] == pytest.approx(min(found.known_years[k], *by_state))
        pairs = pd.DataFrame({"today": kept, "next": kept.shift(-1)}).iloc[:-1]
        pairs = pairs[(pairs > 0).all(axis=1)]
        assert found.memory[k] == pytest.approx(np.corrcoef(pairs["today"], pairs["next"])[0, 1], rel=1e-9)


def test_weights_are_a_part_of_one_and_grow_with_the_ground() -> None:
    for evidence in (ground(), ground(years=1.0), ground(years=60.0), ground(rarer_days=3.0), ground(memory=0.3)):
        weights = blend_weight(np.arange(1, 366), evidence)
        assert all((weight >= 0).all() for weight in weights)
        assert (sum(weights) <= 1.0 + 1e-12).all()
    full = informed(blend_weight(DAYS, ground()))
    for thinner in (ground(years=3.0), ground(rarer_days=FULL_WEIGHT_DAYS / 3), ground(memory=0.3)):
        assert (informed(blend_weight(DAYS, thinner)) < full).all()
    assert (informed(blend_weight(DAYS, ground(years=40.0))) > full).all()
    assert (informed(blend_weight(DAYS, ground(memory=0.0))) == 0).all()


def test_a_source_that_is_not_known_leaves_its_weight_to_climatology() -> None:
    nan = np.array([np.nan])
    weights = Sources(*(np.array([w]) for w in (0.3, 0.2, 0.1, 0.0)))
    known = blend(np.array([0.5]), Sources(np.array([1.0]), np.array([0.0]), np.array([0.2]), nan), weights)
    assert known == pytest.approx([0.5 + 0.3 * 0.5 - 0.2 * 0.5 - 0.1 * 0.3])
    assert blend(np.array([0.5]), Sources(np.array([1.0]), nan, nan, nan), weights) == pytest.approx([0.65])
    assert blend(nan, Sources(np.array([0.8]), nan, nan, nan), weights) == pytest.approx([0.8])
    assert np.isnan(blend(nan, Sources(nan, nan, nan, nan), weights)).all()


def test_climatology_is_steadied_by_how_few_days_are_alike_and_not_where_one_state_is_rare() -> None:
    leads = np.array([1, 7, 60, 90])
    alike, common = np.full(4, 0.6), np.full(4, 0.2)
    many, some, few = (steadied(alike, common, np.full(4, days), leads, np.array(0.4)) for days in (1000.0, 40.0, 9.0))
    assert many == pytest.approx(alike, abs=0.01)
    assert some[:2] == pytest.approx(alike[:2]) and (some[2:] < 0.52).all() and (some >= 0.2).all()
    assert few == pytest.approx(alike - 0.2 * 0.4)
    rare = steadied(alike, common, np.full(4, 40.0), leads, np.array(0.015))
    assert (rare[2:] > some[2:] + 0.05).all()


def test_water_that_falls_towards_a_level_never_reached_is_not_called_safe() -> None:
    """A record without a dry day knows nothing of stopping but that water falls; its climatology says “never”."""
    q = invented(8)
    end = q.index[-1] - pd.Timedelta(days=200)  # after the wet season, on a long recession
    past = q[:end]
    lowest = float(past.min())
    falling = pd.Series(
        np.geomspace(lowest * 1.6, lowest * 1.02, 40), index=pd.date_range(end, periods=41, freq="D")[1:]
    )
    answer = outlook(pd.concat([past, falling]), falling.index[-1], stop_level_m3s=lowest, horizon=60)
    assert "never dry in the record" in answer.reasons
    assert answer.days["probability_running"].iloc[1:31].min() < 0.9
    far = outlook(past, past.idxmax(), stop_level_m3s=lowest, horizon=30)
    assert far.days["probability_running"].min() > 0.97


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_where_days_have_no_memory_the_outlook_does_not_pretend_to_see_ahead(seed: int) -> None:
    rng = np.random.default_rng(seed)
    q = pd.Series(np.exp(rng.normal(0, 0.8, 5 * 365)), index=pd.date_range("2001-01-01", periods=5 * 365))
    level = float(q.quantile(0.2))
    record = record_of(q, level)
    assert abs(evidence_outside(record, *NOTHING).memory[0]) < 0.1
    table = outlook_skill(q, stop_level_m3s=level, resamples=2).table
    assert (table["skill_vs_conditional_climatology"] > -0.01).all()


def test_no_forecast_changes_with_the_year_that_it_is_judged_in() -> None:
    """What a year's forecasts rest on is the other years alone: evidence, weights and broad shares included."""
    q = invented(6)
    record = record_of(q)
    year = 3
    first, last = record.left_out(int(DAYS.max()))
    rows = np.flatnonzero(record.year == year)
    mirrored = q.copy()
    # Later days of the year exchanged; the first half, from which forecasts are issued, stays.
    middle = rows[len(rows) // 2]
    mirrored.iloc[middle : rows[-1] + 1] = mirrored.iloc[middle : rows[-1] + 1].to_numpy()[::-1]
    other = record_of(mirrored)
    edges = [(r.left_out(90)[0][year], r.left_out(90)[1][year]) for r in (record, other)]
    assert edges[0] == edges[1]  # else the exchange moved a spell over the edge, and the two leave out other rows
    one, two = hindcast(record, DAYS), hindcast(other, DAYS)
    early = one.row[(one.year == year) & (one.row < middle)]
    assert len(early) > 20
    a, b = (cast.forecast[np.isin(cast.row, early)] for cast in (one, two))
    assert np.allclose(a, b, rtol=0, atol=1e-12)
    assert first[year] <= rows[0] and last[year] >= rows[-1]
