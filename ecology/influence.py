"""Which visits, and which flow cycles, move the effect of flow: one-step changes when they are left out.

Source: Belsley, Kuh and Welsch 1980, Regression Diagnostics (changes in units of the standard error; 2/√n to list).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from ecology.cluster_errors import RobustErrors
from ecology.model_checks import Fit, ModelCheck

#: A single visit or cycle that moves the effect of flow by more standard errors than this carries the answer.
MOST_MOVED = 1.0


def check_influence(fit: Fit, flow_term: str, rows: pd.DataFrame) -> ModelCheck:
    """The visit that moves the coefficient of flow most, in standard errors (observed information).

    Table: row, date, outlet, count, expected, moved, for every visit beyond 2/√n, largest first (ten at least).
    """
    moved = _moved(fit, flow_term, fit.score_rows) / fit.standard_error[fit.terms.index(flow_term)]
    listed = max(10, int((np.abs(moved) > 2.0 / np.sqrt(fit.n)).sum()))
    order = np.lexsort((rows["row"].to_numpy(), -np.abs(moved)))[:listed]
    table = rows.iloc[order][["row", "date", "outlet", "count"]].assign(expected=fit.mean[order], moved=moved[order])
    value = float(moved[order[0]])
    return ModelCheck(
        name="influence",
        passed=abs(value) <= MOST_MOVED,
        value=value,
        limit=MOST_MOVED,
        about=f"{rows['date'].iloc[order[0]]:%Y-%m-%d} at {rows['outlet'].iloc[order[0]]}",
        table=table.reset_index(drop=True),
    )


def check_cycle_influence(
    fit: Fit, flow_term: str, rows: pd.DataFrame, groups: np.ndarray, clustered: RobustErrors | None
) -> ModelCheck:
    """The flow cycle that moves the coefficient of flow most, in cluster-robust standard errors.

    Table: cluster, first, last, visits, moved.
    """
    if clustered is None:
        why = "there are no groups to leave out"
        return ModelCheck(name="one group", passed=None, value=None, limit=MOST_MOVED, why=why)
    labels, member = np.unique(groups, return_inverse=True)
    score = np.column_stack([np.bincount(member, c, len(labels)) for c in fit.score_rows.T])
    moved = _moved(fit, flow_term, score) / clustered.standard_error[fit.terms.index(flow_term)]
    span = rows["date"].groupby(member).agg(["min", "max", "size"])
    table = pd.DataFrame(
        {"cluster": labels, "first": span["min"].to_numpy(), "last": span["max"].to_numpy(),
         "visits": span["size"].to_numpy(), "moved": moved}
    )  # fmt: skip
    worst = int(np.abs(moved).argmax())
    first, last = table.loc[worst, "first"], table.loc[worst, "last"]
    return ModelCheck(
        name="one group",
        passed=abs(float(moved[worst])) <= MOST_MOVED,
        value=float(moved[worst]),
        limit=MOST_MOVED,
        about=f"{first:%Y-%m-%d} to {last:%Y-%m-%d}",
        table=table,
    )


def _moved(fit: Fit, flow_term: str, score: np.ndarray) -> np.ndarray:
    """Change of the flow coefficient when each row of scores is left out, by one Newton step."""
    return -(score @ fit.joint_covariance[:, fit.terms.index(flow_term)])
