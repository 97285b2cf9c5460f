"""Encounter histories of an open population, drawn together into the counts that their likelihood needs.

A history is cut at each sighting: an animal released at an outlet on one occasion is next met on a later one, or
never. Histories that are equal from there on say the same, so that the likelihood needs counts by outlet and occasion
alone, and its cost does not grow with the number of animals.

An animal next met at another outlet is known to have lived until then; it was not met at the outlet where it was
released on the occasions between, and starts anew where it was met. An animal that moves and is never met again is
taken as dead or gone: what is estimated is apparent survival.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.encounters import Encounters


@dataclass(frozen=True, eq=False, kw_only=True)
class ReleaseCounts:
    """Counts by (outlet, occasion), shape (O, T); `lived` has a column an interval, (O, T - 1).

    lived     animals released at the outlet that are known to have lived through the interval
    met       of those released at the outlet earlier and not met since, met again there
    missed    of those, known to live and not met there on the occasion
    lost      released on the occasion and never met again
    available whether animals at the outlet could be met at all: the chance is fixed at 0 elsewhere
    """

    lived: np.ndarray
    met: np.ndarray
    missed: np.ndarray
    lost: np.ndarray
    available: np.ndarray

    def __post_init__(self) -> None:
        if (self.met > 0)[~self.available].any():
            raise ValueError("an animal was met where none could be met")

    @property
    def n_releases(self) -> int:
        """Releases of which the end could have been seen: those before the last occasion."""
        return int(self.lost[:, :-1].sum() + self.met.sum())


def release_counts(
    start: np.ndarray,
    outlet: np.ndarray,
    end: np.ndarray,
    same_outlet: np.ndarray,
    number: np.ndarray,
    *,
    available: np.ndarray,
) -> ReleaseCounts:
    """Counts from releases: `number` animals released at `outlet` on occasion `start`, next met on occasion `end`
    (-1 = never) at the same outlet or another. `available` has the shape (outlets, occasions)."""
    n_outlets, n = available.shape
    lived = np.zeros((n_outlets, n + 1))
    missed = np.zeros((n_outlets, n + 1))
    met, lost = np.zeros((n_outlets, n)), np.zeros((n_outlets, n))
    again = end >= 0
    if (end[again] <= start[again]).any():
        raise ValueError("an animal is met again on a later occasion")
    o, i, j, k = outlet[again], start[again], end[again], number[again].astype(np.float64)
    np.add.at(lived, (o, i), k)
    np.add.at(lived, (o, j), -k)
    np.add.at(missed, (o, i + 1), k)
    np.add.at(missed, (o, j), -k)
    here = same_outlet[again]
    np.add.at(met, (o[here], j[here]), k[here])
    np.add.at(lost, (outlet[~again], start[~again]), number[~again].astype(np.float64))
    return ReleaseCounts(
        lived=np.cumsum(lived, axis=1)[:, : n - 1],
        met=met,
        missed=np.cumsum(missed, axis=1)[:, :n],
        lost=lost,
        available=available.copy(),
    )


def releases_of(found: Encounters, available: np.ndarray, outlets: tuple[str, ...] | None = None) -> ReleaseCounts:
    """The counts of captured animals; `outlets` restricts them to releases there (default: all).

    available   (outlets of `found`, occasions); taken as true wherever an animal was met
    """
    m = found.meetings
    animal, occasion, outlet = (m[c].to_numpy(np.int64) for c in ("animal", "occasion", "outlet"))
    follows = np.append(animal[1:] == animal[:-1], False) if len(animal) else np.zeros(0, bool)
    end = np.where(follows, np.roll(occasion, -1), -1)
    same = np.where(follows, np.roll(outlet, -1) == outlet, False)
    could = available.copy()
    could[outlet, occasion] = True
    chosen = np.ones(len(m), bool)
    if outlets is not None:
        chosen = np.isin(outlet, [i for i, id in enumerate(found.outlets) if id in outlets])
    return release_counts(
        occasion[chosen],
        outlet[chosen],
        end[chosen],
        same[chosen],
        np.ones(int(chosen.sum())),
        available=could,
    )
