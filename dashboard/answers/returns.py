"""How long after each dry spell animals were seen again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header
from dashboard.answers.between_outlets import OutletPair, compare_outlets
from dashboard.answers.half_recovery import expectation
from dashboard.answers.outlet_returns import DAYS, OutletReturns, outlet_returns
from dashboard.answers.return_json import outlet_json, pair_json
from dashboard.workspace import Workspace
from ecology.animal_choice import ALL, animal_choices, choose_animals, matching_choice
from hydro.problems import InputError, Problem

__all__ = ["DAYS", "DRAWS", "OutletReturns", "ReturnsAnswer", "returns"]

DRAWS = 500
FACE_VALUE = "curve, returned_by, median_days, fits, effects and never_returned take first finds at face value"


@dataclass(frozen=True, eq=False, kw_only=True)
class ReturnsAnswer:
    """The answer to `returns`: about `animals`, one of `choices`, outlet by outlet, and every two outlets compared."""

    header: Header
    level: float
    seed: int
    outlets: tuple[OutletReturns, ...]
    animals: str = ALL
    choices: tuple[str, ...] = (ALL,)
    pairs: tuple[OutletPair, ...] = ()

    def tables(self) -> list[Table]:
        found = []
        for o in self.outlets:
            if o.lags is not None:
                found.append(
                    Table(name=f"return-lags-{o.outlet}", title=f"Return lags at {o.title}", frame=o.lags.lags)
                )
                title = f"Searches behind the lags at {o.title}"
                found.append(Table(name=f"searches-{o.outlet}", title=title, frame=o.lags.searches))
            if o.curve is not None:
                mass = pd.DataFrame({"low_days": o.curve.low, "high_days": o.curve.high, "mass": o.curve.mass})
                found.append(
                    Table(name=f"return-curve-{o.outlet}", title=f"Returned-by curve at {o.title}", frame=mass)
                )
            if o.half is not None:
                half = o.half.recovery.lags
                title = f"Lags until half of the expected count at {o.title}"
                found.append(Table(name=f"half-lags-{o.outlet}", title=title, frame=half.lags))
                title = f"Counts against what was expected at {o.title}"
                found.append(Table(name=f"half-counts-{o.outlet}", title=title, frame=half.searches))
        return found

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {
            "note": FACE_VALUE,
            "animals": self.animals,
            "animal_choices": list(self.choices),
            "outlets": [outlet_json(o, self.level) for o in self.outlets],
            "between_outlets": [pair_json(p) for p in self.pairs],
        }


def returns(
    workspace: Workspace,
    *,
    outlets: Sequence[str] = (),
    animals: str = ALL,
    level: float = 0.95,
    seed: int = 1,
    draws: int = DRAWS,
) -> ReturnsAnswer:
    """Lags of each outlet that can stop, with the returned-by curve where at least five spells tell.

    `animals` is all, adults, juveniles, gravid or a taxon. Raises InputError where the visits know no such animals.
    """
    visits = None if workspace.visits is None else workspace.visits.frame
    choices = (ALL,) if visits is None else animal_choices(visits)
    which = matching_choice(animals, choices)
    if which is None:
        expected = f"one of: {', '.join(choices)} (stages and taxa that the visits hold)"
        raise InputError([Problem(row="--animals", value=animals, expected=expected)])
    chosen = None if visits is None else choose_animals(visits, which)
    names = by_name(workspace.outlets, outlets)
    stops = any(workspace.dry_spells[id] is not None for id in names)
    counts = None if chosen is None or not stops else expectation(workspace, chosen.frame, level)
    found = tuple(
        outlet_returns(workspace, id, chosen, counts, choices=choices, level=level, seed=seed, draws=draws)
        for id in names
    )
    return ReturnsAnswer(
        header=header(workspace),
        level=level,
        seed=seed,
        outlets=found,
        animals=which,
        choices=choices,
        pairs=compare_outlets(workspace, found, seed),
    )
