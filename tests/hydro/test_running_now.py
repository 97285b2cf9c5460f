"""Running now: gauge, sighting and outlook, apart and together."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest

from hydro.flow_variability import FlowVariability, flow_variability
from hydro.running_evidence import KnownLevel, Measured, RunningNow, Seen, log_sd_of_interval
from hydro.running_now import BROKEN, CHANGE_ERROR, LASTING_SHARE, MISTAKEN, running_now
from hydro.sighting_update import MarginPair, both_positive, mean_shift, positive_now

TODAY = pd.Timestamp("2020-06-30")
QUIET = FlowVariability(wander_per_root_day=0.05, fade_per_root_day=0.012, spread=0.5)
LEVEL = 40.0


def ask(
    discharge: float | None = 42.0,
    surface: str | None = None,
    then: float | None = 42.0,
    *,
    seen_days_ago: int = 1,
    read_days_ago: int = 0,
    level_sd: float = 0.02,
    error_percent: float = 10.0,
    outlook: float | None = None,
    broken: float = BROKEN,
) -> RunningNow:
    def ago(days: int) -> pd.Timestamp:
        return TODAY - pd.Timedelta(days=days)

    return running_now(
        today=TODAY,
        level=KnownLevel(level_m3s=LEVEL, log_sd=level_sd),
        reading=None if discharge is None else Measured(day=ago(read_days_ago), discharge_m3s=discharge),
        seen=None if surface is None else Seen(day=ago(seen_days_ago), surface=surface, discharge_m3s=then),
        variability=QUIET,
        error_percent=error_percent,
        outlook_probability=outlook,
        broken=broken,
    )


@pytest.mark.parametrize(("error_percent", "below"), [(5, 0.0250000), (10, 0.157852), (15, 0.246920), (20, 0.299967)])
def test_without_a_sighting_it_is_the_gauge_against_the_level(error_percent: float, below: float) -> None:
    """Level 40, reading 42. Independent computation of Phi(ln(40/42) 1.96 / ln(1 + r)); not a published example."""
    found = ask(error_percent=error_percent, level_sd=0.0)
    assert 1 - found.from_measurement == pytest.approx(below, abs=5e-7)
    assert found.combined == found.from_measurement and found.base == "measurement"
    assert found.why_no_sighting == "no sighting"


def test_the_errors_of_reading_and_level_add_as_variances_of_logs() -> None:
    sd = math.hypot(math.log(1.1) / NormalDist().inv_cdf(0.975), 0.02)
    assert ask().margin_sd == pytest.approx(sd, rel=1e-12)
    assert ask().from_measurement == pytest.approx(NormalDist().cdf(math.log(42 / 40) / sd), rel=1e-12)


def test_at_the_level_the_gauge_says_one_half() -> None:
    assert ask(discharge=LEVEL).from_measurement == pytest.approx(0.5, abs=1e-12)


def test_mirrored_margins_and_surfaces_give_mirrored_answers() -> None:
    """As far above the level and seen running as below it and seen dry."""
    up, down = ask(44.0, "running", 42.0), ask(LEVEL**2 / 44.0, "dry", LEVEL**2 / 42.0)
    assert up.combined + down.combined == pytest.approx(1.0, abs=1e-12)
    assert up.from_sighting + down.from_sighting == pytest.approx(1.0, abs=1e-12)
    assert up.level_after_sighting_m3s * down.level_after_sighting_m3s == pytest.approx(LEVEL**2, rel=1e-12)


def test_an_outlet_seen_dry_above_the_level_moves_the_level_up_and_the_answer_down() -> None:
    found = ask(42.0, "dry", 42.0, seen_days_ago=1)
    assert found.level_after_sighting_m3s > LEVEL
    assert found.combined < 0.5 < found.from_measurement


def test_an_outlet_seen_running_below_the_level_moves_the_level_down_and_the_answer_up() -> None:
    found = ask(38.5, "running", 38.5, seen_days_ago=1)
    assert found.level_after_sighting_m3s < LEVEL
    assert found.combined > 0.5 > found.from_measurement


def test_a_sighting_of_today_is_believed_but_for_the_chance_of_a_mistake() -> None:
    found = ask(42.0, "dry", 42.0, seen_days_ago=0, broken=0.0)
    gauge = found.from_measurement
    posterior = MISTAKEN * gauge / (MISTAKEN * gauge + (1 - MISTAKEN) * (1 - gauge))  # Bayes
    assert found.combined == pytest.approx(posterior, rel=1e-9)
    assert found.from_sighting == pytest.approx(MISTAKEN, abs=1e-12)
    assert found.sighting_weight == pytest.approx(1.0)


@pytest.mark.parametrize("surface", ["dry", "running"])
def test_more_water_never_makes_running_less_likely(surface: str) -> None:
    levels = np.linspace(30, 60, 61)
    for days in (1, 10, 100):
        chance = [ask(q, surface, 41.0, seen_days_ago=days).combined for q in levels]
        assert np.diff(chance).min() > -1e-9


@pytest.mark.parametrize(("surface", "then"), [("dry", 42.0), ("running", 38.5), ("dry", 39.0)])
def test_the_answer_returns_to_the_gauge_as_the_sighting_ages(surface: str, then: float) -> None:
    ages = (1, 2, 5, 10, 30, 90, 365, 3650, 365000)
    gap = [
        abs(found.combined - found.from_measurement)
        for found in (ask(41, surface, then, seen_days_ago=a) for a in ages)
    ]
    assert np.all(np.diff(gap) < 0)
    assert gap[-1] < 2e-3
    weight = [ask(41, surface, then, seen_days_ago=a).sighting_weight for a in ages]
    assert np.all(np.diff(weight) < 0)


def test_a_large_change_of_flow_since_also_fades_the_sighting() -> None:
    near, far = (ask(q, "dry", 42.0, seen_days_ago=3) for q in (42.0, 80.0))
    assert far.sighting_weight < near.sighting_weight
    assert far.change_log == pytest.approx(math.log(80 / 42)) and far.fade_sd > near.fade_sd


def test_the_sighting_alone_tends_to_one_half_and_knows_no_level() -> None:
    alone = [ask(41.0, "dry", 41.0, seen_days_ago=a).from_sighting for a in (0, 10, 100, 10**6)]
    assert np.all(np.diff(alone) > 0) and alone[0] == pytest.approx(MISTAKEN) and 0.4 < alone[-1] < 0.5
    assert ask(90.0, "dry", 41.0).from_sighting > ask(41.0, "dry", 41.0).from_sighting


def test_standing_water_says_neither() -> None:
    found = ask(42.0, "pooled", 42.0)
    assert found.from_sighting is None and "standing water" in found.why_no_sighting
    assert found.combined == found.from_measurement and found.level_after_sighting_m3s is None


def test_a_stale_reading_gives_way_to_the_outlook_and_a_fresh_one_does_not() -> None:
    stale, fresh = ask(42.0, read_days_ago=20, outlook=0.3), ask(42.0, read_days_ago=7, outlook=0.3)
    assert stale.base == "outlook" and stale.combined == pytest.approx(0.3, abs=1e-12)
    assert fresh.base == "measurement" and fresh.combined == fresh.from_measurement
    assert stale.from_outlook == fresh.from_outlook == 0.3


def test_a_sighting_after_the_last_reading_updates_the_outlook() -> None:
    dry = ask(42.0, "dry", None, read_days_ago=20, seen_days_ago=2, outlook=0.6, broken=0.0)
    wet = ask(42.0, "running", None, read_days_ago=20, seen_days_ago=2, outlook=0.6, broken=0.0)
    assert dry.combined < 0.2 and wet.combined > 0.85
    assert dry.change_log is None
    # Averaged over what might have been noted, the sighting changes nothing (law of total probability).
    sd_then = math.sqrt(ask().margin_sd ** 2 + QUIET.wander_per_root_day**2 * 18)
    noted_wet = MISTAKEN + (1 - 2 * MISTAKEN) * NormalDist().cdf(math.log(42 / LEVEL) / sd_then)
    assert noted_wet * wet.combined + (1 - noted_wet) * dry.combined == pytest.approx(0.6, abs=1e-12)


def test_a_note_that_gauge_and_level_did_not_expect_is_followed_and_an_expected_one_changes_nothing() -> None:
    surprising = {b: ask(60.0, "dry", 60.0, seen_days_ago=0, broken=b).combined for b in (0.0, 0.01, BROKEN, 0.2)}
    # 50 % above the level the gauge alone would outweigh one note; a person on the spot goes before it.
    assert surprising[0.0] > 0.95
    assert surprising[BROKEN] < 0.5
    assert list(surprising.values()) == sorted(surprising.values(), reverse=True)
    expected = [ask(60.0, "running", 60.0, seen_days_ago=0, broken=b).combined for b in (0.0, BROKEN)]
    assert expected[0] == expected[1]
    # Bayes by hand for a note of today: broken, and either note as likely, against not broken and mistaken.
    posterior = 0.5 * BROKEN / (0.5 * BROKEN + (1 - BROKEN) * MISTAKEN)
    alone = ask(60.0, "dry", 60.0, seen_days_ago=0).from_sighting
    by_hand = surprising[0.0] + (posterior - BROKEN) * (alone - surprising[0.0])
    assert surprising[BROKEN] == pytest.approx(by_hand, abs=1e-3)


def test_a_reading_without_logarithm_is_dry_unless_a_person_saw_otherwise() -> None:
    assert ask(0.0).combined == 0.0
    contrary = ask(0.0, "running", None, seen_days_ago=0)
    assert contrary.combined is None and "seen running" in contrary.why_no_combined
    assert contrary.from_measurement == 0.0 and contrary.from_sighting > 0.9


def test_without_a_reading_outlook_or_sighting_stand_alone_and_nothing_is_nothing() -> None:
    assert ask(None, outlook=0.7).combined == 0.7
    seen = ask(None, "dry", None, seen_days_ago=3)
    assert seen.combined == seen.from_sighting and seen.base is None and seen.why_no_measurement == "no reading"
    nothing = ask(None)
    assert nothing.combined is None and nothing.why_no_combined


def test_what_lies_after_today_or_out_of_range_is_refused() -> None:
    with pytest.raises(ValueError, match="lies after the day asked"):
        ask(read_days_ago=-1)
    with pytest.raises(ValueError, match="newer than the last reading"):
        ask(42.0, "dry", 42.0, seen_days_ago=1, read_days_ago=3)
    with pytest.raises(ValueError, match="a probability"):
        ask(outlook=1.2)
    with pytest.raises(ValueError, match="a surface is one of"):
        ask(42.0, "damp")
    with pytest.raises(ValueError, match="a level is above 0"):
        KnownLevel(level_m3s=0.0)


def test_the_closed_form_is_the_model_played_out_by_chance() -> None:
    """Two million draws of the stated model: lasting and daily errors, fade, a mistaken note now and then."""
    generator, n, days = np.random.default_rng(11), 2_000_000, 9
    q_then, q_now, level_sd = 42.0, 41.0, 0.03
    variance = (math.log(1.1) / NormalDist().inv_cdf(0.975)) ** 2
    level_error = level_sd * generator.standard_normal(n)
    lasting = math.sqrt(LASTING_SHARE * variance) * generator.standard_normal(n) - level_error
    own_sd = math.sqrt((1 - LASTING_SHARE) * variance)
    change = math.log(q_now / q_then)
    fade_sd = math.hypot(QUIET.fade_per_root_day * math.sqrt(days), CHANGE_ERROR * change)
    then = math.log(q_then / LEVEL) + lasting + own_sd * generator.standard_normal(n)
    then += fade_sd * generator.standard_normal(n)
    now = math.log(q_now / LEVEL) + lasting + own_sd * generator.standard_normal(n)
    noted_dry = (then < 0) ^ (generator.random(n) < MISTAKEN)
    found = ask(q_now, "dry", q_then, seen_days_ago=days, level_sd=level_sd, broken=0.0)
    standard_error = math.sqrt(0.25 / noted_dry.sum())
    assert found.combined == pytest.approx(float((now[noted_dry] > 0).mean()), abs=4 * standard_error)
    assert math.log(found.level_after_sighting_m3s / LEVEL) == pytest.approx(
        float(level_error[noted_dry].mean()), abs=4 * level_sd / math.sqrt(noted_dry.sum())
    )
    assert found.from_measurement == pytest.approx(float((now > 0).mean()), abs=4 * math.sqrt(0.25 / n))


@pytest.mark.parametrize("correlation", [-0.9, -0.3, 0.0, 0.4, 0.95, 0.9999])
def test_the_bivariate_normal_agrees_with_scipy(correlation: float) -> None:
    """scipy.stats.multivariate_normal.cdf, Genz's algorithm."""
    from scipy.stats import multivariate_normal

    reference = multivariate_normal([0, 0], [[1, correlation], [correlation, 1]])
    for h in (-2.5, -0.4, 0.0, 0.7, 3.0):
        for k in (-3.0, -0.4, 0.0, 0.7, 1.8):
            assert both_positive(h, k, correlation) == pytest.approx(reference.cdf([h, k]), abs=1e-7)


