"""The models of survival and recapture that are fitted and compared."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ecology.capture_chances import CaptureChances
from ecology.survival_likelihood import SurvivalModel

#: Names of the rates.
YEARLY, WITHOUT, WITH, RUNNING, DRY = "a year", "without a dry spell", "with a dry spell", "while running", "while dry"
RECAPTURE, PER_SEARCH = "an occasion", "a day of search"
#: Rates that differ from time to time are fitted with at most so many occasions, and at least so many animals met again
#: for each of them: more would be noise.
MOST_OCCASIONS_BY_TIME = 12
FEWEST_MET_AGAIN_A_TIME = 4

CONSTANT = "constant"
BY_DRY_INTERVAL = "survival by dry spell in the interval"
BY_DRY_DAYS = "survival by dry days"
BY_OUTLET = "recapture by outlet"
BY_SEARCHES = "recapture by days of search"
BY_DRY_AND_SEARCHES = "survival by dry days, recapture by days of search"
SURVIVAL_BY_TIME = "survival by interval"
RECAPTURE_BY_TIME = "recapture by occasion"
BOTH_BY_TIME = "both by time"


def survival_models(
    gap_years: np.ndarray,
    chances: CaptureChances,
    outlets: Sequence[str],
    asked: np.ndarray | None = None,
    *,
    met_again: float = np.inf,
) -> list[SurvivalModel]:
    """The models that these occasions allow, the simplest first.

    gap_years   between occasions [years]       outlets   names of the outlets (rows of `chances`)
    asked       outlets with releases (default: all): a rate that none of them knows is no rate of the model
    met_again   how often animals were met again: with few, no rates that differ from time to time
    """
    n_outlets, n = chances.available.shape
    part = np.ones(n_outlets, bool) if asked is None else asked
    available = chances.available & part[:, None]
    once = np.where(available, 0, -1)
    gaps = np.broadcast_to(gap_years, (n_outlets, n - 1))
    flat = gaps[None]
    has_dry = chances.dry_days > 0
    split = np.stack((np.where(has_dry, 0.0, gaps), np.where(has_dry, gaps, 0.0)))
    dry_years = np.minimum(chances.dry_years, gaps)
    by_days = np.stack((gaps - dry_years, dry_years))
    met_at = [o for o in range(n_outlets) if available[o, 1:].any()]
    where = np.full(n_outlets, -1)
    where[met_at] = np.arange(len(met_at))
    by_outlet = np.where(available, where[:, None], -1)
    searched = bool((chances.looks[available] > 1).any())

    found = [_model(CONSTANT, flat, (YEARLY,), once, (RECAPTURE,))]
    some = bool(has_dry[part].any() and not has_dry[part].all())
    if some:
        found.append(_model(BY_DRY_INTERVAL, split, (WITHOUT, WITH), once, (RECAPTURE,)))
    if has_dry[part].any() and (dry_years < gaps - 1e-12)[part].any():
        found.append(_model(BY_DRY_DAYS, by_days, (RUNNING, DRY), once, (RECAPTURE,)))
    if len(met_at) > 1:
        found.append(_model(BY_OUTLET, flat, (YEARLY,), by_outlet, [outlets[o] for o in met_at]))
    if searched:
        found.append(_model(BY_SEARCHES, flat, (YEARLY,), once, (PER_SEARCH,), chances.looks))
        if some:
            found.append(_model(BY_DRY_AND_SEARCHES, by_days, (RUNNING, DRY), once, (PER_SEARCH,), chances.looks))
    if n <= MOST_OCCASIONS_BY_TIME and met_again >= FEWEST_MET_AGAIN_A_TIME * 2 * (n - 1):
        found += _by_time(gaps, available, once)
    return found


def _model(
    name: str,
    years: np.ndarray,
    survival: Sequence[str],
    classes: np.ndarray,
    recapture: Sequence[str],
    looks: np.ndarray | None = None,
) -> SurvivalModel:
    return SurvivalModel(
        name=name,
        years=years,
        looks=np.ones(classes.shape) if looks is None else looks,
        look_class=classes,
        survival_names=tuple(survival),
        recapture_names=tuple(recapture),
    )


def _by_time(gaps: np.ndarray, available: np.ndarray, once: np.ndarray) -> list[SurvivalModel]:
    """Models in which each interval, each occasion, or both have a rate of their own."""
    n_outlets, n = available.shape
    years = np.zeros((n - 1, n_outlets, n - 1))
    years[np.arange(n - 1), :, np.arange(n - 1)] = gaps.T
    intervals = [f"interval {i + 1}" for i in range(n - 1)]
    open_at = np.flatnonzero(available[:, 1:].any(axis=0)) + 1
    number = np.full(n, -1)
    number[open_at] = np.arange(len(open_at))
    classes = np.where(available, number[None, :], -1)
    occasions = [f"occasion {i + 1}" for i in open_at]
    return [
        _model(SURVIVAL_BY_TIME, years, intervals, once, (RECAPTURE,)),
        _model(RECAPTURE_BY_TIME, gaps[None], (YEARLY,), classes, occasions),
        _model(BOTH_BY_TIME, years, intervals, classes, occasions),
    ]
