"""Who was seen before and after dry spells; survival and abundance where the data allow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header
from dashboard.answers.individuals_survival import Survival, survival_of
from dashboard.workspace import Workspace
from ecology.closed_window import ClosedWindow, closed_window
from ecology.encounters import Occasion
from ecology.individuals import SpellCrossings, spell_crossings
from ecology.match_lists import MatchedNames, MatchList, match_names
from ecology.outlet_moves import OutletMoves, outlet_moves

NO_CAPTURES = "the workspace names no captures"
NO_WINDOW = "no window was chosen"


@dataclass(frozen=True, eq=False, kw_only=True)
class IndividualsRun:
    """Everything said from one set of captures.

    `captures` are those of all outlets, in date order, with `individual` as used; `at_outlets` of the outlets asked.
    `no_crossings` says why by outlet; `survival` is None where `why_no_survival` says so; `window` None where
    `why_no_window` does. `while_dry` are captures on a day on which their outlet was dry by flow.
    """

    captures: pd.DataFrame
    at_outlets: pd.DataFrame
    crossings: tuple[SpellCrossings, ...]
    no_crossings: dict[str, str]
    moves: OutletMoves
    while_dry: pd.DataFrame
    survival: Survival | None
    window: ClosedWindow | None
    why_no_survival: str | None = None
    why_no_window: str | None = None

    @property
    def n_individuals(self) -> int:
        return int(self.at_outlets["individual"].nunique())

    @property
    def n_captures(self) -> int:
        return len(self.at_outlets)


@dataclass(frozen=True, eq=False, kw_only=True)
class IndividualsAnswer:
    """The answer to `individuals`; `run` is None where `why` says so.

    `sure` is the same without captures whose match confidence is below `least_confidence`; `left_out` are those.
    `matched` is what a list of matches made of the names.
    """

    header: Header
    level: float
    occasion: Occasion
    outlets: tuple[str, ...]
    titles: dict[str, str]
    effort_unit: str
    run: IndividualsRun | None
    least_confidence: float | None = None
    sure: IndividualsRun | None = None
    left_out: pd.DataFrame | None = None
    matched: MatchedNames | None = None
    unknown_names: tuple[str, ...] = ()
    why: str | None = None

    def tables(self) -> list[Table]:
        found: list[Table] = []
        if self.run is None:
            return found
        for c in self.run.crossings:
            at = self.titles[c.outlet]
            title = f"Animals seen before and after dry spells at {at}"
            found.append(Table(name=f"across-spells-{c.outlet}", title=title, frame=c.spells))
            title = f"Animals out of sight across dry spells at {at}"
            found.append(Table(name=f"absences-{c.outlet}", title=title, frame=c.absences))
        found.append(Table(name="moves", title="Moves between outlets", frame=self.run.moves.moves))
        if self.run.survival is not None:
            s = self.run.survival
            found.append(Table(name="survival-models", title="Models of survival", frame=s.models_table()))
            found.append(Table(name="survival-rates", title="Rates of all models of survival", frame=s.rates_table()))
            found.append(Table(name="capture-occasions", title="Occasions", frame=s.occasions_table()))
        if self.run.window is not None:
            found.append(Table(name="window-samples", title="Samples of the window", frame=self.run.window.samples))
            found.append(
                Table(name="abundance", title="Abundance in the window", frame=abundance_table(self.run.window))
            )
        if self.matched is not None:
            found.append(Table(name="matched-names", title="Names and their animals", frame=self.matched.names))
            found.append(Table(name="match-conflicts", title="Matches in conflict", frame=self.matched.conflicts))
        found.append(Table(name="captures-used", title="Captures used", frame=self.run.at_outlets))
        return found

    def as_json(self) -> dict[str, object]:
        from dashboard.answers.individuals_json import answer_json

        return answer_json(self)


def abundance_table(window: ClosedWindow) -> pd.DataFrame:
    """The estimates of a window as rows."""
    rows = [
        {"estimator": e.estimator, "value": e.value, "low": e.low, "high": e.high, "standard_error": e.standard_error,
         "interval_by": e.interval_by, "why": e.why or "", "doubts": "; ".join(d.kind for d in doubts)}
        for e, doubts in window.estimates
    ]  # fmt: skip
    names = ["estimator", "value", "low", "high", "standard_error", "interval_by", "why", "doubts"]
    table = pd.DataFrame(rows, columns=names)
    return table.astype(dict.fromkeys(("value", "low", "high", "standard_error"), float))


def individuals(
    workspace: Workspace,
    *,
    outlets: Sequence[str] = (),
    occasion: Occasion | None = None,
    sample: Occasion | None = None,
    window: tuple[pd.Timestamp, pd.Timestamp] | None = None,
    least_confidence: float | None = None,
    matches: MatchList | None = None,
    level: float = 0.95,
) -> IndividualsAnswer:
    """What captures tell.

    occasion          groups captures for survival (default month)
    sample            groups captures into the samples of a window (default: as `occasion` says, else visit: days)
    window            first and last day of a closed window for abundance, both inside
    least_confidence  also runs without captures whose stated match confidence is below
    matches           names that are the same animal; captures get its id in their place
    """
    names = tuple(by_name(workspace.outlets, outlets))
    titles = {id: workspace.outlets[id].title for id in workspace.outlets}
    unit = workspace.settings.surveys.effort_unit
    grouped: Occasion = occasion or "month"
    matched = None if matches is None else match_names(matches, least_confidence=least_confidence)
    if workspace.captures is None or workspace.captures.frame.empty:
        why = NO_CAPTURES if workspace.captures is None else "no animal was captured up to the day asked"
        return IndividualsAnswer(
            header=header(workspace), level=level, occasion=grouped, outlets=names, titles=titles, effort_unit=unit,
            run=None, matched=matched, why=why,
        )  # fmt: skip
    captures = workspace.captures.frame
    unknown: tuple[str, ...] = ()
    if matched is not None:
        ids = matched.ids()
        unknown = tuple(sorted(set(ids) - set(captures["individual"])))
        captures = captures.assign(
            individual_as_read=captures["individual"], individual=captures["individual"].map(lambda n: ids.get(n, n))
        )
    asked = (workspace, names, grouped, sample or occasion or "visit", window, level)
    run = _run(captures, *asked)
    sure, left_out = None, None
    if least_confidence is not None:
        doubtful = (captures["match_confidence"] < least_confidence).to_numpy(bool)
        left_out = captures[doubtful].reset_index(drop=True)
        sure = _run(captures[~doubtful].reset_index(drop=True), *asked)
    return IndividualsAnswer(
        header=header(workspace, _warnings(run, unknown)), level=level, occasion=grouped, outlets=names, titles=titles,
        effort_unit=unit, run=run, least_confidence=least_confidence, sure=sure, left_out=left_out, matched=matched,
        unknown_names=unknown,
    )  # fmt: skip


def _run(
    captures: pd.DataFrame,
    workspace: Workspace,
    outlets: tuple[str, ...],
    occasion: Occasion,
    sample: Occasion,
    window: tuple[pd.Timestamp, pd.Timestamp] | None,
    level: float,
) -> IndividualsRun:
    visits = None if workspace.visits is None else workspace.visits.frame
    crossings, no_crossings = [], {}
    for id in outlets:
        dry = workspace.dry_spells[id]
        if workspace.outlets[id].perennial:
            no_crossings[id] = "no stop level is set, so there is no dry spell to come through"
        elif dry is None:
            no_crossings[id] = "its discharge is never known"
        else:
            crossings.append(spell_crossings(id, dry, captures, visits, workspace.as_of, level=level))
    here = captures[captures["outlet"].isin(outlets)].reset_index(drop=True)
    survival, why = survival_of(workspace, captures, outlets, occasion, level)
    found = None
    if window is not None:
        found = closed_window(
            here, *window, occasion=sample, level=level,
            survival_per_year=None if survival is None else survival.constant.rates[0].value,
            dry_days=_dry_days(workspace, here, *window),
        )  # fmt: skip
    return IndividualsRun(
        captures=captures, at_outlets=here, crossings=tuple(crossings), no_crossings=no_crossings,
        moves=outlet_moves(captures, workspace.dry_spells, outlets), while_dry=_while_dry(workspace, here),
        survival=survival, why_no_survival=why, window=found,
        why_no_window=NO_WINDOW if window is None else None,
    )  # fmt: skip


def _while_dry(workspace: Workspace, captures: pd.DataFrame) -> pd.DataFrame:
    """Captures on days on which their outlet was dry by flow: a level, a date or an outlet is wrong."""
    dry = np.zeros(len(captures), bool)
    for id, spells in workspace.dry_spells.items():
        if spells is None:
            continue
        at = (captures["outlet"] == id).to_numpy(bool)
        states = spells.states.astype(object).reindex(captures["date"].to_numpy()[at])
        dry[at] = (states == "dry").to_numpy(bool)
    return captures[dry].reset_index(drop=True)


def _dry_days(workspace: Workspace, captures: pd.DataFrame, first: pd.Timestamp, last: pd.Timestamp) -> int:
    """The most days of the window on which one of the outlets with captures in it was dry."""
    inside = captures[(captures["date"] >= first) & (captures["date"] <= last)]
    most = 0
    for id in inside["outlet"].unique():
        spells = workspace.dry_spells[str(id)]
        if spells is not None:
            most = max(most, int((spells.states[first:last] == "dry").sum()))
    return most


def _warnings(run: IndividualsRun, unknown: Sequence[str]) -> list[str]:
    from dashboard.wording.individuals import not_among_captures, twice_on_a_day, while_dry

    found = []
    if len(run.moves.same_day):
        found.append(twice_on_a_day(run.moves.same_day))
    if len(run.while_dry):
        found.append(while_dry(run.while_dry))
    if unknown:
        found.append(not_among_captures(unknown))
    return found
