"""An invented spring group with visits whose counts follow a known model, for tests of the regression."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.count_design import CountDesign, count_design
from ecology.count_response import Response
from ecology.count_terms import ModelTerms
from ecology.flow_history import FlowCycles, OutletWater, flow_cycles
from hydro.combine import combine
from hydro.discharge import Discharge, Origin, make_frame
from hydro.dry_spells import find_dry_spells

OUTLETS = ("ledge", "pool", "cave")
SLOPE, ALPHA = 0.7, 0.4


@dataclass(frozen=True, eq=False, kw_only=True)
class Springs:
    visits: pd.DataFrame
    water: dict[str, OutletWater]
    cycles: dict[str, FlowCycles]

    def design(
        self,
        *,
        window: int = 30,
        windows: tuple[int, ...] = (),
        terms: ModelTerms | None = None,
        response: Response | None = None,
        outlets: tuple[str, ...] = OUTLETS,
    ) -> CountDesign:
        return count_design(
            self.visits, self.water, self.cycles, outlets=outlets, window=window, windows=windows, terms=terms,
            response=response,
        )  # fmt: skip


def springs(seed: int = 1, *, years: int = 12, every: int = 21, bend: float = 0.0) -> Springs:
    """Visits to three outlets every `every` days; the first outlet stops in most summers.

    ln E[count] = ln(effort) − 2.2 + 0.7·x + bend·(x − mean)² + 0.3·sin + 0.4·[cave], x the mean ln discharge before.
    """
    rng = np.random.default_rng(seed)
    days = pd.date_range("2010-01-01", periods=365 * years, freq="D")
    t = np.arange(len(days))
    slow = np.convolve(rng.normal(0, 1, len(days) + 120), np.exp(-np.arange(121) / 40), "valid")
    q = np.exp(0.4 + 0.45 * np.cos(2 * np.pi * t / 365.25) + 0.09 * slow)
    origin = Origin(file="made", digest="", format="made")
    gauge = Discharge(frame=make_frame(pd.DatetimeIndex(days), q), step="daily", origins=(origin,))
    flow = combine("system", "System", {"g": gauge})
    dry = find_dry_spells(flow.values, float(np.quantile(q, 0.15)))
    water = {o: OutletWater(flow=flow, dry=dry if o == "ledge" else None) for o in OUTLETS}
    cycles = dict.fromkeys(OUTLETS, flow_cycles(flow, [("ledge", dry)]))
    x = np.log(pd.Series(q, index=days)).rolling(30).mean().shift(1)
    rows = []
    for day in days[120::every]:
        for o in OUTLETS:
            effort = float(rng.integers(2, 9) * 10)
            at = float(x[day])
            eta = np.log(effort) - 2.2 + SLOPE * at + bend * (at - float(x.mean())) ** 2 + 0.4 * (o == "cave")
            eta += 0.3 * np.sin(2 * np.pi * day.day_of_year / 365.2425)
            count = int(rng.poisson(np.exp(eta) * rng.gamma(1 / ALPHA, ALPHA)))
            is_dry = o == "ledge" and dry.states[day] == "dry"
            young = int(rng.binomial(count, 0.3))
            eggs = int(rng.binomial(count - young, 0.25))
            rows.append(
                {
                    "row": len(rows) + 2, "date": day, "time": "", "outlet": o, "kind": "dry" if is_dry else "counted",
                    "searched": not is_dry, "count": np.nan if is_dry else float(count),
                    "effort": np.nan if is_dry else effort, "adults": np.nan if is_dry else float(count - young),
                    "juveniles": np.nan if is_dry else float(young), "gravid": np.nan if is_dry else float(eggs),
                    "taxon": "shrimp" if rng.random() < 0.6 else "snail", "water_temp_c": 22.2 + rng.normal(0, 0.4),
                    "observers": "", "note": "", "surface": "dry" if is_dry else "running",
                    "depth": f"{rng.uniform(0.2, 1.2):.2f}",
                }
            )  # fmt: skip
    return Springs(visits=pd.DataFrame(rows), water=water, cycles=cycles)
