"""Captures of a window in which the animals are taken as the same throughout: samples, estimates and what speaks
against them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.abundance import Abundance, chao_lower_bound, chapman, schnabel, schumacher_eschmeyer
from ecology.encounters import YEAR_DAYS, Encounters, Occasion, encounters

#: With fewer recaptures than this the two-sample estimate is biased low (Robson and Regier 1964; value from memory).
FEWEST_RECAPTURES = 7
#: A window over which more than this share is expected to die or leave is not closed.
MOST_LOST = 0.05

FEW_RECAPTURES, BELOW_HANDLED, UNEQUAL = "few recaptures", "below the animals handled", "unequal chances of being met"
NOT_CLOSED, DRY_INSIDE, OUTLETS_TOGETHER, MATCHING = "not closed", "dry inside", "outlets together", "matching"


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """What speaks against an estimate: `kind`, and a number that goes with it (NaN where none does)."""

    kind: str
    number: float = float("nan")


@dataclass(frozen=True, eq=False, kw_only=True)
class ClosedWindow:
    """The estimates of one window, each with its doubts. `samples` has a row a sample: label, caught, recaught,
    at_large; `handled` counts the animals met in the window. `why` says why there are no estimates."""

    first: pd.Timestamp
    last: pd.Timestamp
    occasion: Occasion
    handled: int
    samples: pd.DataFrame
    estimates: tuple[tuple[Abundance, tuple[Doubt, ...]], ...]
    why: str | None = None


def closed_window(
    captures: pd.DataFrame,
    first: pd.Timestamp,
    last: pd.Timestamp,
    *,
    occasion: Occasion = "visit",
    level: float = 0.95,
    survival_per_year: float | None = None,
    dry_days: int = 0,
) -> ClosedWindow:
    """Estimates from captures between two days, both inside.

    survival_per_year   tells how many animals the window is expected to lose; None = not known
    dry_days            days of the window on which an outlet of these captures was dry
    """
    inside = captures[(captures["date"] >= first) & (captures["date"] <= last)]
    if inside.empty:
        return _nothing(first, last, occasion, 0, "no animal was captured in the window")
    found = encounters(inside, occasion)
    handled = len(found.animals)
    samples = _samples(found)
    if found.n_occasions < 2:
        why = f"the window holds one {'day' if occasion == 'visit' else occasion} with captures; two or more are needed"
        return _nothing(first, last, occasion, handled, why, samples)
    estimates = _estimates(found, samples, level)
    shared = [Doubt(kind=MATCHING)]
    lost = 0.0
    if survival_per_year is not None:
        lost = 1.0 - survival_per_year ** (((last - first).days + 1) / YEAR_DAYS)
    if lost > MOST_LOST:
        shared.append(Doubt(kind=NOT_CLOSED, number=lost))
    if dry_days:
        shared.append(Doubt(kind=DRY_INSIDE, number=float(dry_days)))
    if inside["outlet"].nunique() > 1:
        shared.append(Doubt(kind=OUTLETS_TOGETHER, number=float(inside["outlet"].nunique())))
    bound = next(e for e in estimates if e.estimator == "chao-lower-bound")
    judged = tuple((e, (*_doubts(e, handled, bound), *shared)) for e in estimates)
    return ClosedWindow(first=first, last=last, occasion=occasion, handled=handled, samples=samples, estimates=judged)


def _samples(found: Encounters) -> pd.DataFrame:
    """Animals caught, of those caught before in the window, and known at large, by sample."""
    m = found.meetings
    first = ~m["animal"].duplicated().to_numpy()
    occasion = m["occasion"].to_numpy(np.int64)
    caught = np.bincount(occasion, minlength=found.n_occasions)
    new = np.bincount(occasion[first], minlength=found.n_occasions)
    at_large = np.cumsum(new) - new
    return pd.DataFrame(
        {"label": found.occasions["label"], "caught": caught, "recaught": caught - new, "at_large": at_large}
    )


def _estimates(found: Encounters, samples: pd.DataFrame, level: float) -> list[Abundance]:
    half = found.n_occasions // 2
    m = found.meetings
    early = set(m.loc[m["occasion"] < half, "animal"])
    late = set(m.loc[m["occasion"] >= half, "animal"])
    columns = [samples[c].tolist() for c in ("caught", "recaught", "at_large")]
    return [
        chapman(len(early), len(late), len(early & late), level=level),
        schnabel(*columns, level=level),
        schumacher_eschmeyer(*columns, level=level),
        chao_lower_bound(m["animal"].value_counts().tolist(), level=level),
    ]


def _doubts(estimate: Abundance, handled: int, bound: Abundance) -> list[Doubt]:
    found = []
    recaught = estimate.numbers.get("recaught")
    if recaught is not None and recaught < FEWEST_RECAPTURES:
        found.append(Doubt(kind=FEW_RECAPTURES, number=recaught))
    if estimate.estimator == "chao-lower-bound" and estimate.numbers["twice"] < FEWEST_RECAPTURES:
        found.append(Doubt(kind=FEW_RECAPTURES, number=estimate.numbers["twice"]))
    if estimate.value is None:
        return found
    if estimate.value < handled:
        found.append(Doubt(kind=BELOW_HANDLED, number=float(handled)))
    if estimate is not bound and bound.value is not None and bound.value > estimate.value:
        found.append(Doubt(kind=UNEQUAL, number=bound.value))
    return found


def _nothing(
    first: pd.Timestamp, last: pd.Timestamp, occasion: Occasion, handled: int, why: str,
    samples: pd.DataFrame | None = None,
) -> ClosedWindow:  # fmt: skip
    empty = pd.DataFrame(columns=["label", "caught", "recaught", "at_large"])
    return ClosedWindow(
        first=first, last=last, occasion=occasion, handled=handled, samples=empty if samples is None else samples,
        estimates=(), why=why,
    )  # fmt: skip
