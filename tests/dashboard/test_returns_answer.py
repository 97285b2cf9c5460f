"""What `returns` says: by stage and taxon, with passes, outlets compared, and below five spells a list."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.between_outlets import _holm
from dashboard.answers.returns import returns
from dashboard.cli import main
from dashboard.wording import return_effects as more
from dashboard.wording import returns as words
from dashboard.workspace import load_workspace
from hydro.problems import InputError
from tests.dashboard.conftest import DEMO, TOML
from tests.dashboard.test_pages import app, first_sentence, said

YEARS = range(2008, 2020)
TWO_OUTLETS = TOML.replace(
    "[outlets.pool]\nflow",
    '[outlets.lip]\ntitle = "Lip"\nflow = "system"\nstops_below = "40 cfs"\n\n[outlets.pool]\nflow',
)


@pytest.fixture(scope="module")
def springs(tmp_path_factory):
    """Twelve dry summers (July to mid-September), two taxa at the ledge, two passes a visit; at the lip animals come
    back about 40 days later than at the ledge. The dice are thrown here."""
    folder = tmp_path_factory.mktemp("springs")
    days = pd.date_range("2007-01-01", "2020-12-31", freq="D")
    dry = (days.strftime("%m-%d") >= "07-01") & (days.strftime("%m-%d") < "09-15") & (days.year != 2020)
    flow = np.where(dry, 30.0, 60.0)
    gauge = "\n".join(["date,discharge (cfs)", *(f"{d:%Y-%m-%d},{v}" for d, v in zip(days, flow, strict=True))])
    rng, rows = np.random.default_rng(4), ["date,time,outlet,surface,searched,count,effort,adults,juveniles,taxon,pass"]
    for year in YEARS:
        back = {("ledge", "shrimp"): 30, ("ledge", "snail"): 60, ("lip", "shrimp"): 70}
        returned = {who: mean + int(rng.integers(-10, 11)) for who, mean in back.items()}
        for day in range(5, 120, 9):
            date = pd.Timestamp(year, 9, 15) + pd.Timedelta(days=day)
            for (outlet, taxon), lag in returned.items():
                for number in (1, 2):
                    n = int(rng.poisson(3) + 1) if day >= lag and rng.random() < 0.5 else 0
                    parts = f"{n - n // 3},{n // 3}" if n != 4 else ","
                    rows.append(f"{date:%Y-%m-%d},,{outlet},running,yes,{n},30,{parts},{taxon},{number}")
    (folder / "workspace.toml").write_text(TWO_OUTLETS, encoding="utf-8")
    (folder / "north.csv").write_text(gauge + "\n", encoding="utf-8")
    (folder / "visits.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return load_workspace(folder)


@pytest.fixture(scope="module")
def demo():
    return load_workspace(DEMO)


@pytest.fixture(scope="module")
def demo_answer(demo):
    return returns(demo, draws=50)


def outlet(workspace, id, **options):
    return next(o for o in returns(workspace, draws=20, **options).outlets if o.outlet == id)


def test_each_taxon_has_lags_of_its_own(springs):
    shrimp, snail = outlet(springs, "ledge", animals="shrimp"), outlet(springs, "ledge", animals="SNAIL")
    assert (shrimp.animals, snail.animals) == ("shrimp", "snail")
    assert snail.corrected.median_days.low > shrimp.corrected.median_days.high
    # Stated: about 30 and 60 days, 10 days either way.
    assert shrimp.corrected.median_days.low < 31 < shrimp.corrected.median_days.high + 5
    assert snail.corrected.median_days.low < 61 < snail.corrected.median_days.high + 5


def test_passes_reach_the_likelihood_and_hold_detection(springs):
    shrimp = outlet(springs, "ledge", animals="shrimp")
    assert shrimp.days_with_passes > 50
    p = shrimp.corrected.detection
    assert p.low < 0.5 < p.high
    assert p.high - p.low < 0.25
    assert any("several passes" in s for s in words.details(shrimp))
    history = shrimp.lags.histories()[0]
    assert history.days.size == 2 * np.unique(history.days).size


def test_all_animals_are_the_taxa_of_a_pass_together(springs):
    both = outlet(springs, "ledge")
    assert both.n_informative == len(YEARS)
    behind = both.lags.searches
    assert set(behind["pass"]) == {1, 2}
    assert (behind["effort"] == 30).all()


def test_a_stage_is_known_only_where_it_was_written_down(springs):
    young = outlet(springs, "lip", animals="juveniles")
    counted = springs.visits.at("lip")
    assert young.n_not_told == int((counted["count"] == 4).sum()) > 0
    assert any(f"{young.n_not_told} searches do not say how many juveniles" in s for s in words.details(young))
    # First finds of a part of the animals cannot come before those of all.
    every = outlet(springs, "lip")
    assert young.bands.quantile_bounds[1] >= every.bands.quantile_bounds[1]


def test_every_choice_stands_beside_the_others(springs):
    names = [a.animals for a in outlet(springs, "ledge").by_animals]
    assert names == ["all", "adults", "juveniles", "shrimp", "snail"]
    assert "snail" not in [a.animals for a in outlet(springs, "lip").by_animals]


def test_searches_that_name_another_taxon_only_say_nothing_of_this_one(springs):
    lip = outlet(springs, "lip", animals="snail")
    assert (len(lip.lags.lags), lip.n_informative) == (13, 0)
    assert words.answer(lip).startswith("Too little is known about returns of snail to Lip")
    assert "After 13 spells no search tells of snail: nothing is learnt from them." in words.details(lip)


def test_two_outlets_are_compared_and_the_sooner_one_named(springs):
    answer = returns(springs, draws=20, animals="shrimp")
    (pair,) = answer.pairs
    assert (pair.outlets, pair.sizes, pair.same_flow) == (("ledge", "lip"), (12, 12), True)
    assert pair.test.z < 0 and pair.test.p_permutation < 0.001
    first, second = more.pairs(answer.pairs, answer.animals, answer.level)
    assert first.startswith("Shrimp were seen again sooner at Ledge than at Lip (permutation log-rank test over 9")
    assert "share winters" in second
    (as_json,) = answer.as_json()["between_outlets"]
    assert as_json["sooner"] == "ledge"


def test_too_few_labellings_are_no_test(demo_answer):
    (pair,) = demo_answer.pairs
    why = "with 2 and 2 spells there are 6 ways to label them, too few for any difference to be told from chance"
    assert "cannot be told" in more.pair(replace(pair, test=None, why=why), "all", 0.05, 1)


def test_holm_adjusts_for_the_number_of_pairs():
    """Worked by hand after Holm 1979: 3 · 0.01, 2 · 0.02, and no smaller than the one before."""
    assert _holm(np.array([0.03, 0.01, 0.02])).tolist() == pytest.approx([0.04, 0.03, 0.04])
    assert _holm(np.array([0.6, 0.9])).tolist() == pytest.approx([1.0, 1.0])


def test_animals_that_the_visits_do_not_hold_are_refused_with_what_they_do(springs, capsys):
    with pytest.raises(InputError, match="shrimp, snail"):
        returns(springs, animals="newts")
    assert main(["returns", str(DEMO), "--animals", "newts"]) == 2
    assert "one of: all, adults, juveniles, gravid" in capsys.readouterr().err


def test_the_json_says_which_animals_and_holds_every_visit_behind_a_lag(capsys):
    assert main(["returns", str(DEMO), "--json", "--animals", "gravid", "--outlet", "ledge"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert answer["animals"] == "gravid"
    assert answer["animal_choices"] == ["all", "adults", "juveniles", "gravid"]
    (ledge,) = answer["outlets"]
    for lag in ledge["lags"]:
        found = [v for v in lag["visits"] if v["count"] > 0]
        assert (found[0]["date"] if found else None) == lag["first_found"]
        assert all({"date", "days", "pass", "count", "effort", "row"} <= set(v) for v in lag["visits"])
    half = ledge["half_of_expected_count"]
    assert {"lags", "median_days", "chance_to_reach_half_per_visit", "expected_counts_from"} <= set(half)
    for lag in half["lags"]:
        reached = [v for v in lag["visits"] if v["reached_half"]]
        assert all(v["count"] >= 0.5 * v["expected"] for v in reached)
        assert (reached[0]["date"] if reached else None) == lag["first_found"]


def test_what_cannot_be_estimated_is_null_beside_a_reason(demo_answer):
    ledge, trough = demo_answer.as_json()["outlets"][:2]
    assert ledge["never_returned"]["value"] is None
    assert "searched long enough" in ledge["never_returned"]["why"]
    assert ledge["effects"]["factor_per_doubling_with_season_fixed"]["why"]
    assert trough["effects"] == {"why": "3 spells with searches after them; a curve needs at least 5"}
    assert trough["half_of_expected_count"]["median_days"]["value"] is None
    assert trough["half_of_expected_count"]["median_days"]["why"]


def test_medians_for_four_detections_stand_beside_each_other(demo_answer):
    (assumed,) = [s for s in words.details(demo_answer.outlets[0]) if s.startswith("The median would be")]
    assert [float(p) for p in re.findall(r"if (\d\.?\d*)", assumed)] == [1.0, 0.7, 0.5, 0.3]


def test_below_five_spells_the_list_stands_for_the_curve(monkeypatch):
    page = app(monkeypatch, DEMO, "views/return_lags.py", outlet="trough")
    assert "Each spell is listed" in first_sentence(page)
    assert "water back 3 Nov 2022: found between 94 days and 98 days (14 weeks)" in said(page)


def test_the_page_can_be_about_one_stage(monkeypatch, demo):
    page = app(monkeypatch, DEMO, "views/return_lags.py", animals="juveniles")
    expected = words.answer(next(o for o in returns(demo, animals="juveniles").outlets))
    assert first_sentence(page) == expected
    assert "juveniles" in expected
    page.selectbox(key="animals").select("gravid").run()
    assert "egg-bearing females" in first_sentence(page)


def test_half_of_the_expected_count_is_a_sentence_of_its_own(demo_answer):
    ledge = demo_answer.outlets[0]
    assert "back to half of what is expected within about" in more.half(ledge)
    assert any("visits to a settled outlet reach half" in s for s in more.half_details(ledge))


def test_without_effort_the_simpler_baseline_is_used_and_said(folder, tmp_path):
    path = folder / "visits.csv"
    rows = ["date,outlet,surface,searched,count,effort"]
    rows += [f"2020-0{m}-10,ledge,running,yes,{c}," for m, c in ((2, 4), (4, 6), (6, 5))]
    rows += ["2020-09-20,ledge,running,yes,1,", "2020-10-10,ledge,running,yes,3,"]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    ledge = outlet(load_workspace(folder), "ledge")
    assert not ledge.half.from_model
    (lag,) = ledge.half.recovery.lags.lags.to_dict("records")
    assert (lag["low_days"], lag["high_days"]) == (5, 25)  # the mean before is 5: 1 is below half, 3 is not
    assert any("mean count for equal effort in the year before" in s for s in more.half_details(ledge))


def test_a_workspace_without_visits_says_so(folder):
    toml = folder / "workspace.toml"
    toml.write_text(toml.read_text(encoding="utf-8").split("[surveys]")[0], encoding="utf-8")
    answer = returns(load_workspace(folder))
    assert all(o.lags is None for o in answer.outlets)
    assert answer.as_json()["between_outlets"] == []
