"""A workspace into a report: every section in the order of the work."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pandas as pd

from dashboard.answers.answer import METHOD_VERSION, by_name
from dashboard.answers.check import check
from dashboard.report.section import Report, Section, ShortTable
from dashboard.report.sections_alerts import alert_sections
from dashboard.report.sections_animals import count_sections, return_sections
from dashboard.report.sections_drop import DropAsked, drop_sections
from dashboard.report.sections_individuals import individual_sections
from dashboard.report.sections_plan import plan_sections
from dashboard.report.sections_water import Scope, ahead_sections, level_sections, spell_sections, state_sections
from dashboard.wording import cautions, source_tables
from dashboard.wording import report as words
from dashboard.workspace import Workspace

#: Sections taken into the short summary: the first of each, five at most.
_IN_SHORT = ("state", "spells", "ahead", "returns", "drop", "counts", "individuals")
_SENTENCES = 5

Step = Callable[[str], None]


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
    step: Step = lambda _: None,
) -> Report:
    """The report of a workspace about the days `first` to `last` (both inside; the last year where none are given).

    drop   a drop in counts to explain
    step   is told what is being worked out, as it goes

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
    for name, make in (
        ("spells", spell_sections),
        ("levels", level_sections),
        ("warn", alert_sections),
        ("ahead", lambda s: ahead_sections(s, now)),
        ("returns", return_sections),
        ("counts", count_sections),
        ("drop", lambda s: drop_sections(s, drop)),
        ("individuals", individual_sections),
        ("plan", plan_sections),
    ):
        step(words.STEPS[name])
        sections += make(scope)
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
