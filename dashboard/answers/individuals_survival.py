"""Survival from the captures of a workspace: the models, which of them answers what, and their checks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.workspace import Workspace
from ecology import survival_models as models
from ecology.capture_chances import DRY, NOBODY, CaptureChances, capture_chances
from ecology.encounters import Encounters, Occasion, encounters
from ecology.jolly_seber import jolly_seber, marked_counts
from ecology.not_estimable import NotEstimable
from ecology.release_counts import ReleaseCounts, releases_of
from ecology.survival import Rate, SurvivalFit, fit_survival
from ecology.survival_checks import SurvivalCheck, check_survival

#: With fewer animals met again than this nothing is estimated.
FEWEST_MET_AGAIN = 5
#: Abundance by occasion is listed up to so many occasions: it needs many recaptures in each.
MOST_OCCASIONS_BY_OCCASION = 60


@dataclass(frozen=True, eq=False, kw_only=True)
class Survival:
    """Survival of animals released at `outlets`.

    `fits` are in the order of `survival_models`, the constant model first; `by_occasion` is None with too many
    occasions.
    """

    occasion: Occasion
    outlets: tuple[str, ...]
    found: Encounters
    chances: CaptureChances
    counts: ReleaseCounts
    fits: tuple[SurvivalFit, ...]
    checks: tuple[SurvivalCheck, ...]
    by_occasion: pd.DataFrame | None

    @property
    def constant(self) -> SurvivalFit:
        return self.fits[0]

    def fit(self, name: str) -> SurvivalFit | None:
        """The fit of a model by name, None where these data do not allow it."""
        return next((f for f in self.fits if f.model.name == name), None)

    @property
    def asked(self) -> np.ndarray:
        """Which outlets of the encounters are among those asked."""
        return np.array([id in self.outlets for id in self.found.outlets], bool)

    def n_fixed(self, reason: str) -> int:
        """Occasions, counted for each outlet asked, on which the chance of being met is fixed at 0 for a reason."""
        return int((self.chances.fixed[self.asked][:, 1:] == reason).sum())

    def models_table(self) -> pd.DataFrame:
        least = min(f.aic for f in self.fits)
        return pd.DataFrame(
            [
                {
                    "model": f.model.name,
                    "minus_two_log_likelihood": f.minus_two_log_likelihood,
                    "parameters": f.n_estimable,
                    "aic": f.aic,
                    "above_least_aic": f.aic - least,
                    "at_boundary": sum(r.boundary for r in f.rates),
                }
                for f in self.fits
            ]
        )

    def rates_table(self) -> pd.DataFrame:
        rows = []
        for f in self.fits:
            for i, r in enumerate(f.rates):
                kind = "survival a year" if i < f.model.n_survival else "recapture"
                rows.append({"model": f.model.name, "kind": kind, "rate": r.name, "value": r.value, "low": r.low,
                             "high": r.high, "standard_error": r.standard_error, "boundary": r.boundary,
                             "why": r.why or ""})  # fmt: skip
        numbers = dict.fromkeys(("value", "low", "high", "standard_error"), float)
        return pd.DataFrame(rows).astype(numbers)

    def occasions_table(self) -> pd.DataFrame:
        """A row an occasion: its days, animals met, and outlets at which nobody could be met."""
        table = self.found.occasions.drop(columns="mean_day")
        fixed = [
            "; ".join(f"{id}: {why}" for id, why in zip(self.found.outlets, column, strict=True) if why)
            for column in self.chances.fixed.T
        ]
        table = table.assign(chance_fixed_at_0=fixed)
        return table if self.by_occasion is None else table.join(self.by_occasion)


def survival_of(
    workspace: Workspace, captures: pd.DataFrame, outlets: tuple[str, ...], occasion: Occasion, level: float
) -> tuple[Survival | None, str | None]:
    """Survival of animals released at `outlets`, or why it cannot be told. Occasions are those of all captures: work
    that met nobody at these outlets is a search without a find here, not a period without work."""
    if captures.empty:
        return None, "no animal was captured"
    found = encounters(captures, occasion)
    if found.n_occasions < 3:
        return None, f"captures on {found.n_occasions} occasions; survival and recapture need at least 3"
    visits = None if workspace.visits is None else workspace.visits.frame
    chances = capture_chances(found, occasion, workspace.dry_spells, visits)
    counts = releases_of(found, chances.available, outlets)
    again = int(counts.met.sum())
    if again < FEWEST_MET_AGAIN:
        times = "once" if again == 1 else f"{again} times"
        return None, f"animals were met again {times} where they were released; at least {FEWEST_MET_AGAIN} are needed"
    # An outlet without releases asked for has no part in the fit, and its occasions must not name a rate.
    asked = np.array([id in outlets for id in found.outlets], bool)
    fits = []
    try:
        for model in models.survival_models(found.gap_years, chances, found.outlets, asked, met_again=again):
            fits.append(fit_survival(counts, model, level=level))
    except NotEstimable as error:
        return None, error.reason
    by_occasion = None
    if found.n_occasions <= MOST_OCCASIONS_BY_OCCASION and asked.all():
        by_occasion = jolly_seber(marked_counts(found), level=level)
    return Survival(
        occasion=occasion, outlets=outlets, found=found, chances=chances, counts=counts, fits=tuple(fits),
        checks=check_survival(found, asked), by_occasion=by_occasion,
    ), None  # fmt: skip


def dry_rates(s: Survival) -> tuple[Rate | None, Rate | None, float | None]:
    """Survival with and without a dry spell in the interval, and p of a likelihood ratio test of their difference
    (chi² on one degree of freedom); all None where no interval, or every one, holds a dry spell."""
    fit = s.fit(models.BY_DRY_INTERVAL)
    if fit is None:
        return None, None, None
    return fit.rate(models.WITH), fit.rate(models.WITHOUT), _ratio_test(s.constant, fit)


def _ratio_test(simple: SurvivalFit, fuller: SurvivalFit) -> float:
    from math import erfc, sqrt

    return erfc(sqrt(max(simple.minus_two_log_likelihood - fuller.minus_two_log_likelihood, 0.0) / 2.0))


FIXED_REASONS = (DRY, NOBODY)
