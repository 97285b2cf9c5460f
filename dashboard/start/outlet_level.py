"""Setting the level of an outlet before there is a workspace: the water, what people saw, and how well they agree."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.answers.sightings import sightings_beside
from dashboard.settings_edit import level_text
from ecology.visits import Visits
from hydro.combine import Flow, combine
from hydro.discharge import Discharge
from hydro.gauge_record import daily_record
from hydro.level_estimate import LevelEstimate
from hydro.threshold import estimate_level
from hydro.units import Quantity, from_m3s, parse_quantity

FLOW = "system"
#: Steps of a slider over all discharges of a record, even in proportion: about 2 % each over two powers of ten.
STEPS = 240


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """What people saw against a level: sightings on days with a discharge, standing water apart."""

    dry_below: int
    dry_above: int
    running_below: int
    running_above: int

    @property
    def n(self) -> int:
        return self.dry_below + self.dry_above + self.running_below + self.running_above

    @property
    def disagreeing(self) -> int:
        return self.dry_above + self.running_below


def combined_flow(gauges: Mapping[str, Sequence[Discharge]], time_zone: str) -> Flow:
    """The sum of all gauges, day by day, as the workspace will have it."""
    return combine(FLOW, FLOW, {id: daily_record(parts, time_zone) for id, parts in gauges.items()})


def learn_start_level(
    visits: Visits | None, outlet: str, flow: Flow, unit: str
) -> tuple[LevelEstimate | None, str | None]:
    """(the estimate, the level as text to start from); None where sightings tell nothing."""
    if visits is None or flow.empty:
        return None, None
    sightings = sightings_beside(visits, outlet, flow)
    if sightings.empty:
        return None, None
    # No resampling: it is a check of the interval, and the page “Where does it stop?” makes it.
    estimate = estimate_level(sightings, discharge_by_day=flow.values, draws=0)
    value = estimate.stop_level.value_m3s
    return estimate, None if value is None else level_text(value, unit)


def agreement(visits: Visits, outlet: str, flow: Flow, level_m3s: float) -> Agreement:
    """How many sightings a level agrees with: dry strictly below it, running at or above."""
    rows = sightings_beside(visits, outlet, flow)
    rows = rows[rows["discharge_m3s"].notna()]
    below = rows["discharge_m3s"] < level_m3s
    dry, running = rows["surface"] == "dry", rows["surface"] == "running"
    return Agreement(
        dry_below=int((dry & below).sum()),
        dry_above=int((dry & ~below).sum()),
        running_below=int((running & below).sum()),
        running_above=int((running & ~below).sum()),
    )


def seen_dry(visits: Visits | None, outlet: str) -> bool:
    """Whether anybody ever wrote down that the outlet was dry."""
    return visits is not None and bool((visits.at(outlet)["surface"] == "dry").any())


def level_steps(flow: Flow, unit: str, also: Sequence[Quantity] = ()) -> list[float]:
    """Levels to choose from in `unit`, three figures each, from the lowest to the highest discharge on record."""
    values = flow.values.to_numpy(np.float64)
    values = values[np.isfinite(values) & (values > 0)]
    if not values.size:
        return []
    low, high = (from_m3s(float(v), unit) for v in (values.min(), values.max()))
    steps = np.geomspace(low, high, STEPS) if high > low else np.array([low])
    rounded = {float(f"{v:.3g}") for v in steps} | {q.value for q in also if q.unit == unit}
    return sorted(rounded)


def lowest_level(flow: Flow, unit: str) -> Quantity | None:
    """Where a slider stands while nothing is known: below it the outlet has never been dry."""
    steps = level_steps(flow, unit)
    return parse_quantity(f"{steps[0]:g} {unit}") if steps else None


def dry_days(flow: Flow, level_m3s: float) -> tuple[int, int]:
    """(days below a level, days with a discharge)."""
    values = flow.values.dropna() if not flow.empty else pd.Series(dtype=float)
    return int((values < level_m3s).sum()), len(values)
