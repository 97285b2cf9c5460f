"""Everything that is said of returns to one outlet."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from dashboard.answers.half_recovery import Expectation, HalfRecovery, half_recovery
from dashboard.workspace import Workspace
from ecology.animal_choice import ALL, ChosenVisits, choose_animals
from ecology.interval_censored import Npmle, npmle
from ecology.interval_fits import IntervalFit, fit_intervals
from ecology.interval_likelihood import Distribution
from ecology.missed_animals import MissedAnimalsFit, fit_missed_animals
from ecology.never_returned import NeverReturned, latest_return, never_returned
from ecology.not_estimable import NotEstimable
from ecology.npmle_bootstrap import BootstrapBands, bootstrap_npmle
from ecology.return_effects import ReturnEffects, return_effects
from ecology.return_lag import FEWEST_SPELLS, ReturnLags, return_lags
from ecology.returned_by import returned_by_interval

DAYS = (7, 14, 30, 60, 90, 180)
#: Shapes fitted to the intervals at face value.
SHAPES: tuple[Distribution, ...] = ("weibull", "lognormal", "loglogistic")


@dataclass(frozen=True, eq=False, kw_only=True)
class AnimalsSummary:
    """First finds of one choice of animals: the interval that holds the median at face value, None below five spells
    or where fewer than half returned for certain."""

    animals: str
    n_spells: int
    n_found: int
    median_between: tuple[float, float] | None


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletReturns:
    """One outlet's lags.

    `animals` are those it is about (`ecology.animal_choice`); `n_not_told` searches do not say how many of them there
    were. `lags` is None where `why` says so, `curve`, `bands` and `effects` where `why_no_curve` does, `corrected`
    (allowing for missed animals) where `why_not_corrected` does, `never` (share that never returns) where
    `why_not_never` does. `fits` has a fit or the reason for its absence by shape. `half` is the lag until half of the
    expected count, `by_animals` has first finds of every choice of animals.
    """

    outlet: str
    title: str
    lags: ReturnLags | None
    curve: Npmle | None
    bands: BootstrapBands | None
    returned_low: np.ndarray
    returned_high: np.ndarray
    fits: dict[str, IntervalFit | str]
    corrected: MissedAnimalsFit | None
    animals: str = ALL
    never: NeverReturned | None = None
    effects: ReturnEffects | None = None
    half: HalfRecovery | None = None
    by_animals: tuple[AnimalsSummary, ...] = ()
    n_not_told: int = 0
    why: str | None = None
    why_not_corrected: str | None = None
    why_no_curve: str | None = None
    why_not_never: str | None = None

    @property
    def n_informative(self) -> int:
        return 0 if self.lags is None else int(self.lags.lags["informative"].sum())

    @property
    def days_with_passes(self) -> int:
        """Days of search on which more than one pass was made."""
        return 0 if self.lags is None else int((self.lags.searches["pass"] == 2).sum())


def outlet_returns(
    workspace: Workspace,
    id: str,
    chosen: ChosenVisits | None,
    expected: Expectation | None,
    *,
    choices: Sequence[str],
    level: float,
    seed: int,
    draws: int,
) -> OutletReturns:
    """Lags of one outlet for the chosen animals; `expected` are their counts as the count model has them."""
    title, dry = workspace.outlets[id].title, workspace.dry_spells[id]
    why = None
    if workspace.outlets[id].perennial:
        why = "no stop level is set, so there is no dry spell to return from"
    elif dry is None:
        why = "its discharge is never known"
    elif chosen is None:
        why = "the workspace names no visits"
    none = np.zeros(0)
    if why is not None or dry is None or chosen is None or workspace.visits is None or expected is None:
        return OutletReturns(
            outlet=id, title=title, lags=None, curve=None, bands=None, returned_low=none, returned_high=none, fits={},
            corrected=None, animals=ALL if chosen is None else chosen.animals, why=why, why_not_corrected=why,
            why_not_never=why,
        )  # fmt: skip
    own = chosen.frame[chosen.frame["outlet"] == id]
    lags = return_lags(dry, own, workspace.as_of)
    n = len(lags.intervals()[0])
    counted = workspace.visits.at(id)["kind"] == "counted"
    few = f"{n} {'spell' if n == 1 else 'spells'} with searches after them; a curve needs at least {FEWEST_SPELLS}"
    found = OutletReturns(
        outlet=id,
        title=title,
        lags=lags,
        curve=None,
        bands=None,
        returned_low=none,
        returned_high=none,
        fits=dict.fromkeys(SHAPES, few),
        corrected=None,
        animals=chosen.animals,
        half=half_recovery(dry, own, expected, workspace.as_of, level),
        by_animals=_by_animals(workspace, id, choices, {ALL: lags} if chosen.animals == ALL else {}),
        n_not_told=int(counted.sum() - (own["kind"] == "counted").sum()),
        why_no_curve=few,
        why_not_corrected=few,
        why_not_never=few,
    )
    return found if n < FEWEST_SPELLS else _with_curve(found, lags, level, seed, draws)


def _with_curve(o: OutletReturns, lags: ReturnLags, level: float, seed: int, draws: int) -> OutletReturns:
    low, high = lags.intervals()
    last = latest_return(high)
    days = np.array([*DAYS, *([] if last is None else [last])], dtype=float)
    bands = bootstrap_npmle(low, high, draws=draws, seed=seed, days=days, level=level)
    never, why_not_never, corrected, why_not_corrected = None, None, None, None
    try:
        never = never_returned(low, high, bands)
    except NotEstimable as error:
        why_not_never = error.reason
    try:
        corrected = fit_missed_animals(lags.histories(), distribution="lowest-aic", level=level)
    except NotEstimable as error:
        why_not_corrected = error.reason
    fits: dict[str, IntervalFit | str] = {shape: _shape(low, high, shape, level) for shape in SHAPES}
    fitted = [f for f in fits.values() if not isinstance(f, str)]
    shape = min(fitted, key=lambda f: f.aic).distribution if fitted else SHAPES[0]
    used = lags.lags[lags.lags["informative"]]
    asked = _first_days(bands, len(DAYS))
    returned_low, returned_high = returned_by_interval(low, high, asked)
    return replace(
        o,
        curve=npmle(low, high),
        bands=asked,
        returned_low=returned_low,
        returned_high=returned_high,
        fits=fits,
        corrected=corrected,
        never=never,
        effects=return_effects(
            low, high, used["dry_days"].to_numpy(float), used["restart"], distribution=shape, level=level
        ),
        why_no_curve=None,
        why_not_corrected=why_not_corrected,
        why_not_never=why_not_never,
    )


def _first_days(bands: BootstrapBands, n: int) -> BootstrapBands:
    """The bands of the first `n` days only."""
    return replace(
        bands, days=bands.days[:n], by_low=bands.by_low[:n], by_high=bands.by_high[:n], low=bands.low[:n],
        high=bands.high[:n],
    )  # fmt: skip


def _shape(low: np.ndarray, high: np.ndarray, shape: Distribution, level: float) -> IntervalFit | str:
    """A fit to whole days, day d being the time (d, d + 1]; or why there is none."""
    try:
        return fit_intervals(np.maximum(low, -1.0) + 1.0, high + 1.0, shape, level=level)
    except NotEstimable as error:
        return error.reason


def _by_animals(
    workspace: Workspace, id: str, choices: Sequence[str], known: Mapping[str, ReturnLags]
) -> tuple[AnimalsSummary, ...]:
    """First finds of every choice of animals beside each other; `known` are lags that are worked out already."""
    dry = workspace.dry_spells[id]
    if workspace.visits is None or dry is None:
        return ()
    own, found = workspace.visits.at(id), []
    for animals in choices:
        try:
            lags = known.get(animals) or return_lags(dry, choose_animals(own, animals).frame, workspace.as_of)
        except ValueError:
            continue  # a taxon that this outlet's visits never name
        low, high = lags.intervals()
        between = None
        if low.size >= FEWEST_SPELLS:
            first, last = npmle(low, high).quantile_bounds()
            between = (max(first, 0.0), last) if np.isfinite(last) else None
        found.append(
            AnimalsSummary(
                animals=animals, n_spells=low.size, n_found=int(np.isfinite(high).sum()), median_between=between
            )
        )
    return tuple(found)
