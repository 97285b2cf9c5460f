"""What a stop level would mean: how many sightings speak against it, and how long the outlet would have been dry."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.answers.sightings import sightings_of
from dashboard.workspace import Workspace
from hydro.dry_spells import find_dry_spells
from hydro.state_runs import STATE_NAMES, UNKNOWN
from hydro.units import from_m3s

#: Steps of a slider over a range of levels, even in proportion.
STEPS = 120
DAYS_A_YEAR = 365.25


@dataclass(frozen=True, kw_only=True)
class TriedLevel:
    """One stop level [m³/s] held against sightings and record.

    name         what the level is: "set", "learnt" or "tried"
    disagreeing  sightings on its wrong side: seen running below it, or dry at or above the restart level; standing
                 water is neither
    judged       sightings of either state on a day with a discharge
    dry_days, known_days   of the whole record, by the outlet's rule with this level [days]
    dry_spells   separate ones, short interruptions joined as the outlet's settings have it
    """

    name: str
    stop_m3s: float
    disagreeing: int
    judged: int
    dry_days: int
    known_days: int
    dry_spells: int

    @property
    def dry_days_a_year(self) -> float | None:
        """Dry days in 365.25 known ones [days]; None where fewer than 365 are known: that is no year."""
        return DAYS_A_YEAR * self.dry_days / self.known_days if self.known_days >= 365 else None


def try_level(workspace: Workspace, id: str, stop_m3s: float, *, name: str = "tried") -> TriedLevel:
    """The outlet's sightings and record under another stop level; its other settings stay.

    A restart level that lies below the new stop level gives way to it.
    """
    outlet, flow = workspace.outlets[id], workspace.flow_of(id)
    restart_m3s = max(stop_m3s, outlet.restarts_above.m3s if outlet.restarts_above is not None else stop_m3s)
    rows = sightings_of(workspace, id)
    rows = rows[rows["discharge_m3s"].notna() & rows["surface"].isin(["dry", "running"])]
    dry, q = rows["surface"] == "dry", rows["discharge_m3s"]
    wrong = np.where(dry, q >= restart_m3s, q < stop_m3s)
    spells = find_dry_spells(
        flow.values,
        stop_m3s,
        restart_m3s,
        stop_days=outlet.stop_days,
        restart_days=outlet.restart_days,
        join_days=outlet.join_days,
    )
    states = spells.states
    return TriedLevel(
        name=name,
        stop_m3s=stop_m3s,
        disagreeing=int(wrong.sum()),
        judged=len(rows),
        dry_days=int((states == "dry").sum()),
        known_days=int((states != STATE_NAMES[UNKNOWN]).sum()),
        dry_spells=len(spells.joined),
    )


def tried_frame(levels: list[TriedLevel]) -> pd.DataFrame:
    """One row a level, for a table."""
    return pd.DataFrame(
        {
            "name": [x.name for x in levels],
            "stop_m3s": [x.stop_m3s for x in levels],
            "disagreeing": [x.disagreeing for x in levels],
            "judged": [x.judged for x in levels],
            "dry_days_a_year": [np.nan if x.dry_days_a_year is None else x.dry_days_a_year for x in levels],
            "dry_spells": [x.dry_spells for x in levels],
        }
    )


def level_choices(low_m3s: float, high_m3s: float, also_m3s: list[float], unit: str) -> list[float]:
    """Levels in `unit` to slide over, three figures each, `low_m3s` to `high_m3s`, those of `also_m3s` among them."""
    steps = np.geomspace(from_m3s(low_m3s, unit), from_m3s(high_m3s, unit), STEPS)
    return sorted({float(f"{v:.3g}") for v in [*steps, *(from_m3s(v, unit) for v in also_m3s)] if v > 0})
