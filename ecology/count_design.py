"""From visits and their flow history to the rows and columns of a count regression.

ln E[count] = ln effort + intercept + slope · mean ln discharge before the visit + season + outlets + recovery after a
restart, and what `ModelTerms` adds. Visits to a dry outlet are a state, not data for this model. Without the recovery
term the weeks in which animals are not back yet would be laid to the charge of flow, which is low in the same weeks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from ecology.count_response import REASONS, Response, observe
from ecology.count_terms import (
    DRY_LENGTH_TERM,
    RECOVERED_DAYS,
    RECOVERY_TERM,
    YEAR_DAYS,
    YEAR_TERM,
    ModelTerms,
    dry_length_column,
    level_columns,
    recovery_column,
    season_columns,
    year_column,
)
from ecology.flow_history import FlowCycles, OutletWater, visit_flow_history
from ecology.visit_numbers import column_as_numbers

__all__ = ["REASONS", "RECOVERED_DAYS", "RECOVERY_TERM", "YEAR_DAYS", "CountDesign", "count_design", "with_window"]


@dataclass(frozen=True, eq=False, kw_only=True)
class CountDesign:
    """Rows of the regression.

    `rows` has row (in the visits file), date, outlet, count, effort, cycle and log_discharge [ln m³/s], one row a
    visit used (a visit and stage where stage is a factor); then trials, dry_days_before, days_since_restart and a
    column a covariate and factor. `matrix` (n × terms) has a column a term as named in `terms`, `offset` is ln effort
    (0 where effort does not belong to the model). `left_out` counts visits by the first reason that applies,
    `left_out_rows` lists them. `log_discharge` holds the mean ln discharge [ln m³/s] over each window that was asked
    for; `references` the value of a term at which curves are drawn where that is not 0.
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
    flow_terms: tuple[str, ...] = ()
    log_discharge: Mapping[int, np.ndarray] = field(default_factory=dict)
    references: Mapping[str, float] = field(default_factory=dict)
    response: Response = field(default_factory=Response)
    model_terms: ModelTerms = field(default_factory=ModelTerms)
    share_of: str = "visits"

    @property
    def n_visits(self) -> int:
        """Visits used; fewer than rows where stages are rows of their own."""
        return int(self.rows["row"].nunique())

    @property
    def interactions(self) -> tuple[str, ...]:
        """Terms for a flow effect of a single outlet."""
        return self.flow_terms[1:]


