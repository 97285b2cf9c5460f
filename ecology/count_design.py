"""From visits and their flow history to the rows and columns of a count regression.

ln E[count] = ln effort + intercept + slope · mean ln discharge before the visit + one yearly harmonic + outlets
+ recovery after a restart. Visits to a dry outlet are a state, not data for this model. Without the recovery term the
weeks in which animals are not back yet would be laid to the charge of flow, which is low in the same weeks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.flow_history import FlowCycles, OutletWater, visit_flow_history

YEAR_DAYS = 365.2425
RECOVERY_TERM = "log_days_since_restart"
#: After so many days since a restart an outlet counts as recovered [days].
RECOVERED_DAYS = 180
#: Why a visit is not in the model, in the order in which the question is asked.
REASONS = ("dry", "not searched", "not counted", "no effort", "no flow")


@dataclass(frozen=True, eq=False, kw_only=True)
class CountDesign:
    """Rows of the regression.

    `rows` has row (in the visits file), date, outlet, count, effort, cycle and log_discharge [ln m³/s], one row a
    visit used. `matrix` (n × terms) has a column a term as named in `terms`, `offset` is ln effort. `left_out`
    counts visits by the first reason that applies, `left_out_rows` lists them.
    """

    rows: pd.DataFrame
    matrix: np.ndarray
    terms: tuple[str, ...]
    offset: np.ndarray
    flow_term: str
    left_out: Mapping[str, int]
    left_out_rows: pd.DataFrame
    window: int
    baseline_outlet: str | None
    cycles_by: str
    formula: str


def count_design(
    visits: pd.DataFrame,
    water: Mapping[str, OutletWater],
    cycles: Mapping[str, FlowCycles],
    *,
    outlets: Sequence[str],
    window: int = 30,
) -> CountDesign:
    """Rows and columns for the visits of `outlets`.

    visits  as in `Visits.frame`
    water   flow and dry spells by outlet
    cycles  flow cycles by outlet: within one, counts are not independent
    window  days before the visit over which ln discharge is averaged [days]

    Days without a positive discharge have no logarithm: visits whose window holds too few others have no flow.
    """
    used = visits[visits["outlet"].isin(list(outlets))]
    history = visit_flow_history(used, water, windows=(window,))
    flow_term = f"log_discharge_{window}d"
    reason = np.select(
        [
            (used["kind"] == "dry").to_numpy(),
            (used["kind"] == "not-searched").to_numpy(),
            (used["kind"] == "searched-uncounted").to_numpy(),
            used["effort"].isna().to_numpy(),
            history[flow_term].isna().to_numpy(),
        ],
        REASONS,
        "",
    )
    kept, out = used[reason == ""], used[reason != ""]
    present = [o for o in outlets if (kept["outlet"] == o).any()]
    phase = 2 * np.pi * kept["date"].dt.day_of_year.to_numpy() / YEAR_DAYS
    columns = {
        "intercept": np.ones(len(kept)),
        flow_term: history.loc[kept.index, flow_term].to_numpy(),
        "season_sin": np.sin(phase),
        "season_cos": np.cos(phase),
    }
    recovery = _recovery(history.loc[kept.index, "days_since_restart"].to_numpy(np.float64))
    if recovery.any():
        columns[RECOVERY_TERM] = recovery
    for outlet in present[1:]:
        columns[f"outlet[{outlet}]"] = (kept["outlet"] == outlet).to_numpy(np.float64)
    cycle = pd.Series(0, index=kept.index)
    for outlet in present:
        at = kept["outlet"] == outlet
        cycle[at] = cycles[outlet].of(kept.loc[at, "date"])
    rows = pd.DataFrame(
        {
            "row": kept["row"],
            "date": kept["date"],
            "outlet": kept["outlet"],
            "count": kept["count"].astype(np.float64),
            "effort": kept["effort"],
            "cycle": cycle,
            "log_discharge": columns[flow_term],
            "discharge_m3s": history.loc[kept.index, "discharge_m3s"],
        }
    ).reset_index(drop=True)
    return CountDesign(
        rows=rows,
        matrix=np.column_stack(list(columns.values())),
        terms=tuple(columns),
        offset=np.log(kept["effort"].to_numpy(np.float64)),
        flow_term=flow_term,
        left_out={name: int((reason == name).sum()) for name in REASONS},
        left_out_rows=out[["row", "date", "outlet"]].assign(reason=reason[reason != ""]),
        window=window,
        baseline_outlet=present[0] if present else None,
        cycles_by="; ".join(dict.fromkeys(cycles[o].by for o in present)),
        formula=f"count ~ {' + '.join(t for t in columns if t != 'intercept')} + offset(log effort)",
    )


def _recovery(days_since_restart: np.ndarray) -> np.ndarray:
    """ln((days + 1) / 181), 0 from `RECOVERED_DAYS` on and where no restart was seen."""
    days = np.where(np.isnan(days_since_restart), RECOVERED_DAYS, np.minimum(days_since_restart, RECOVERED_DAYS))
    return np.log((days + 1.0) / (RECOVERED_DAYS + 1.0))
