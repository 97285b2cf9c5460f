"""A workspace into a report: every section in the order of the work."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import METHOD_VERSION, by_name
from dashboard.answers.check import check
from dashboard.answers.status import StatusAnswer
from dashboard.report.section import Report, Section, ShortTable
from dashboard.report.sections_alerts import alert_sections
from dashboard.report.sections_animals import count_sections, return_sections
from dashboard.report.sections_drop import DropAsked, drop_sections
from dashboard.report.sections_individuals import individual_sections
from dashboard.report.sections_plan import plan_sections
from dashboard.report.sections_water import Scope, ahead_sections, level_sections, spell_sections, state_sections
from dashboard.second_process import SecondProcess
from dashboard.wording import cautions, source_tables
from dashboard.wording import report as words
from dashboard.workspace import Workspace

#: Sections taken into the short summary: the first of each, five at most.
_IN_SHORT = ("state", "spells", "ahead", "returns", "drop", "counts", "individuals")
_SENTENCES = 5

Step = Callable[[str], None]
Done = Callable[[str, list[Section]], None]


@dataclass(frozen=True, eq=False, kw_only=True)
class _About:
    scope: Scope
    now: StatusAnswer
    drop: DropAsked | None


#: What follows the state.
_MAKE: dict[str, Callable[[_About], list[Section]]] = {
    "spells": lambda a: spell_sections(a.scope),
    "levels": lambda a: level_sections(a.scope),
    "warn": lambda a: alert_sections(a.scope),
    "ahead": lambda a: ahead_sections(a.scope, a.now),
    "returns": lambda a: return_sections(a.scope),
    "counts": lambda a: count_sections(a.scope),
    "drop": lambda a: drop_sections(a.scope, a.drop),
    "individuals": lambda a: individual_sections(a.scope),
    "plan": lambda a: plan_sections(a.scope),
}
#: Parts of a report, each of no, one or more sections, in the order of the work.
PARTS = ("state", *_MAKE)
#: The same for two processes that begin at the ends: the long ones first, so that neither waits long for the other.
_LONGEST_OUTSIDE = ("ahead", "returns", "warn", "spells", "drop", "counts", "individuals", "levels", "plan")


def _part(about: _About, name: str) -> list[Section]:
    return _MAKE[name](about)


def make_report(
    workspace: Workspace,
    *,
    first: pd.Timestamp | None = None,
    last: pd.Timestamp | None = None,
    outlets: Sequence[str] = (),
    unit: str | None = None,
    level: float = 0.95,
    seed: int = 1,
    drop: DropAsked | None = None,
    second: SecondProcess | None = None,
    step: Step = lambda _: None,
    done: Done = lambda *_: None,
) -> Report:
    """The report of a workspace about the days `first` to `last` (both inside; the last year where none are given).

    drop    a drop in counts to explain
    second  works out part of it where there is one; the report is the same
    step    is told what is being worked out, as it goes
    done    is given every part, with its name in `PARTS`, when it is ready: in any order and from any thread

    Raises ValueError for a period that ends before it begins, InputError for a drop that cannot be asked about.
    """
    end = workspace.as_of if last is None else last
    start = end - pd.DateOffset(years=1) + pd.Timedelta(days=1) if first is None else first
    if start > end:
        raise ValueError("a period ends on or after the day on which it begins")
    scope = Scope(
        workspace=workspace, outlets=tuple(by_name(workspace.outlets, outlets)), first=start, last=end,
        unit=unit or workspace.unit, level=level, seed=seed,
    )  # fmt: skip
    step(words.STEPS["state"])
    now, sections = state_sections(scope)
    about = _About(scope=scope, now=now, drop=drop)
    done(PARTS[0], list(sections))
    # What is asked about a drop can be impossible: that is said before all else is worked out.
    order = sorted(_LONGEST_OUTSIDE, key=lambda name: name != "drop") if drop is not None else _LONGEST_OUTSIDE
    if second is None:
        found = {}
        for name in order:
            step(words.STEPS[name])
            found[name] = _part(about, name)
            done(name, found[name])
    else:
        shared = second.share(_part, about, order, lambda name: step(words.STEPS[name]), done)
        found = dict(zip(order, shared, strict=True))
    for name in _MAKE:
        sections += found[name]
    asked = check(workspace)
    return Report(
        title=workspace.settings.title,
        first=start,
        last=end,
        as_of=workspace.as_of,
        unit=scope.unit,
        method_version=METHOD_VERSION,
        summary=tuple(_in_short(sections)),
        sections=tuple(sections),
        warnings=tuple(workspace.warnings),
        sources=(
            ShortTable(title=words.FILES, frame=asked.files, columns=source_tables.FILES),
            ShortTable(title=words.GAUGES, frame=asked.gauges, columns=source_tables.GAUGES),
            ShortTable(title=words.OUTLETS, frame=asked.outlets, columns=source_tables.OUTLETS),
        ),
        cautions=(
            cautions.PROVISIONAL, cautions.NOT_A_WARNING, cautions.WADING, cautions.HANDLING, cautions.DISTURBANCE,
            words.NOT_THE_CAUSE,
        ),
    )  # fmt: skip


def _in_short(sections: Sequence[Section]) -> list[str]:
    found = []
    for kind in _IN_SHORT:
        sentence = next((s.answer for s in sections if s.name == kind or s.name.startswith(f"{kind}-")), None)
        if sentence is not None:
            found.append(sentence)
    return found[:_SENTENCES]
