"""Sentences about the level of an outlet before there is a workspace."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboard.wording.numbers import count_of, discharge, figures, interval, whole
from hydro.units import from_m3s

if TYPE_CHECKING:
    from dashboard.start.outlet_level import Agreement
    from hydro.level_estimate import LevelEstimate


def learnt_level(title: str, estimate: LevelEstimate, unit: str) -> str:
    """What the sightings say before a level is set."""
    level = estimate.stop_level
    if level.value_m3s is None:
        return f"What people saw does not tell where {title} stops: {level.why}."
    limits = interval(level.low_m3s, level.high_m3s, lambda v: figures(from_m3s(v, unit)))
    n = count_of(estimate.n_running + estimate.n_dry, "sighting")
    return (
        f"Judging by {n}, {title} stops at about {discharge(level.value_m3s, unit)} (95 % interval {limits}); that is "
        "where the level starts."
    )


def nothing_learnt(title: str) -> str:
    return (
        f"Nobody has written down what the surface of {title} looked like on a day with known discharge: slide the level "
        "to where you know it to stop. It starts at the lowest discharge on record."
    )


def level_means(title: str, dry: int, days: int, level_m3s: float, unit: str) -> str:
    """What a level would mean for the record."""
    share = f" ({figures(100 * dry / days, 2)} %)" if days and dry else ""
    return (
        f"Stopping below {discharge(level_m3s, unit)}, {title} would have been dry on {whole(dry)} of "
        f"{count_of(days, 'day')} with a known discharge{share}."
    )


def agrees(a: Agreement) -> str:
    """How many sightings a level agrees with."""
    if not a.n:
        return "No sighting falls on a day with a known discharge."
    if not a.disagreeing:
        return f"All {count_of(a.n, 'sighting')} agree with it." if a.n > 1 else "The one sighting agrees with it."
    return (
        f"{whole(a.n - a.disagreeing)} of {count_of(a.n, 'sighting')} agree with it; seen dry at or above it: "
        f"{whole(a.dry_above)}, seen running below it: {whole(a.running_below)}."
    )
