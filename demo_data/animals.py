"""Invented candleback shrimps, known by the spots on their backs: who was handled on which visit.

Every animal that is ever handled has a home outlet. Deaths come at a constant daily rate, a higher one while its
outlet is without animals (dry, or running again but not yet recolonised); animals that survive there wait out of
reach below ground. At the end of each dry spell a few of them settle at another outlet.
On a visit each animal present is recognised with the same probability, but never more than were counted.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from demo_data.outlets import OUTLETS, Outlet

SURVIVAL_PER_YEAR = 0.50  # apparent survival over 365.25 days while the outlet holds animals [1]
SURVIVAL_PER_YEAR_AWAY = 0.16  # the same rate over days when the outlet is dry or not yet recolonised [1]
RECAPTURE_PER_VISIT = 0.10  # chance that a known animal at a searched outlet is handled on one visit [1]
NEW_SHARE = 0.145  # share of the counted animals handled for the first time [1]
MOVES_AFTER_DRY_SPELL = 0.12  # chance of settling elsewhere at the end of a dry spell [1]
MOVES_PER_YEAR = 0.04  # chance per year of settling elsewhere otherwise [1]
FULL_LENGTH_MM, GROWTH_PER_YEAR, ADULT_FROM_MM = 29.0, 1.5, 17.0

OBSERVATIONS = (
    "Left antenna short", "Shed skin beside it", "Released within 2 min", 'Spot pattern "like a lyre"',
    "Photo blurred, matched by the third row of spots", "Eggs dark, eyes visible", "One pincer regrown",
)  # fmt: skip


@dataclass(frozen=True, eq=False, kw_only=True)
class Animal:
    """One living animal that was handled at least once: where it lives, and its size [mm] when it was first handled."""

    code: str
    home: str
    length_at_first: float
    first: pd.Timestamp
    size_factor: float

    def length(self, day: pd.Timestamp) -> float:
        """Body length [mm], growing towards its full length."""
        full = FULL_LENGTH_MM * self.size_factor
        years = (day - self.first).days / 365.25
        return full - (full - self.length_at_first) * np.exp(-GROWTH_PER_YEAR * years)


def pass_time(
    rng: np.random.Generator, animals: list[Animal], outlets: dict[str, Outlet], since: pd.Timestamp, day: pd.Timestamp
) -> list[Animal]:
    """Those of the animals that live on from `since` to `day`, some of them at another outlet."""
    span = pd.date_range(since + pd.Timedelta(days=1), day)
    away = {name: int(outlets[name].present_since[span].isna().sum()) for name in OUTLETS}
    ended = {name: bool(outlets[name].spells["last"].isin(span).any()) for name in OUTLETS}
    years = len(span) / 365.25
    survivors = []
    for animal in animals:
        gone = away[animal.home] / 365.25
        moves = MOVES_AFTER_DRY_SPELL if ended[animal.home] else MOVES_PER_YEAR * years
        if rng.random() < moves:
            others = [name for name in ("grotto", "headpool", "ledge") if name != animal.home]
            animal = replace(animal, home=others[int(rng.integers(len(others)))])
        if rng.random() < SURVIVAL_PER_YEAR ** (years - gone) * SURVIVAL_PER_YEAR_AWAY**gone:
            survivors.append(animal)
    return survivors


def handled(rng: np.random.Generator, animals: list[Animal], visit: pd.Series, taken: int) -> list[Animal]:
    """Animals handled on one visit, new ones made as needed; never more of a stage than were counted."""
    day, room = visit["date"], {"adult": int(visit["true_adults"]), "juvenile": int(visit["true_juveniles"])}
    chosen = []
    for animal in animals:
        if animal.home == visit["outlet"] and rng.random() < RECAPTURE_PER_VISIT:
            stage = "adult" if animal.length(day) >= ADULT_FROM_MM else "juvenile"
            if room[stage] > 0:
                room[stage] -= 1
                chosen.append(animal)
    fresh = int(rng.binomial(sum(room.values()), NEW_SHARE))
    for number in range(fresh):
        adult = rng.random() < room["adult"] / (room["adult"] + room["juvenile"])
        room["adult" if adult else "juvenile"] -= 1
        size = float(np.exp(rng.normal(0, 0.05)))
        length = float(
            rng.uniform(ADULT_FROM_MM + 0.5, 26.0) * size if adult else rng.uniform(9.0, ADULT_FROM_MM - 0.5)
        )
        length = max(length, ADULT_FROM_MM + 0.1) if adult else length
        code = f"Q{taken + number + 1:04d}"
        chosen.append(Animal(code=code, home=visit["outlet"], length_at_first=length, first=day, size_factor=size))
    return chosen


def invent_captures(visits: pd.DataFrame, outlets: dict[str, Outlet], seed: int) -> pd.DataFrame:
    """One row an animal handled: date, outlet, individual, stage, gravid, length [mm], match confidence, note."""
    rng = np.random.default_rng([seed, 4])
    animals: list[Animal] = []
    rows = []
    known = 0
    last = visits["date"].iloc[0]
    for _, visit in visits[visits["true_count"] > 0].iterrows():
        day = visit["date"]
        if day > last:
            animals = pass_time(rng, animals, outlets, last, day)
            last = day
        chosen = handled(rng, animals, visit, known)
        lengths = [animal.length(day) for animal in chosen]
        grown = [length >= ADULT_FROM_MM for length in lengths]
        eggs = carrying(rng, sum(grown), int(visit["true_adults"]), int(visit["true_gravid"]))
        for animal, length, adult in zip(chosen, lengths, grown, strict=True):
            new = animal not in animals
            rows.append(
                {
                    "date": day,
                    "outlet": visit["outlet"],
                    "individual": animal.code,
                    "stage": "adult" if adult else "juvenile",
                    "gravid": ("yes" if eggs.pop() else "no") if adult else "",
                    "length_mm": round(length + rng.normal(0, 0.3), 1) if rng.random() > 0.03 else None,
                    "match_confidence": None if new else round(float(1 - 0.35 * rng.beta(1.0, 5.0)), 2),
                    "note": OBSERVATIONS[int(rng.integers(len(OBSERVATIONS)))] if rng.random() < 0.02 else "",
                }
            )
        known += sum(animal not in animals for animal in chosen)
        animals += [animal for animal in chosen if animal not in animals]
    return pd.DataFrame(rows)


def carrying(rng: np.random.Generator, adults_handled: int, adults: int, gravid: int) -> list[bool]:
    """Which of the handled adults carry eggs, drawn without replacement from the adults counted on the visit."""
    pool = np.arange(adults) < gravid
    return [bool(x) for x in rng.permutation(pool)[:adults_handled]]