def test_the_bivariate_normal_at_the_origin_is_the_arcsine_law() -> None:
    """Sheppard 1899: P = 1/4 + arcsin(correlation) / 2 pi (exact)."""
    for correlation in (-1.0, -0.5, 0.0, 0.5, 1.0):
        exact = 0.25 + math.asin(correlation) / (2 * math.pi)
        assert both_positive(0.0, 0.0, correlation) == pytest.approx(exact, abs=1e-14)


def test_margins_that_do_not_hang_together_leave_each_other_alone() -> None:
    pair = MarginPair(mean_then=0.3, sd_then=1.0, mean_now=-0.2, sd_now=2.0, covariance=0.0)
    assert positive_now(pair, was_positive=False, mistaken=0.01) == pytest.approx(NormalDist().cdf(-0.1), abs=1e-12)
    assert mean_shift(pair, covariance=0.0, was_positive=True, mistaken=0.01) == 0.0


def test_the_variability_of_a_series_is_that_of_its_logs() -> None:
    generator = np.random.default_rng(2)
    x = np.cumsum(0.03 * generator.standard_normal(4000)) * 0.999
    found = flow_variability(pd.Series(np.exp(x)))
    assert found is not None
    assert found.wander_per_root_day == pytest.approx(0.03, rel=0.04)
    assert found.fade_per_root_day == pytest.approx(0.03, rel=0.06)
    assert found.spread == pytest.approx(float(np.std(x)), rel=1e-9)


def test_missing_and_zero_days_are_left_out_of_the_variability_and_too_few_give_none() -> None:
    q = pd.Series(np.exp(0.1 * np.sin(np.arange(200.0))))
    holes = q.copy()
    holes.iloc[50:60] = np.nan
    holes.iloc[100:103] = 0.0
    found, whole = flow_variability(holes), flow_variability(q)
    assert found is not None and whole is not None
    assert found.wander_per_root_day == pytest.approx(whole.wander_per_root_day, rel=0.05)
    assert flow_variability(q.iloc[:20]) is None and flow_variability(q * np.nan) is None


def test_the_error_of_a_level_comes_from_the_sides_that_its_interval_has() -> None:
    low, high = 40 * math.exp(-0.196), 40 * math.exp(0.392)
    assert log_sd_of_interval(40.0, low, high, 0.95) == pytest.approx(0.15, abs=1e-4)
    assert log_sd_of_interval(40.0, None, high, 0.95) == pytest.approx(0.2, abs=1e-4)
    assert log_sd_of_interval(40.0, None, None, 0.95) is None
