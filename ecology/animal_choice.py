"""Which animals a question is about: all, a stage, or one taxon, and what each visit says about those.

A stage that was not written down is not a zero. A visit that counted no animal at all counted none of any stage; one
that names other taxa only says nothing about the taxon asked for.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.visits import PARTS

ALL = "all"


@dataclass(frozen=True, eq=False, kw_only=True)
class ChosenVisits:
    """Visits as they speak for the chosen animals.

    frame        as `Visits.frame`: `count` is that of the chosen animals, `kind` is "searched-uncounted" where a search
                 does not say how many of them there were
    animals      "all", "adults", "juveniles", "gravid", or a taxon as the file writes it
    n_not_told   searches that counted animals and do not say how many were of the chosen ones
    """

    frame: pd.DataFrame
    animals: str
    n_not_told: int


def animal_choices(visits: pd.DataFrame) -> tuple[str, ...]:
    """What can be chosen: all, the stages that were ever counted, and the taxa in the order of their first row."""
    stages = [part for part in PARTS if visits[part].notna().any()]
    taxa = [t for t in dict.fromkeys(visits["taxon"].tolist()) if t and t.casefold() not in (ALL, *PARTS)]
    return (ALL, *stages, *dict.fromkeys(_by_fold(taxa).values()))


def matching_choice(asked: str, choices: tuple[str, ...]) -> str | None:
    """The choice meant by a word, capital letters aside; None where there is none."""
    return _by_fold(list(choices)).get(asked.strip().casefold())


def choose_animals(visits: pd.DataFrame, animals: str) -> ChosenVisits:
    """The visits as they speak for `animals`, one of `animal_choices` (a stage never counted is told by no search)."""
    counted = (visits["kind"] == "counted").to_numpy()
    total = visits["count"].to_numpy(np.float64)
    if animals == ALL:
        return ChosenVisits(frame=visits, animals=ALL, n_not_told=0)
    if animals in PARTS:
        count = visits[animals].to_numpy(np.float64)
        count = np.where(np.isnan(count) & (total == 0.0), 0.0, count)
        if animals in ("adults", "juveniles"):
            # Adults and juveniles together are at most the count: where the others make up all of it, these are none.
            others = visits["juveniles" if animals == "adults" else "adults"].to_numpy(np.float64)
            count = np.where(np.isnan(count) & (others == total), 0.0, count)
        return _told(visits, animals, count, counted)
    taxon = visits["taxon"].str.casefold().to_numpy() == animals.casefold()
    if not taxon.any():
        raise ValueError(f"no visit names the taxon {animals!r}")
    unnamed = (visits["taxon"] == "").to_numpy()
    return _told(visits, animals, np.where(taxon | (unnamed & (total == 0.0)), total, np.nan), counted)


def _told(visits: pd.DataFrame, animals: str, count: np.ndarray, counted: np.ndarray) -> ChosenVisits:
    told = counted & ~np.isnan(count)
    kind = visits["kind"].astype(object).to_numpy()
    kind = np.where(counted & ~told, "searched-uncounted", kind)
    frame = visits.assign(count=np.where(told, count, np.nan), kind=kind)
    return ChosenVisits(frame=frame, animals=animals, n_not_told=int((counted & ~told).sum()))


def _by_fold(words: list[str]) -> dict[str, str]:
    """The first spelling of each word, by its form without capital letters."""
    found: dict[str, str] = {}
    for word in words:
        found.setdefault(word.casefold(), word)
    return found
