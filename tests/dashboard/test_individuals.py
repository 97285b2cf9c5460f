"""Individuals as the command line, a script and the page meet them, and the demo's truth found back."""

from __future__ import annotations

import json
from importlib.resources import files

import numpy as np
import pandas as pd
import pytest

from dashboard.answers.individuals import individuals
from dashboard.answers.individuals_survival import dry_rates
from dashboard.cli import main
from dashboard.wording import individuals as sentences
from dashboard.wording.individuals_numbers import animals
from dashboard.workspace import load_workspace
from ecology import survival_models as models
from ecology.exact_intervals import share_interval
from tests.dashboard.conftest import DEMO
from tests.dashboard.test_pages import app, first_sentence, rewrite, said

TRUTH = json.loads((files("demo_data") / "TRUTH.json").read_text(encoding="utf-8"))
VIEW = "views/who_came_through.py"

CAPTURES = """\
date,outlet,individual,match_confidence
2020-03-01,ledge,A,
2020-03-01,ledge,B,
2020-04-01,ledge,A,0.9
2020-05-01,ledge,C,
2020-06-20,ledge,B,0.6
2020-09-20,ledge,A,0.95
2020-10-10,pool,B,0.5
2020-10-10,ledge,D,
"""


@pytest.fixture
def marked(folder):
    """The small workspace with captures."""
    rewrite(folder / "workspace.toml", 'visits = "visits.csv"', 'visits = "visits.csv"\ncaptures = "captures.csv"')
    (folder / "captures.csv").write_text(CAPTURES, encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def demo_workspace():
    return load_workspace(DEMO)


@pytest.fixture(scope="module")
def demo_answer(demo_workspace):
    return individuals(demo_workspace)


def asked(capsys, *argv):
    assert main(["individuals", *(str(a) for a in argv), "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_the_json_keeps_the_contract(capsys, marked):
    answer = asked(capsys, marked, "--window", "2020-03-01/2020-05-31")
    assert (answer["n_individuals"], answer["n_captures"]) == (4, 8)
    (spell,) = answer["across_spells"]
    assert spell["outlet"] == "ledge"
    assert (spell["spell"]["first"], spell["spell"]["last"]) == ("2020-07-01", "2020-09-14")
    assert spell["seen_before"] == 3
    share = spell["seen_before_and_after"]
    assert (share["value"], share["low"], share["high"], share["level"]) == pytest.approx(
        (2 / 3, *share_interval(2, 3), 0.95)
    )
    absences = {a["individual"]: a for a in spell["absences"]}
    assert absences["A"] | {"first_after_outlet": ""} == {
        "individual": "A", "last_before": "2020-04-01", "first_after": "2020-09-20", "first_after_outlet": "",
        "least_days": 76, "most_days": 172,
    }  # fmt: skip
    assert answer["survival"]["why"].startswith("animals were met again 3 times")
    assert [e["estimator"] for e in answer["abundance"]] == [
        "chapman", "schnabel", "schumacher-eschmeyer", "chao-lower-bound",
    ]  # fmt: skip
    for estimate in answer["abundance"]:
        assert {"window", "estimator", "value", "low", "high", "warnings"} <= set(estimate)
        assert estimate["window"] == "2020-03-01/2020-05-31"
        assert estimate["value"] is not None or estimate["why"]
        assert len(estimate["warnings"]) > 0


def test_survival_of_the_demo_keeps_the_contract(demo_workspace):
    survival = individuals(demo_workspace, occasion="year").as_json()["survival"]
    for name in ("apparent_per_year", "with_dry_spell", "without_dry_spell", "recapture"):
        assert 0 < survival[name]["low"] < survival[name]["value"] < survival[name]["high"] < 1
        assert survival[name]["level"] == 0.95
    assert survival["minus_two_log_likelihood"] > 0
    assert len(survival["occasions"]) == 21
    assert survival["occasions"][5]["abundance_low"] < survival["occasions"][5]["abundance"]


def test_yearly_captures_of_the_dippers_give_the_published_survival(capsys, marked):
    """Lebreton et al. 1992 (counts from memory, checked by their likelihoods) as a captures table of 294 birds. Years
    are 365 or 366 days long, so that the likelihood differs a little from the published 666.83766."""
    from tests.published.test_survival import AGAIN, RELEASED

    rows, birds, there = ["date,outlet,individual"], 0, {i: [] for i in range(7)}
    for i, released in enumerate([*RELEASED, sum(row[-1] for row in AGAIN) + 39]):
        new = [f"d{birds + k}" for k in range(released - len(there[i]))]
        birds += len(new)
        there[i] += new
        rows += [f"{1981 + i}-06-01,pool,{bird}" for bird in there[i]]
        left = list(there[i])
        for j, n in enumerate(AGAIN[i] if i < 6 else ()):
            there[j + 1] += [left.pop() for _ in range(n)]
    assert birds == 294
    (marked / "captures.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    survival = asked(capsys, marked, "--outlet", "pool", "--occasion", "year")["survival"]
    assert survival["minus_two_log_likelihood"] == pytest.approx(666.83766, abs=0.1)
    assert survival["apparent_per_year"]["value"] == pytest.approx(0.5602, abs=2e-4)
    assert survival["apparent_per_year"]["standard_error"] == pytest.approx(0.0251, abs=2e-4)
    assert survival["recapture"]["value"] == pytest.approx(0.9026, abs=2e-4)
    both = {m["model"]: m for m in survival["models"]}["both by time"]
    assert (both["parameters"], both["minus_two_log_likelihood"]) == (11, pytest.approx(656.95021, abs=1e-4))


def test_captures_below_a_confidence_are_left_out_in_a_second_run(capsys, marked):
    answer = asked(capsys, marked, "--least-confidence", "0.7")
    second = answer["without_unsure_matches"]
    assert (second["captures_left_out"], second["rows_left_out"]) == (2, [6, 8])
    assert second["n_captures"] == 6
    # Without its unsure matches B is an animal last seen in March and never again.
    assert answer["across_spells"][0]["seen_before_and_after"]["number"] == 2
    assert second["across_spells"][0]["seen_before_and_after"]["number"] == 1


def test_matches_join_animals_and_are_written_only_where_asked(capsys, marked, tmp_path):
    pairs = tmp_path / "pairs.csv"
    pairs.write_text("first,second,same,confidence\nA,D,yes,0.9\nA,C,no,\nC,D,yes,0.5\nE,F,yes,\n", encoding="utf-8")
    before = sorted(p.name for p in marked.iterdir())
    answer = asked(capsys, marked, "--matches", pairs)
    assert answer["n_individuals"] == 2
    (conflict,) = answer["matches"]["conflicts"]
    assert (conflict["first"], conflict["second"], conflict["chain"]) == ("A", "C", "A – D – C")
    assert answer["matches"]["not_among_captures"] == ["E", "F"]
    assert sorted(p.name for p in marked.iterdir()) == before
    out = tmp_path / "joined.csv"
    asked(capsys, marked, "--matches", pairs, "--least-confidence", "0.8", "--out", out)
    written = pd.read_csv(out)
    assert written["individual"].tolist() == ["A", "B", "A", "C", "B", "A", "B", "A"]
    assert written["individual_as_read"].tolist() == ["A", "B", "A", "C", "B", "A", "B", "D"]
    # What was written is a captures table again.
    (marked / "captures.csv").write_bytes(out.read_bytes())
    assert asked(capsys, marked)["n_individuals"] == 3


def test_no_file_is_ever_replaced(capsys, marked, tmp_path):
    pairs = tmp_path / "pairs.csv"
    pairs.write_text("first,second\nA,D\n", encoding="utf-8")
    kept = (marked / "captures.csv").read_bytes()
    argv = ["individuals", str(marked), "--out", str(marked / "captures.csv")]
    assert main([*argv, "--matches", str(pairs)]) == 2
    assert "none is replaced" in capsys.readouterr().err
    assert main(argv) == 2
    assert "2 problems" in capsys.readouterr().err
    assert (marked / "captures.csv").read_bytes() == kept


@pytest.mark.parametrize(
    ("window", "told"),
    [
        ("2020-03-01", "is not two dates"),
        ("2020-05-01/2020-03-01", "ends before it begins"),
        ("spring/summer", "is not a date"),
    ],
)
def test_a_window_that_is_none_is_refused(capsys, marked, window, told):
    with pytest.raises(SystemExit) as stopped:
        main(["individuals", str(marked), "--window", window])
    assert stopped.value.code == 2
    assert told in capsys.readouterr().err


def test_without_captures_it_says_so(capsys, folder):
    answer = asked(capsys, folder)
    assert answer["why"] == "the workspace names no captures"
    assert answer["survival"]["why"] == answer["why"]


def test_doubtful_captures_are_warned_of(capsys, marked):
    text = CAPTURES + "2020-08-01,ledge,A,\n2020-10-10,ledge,B,\n"
    (marked / "captures.csv").write_text(text, encoding="utf-8")
    warnings = " ".join(asked(capsys, marked)["warnings"])
    assert "1 capture on a day on which the outlet was dry by flow (first: row 10, ledge, 1 Aug 2020)" in warnings
    assert "met at two outlets on one day 1 time (first: B, 10 Oct 2020" in warnings


def test_the_text_says_how_sure_and_never_calls_the_unseen_dead(demo_answer):
    text = sentences.as_text(demo_answer)
    assert "have the permit with you" in text
    assert "may live on unseen or elsewhere" in text
    assert "95 % interval" in text
    assert "died" not in text
    assert "caused" not in text


def test_the_true_survival_of_the_demo_is_found_back(demo_answer):
    truth = TRUTH["captures"]
    s = demo_answer.run.survival
    fit = s.fit(models.BY_DRY_DAYS)
    running, dry = fit.rate(models.RUNNING), fit.rate(models.DRY)
    assert running.low < truth["survival_per_year"] < running.high
    assert dry.low < truth["survival_per_year_while_outlet_has_no_animals"] < dry.high
    assert running.high - running.low < 0.1
    with_dry, without, p = dry_rates(s)
    assert with_dry.value < without.value
    assert p < 0.05


def test_the_true_moves_of_the_demo_are_found_back(demo_answer):
    """After a dry spell 12 in 100 settle elsewhere; an animal that is followed over several of them has more
    chances."""
    moves = demo_answer.run.moves
    over = int(moves.moves["over_dry_spell"].sum())
    low, high = share_interval(over, moves.pairs_over_dry_spell)
    assert low < 1.5 * TRUTH["captures"]["moves_after_dry_spell"] < high
    assert low > (len(moves.moves) - over) / (moves.pairs - moves.pairs_over_dry_spell)


def test_every_animal_of_the_demo_is_counted(demo_answer):
    assert demo_answer.run.n_individuals == TRUTH["captures"]["individuals"]
    assert demo_answer.run.n_captures == TRUTH["captures"]["captures"]


def test_absences_agree_with_the_captures_row_by_row(demo_answer):
    """Looked up again in the file, animal by animal."""
    frame = pd.read_csv(DEMO / "captures.csv", parse_dates=["date"])
    for c in demo_answer.run.crossings:
        for r in c.absences.itertuples():
            days = frame.loc[frame["individual"] == r.individual, "date"]
            assert days[days < r.spell_first].max() == r.last_before
            assert days[days > r.spell_last].min() == r.first_after
            assert not days.between(r.spell_first, r.spell_last).any()
            assert 0 < r.least_days < r.most_days


def test_a_survival_estimate_is_not_moved_by_the_order_of_rows(marked):
    rows = CAPTURES.splitlines()
    first = individuals(load_workspace(marked)).as_json()
    (marked / "captures.csv").write_text("\n".join([rows[0], *rows[:0:-1]]) + "\n", encoding="utf-8")
    second = individuals(load_workspace(marked)).as_json()
    assert first["across_spells"] == second["across_spells"]


def test_the_page_answers_as_the_command_line_does(monkeypatch, demo_answer):
    at = app(monkeypatch, DEMO, VIEW)
    assert first_sentence(at) == sentences.answer(demo_answer, "ledge")
    text = said(at)
    assert "have the permit with you" in text
    for sentence in sentences.came_through(demo_answer, "ledge"):
        assert sentence in text
    at.selectbox(key="outlet").select("grotto").run()
    assert not at.exception
    assert "no stop level is set" in first_sentence(at)


def test_choices_in_the_address_are_answered_at_once(monkeypatch, demo_workspace):
    monkeypatch.setenv("RESURGENCE_WORKSPACE", str(DEMO))
    choices = {"window-from": "2022-04-01", "window-to": "2022-06-30", "confidence": "0.9", "of": "This outlet"}
    at = app(monkeypatch, DEMO, VIEW, **choices)
    text = said(at)
    assert "Taken as closed from 1 Apr 2022 to 30 Jun 2022" in text
    assert "matched with a confidence below 0.9" in text
    here = individuals(
        demo_workspace,
        outlets=["ledge"],
        window=(pd.Timestamp("2022-04-01"), pd.Timestamp("2022-06-30")),
        sample="visit",
    )
    value = here.run.window.estimates[0][0].value
    assert f"{animals(value)} animals" in text
    assert np.isfinite(value)


def test_a_workspace_with_few_captures_has_its_page(monkeypatch, marked):
    at = app(monkeypatch, marked, VIEW)
    assert first_sentence(at).startswith("Of 3 animals last seen at Ledge within a year before the dry spell")
    assert "Survival cannot be told" in said(at)
