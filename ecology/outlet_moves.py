"""Moves between outlets, as far as two sightings of one animal show them, and sightings that cannot both be right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.dry_spells import DrySpells


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletMoves:
    """Consecutive sightings of one animal at different outlets.

    `moves` columns: individual, from_outlet, to_outlet, last_seen, first_seen, days, over_dry_spell (the outlet left
    was dry at some time between). `pairs` and `pairs_over_dry_spell` count all pairs of consecutive sightings on
    different days, so that a share can be formed. `same_day` lists animals met at two outlets on one day, which a wrong
    match explains as well as a move: columns individual, date, outlets.
    """

    moves: pd.DataFrame
    pairs: int
    pairs_over_dry_spell: int
    same_day: pd.DataFrame


def outlet_moves(
    captures: pd.DataFrame, dry: Mapping[str, DrySpells | None], outlets: Sequence[str] | None = None
) -> OutletMoves:
    """Moves in `captures` (in date order; columns date, outlet, individual), of animals last seen at one of `outlets`
    (default: all)."""
    rows = captures[["individual", "date", "outlet"]].drop_duplicates()
    rows = rows.sort_values(["individual", "date"], kind="stable").reset_index(drop=True)
    twice = rows[rows.duplicated(["individual", "date"], keep=False)]
    same_day = twice.groupby(["individual", "date"], as_index=False).agg(outlets=("outlet", ", ".join))
    following = rows.shift(-1)
    pair = (rows["individual"] == following["individual"]) & (rows["date"] != following["date"])
    table = pd.DataFrame(
        {
            "individual": rows["individual"],
            "from_outlet": rows["outlet"],
            "to_outlet": following["outlet"],
            "last_seen": rows["date"],
            "first_seen": following["date"],
        }
    )[pair]
    if outlets is not None:
        table = table[table["from_outlet"].isin(list(outlets))].copy()
    table["days"] = (table["first_seen"] - table["last_seen"]).dt.days
    table["over_dry_spell"] = _over_dry_spell(table, dry)
    moved = (table["from_outlet"] != table["to_outlet"]).to_numpy(bool)
    return OutletMoves(
        moves=table[moved].sort_values(["first_seen", "individual"], kind="stable").reset_index(drop=True),
        pairs=len(table),
        pairs_over_dry_spell=int(table["over_dry_spell"].sum()),
        same_day=same_day,
    )


def _over_dry_spell(pairs: pd.DataFrame, dry: Mapping[str, DrySpells | None]) -> np.ndarray:
    """Whether the outlet of the first sighting was dry on any day between the two."""
    out = np.zeros(len(pairs), bool)
    for id, spells in dry.items():
        if spells is None or spells.joined.empty:
            continue
        at = (pairs["from_outlet"] == id).to_numpy(bool)
        first, last = spells.joined["first"].to_numpy(), spells.joined["last"].to_numpy()
        # The first spell that ends after the first sighting: does it begin before the second?
        i = np.searchsorted(last, pairs["last_seen"].to_numpy()[at], side="left")
        begins = first[np.minimum(i, len(first) - 1)]
        out[at] = (i < len(first)) & (begins <= pairs["first_seen"].to_numpy()[at])
    return out
