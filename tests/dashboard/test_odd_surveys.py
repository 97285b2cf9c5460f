"""Surveys that say little: `counts` and `explain` answer in a sentence, never with a fault or a number of nothing."""

from __future__ import annotations

import io

import pandas as pd
import pytest

from dashboard.answers.count_choices import CountChoices
from dashboard.answers.counts import FEWEST_GROUPS, counts
from dashboard.answers.explain import explain
from dashboard.wording import counts as count_words
from dashboard.wording import explain as words
from dashboard.wording import explain_comparison, explain_text
from dashboard.workspace import Workspace, load_workspace
from ecology.count_response import Response
from ecology.count_terms import ModelTerms

PERIOD = (pd.Timestamp("2020-09-15"), pd.Timestamp("2020-12-31"))
HEAD = "date,outlet,surface,searched,count,effort,people\n"


def workspace(folder, rows: str) -> Workspace:
    (folder / "visits.csv").write_text(HEAD + rows, encoding="utf-8")
    return load_workspace(folder)


def visits(count: str = "3", effort: str = "30", outlets: tuple[str, ...] = ("ledge", "pool"), every: int = 5) -> str:
    """Visits of the year 2020 (its flow: high, low from July to mid September, high), with counts that scatter."""
    out = io.StringIO()
    for i, day in enumerate(pd.date_range("2020-02-10", "2020-12-28", freq=f"{every}D")):
        for outlet in outlets:
            n = str(int(count) + (i * 7) % 5) if count not in ("", "0") else count
            out.write(f"{day:%Y-%m-%d},{outlet},,yes,{n},{effort},2\n")
    return out.getvalue()


def said(ws: Workspace, **choices) -> str:
    return count_words.answer(counts(ws, choices=CountChoices(**choices)))


def test_no_visits_and_visits_without_effort_leave_nothing_to_say(folder):
    for rows, left_out in (("", ""), (visits(effort=""), "no effort")):
        ws = workspace(folder, rows)
        assert "cannot be said: no visit has a count, an effort and a flow." in said(ws)
        found = explain(ws, judged=PERIOD)
        assert "cannot be said: the period has 0 visits with a count" in words.answer(found)
        assert left_out in explain_text.as_text(found)


def test_all_zeros_have_no_rate_and_the_sentence_ends_once(folder):
    ws = workspace(folder, visits(count="0"))
    for text in (said(ws), said(ws, response=Response(kind="presence"))):
        assert "cannot be said" in text and ".." not in text
    found = explain(ws, judged=PERIOD, control="pool")
    assert ".." not in words.answer(found) and ".." not in str(explain_comparison.comparison(found))


def test_one_visit_is_told_to_be_too_few_rows(folder):
    ws = workspace(folder, "2020-03-01,pool,,yes,4,30,2\n")
    assert "cannot be said: 1 row cannot determine" in said(ws)
    ws = workspace(folder, "2020-10-01,pool,,yes,4,30,2\n")
    assert "the period has 1 visit with a count" in words.answer(explain(ws, judged=PERIOD))


def test_a_covariate_that_never_changes_is_told_to_be_the_same_everywhere(folder):
    text = said(workspace(folder, visits()), terms=ModelTerms(covariates=("people",)))
    assert "“people” is the same in every row: nothing shows its effect" in text


def test_few_flow_cycles_give_no_error_by_cycle_and_no_interval_that_pretends_one(folder):
    found = counts(workspace(folder, visits()))
    assert found.fit is not None and found.clustered is None
    assert f"visits from at least {FEWEST_GROUPS} are needed" in str(found.why_not_clustered)
    assert found.terms["cluster_se"].isna().all()
    text = count_words.answer(found)
    assert ("cannot be said" in text) == (found.per_doubling is None)
    assert any(phrase in text for phrase in ("as if visits were independent", "no interval", "cannot be said"))
    assert found.trend is None and "at least 10 are needed" in str(found.why_no_trend)


@pytest.mark.parametrize(("outlets", "why"), [(("pool",), "ledge"), (("ledge", "pool"), "")])
def test_a_contrast_with_an_outlet_without_visits_is_refused_in_words(folder, outlets, why):
    found = explain(workspace(folder, visits(outlets=outlets)), judged=PERIOD, outlets=["ledge"], control="pool")
    assert found.judgement is not None and found.judgement.verdict == "cannot say"
    if why:
        assert "cannot be made: a comparison needs at least 3 counted visits" in str(
            explain_comparison.comparison(found)
        )
