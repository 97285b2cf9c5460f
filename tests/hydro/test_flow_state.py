"""State of an outlet on a day, and how sure the reading makes us."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pandas as pd
import pytest

from hydro.combine import combine
from hydro.discharge import Discharge, Origin, make_frame
from hydro.discharge_error import combined_error_percent, log_sigma, probability_below
from hydro.dry_spells import find_dry_spells
from hydro.flow_state import FRESH_DAYS, flow_state
from hydro.outlet import Outlet
from hydro.units import Quantity


def state(values, *, age=1, restart=None, perennial=False):
    index = pd.date_range("2020-01-01", periods=len(values), freq="D")
    origin = Origin(file="f", digest="", format="t")
    gauge = Discharge(frame=make_frame(index, np.array(values, float)), step="daily", origins=(origin,))
    flow = combine("g", "G", {"g": gauge})
    outlet = Outlet(
        id="o",
        title="O",
        flow="g",
        stops_below=None if perennial else Quantity(40, "m3/s"),
        restarts_above=Quantity(restart, "m3/s") if restart else None,
    )
    dry = None if perennial or flow.empty else find_dry_spells(flow.values, 40.0, restart)
    return flow_state(outlet, flow, dry, index[-1] + pd.Timedelta(days=age))


@pytest.mark.parametrize(
    ("percent", "sigma", "below"),
    [
        # ln(1 + r)/1.96 and Phi(ln(40/42)/sigma), computed independently.
        (5, 0.0248934, 0.0250000),
        (10, 0.0486285, 0.157852),
        (15, 0.0713084, 0.246920),
        (20, 0.0930229, 0.299967),
    ],
)
def test_the_chance_of_lying_below_a_level_follows_from_the_stated_error(percent, sigma, below):
    assert log_sigma(percent) == pytest.approx(sigma, abs=2e-7)
    assert probability_below(40, 42, percent) == pytest.approx(below, abs=2e-6)


@pytest.mark.parametrize(
    ("percent", "linear"),
    # Phi((L - Q) / sigma) with sigma = r Q / 1.959964 at L = 40 and Q = 42, computed independently.
    [(5, 0.030976), (10, 0.175329), (15, 0.266902), (20, 0.320372)],
)
def test_an_error_of_the_logarithm_tells_nearly_what_a_normal_error_of_discharge_would(percent, linear):
    sigma = 42 * percent / 100 / NormalDist().inv_cdf(0.975)
    assert NormalDist().cdf((40 - 42) / sigma) == pytest.approx(linear, abs=2e-6)
    # The tool's error is one of the logarithm, which cannot make a discharge negative: a little below, for a reading
    # above the level.
    assert linear - 0.021 < probability_below(40, 42, percent) < linear


def test_a_sum_of_two_gauges_lies_below_a_level_as_often_as_their_errors_together_say():
    # 30 with 10 % and 12 with 15 %, independent: 42 with 8.33 %; Phi((L - Q) / sigma) = 0.131264, computed
    # independently.
    percent = combined_error_percent([30, 12], [10, 15])
    sigma = 42 * percent / 100 / NormalDist().inv_cdf(0.975)
    assert NormalDist().cdf((40 - 42) / sigma) == pytest.approx(0.131264, abs=2e-6)
    assert 0.131264 - 0.021 < probability_below(40, 42, percent) < 0.131264


def test_the_chance_is_even_at_the_level_and_certain_at_zero_discharge():
    assert probability_below(40, 40, 10) == pytest.approx(0.5)
    assert probability_below(40, 0, 10) == 1.0


def test_independent_members_err_less_together():
    assert combined_error_percent([30, 12], [10, 15]) == pytest.approx(8.33, abs=0.005)
    assert combined_error_percent([0, 0], [10, 15]) == 15


def test_a_fresh_reading_above_the_level_is_running_and_says_since_when():
    s = state([50, 30, 50, 60])
    assert s.state == "running"
    assert s.since == pd.Timestamp("2020-01-03")
    assert s.probability_running > 0.99


def test_a_dry_outlet_is_held_against_its_restart_level():
    s = state([50, 30, 42], restart=44)
    assert s.state == "dry"
    assert s.deciding_level_m3s == 44
    assert s.probability_running == pytest.approx(1 - probability_below(44, 42, 10))


def test_an_old_reading_leaves_the_state_unknown():
    s = state([50, 60], age=FRESH_DAYS + 1)
    assert (s.state, s.why_unknown, s.probability_running) == ("unknown", "stale-reading", None)
    assert state([50, 60], age=FRESH_DAYS).state == "running"


def test_between_the_levels_after_a_gap_nothing_is_claimed():
    s = state([50, 30, np.nan, 42], restart=44)
    assert (s.state, s.why_unknown, s.probability_running) == ("unknown", "between-levels", None)


def test_a_perennial_outlet_has_no_chance_to_state():
    s = state([50], perennial=True)
    assert (s.state, s.probability_running, s.why_no_probability) == ("running", None, "perennial")


def test_without_any_discharge_the_state_is_unknown():
    s = state([np.nan, np.nan])
    assert (s.state, s.why_unknown) == ("unknown", "no-reading")
