"""Every check of a fit to visits, in the order in which they are read."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from ecology.cluster_errors import RobustErrors
from ecology.count_design import CountDesign
from ecology.freed_effort import FreedEffort
from ecology.influence import check_cycle_influence, check_influence
from ecology.model_checks import (
    Fit,
    ModelCheck,
    check_clusters,
    check_collinearity,
    check_dispersion,
    check_zeros,
)
from ecology.residual_checks import (
    check_autocorrelation,
    check_pattern,
    check_quantiles,
    flow_shapes,
    pattern_table,
    residual_draws,
    season_shapes,
    time_shapes,
)


def all_checks(
    fit: Fit,
    design: CountDesign,
    groups: np.ndarray,
    clustered: RobustErrors | None,
    *,
    effort: FreedEffort | None,
    why_no_effort: str | None,
    now: Mapping[str, float],
    seed: int,
) -> tuple[ModelCheck, ...]:
    """The checks of a fit of `design`.

    groups  flow cycle of every row
    effort  the fit in which the exponent of effort is free, None where `why_no_effort` says so
    now     mean ln discharge [ln m³/s] over the window before the day asked, by outlet (NaN = not known)
    """
    rows = design.rows
    flow = rows["log_discharge"].to_numpy(np.float64)
    day = (rows["date"] - pd.Timestamp(2000, 1, 1)).dt.days.to_numpy(np.float64)
    order = np.lexsort((fit.mean, fit.count, flow, day))
    draws = residual_draws(fit, order, seed)
    year = rows["date"].dt.day_of_year.to_numpy(np.float64)
    return (
        check_separation(design),
        check_collinearity(fit, leave_out=design.interactions),
        check_dispersion(fit),
        check_quantiles(draws),
        check_pattern(fit, "flow", np.exp(flow), flow_shapes(flow), groups, draws),
        check_pattern(fit, "season", year, season_shapes(rows["date"]), groups, draws),
        check_pattern(fit, "time", day, time_shapes(rows["date"]), groups, draws),
        check_autocorrelation(draws, rows["date"], rows["outlet"]),
        check_zeros(fit),
        check_effort(design, draws, effort, why_no_effort),
        check_influence(fit, design.flow_term, rows),
        check_cycle_influence(fit, design.flow_term, rows, groups, clustered),
        check_clusters(len(np.unique(groups)), groups),
        check_flow_range(design, now),
    )


def check_separation(design: CountDesign, why: str | None = None) -> ModelCheck:
    """Whether a term parts zeros from counts; `why` is the reason of a fit that failed because of it.

    Table: outlet, visits, found (visits with an answer above 0).
    """
    found = design.rows["count"] > 0
    table = pd.DataFrame({"outlet": design.rows["outlet"], "found": found})
    table = table.groupby("outlet", sort=False)["found"].agg(["size", "sum"]).reset_index()
    table.columns = pd.Index(["outlet", "visits", "found"])
    failed = why is not None
    return ModelCheck(name="separation", passed=not failed, value=float(failed), limit=0.0, table=table, why=why)


def check_effort(design: CountDesign, draws: np.ndarray, effort: FreedEffort | None, why: str | None) -> ModelCheck:
    """Whether twice the effort goes with twice the count: 1 inside the interval of the freed exponent.

    Table: residuals against effort, as in `residual_checks.check_pattern`.
    """
    table = None
    if design.response.has_effort and design.rows["effort"].nunique() > 1:
        table = pattern_table(design.rows["effort"].to_numpy(np.float64), draws.mean(axis=0))
    if effort is None:
        return ModelCheck(name="effort", passed=None, value=None, limit=1.0, table=table, why=why)
    inside = effort.low <= 1.0 <= effort.high
    return ModelCheck(name="effort", passed=inside, value=effort.exponent, limit=1.0, table=table)


def check_flow_range(design: CountDesign, now: Mapping[str, float]) -> ModelCheck:
    """Whether the present flow lies within the flows of the visits of each outlet.

    `value` counts the outlets where it does not. Table: outlet, low_m3s, high_m3s (mean over the window before the
    visits), now_m3s.
    """
    span = design.rows.groupby("outlet", sort=False)["log_discharge"].agg(["min", "max"])
    present = pd.Series({o: now.get(str(o), np.nan) for o in span.index}, dtype=float)
    outside = (present < span["min"]) | (present > span["max"])
    table = pd.DataFrame(
        {
            "outlet": list(span.index),
            "low_m3s": np.exp(span["min"].to_numpy()),
            "high_m3s": np.exp(span["max"].to_numpy()),
            "now_m3s": np.exp(present.to_numpy()),
        }
    )
    if present.isna().all():
        why = f"the flow over the last {design.window} days is not known"
        return ModelCheck(name="flow range", passed=None, value=None, limit=0.0, table=table, why=why)
    names = ", ".join(str(o) for o in span.index[outside.to_numpy()])
    return ModelCheck(
        name="flow range",
        passed=not outside.any(),
        value=float(outside.sum()),
        limit=0.0,
        about=names or None,
        table=table,
    )
