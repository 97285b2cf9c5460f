"""Is a drop in counts what flow, effort and season lead one to expect."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header
from dashboard.answers.count_rows import count_rows, groups_of
from dashboard.answers.explain_periods import Days, Periods, periods_asked
from dashboard.workspace import Workspace
from ecology.before_after import BeforeAfter, before_after
from ecology.count_design import CountDesign
from ecology.count_drop import DropJudgement, Span, judge_drop, tried_by_chance
from ecology.not_estimable import NotEstimable
from hydro.problems import InputError, Problem

#: The window of flow before a visit, as in the count regression [days].
WINDOW = 30
NO_VISITS = "the workspace names no visits"


@dataclass(frozen=True, eq=False, kw_only=True)
class ExplainAnswer:
    """The answer to `explain`.

    `judgement` is None where the workspace has no visits (`why`). `contrast` compares with the outlet `control`, None
    where none was asked for or where `why_no_contrast` says so; `change` is the day of a change on the ground. `tries`
    is how many periods were looked at, this one included. `baseline_from` says where the baseline came from.
    """

    header: Header
    level: float
    outlets: tuple[str, ...]
    titles: dict[str, str]
    effort_unit: str
    judged: Span
    baseline: Span
    baseline_from: str
    judgement: DropJudgement | None
    why: str | None = None
    control: str | None = None
    control_perennial: bool = True
    change: pd.Timestamp | None = None
    contrast: BeforeAfter | None = None
    why_no_contrast: str | None = None
    tries: int = 1
    design: CountDesign | None = None

    def tables(self) -> list[Table]:
        j = self.judgement
        if j is None or self.design is None:
            return []
        left_out = self.design.left_out_rows
        inside = np.zeros(len(left_out), dtype=bool)
        for first, last in (self.judged, self.baseline):
            inside |= ((left_out["date"] >= first) & (left_out["date"] <= last)).to_numpy()
        found = [
            Table(name="drop-factors", title="Factors between the two periods", frame=j.factors),
            Table(name="drop-rows", title="Visits of both periods, with what the fit expects", frame=j.rows),
            Table(name="drop-left-out", title="Visits of both periods left out, and why", frame=left_out[inside]),
            Table(name="drop-fitted-rows", title="Visits that the fit rests on", frame=j.fitted_rows),
        ]
        if j.predicted is not None:
            total, times = np.unique(j.predicted.totals, return_counts=True)
            frame = pd.DataFrame({"count": total, "chance": times / times.sum()})
            found.append(Table(name="drop-expected", title="Chance of each total of the period judged", frame=frame))
        return found

    def as_json(self) -> dict[str, object]:
        from dashboard.answers.explain_json import answer_json

        return answer_json(self)

    def chance_among_tries(self) -> float | None:
        """Chance that one of all periods tried shows a tail as small as this one's."""
        tail = None if self.judgement is None else self.judgement.tail
        return None if tail is None else tried_by_chance(tail, self.tries)


def explain(
    workspace: Workspace,
    *,
    judged: Days | None = None,
    baseline: Days | None = None,
    outlets: Sequence[str] = (),
    control: str | None = None,
    change: datetime.date | None = None,
    level: float = 0.95,
    draws: int = 10_000,
    seed: int = 1,
    tries: int = 1,
) -> ExplainAnswer:
    """Judge the counts of `judged` against a model of all other visits, and split them from those of `baseline`.

    judged    first and last day of the period in question; default with `change`: from that day on
    baseline  first and last day compared with; default: the same days a year or more before, or with `change` every day
              before it
    control   an outlet to compare with; it is not among the outlets judged

    Raises InputError where the periods do not fit together or the comparison outlet is not one.
    """
    problems: list[Problem] = []
    names = tuple(o for o in by_name(workspace.outlets, outlets) if outlets or o != control)
    days = periods_asked(workspace, judged, baseline, change, problems)
    if control is not None and control not in workspace.outlets:
        known = ", ".join(workspace.outlets)
        problems.append(Problem(row="--control", value=control, expected=f"an outlet id: {known}"))
    elif control is not None and (control in names or not names):
        problems.append(
            Problem(row="--control", value=control, expected="an outlet that is not among those judged (--outlet)")
        )
    if problems or days is None:
        raise InputError(problems)
    nothing = ExplainAnswer(
        header=header(workspace),
        level=level,
        outlets=names,
        titles={id: o.title for id, o in workspace.outlets.items()},
        effort_unit=workspace.settings.surveys.effort_unit,
        judged=days.judged,
        baseline=days.baseline,
        baseline_from=days.origin,
        judgement=None,
        why=NO_VISITS,
        control=control,
        control_perennial=control is None or workspace.outlets[control].perennial,
        change=None if change is None else pd.Timestamp(change),
        why_no_contrast=None if control is None else NO_VISITS,
        tries=tries,
    )
    if workspace.visits is None:
        return nothing
    design, groups = _rows(workspace, names)
    judgement = judge_drop(
        design, groups, baseline=days.baseline, judged=days.judged, level=level, draws=draws, seed=seed
    )
    contrast, why_no_contrast = None, None
    if control is not None:
        try:
            contrast = _contrast(workspace, (*names, control), control, days, level, seed)
        except NotEstimable as error:
            why_no_contrast = error.reason
    return replace(
        nothing, judgement=judgement, why=None, contrast=contrast, why_no_contrast=why_no_contrast, design=design
    )


def _rows(workspace: Workspace, names: Sequence[str]) -> tuple[CountDesign, np.ndarray]:
    """Rows of the count regression, and the flow cycle of each; outlets on different flows share none."""
    design = count_rows(workspace, names, window=WINDOW)
    return design, groups_of(workspace, design)


def _contrast(
    workspace: Workspace,
    names: Sequence[str],
    control: str,
    days: Periods,
    level: float,
    seed: int,
) -> BeforeAfter:
    design, groups = _rows(workspace, [o for o in workspace.outlets if o in names])
    if design.rows.empty:
        raise NotEstimable("no visit has a count, an effort and a flow")
    day = design.rows["date"]
    return before_after(
        design,
        groups,
        comparison=control,
        before=((day >= days.baseline[0]) & (day <= days.baseline[1])).to_numpy(),
        after=((day >= days.judged[0]) & (day <= days.judged[1])).to_numpy(),
        level=level,
        seed=seed,
    )
