"""Sections about animals: return lags, counts and flow."""

from __future__ import annotations

from dataclasses import replace

from dashboard.answers.counts import counts
from dashboard.answers.returns import returns
from dashboard.figures.count_pictures import over_flow, over_time
from dashboard.figures.outlet_curve import outlet_curve
from dashboard.figures.return_rows import lag_rows
from dashboard.report.section import Plate, Section, ShortTable
from dashboard.report.sections_water import Scope
from dashboard.wording import animal_tables, cautions, check_labels, count_checks, count_tables
from dashboard.wording import counts as count_words
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from dashboard.wording import return_effects as more_words
from dashboard.wording import returns as return_words


def return_sections(scope: Scope) -> list[Section]:
    """Return lags, for the outlets that can stop."""
    if scope.workspace.visits is None:
        return []
    found = returns(scope.workspace, outlets=scope.outlets, level=scope.level, seed=scope.seed)
    sections = []
    for o in found.outlets:
        if scope.workspace.outlets[o.outlet].perennial:
            continue
        plates, printed = [], []
        if o.lags is not None and len(o.lags.lags):
            rows = lag_rows(o.lags.lags, o.lags.searches, id=o.outlet, title=o.title)
            plates.append(Plate(drawing=rows, key=figure_words.LAGS_KEY))
            named = o.lags.lags.assign(censoring=o.lags.lags["censoring"].map(animal_tables.CENSORINGS))
            named.loc[~o.lags.lags["informative"].astype(bool), "censoring"] = words.NOBODY_SEARCHED
            printed.append(ShortTable(title=words.THE_LAGS, frame=named, columns=animal_tables.LAGS))
        if o.curve is not None:
            plates.append(Plate(drawing=outlet_curve(o), key=figure_words.CURVE_KEY))
        half = o.half
        if half is not None and half.n_informative:
            lags = half.recovery.lags
            rows = lag_rows(lags.lags, lags.searches, id=o.outlet, title=o.title, of_half=True)
            plates.append(Plate(drawing=rows, key=figure_words.HALF_KEY))
        beside = (more_words.half(o), *more_words.half_details(o), *more_words.effects(o), *more_words.by_animals(o))
        sections.append(
            Section(
                name=f"returns-{o.outlet}",
                question=words.RETURN_LAGS,
                about=o.title,
                answer=return_words.answer(o),
                details=(
                    *return_words.returned_by(o),
                    *more_words.never_returned(o),
                    *return_words.details(o),
                    *(sentence for sentence in beside if sentence),
                    *more_words.pairs([p for p in found.pairs if o.outlet in p.outlets], found.animals, found.level),
                ),
                plates=tuple(plates),
                printed=tuple(printed),
                cautions=(cautions.DISTURBANCE, cautions.HANDLING),
                unknown=tuple(f"{o.title}: {why}." for why in (o.why, o.why_no_curve, o.why_not_corrected) if why),
                tables=tuple(replace(found, outlets=(o,)).tables()),
            )
        )
    return sections


def count_sections(scope: Scope) -> list[Section]:
    """Counts against flow over all outlets, with a picture an outlet."""
    if scope.workspace.visits is None:
        return []
    found = counts(scope.workspace, outlets=scope.outlets, level=scope.level)
    plates, printed = [], []
    d = found.design
    if d is not None and not d.rows.empty:
        for id in scope.outlets:
            if (d.rows["outlet"] == id).any():
                drawing = over_flow(scope.workspace, found, id, scope.unit)
                plates.append(Plate(drawing=drawing, key=figure_words.COUNTS_KEY))
        first = next(id for id in scope.outlets if (d.rows["outlet"] == id).any())
        drawing = over_time(scope.workspace, found, first, (scope.first, scope.last))
        plates.append(Plate(drawing=drawing, key=figure_words.COUNTS_TIME_KEY))
    if not found.terms.empty:
        named = found.terms.assign(term=[check_labels.term_name(t, found.titles) for t in found.terms["term"]])
        printed.append(ShortTable(title=words.THE_TERMS, frame=named, columns=count_tables.TERMS))
    checks = tuple(f"{words.check_word(c.passed)}. {count_checks.check_line(c, found.titles)}" for c in found.checks)
    return [
        Section(
            name="counts",
            question=words.COUNTS_AND_FLOW,
            answer=count_words.answer(found),
            details=(*count_words.details(found), *checks),
            plates=tuple(plates),
            printed=tuple(printed),
            unknown=(count_words.answer(found),) if found.fit is None else (),
            tables=tuple(found.tables()),
        )
    ]
