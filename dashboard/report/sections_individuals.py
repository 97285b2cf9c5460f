"""The section about individuals: who came through, survival."""

from __future__ import annotations

from dashboard.answers.individuals import individuals
from dashboard.figures.individual_rows import individual_rows, shares_seen_again
from dashboard.report.section import Plate, Section, ShortTable
from dashboard.report.sections_water import Scope
from dashboard.wording import cautions, individual_pages
from dashboard.wording import individual_figures as figure_words
from dashboard.wording import individuals as sentences
from dashboard.wording import individuals_numbers as numbers
from dashboard.wording import pages as words


def individual_sections(scope: Scope) -> list[Section]:
    """One section, with pictures and a table of each outlet that animals came through a dry spell of."""
    if scope.workspace.captures is None:
        return []
    found = individuals(scope.workspace, outlets=scope.outlets, level=scope.level)
    run = found.run
    plates, printed = [], []
    for c in () if run is None else run.crossings:
        title = found.titles[c.outlet]
        dry = scope.workspace.dry_spells[c.outlet]
        if run is not None and dry is not None and len(c.absences):
            rows = individual_rows(
                run.captures, sentences.out_of_sight(run, c.outlet), dry.joined, outlet=c.outlet, title=title,
                which=individual_pages.ANIMALS["through"].lower(),
            )  # fmt: skip
            plates.append(Plate(drawing=rows, key=figure_words.ROWS_KEY))
        if (c.spells["over"].astype(bool) & (c.spells["lately"] > 0)).any():
            shares = shares_seen_again(c.spells, outlet=c.outlet, title=title, level=found.level)
            plates.append(Plate(drawing=shares, key=figure_words.SHARES_KEY))
            name = f"{individual_pages.BY_SPELL}, {title}"
            columns = individual_pages.crossings_printed(found.effort_unit)
            printed.append(ShortTable(title=name, frame=c.spells, columns=columns))
    unknown = []
    if run is None or not run.crossings:
        unknown.append(sentences.answer(found))
    elif run.why_no_survival is not None:
        unknown += numbers.survival_lines(found)
    return [
        Section(
            name="individuals",
            question=words.WHO_CAME_THROUGH,
            answer=sentences.answer(found),
            details=tuple(sentences.details(found)),
            plates=tuple(plates),
            printed=tuple(printed),
            cautions=(cautions.HANDLING, cautions.DISTURBANCE),
            unknown=tuple(unknown),
            tables=tuple(found.tables()),
        )
    ]
