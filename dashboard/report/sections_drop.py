"""The section about one named drop in counts."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from dashboard.answers.explain import ExplainAnswer, explain
from dashboard.figures.count_pictures import staircase, two_periods
from dashboard.report.section import Plate, Section, ShortTable
from dashboard.report.sections_water import Scope
from dashboard.wording import animal_tables, cautions, explain_comparison, explain_page
from dashboard.wording import explain as words
from dashboard.wording import pages as page_words

Days = tuple[datetime.date, datetime.date]


@dataclass(frozen=True, kw_only=True)
class DropAsked:
    """What is to be explained, as in `explain`; no outlets = those of the report."""

    judged: Days | None = None
    baseline: Days | None = None
    outlets: tuple[str, ...] = ()
    control: str | None = None
    change: datetime.date | None = None


def drop_sections(scope: Scope, asked: DropAsked | None) -> list[Section]:
    """The section, where something is asked and there are visits. Raises InputError for days that cannot be used."""
    if asked is None or scope.workspace.visits is None:
        return []
    found = explain(
        scope.workspace,
        judged=asked.judged,
        baseline=asked.baseline,
        outlets=asked.outlets or tuple(o for o in scope.outlets if o != asked.control),
        control=asked.control,
        change=asked.change,
        level=scope.level,
        seed=scope.seed,
    )
    j = found.judgement
    printed = []
    if j is not None and not j.factors.empty:
        named = j.factors.assign(
            part=j.factors["part"].map(words.PART_NAMES), meaning=j.factors["part"].map(words.PART_MEANINGS)
        )
        printed.append(ShortTable(title=explain_page.THE_FACTORS, frame=named, columns=animal_tables.DROP_FACTORS))
    compared = explain_comparison.comparison(found)
    more = () if compared is None else (compared, *explain_comparison.assumptions(found))
    return [
        Section(
            name="drop",
            question=page_words.IS_THE_DROP_EXPECTED,
            about=words.places(found),
            answer=words.read_aloud(found),
            details=(words.DOES_NOT_SHOW, *words.details(found), *more),
            plates=tuple(_plates(scope, found)),
            printed=tuple(printed),
            cautions=(cautions.PROVISIONAL,),
            unknown=(words.answer(found),) if j is None or j.expected is None else (),
            tables=tuple(found.tables()),
        )
    ]


def _plates(scope: Scope, found: ExplainAnswer) -> list[Plate]:
    j = found.judgement
    if j is None:
        return []
    plates = []
    stairs = staircase(found, j)
    if stairs is not None:
        plates.append(Plate(drawing=stairs, key=explain_page.STAIRCASE_KEY))
    days = (min(found.judged[0], found.baseline[0], scope.first), max(found.judged[1], found.baseline[1], scope.last))
    return [*plates, Plate(drawing=two_periods(found, j, days), key=explain_page.PERIODS_KEY)]
