"""Answers about counts into their pictures, the same on the pages and in the report."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.answers.count_curves import expected_over_flow
from dashboard.figures.counts_and_flow import counts_over_flow, counts_over_time
from dashboard.figures.drawing import Drawing
from dashboard.figures.drop_periods import drop_periods
from dashboard.figures.drop_staircase import drop_staircase
from dashboard.wording import explain_page

if TYPE_CHECKING:
    from dashboard.answers.counts_answer import CountsAnswer
    from dashboard.answers.explain import ExplainAnswer
    from dashboard.workspace import Workspace
    from ecology.count_design import CountDesign
    from ecology.count_drop import DropJudgement
    from ecology.drop_periods import Span


def over_flow(workspace: Workspace, found: CountsAnswer, outlet: str, unit: str) -> Drawing:
    """Counts of an outlet against flow with the fitted curves of all; ValueError where there is no design."""
    d = _design(found)
    titles = {id: o.title for id, o in workspace.outlets.items()}
    return counts_over_flow(
        d.rows,
        {id: expected_over_flow(found, id) for id in titles},
        outlet=outlet,
        titles=titles,
        window=d.window,
        unit=unit,
        effort_unit=workspace.settings.surveys.effort_unit,
        ratio=None if found.per_doubling is None else found.per_doubling[0],
        share_of=d.share_of if d.response.binomial else None,
    )


def over_time(workspace: Workspace, found: CountsAnswer, outlet: str, days: Span) -> Drawing:
    """Counts of an outlet over `days` (both inside) with what is expected of each visit; ValueError if none."""
    d = _design(found)
    dry = workspace.dry_spells[outlet]
    visits = pd.DataFrame({"date": pd.DatetimeIndex([])})
    if workspace.visits is not None:
        here = workspace.visits.at(outlet)
        visits = here[here["kind"] == "dry"]
    return counts_over_time(
        found.rows(),
        visits,
        None if dry is None else dry.spells,
        outlet=outlet,
        title=workspace.outlets[outlet].title,
        first=days[0],
        last=days[1],
        effort_unit=workspace.settings.surveys.effort_unit,
        share_of=d.share_of if d.response.binomial else None,
    )


def _design(found: CountsAnswer) -> CountDesign:
    if found.design is None:
        raise ValueError("there are no counts to draw")
    return found.design


def staircase(found: ExplainAnswer, j: DropJudgement) -> Drawing | None:
    """From the count of the baseline to that of the period, a step a factor; None where it cannot be split."""
    name = f"drop-staircase-{'-'.join(found.outlets)}"
    return drop_staircase(j, name=name, title=explain_page.staircase_title(found), alt=explain_page.staircase(found))


def two_periods(found: ExplainAnswer, j: DropJudgement, days: Span) -> Drawing:
    """The counts over `days` (both inside) with the period judged and the one that it is compared with."""
    rows = pd.concat([j.fitted_rows, j.rows[j.rows["period"] == "judged"]]).sort_values("date")
    dry = pd.DataFrame({"date": pd.DatetimeIndex([])})
    if found.design is not None:
        dry = found.design.left_out_rows
        dry = dry[dry["reason"] == "dry"]
    return drop_periods(
        rows,
        dry,
        judged=found.judged,
        baseline=found.baseline,
        shown=days,
        name=f"drop-periods-{'-'.join(found.outlets)}",
        title=explain_page.periods_title(found),
        alt=explain_page.periods(found, len(rows)),
        effort_unit=found.effort_unit,
    )
