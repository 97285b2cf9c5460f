"""Sections about water: state, dry spells, levels, days ahead."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pandas as pd

from dashboard.answers.outlook import OutletOutlook, outlook
from dashboard.answers.spells import spells
from dashboard.answers.status import OutletStatus, StatusAnswer, status
from dashboard.answers.threshold import OutletLevel, threshold
from dashboard.figures.days_ahead import chance_ahead
from dashboard.figures.dry_years import dry_years, ever_dry_or_unknown
from dashboard.figures.level_curve import level_curve, near_range
from dashboard.figures.outlet_pictures import fan_ahead, last_days, last_days_key, spells_over_time
from dashboard.report.section import Plate, Section, ShortTable
from dashboard.wording import cautions, tables
from dashboard.wording import figures as figure_words
from dashboard.wording import outlook as outlook_words
from dashboard.wording import pages as words
from dashboard.wording import spells as spell_words
from dashboard.wording import status as status_words
from dashboard.wording import threshold as level_words
from dashboard.wording.status_page import status_summary
from dashboard.workspace import Workspace


@dataclass(frozen=True, eq=False, kw_only=True)
class Scope:
    """What a report is about: the workspace, the outlets, the days (both inside) and the unit of discharge."""

    workspace: Workspace
    outlets: tuple[str, ...]
    first: pd.Timestamp
    last: pd.Timestamp
    unit: str
    level: float = 0.95
    seed: int = 1


def state_sections(scope: Scope) -> tuple[StatusAnswer, list[Section]]:
    """One section: every outlet's state, with the last days of those that can stop."""
    w = scope.workspace
    found = status(w, outlets=scope.outlets)
    header = replace(found.header, unit=scope.unit)
    plates, details, unknown = [], [], []
    for o in found.outlets:
        sentences = status_words.reasons(o, header)
        details += sentences if not w.outlets[o.outlet].perennial else sentences[:1]
        if o.word == "unknown":
            unknown.append(sentences[0])
        if not w.outlets[o.outlet].perennial and not w.flow_of(o.outlet).empty:
            plates.append(Plate(drawing=last_days(w, o, scope.unit), key=last_days_key(o)))
    section = Section(
        name="state",
        question=words.IS_IT_RUNNING,
        answer=status_summary(found, w.as_of),
        details=tuple(details),
        plates=tuple(plates),
        cautions=(cautions.NOT_A_WARNING, cautions.WADING),
        unknown=tuple(unknown),
        tables=(found.table(),),
    )
    return found, [section]


def spell_sections(scope: Scope) -> list[Section]:
    """Dry spells of the outlets that can stop."""
    found = spells(scope.workspace, outlets=scope.outlets)
    header = replace(found.header, unit=scope.unit)
    sections = []
    for o in found.outlets:
        if o.outlet.perennial:
            continue
        plates, printed = [], []
        if not o.flow.empty:
            over_time = spells_over_time(o, scope.first, scope.last, scope.unit)
            plates.append(Plate(drawing=over_time, key=figure_words.HYDROGRAPH_KEY))
        if o.summary is not None and ever_dry_or_unknown(o.summary.by_year):
            years = dry_years(o.summary.by_year, id=o.outlet.id, title=o.outlet.title)
            plates.append(Plate(drawing=years, key=figure_words.YEARS_KEY))
        rows = o.spells
        if o.dry is not None and len(rows):
            inside = rows[(rows["last"] >= scope.first) & (rows["first"] <= scope.last)]
            named = inside.assign(status=inside["status"].map(spell_words.STATUS_WORDS)).drop(columns="parts")
            title = words.spells_in_period(len(inside), len(rows), scope.first, scope.last)
            printed.append(ShortTable(title=title, frame=named, columns=tables.SPELLS))
        only = replace(found, outlets=(o,))
        sections.append(
            Section(
                name=f"spells-{o.outlet.id}",
                question=words.WHEN_WAS_IT_DRY,
                about=o.outlet.title,
                answer=spell_words.answer(o, header),
                details=tuple(spell_words.details(o, header)),
                plates=tuple(plates),
                printed=tuple(printed),
                cautions=(cautions.PROVISIONAL,),
                unknown=(words.never_known(o.outlet.title),) if o.flow.empty else (),
                tables=tuple(only.tables()),
            )
        )
    return sections


def level_sections(scope: Scope) -> list[Section]:
    """Levels learnt from sightings, for the outlets that can stop."""
    found = threshold(scope.workspace, outlets=scope.outlets, level=scope.level, seed=scope.seed)
    header = replace(found.header, unit=scope.unit)
    return [
        Section(
            name=f"level-{o.outlet.id}",
            question=words.WHERE_DOES_IT_STOP,
            about=o.outlet.title,
            answer=level_words.answer(o, header),
            details=tuple(level_words.details(o, header)),
            plates=_level_plate(scope, o, level_words.answer(o, header)),
            unknown=(level_words.answer(o, header),) if _no_level(o) else (),
            tables=tuple(replace(found, outlets=(o,)).tables()),
        )
        for o in found.outlets
        if not o.outlet.perennial
    ]


def _no_level(o: OutletLevel) -> bool:
    return o.estimate is None or o.estimate.stop_level.value_m3s is None


def _level_plate(scope: Scope, o: OutletLevel, sentence: str) -> tuple[Plate, ...]:
    e = o.estimate
    if e is None or o.sightings.empty:
        return ()
    near = e.one_sided is None and not e.curve.empty
    drawing = level_curve(
        o.sightings, e, id=o.outlet.id, title=o.outlet.title, set_m3s=o.outlet.stop_m3s, unit=scope.unit,
        reach=near_range(o.sightings, e) if near else None, alt=sentence,
    )  # fmt: skip
    return (Plate(drawing=drawing, key=figure_words.LEVEL_KEY_IN_REPORT),)


def ahead_sections(scope: Scope, now: StatusAnswer) -> list[Section]:
    """The days ahead, for the outlets that can stop."""
    stopping = [o.outlet for o in now.outlets if not scope.workspace.outlets[o.outlet].perennial]
    if not stopping:
        return []
    found = outlook(scope.workspace, outlets=stopping, seed=scope.seed)
    header = replace(found.header, unit=scope.unit)
    states = {o.outlet: o for o in now.outlets}
    return [
        Section(
            name=f"ahead-{o.outlet.id}",
            question=words.DAYS_AHEAD,
            about=o.outlet.title,
            answer=outlook_words.answer(o),
            details=tuple(outlook_words.details(o, header)),
            plates=_ahead_plates(scope, o, states[o.outlet.id]),
            cautions=(cautions.NOT_A_WARNING, cautions.PROVISIONAL),
            unknown=(outlook_words.answer(o),) if o.ahead.why_none is not None else (),
            tables=tuple(replace(found, outlets=(o,)).tables()),
        )
        for o in found.outlets
    ]


def _ahead_plates(scope: Scope, o: OutletOutlook, now: OutletStatus) -> tuple[Plate, ...]:
    if o.ahead.why_none is not None:
        return ()
    chance = chance_ahead(o.ahead, id=o.outlet.id, title=o.outlet.title, trip=None, alt=outlook_words.answer(o))
    return (
        Plate(drawing=chance, key=figure_words.CHANCE_KEY),
        Plate(drawing=fan_ahead(o, now, scope.unit), key=figure_words.FAN_KEY),
    )
