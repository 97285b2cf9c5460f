"""When counts at an outlet were back to half of what is expected of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

from dashboard.workspace import Workspace
from ecology.count_design import count_design
from ecology.count_fit import CountFit
from ecology.count_model import fit_counts
from ecology.missed_animals import MissedAnimalsFit, fit_missed_animals
from ecology.not_estimable import NotEstimable
from ecology.recovery_lag import RecoveryLags, chance_to_reach, counts_before, recovery_lags, settled_counts
from ecology.return_lag import FEWEST_SPELLS
from hydro.dry_spells import DrySpells


@dataclass(frozen=True, eq=False, kw_only=True)
class Expectation:
    """Expected counts of visits by row of the file; without a fit, `why` says why the count model gives none."""

    counts: pd.Series
    fit: CountFit | None
    why: str | None = None


@dataclass(frozen=True, eq=False, kw_only=True)
class HalfRecovery:
    """Lags until half of the expected count at one outlet.

    recovery         the lags and the visits behind them
    from_model       expected counts come from the count model; else from visits in the year before each spell
    why_not_model    why not
    reach            chance that a visit to a settled outlet counts at least half of what is expected; None without
                     a model
    corrected        median allowing for visits that miss half by chance; None where `why` says so
    """

    recovery: RecoveryLags
    from_model: bool
    why_not_model: str | None
    reach: float | None
    corrected: MissedAnimalsFit | None
    why: str | None

    @property
    def n_informative(self) -> int:
        return int(self.recovery.lags.lags["informative"].sum())

    @property
    def n_reached(self) -> int:
        return int(self.recovery.lags.lags["first_found"].notna().sum())


def expectation(workspace: Workspace, visits: pd.DataFrame, level: float) -> Expectation:
    """Expected counts from the count regression over all outlets together."""
    names = list(workspace.outlets)
    by_flow = {flow: workspace.cycles_of(flow) for flow in {o.flow for o in workspace.outlets.values()}}
    cycles: Mapping = {o: by_flow[workspace.outlets[o].flow] for o in names}
    design = count_design(visits, workspace.water, cycles, outlets=names)
    nothing = pd.Series(dtype=float)
    if design.rows.empty:
        return Expectation(counts=nothing, fit=None, why="no visit has a count, an effort and a flow")
    try:
        fit = fit_counts(
            design.rows["count"].to_numpy(), design.matrix, terms=design.terms, offset=design.offset, level=level
        )
    except NotEstimable as error:
        return Expectation(counts=nothing, fit=None, why=error.reason.rstrip("."))
    return Expectation(counts=settled_counts(design, fit), fit=fit)


def half_recovery(
    dry: DrySpells, visits: pd.DataFrame, expected: Expectation, today: pd.Timestamp, level: float
) -> HalfRecovery:
    """Half recovery from the visits of one outlet; the simpler baseline where the model says nothing of it."""
    own = expected.counts.reindex(visits["row"].to_numpy()).dropna()
    fit, why_not_model = expected.fit, expected.why
    if fit is not None and own.empty:
        fit, why_not_model = None, "no visit to this outlet has a count, an effort and a flow"
    if fit is None:
        own = counts_before(visits, dry)
    recovery = recovery_lags(dry, visits, own, today)
    lags = recovery.lags
    judged = lags.searches["expected"].to_numpy(float)
    reach = None if fit is None or not judged.size else chance_to_reach(judged, fit.alpha)
    corrected, why = None, None
    n = int(lags.lags["informative"].sum())
    if n < FEWEST_SPELLS:
        have = "spell has" if n == 1 else "spells have"
        why = f"{n} {have} visits whose count can be judged; a median needs at least {FEWEST_SPELLS}"
    else:
        try:
            corrected = fit_missed_animals(lags.histories(), distribution="lowest-aic", level=level)
        except NotEstimable:
            why = f"no visit after any of the {n} spells counted half of what is expected"
    return HalfRecovery(
        recovery=recovery,
        from_model=fit is not None,
        why_not_model=why_not_model,
        reach=reach,
        corrected=corrected,
        why=why,
    )
