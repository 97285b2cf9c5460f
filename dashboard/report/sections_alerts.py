"""The section about levels that warn in time, with the usual needs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from dashboard.answers.alert_levels import alert_levels, level_frame
from dashboard.answers.alert_levels_json import LEVEL
from dashboard.figures.alert_tradeoff import alert_tradeoff, any_judged
from dashboard.report.section import Plate, Section, ShortTable
from dashboard.report.sections_water import Scope
from dashboard.wording import alert_levels as alert_words
from dashboard.wording import alert_tables, cautions
from dashboard.wording import figures as figure_words
from dashboard.wording import pages as words
from hydro.alert_level import AlertTable


def alert_sections(scope: Scope) -> list[Section]:
    """Levels judged for the outlets that can stop."""
    stopping = [o for o in scope.outlets if not scope.workspace.outlets[o].perennial]
    if not stopping:
        return []
    found = alert_levels(scope.workspace, outlets=stopping)
    header = replace(found.header, unit=scope.unit)
    sections = []
    for o in found.outlets:
        sentence = alert_words.answer(o, header)
        plates, printed = [], []
        if o.levels is not None and o.chances is not None:
            if any_judged(o.levels, o.chances):
                drawing = alert_tradeoff(
                    o.levels, o.chances, o.origin, id=o.outlet.id, title=o.outlet.title, unit=scope.unit, level=LEVEL,
                    alt=sentence,
                )  # fmt: skip
                plates.append(Plate(drawing=drawing, key=figure_words.TRADEOFF_KEY))
            frame = level_frame(o).assign(note=_notes(o.levels, o.origin))
            printed.append(
                ShortTable(title=words.LEVELS_JUDGED, frame=frame, columns=alert_tables.ALERT_LEVELS_PRINTED)
            )
        none = o.levels is None or o.levels.recommended.candidate is None
        sections.append(
            Section(
                name=f"warn-{o.outlet.id}",
                question=words.HOW_FAR_AHEAD,
                about=o.outlet.title,
                answer=sentence,
                details=tuple(alert_words.details(o, header)) if o.levels is not None else (),
                plates=tuple(plates),
                printed=tuple(printed),
                cautions=(cautions.NOT_A_WARNING, cautions.PROVISIONAL),
                unknown=(sentence.removesuffix(f" {alert_words.WHAT_EACH_DID}"),) if none else (),
                tables=tuple(replace(found, outlets=(o,)).tables()),
            )
        )
    return sections


def _notes(levels: AlertTable, origin: Sequence[str]) -> list[str]:
    """What a candidate is, in words."""
    chosen = levels.recommended.candidate
    named = [alert_words.ORIGINS[o] for o in origin]
    return [", ".join(w for w in (words.RECOMMENDED if k == chosen else "", o) if w) for k, o in enumerate(named)]
