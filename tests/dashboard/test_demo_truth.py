"""The demo was made from a written truth: the tool, which may not read it, has to find it back."""

from __future__ import annotations

import json
from importlib.resources import files

import pytest

from dashboard.answers.counts import counts
from dashboard.answers.returns import returns
from dashboard.answers.spells import spells
from dashboard.workspace import load_workspace
from tests.dashboard.conftest import DEMO

TRUTH = json.loads((files("demo_data") / "TRUTH.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def workspace():
    return load_workspace(DEMO)


def test_the_true_effect_of_flow_lies_inside_the_reported_interval(workspace):
    answer = counts(workspace)
    flow = answer.terms.set_index("term").loc["log_discharge_30d"]
    assert flow["cluster_low"] < TRUTH["counts"]["beta"] < flow["cluster_high"]
    # An interval that could hold anything would hold the truth too.
    assert flow["cluster_high"] - flow["cluster_low"] < 0.8


def test_leaving_the_recovery_after_a_restart_out_would_blame_it_on_flow(workspace):
    import numpy as np

    from ecology.count_design import RECOVERY_TERM
    from ecology.count_model import fit_counts

    design = counts(workspace).design
    keep = [t for t in design.terms if t != RECOVERY_TERM]
    matrix = design.matrix[:, [design.terms.index(t) for t in keep]]
    naive = fit_counts(design.rows["count"].to_numpy(), matrix, terms=keep, offset=design.offset)
    at = keep.index(design.flow_term)
    assert naive.estimate[at] - 1.96 * np.sqrt(naive.covariance[at, at]) > TRUTH["counts"]["beta"]


def test_the_true_median_lag_lies_inside_the_reported_interval(workspace):
    (ledge,) = returns(workspace, outlets=["ledge"]).outlets
    truth = TRUTH["return_lag"]["median_days"]
    assert ledge.bands.quantile_low <= truth <= ledge.bands.quantile_high
    assert ledge.bands.quantile_high - ledge.bands.quantile_low < 60


def test_the_true_median_lag_lies_inside_the_interval_that_allows_for_missed_animals(workspace):
    (ledge,) = returns(workspace, outlets=["ledge"]).outlets
    median, p = ledge.corrected.median_days, ledge.corrected.detection
    assert median.low <= TRUTH["return_lag"]["median_days"] <= median.high
    assert median.high - median.low < 35
    assert p.low <= TRUTH["detection_per_visit"]["ledge"]["first_three_weeks_after_return"] <= p.high


def test_the_true_time_to_half_of_the_settled_count_lies_inside_its_interval(workspace):
    """After a return the mean is 1 − (1 − start)·exp(−days/e-folding) of the settled one; half of it comes at the day
    where that is 0.5, after the median lag."""
    import numpy as np

    (ledge,) = returns(workspace, outlets=["ledge"]).outlets
    back = TRUTH["counts"]["back"]
    after = -back["e_folding_days"] * np.log(0.5 / (1.0 - back["start"]))
    median = ledge.half.corrected.median_days
    assert ledge.half.from_model
    assert median.low <= TRUTH["return_lag"]["median_days"] + after <= median.high
    assert median.high - median.low < 35


def test_the_length_of_the_dry_spell_which_plays_no_part_is_not_said_to(workspace):
    (ledge,) = returns(workspace, outlets=["ledge"]).outlets
    assert ledge.effects.length.low <= 1.0 <= ledge.effects.length.high
    assert ledge.effects.season.low == 1.0


def test_true_dry_days_are_found_within_the_error_of_the_gauges(workspace):
    import pandas as pd

    (ledge,) = spells(workspace, outlets=["ledge"]).outlets
    states = ledge.dry.states
    true_dry = pd.Series(False, index=states.index)
    for spell in TRUTH["dry_spells"]["ledge"]:
        true_dry[spell["first"] : spell["last"]] = True
    known = states != "unknown"
    assert ((states[known] == "dry") == true_dry[known]).mean() > 0.97


def test_the_highest_dry_and_lowest_running_sighting_bracket_the_true_level(workspace):
    from ecology.flow_history import visit_flow_history

    visits = workspace.visits.at("ledge")
    flow = visit_flow_history(visits, workspace.water)["discharge_m3s"]
    truth = TRUTH["levels"]["ledge"]
    # Readings err by a few per cent, so that sightings overlap around the levels instead of parting at them.
    assert flow[visits["surface"] == "dry"].max() == pytest.approx(truth["true_restart"]["m3s"], rel=0.1)
    assert flow[visits["surface"] == "running"].min() == pytest.approx(truth["true_stop"]["m3s"], rel=0.1)


@pytest.mark.parametrize("id", ["ledge", "trough"])
def test_the_true_stop_level_lies_inside_the_learnt_interval(workspace, id):
    from dashboard.answers.threshold import threshold

    (outlet,) = threshold(workspace, outlets=[id]).outlets
    level = outlet.estimate.stop_level
    truth = TRUTH["levels"][id]["true_stop"]["m3s"]
    assert level.low_m3s < truth < level.high_m3s
    assert level.high_m3s / level.low_m3s < 1.2


def test_the_true_restart_level_lies_inside_the_learnt_interval(workspace):
    from dashboard.answers.threshold import threshold

    (outlet,) = threshold(workspace, outlets=["ledge"]).outlets
    level = outlet.estimate.restart_level
    assert level.low_m3s < TRUTH["levels"]["ledge"]["true_restart"]["m3s"] < level.high_m3s
