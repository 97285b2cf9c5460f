"""Which days `explain` judges and which it compares them with, and what is wrong with the days asked for."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

import pandas as pd

from dashboard.workspace import Workspace
from ecology.count_drop import Span
from hydro.problems import Problem

Days = tuple[datetime.date, datetime.date]


@dataclass(frozen=True, eq=False, kw_only=True)
class Periods:
    """First and last day, both inside, of the period judged and of the baseline; `origin` tells where that is from."""

    judged: Span
    baseline: Span
    origin: str


def periods_asked(
    workspace: Workspace,
    judged: Days | None,
    baseline: Days | None,
    change: datetime.date | None,
    problems: list[Problem],
) -> Periods | None:
    """The periods; what is wrong with them is added to `problems`. None where nothing says what to judge."""
    day = None if change is None else pd.Timestamp(change)
    if judged is not None:
        period = pd.Timestamp(judged[0]), pd.Timestamp(judged[1])
    elif day is not None:
        period = day, max(workspace.as_of, day)
    else:
        problems.append(Problem(row="--period", expected="two days such as 2024-05-01/2024-10-31, or --change DATE"))
        return None
    if baseline is not None:
        before, origin = (pd.Timestamp(baseline[0]), pd.Timestamp(baseline[1])), "asked for"
    elif day is not None:
        before, origin = (_first_day(workspace, day), day - pd.Timedelta(days=1)), "every day before the change"
    else:
        before, origin = years_before(period)
    _check(workspace, period, before, day, problems)
    return Periods(judged=period, baseline=before, origin=origin)


def years_before(period: Span) -> tuple[Span, str]:
    """The same days so many whole years before that they do not touch the period."""
    years = 1
    while period[0] <= period[1] - pd.DateOffset(years=years):
        years += 1
    shift = pd.DateOffset(years=years)
    return (period[0] - shift, period[1] - shift), f"the same days {years} year{'s' if years > 1 else ''} before"


def _first_day(workspace: Workspace, day: pd.Timestamp) -> pd.Timestamp:
    """The day of the first visit, or a year before `day` where none is earlier."""
    year_before = day - pd.DateOffset(years=1)
    if workspace.visits is None or workspace.visits.frame.empty:
        return year_before
    first = workspace.visits.frame["date"].min()
    return first if first < day else year_before


def _check(
    workspace: Workspace, period: Span, before: Span, change: pd.Timestamp | None, problems: list[Problem]
) -> None:
    for name, span in (("--period", period), ("--baseline", before)):
        if span[0] > span[1]:
            problems.append(Problem(row=name, value=said(span), expected="the first day before the last one"))
    if period[0] > workspace.as_of:
        day = f"{workspace.as_of:%Y-%m-%d}"
        problems.append(Problem(row="--period", value=said(period), expected=f"a period that begins by {day}"))
    if before[1] >= period[0] and period[1] >= before[0]:
        problems.append(
            Problem(row="--baseline", value=said(before), expected=f"days outside the period {said(period)}")
        )
    if change is not None and not before[1] < change <= period[0]:
        problems.append(
            Problem(
                row="--change",
                value=f"{change:%Y-%m-%d}",
                expected=f"a day after the baseline {said(before)} and not after the first day of {said(period)}",
            )
        )


def said(span: Span) -> str:
    """A span as the command line writes it."""
    return f"{span[0]:%Y-%m-%d}/{span[1]:%Y-%m-%d}"