def count_design(
    visits: pd.DataFrame,
    water: Mapping[str, OutletWater],
    cycles: Mapping[str, FlowCycles],
    *,
    outlets: Sequence[str],
    window: int = 30,
    windows: Sequence[int] = (),
    terms: ModelTerms | None = None,
    response: Response | None = None,
) -> CountDesign:
    """Rows and columns for the visits of `outlets`.

    visits   as in `Visits.frame`
    water    flow and dry spells by outlet
    cycles   flow cycles by outlet: within one, counts are not independent
    window   days before the visit over which ln discharge is averaged [days]
    windows  others to compare it with: a visit needs a flow over all of them [days]
    terms    what stands beside flow, outlet and recovery
    response what is explained; animals counted if nothing is said

    Days without a positive discharge have no logarithm: visits whose window holds too few others have no flow.
    Raises ValueError where a covariate is no column of numbers.
    """
    asked, wanted = response or Response(), terms or ModelTerms()
    averaged = tuple(dict.fromkeys((window, *windows)))
    seen = observe(visits[visits["outlet"].isin(list(outlets))], asked, wanted.factor)
    used = seen.visits
    history = visit_flow_history(used, water, windows=averaged)
    flows = {w: history[f"log_discharge_{w}d"].to_numpy(np.float64) for w in averaged}
    no_flow = np.isnan(np.column_stack(list(flows.values()))).any(axis=1)
    covariates = {name: _covariate(used, name) for name in wanted.covariates}
    reason = np.where((seen.why == "") & no_flow, "no flow", seen.why)
    for name, values in covariates.items():
        reason = np.where((reason == "") & np.isnan(values), f"no {name}", reason)
    keep = reason == ""
    kept, out = used[keep], used[~keep]
    present = [o for o in outlets if (kept["outlet"] == o).any()]
    columns = {"intercept": np.ones(len(kept)), f"log_discharge_{window}d": flows[window][keep]}
    columns |= season_columns(kept["date"], wanted.season)
    since = history.loc[keep, "days_since_restart"].to_numpy(np.float64)
    before = history.loc[keep, "dry_days_before"].to_numpy(np.float64)
    recovery = recovery_column(since)
    if recovery.any():
        columns[RECOVERY_TERM] = recovery
        if wanted.dry_length:
            columns[DRY_LENGTH_TERM] = dry_length_column(recovery, before)
    for outlet in present[1:]:
        columns[f"outlet[{outlet}]"] = (kept["outlet"] == outlet).to_numpy(np.float64)
    if wanted.factor is not None:
        columns |= level_columns(kept[wanted.factor], wanted.factor)
    if wanted.year_trend:
        columns[YEAR_TERM] = year_column(kept["date"])
    columns |= {name: values[keep] for name, values in covariates.items()}
    interactions = present[1:] if wanted.flow_by_outlet else []
    columns |= _by_outlet(columns, f"log_discharge_{window}d", interactions)
    cycle = pd.Series(0, index=kept.index)
    for outlet in present:
        at = kept["outlet"] == outlet
        cycle[at] = cycles[outlet].of(kept.loc[at, "date"])
    rows = pd.DataFrame(
        {
            "row": kept["row"],
            "date": kept["date"],
            "outlet": kept["outlet"],
            "count": seen.value[keep],
            "effort": kept["effort"],
            "cycle": cycle,
            "log_discharge": columns[f"log_discharge_{window}d"],
            "discharge_m3s": history.loc[keep, "discharge_m3s"],
            "trials": seen.trials[keep],
            "days_since_restart": since,
            "dry_days_before": before,
        }
        | ({} if wanted.factor is None else {wanted.factor: kept[wanted.factor]})
        | {name: values[keep] for name, values in covariates.items()}
    ).reset_index(drop=True)
    left_rows = out[["row", "date", "outlet"]].assign(reason=reason[~keep])
    if wanted.factor == "stage":
        left_rows = left_rows.drop_duplicates(["row", "reason"])
    effort = kept["effort"].to_numpy(np.float64)
    named = [t for t in columns if t != "intercept"]
    left = f"{_LEFT_SIDES.get(asked.kind, asked.kind)}{'' if asked.stage == 'all' else f'[{asked.stage}]'}"
    return CountDesign(
        rows=rows,
        matrix=np.column_stack(list(columns.values())),
        terms=tuple(columns),
        offset=np.log(effort) if asked.has_effort else np.zeros(len(kept)),
        flow_term=f"log_discharge_{window}d",
        left_out={n: int((left_rows["reason"] == n).sum()) for n in dict.fromkeys((*REASONS, *left_rows["reason"]))},
        left_out_rows=left_rows,
        window=window,
        baseline_outlet=present[0] if present else None,
        cycles_by="; ".join(dict.fromkeys(cycles[o].by for o in present)),
        formula=f"{left} ~ {' + '.join(named)}{' + offset(log effort)' if asked.has_effort else ''}",
        flow_terms=(f"log_discharge_{window}d", *(f"log_discharge_{window}d:outlet[{o}]" for o in interactions)),
        log_discharge={w: values[keep] for w, values in flows.items()},
        references={t: float(columns[t].mean()) for t in (YEAR_TERM, *covariates) if t in columns and len(kept)},
        response=asked,
        model_terms=wanted,
        share_of=seen.of,
    )


_LEFT_SIDES = {"gravid": "share gravid", "juveniles": "share juvenile", "temperature": "temperature outside its band"}


def with_window(design: CountDesign, window: int) -> CountDesign:
    """The same rows with another of the windows in `log_discharge`."""
    old, new = design.flow_term, f"log_discharge_{window}d"
    flow = design.log_discharge[window]
    matrix = design.matrix.copy()
    for term in design.flow_terms:
        outlet = term.removeprefix(f"{old}:")
        mask = 1.0 if outlet == term else matrix[:, design.terms.index(outlet)]
        matrix[:, design.terms.index(term)] = flow * mask
    names = {t: new + t.removeprefix(old) for t in design.flow_terms}
    return replace(
        design,
        rows=design.rows.assign(log_discharge=flow),
        matrix=matrix,
        terms=tuple(names.get(t, t) for t in design.terms),
        flow_term=new,
        flow_terms=tuple(names.values()),
        window=window,
        formula=design.formula.replace(old, new),
    )


def _by_outlet(columns: Mapping[str, np.ndarray], flow: str, outlets: Sequence[str]) -> dict[str, np.ndarray]:
    return {f"{flow}:outlet[{o}]": columns[flow] * columns[f"outlet[{o}]"] for o in outlets}


def _covariate(visits: pd.DataFrame, name: str) -> np.ndarray:
    if name not in visits.columns:
        raise ValueError(f"the visits have no column {name!r}")
    values, wrong = column_as_numbers(visits[name])
    if wrong.any():
        raise ValueError(f"{int(wrong.sum())} cells of the column {name!r} are no numbers")
    return values.to_numpy(np.float64)
