"""The terms of a count regression as a table, and its fitted curve over flow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from ecology.cluster_errors import RobustErrors, t_quantile
from ecology.model_checks import Fit
from ecology.share_model import ShareFit

if TYPE_CHECKING:
    from dashboard.answers.counts_answer import CountsAnswer

#: Counts are drawn per so many units of effort; with minutes of effort that is an hour.
EFFORT_SHOWN = 60.0


def term_table(fit: Fit, clustered: RobustErrors | None, level: float) -> pd.DataFrame:
    """A row a term: estimate with its errors, intervals and p, from the observed information and by cluster."""
    from statistics import NormalDist

    z = NormalDist().inv_cdf(0.5 * (1 + level))
    error = fit.standard_error
    p = [2 * NormalDist().cdf(-abs(b / s)) for b, s in zip(fit.estimate, error, strict=True)]
    table = pd.DataFrame(
        {
            "term": fit.terms,
            "estimate": fit.estimate,
            "se": error,
            "low": fit.estimate - z * error,
            "high": fit.estimate + z * error,
            "p": p,
        }
    )
    if clustered is None:
        return table.assign(cluster_se=np.nan, cluster_low=np.nan, cluster_high=np.nan, cluster_p=np.nan)
    low, high = clustered.intervals(fit.estimate, level)
    return table.assign(
        cluster_se=clustered.standard_error,
        cluster_low=low,
        cluster_high=high,
        cluster_p=clustered.p_values(fit.estimate),
    )


def expected_over_flow(answer: CountsAnswer, outlet: str, points: int = 60) -> pd.DataFrame:
    """The fitted count for `EFFORT_SHOWN` units of effort (or the fitted share) over the range of flow at an outlet.

    At mean season and covariates, long after a restart, at the first level of a factor. Columns discharge_m3s (the
    geometric mean over the window) and expected, low, high: the interval is of the mean, from the cluster-robust
    covariance where there is one. Empty where nothing was fitted.
    """
    empty = pd.DataFrame(columns=["discharge_m3s", "expected", "low", "high"])
    d, fit = answer.design, answer.fit
    if d is None or fit is None:
        return empty
    rows = d.rows[d.rows["outlet"] == outlet]
    if rows.empty:
        return empty
    x = np.linspace(rows["log_discharge"].min(), rows["log_discharge"].max(), points)
    values: dict[str, np.ndarray | float] = {"intercept": 1.0, **d.references, d.flow_term: x}
    values |= {f"outlet[{outlet}]": 1.0, f"{d.flow_term}:outlet[{outlet}]": x}
    matrix = np.zeros((points, len(d.terms)))
    for j, term in enumerate(d.terms):
        matrix[:, j] = values.get(term, 0.0)
    covariance = fit.covariance if answer.clustered is None else answer.clustered.covariance
    spread = np.sqrt(np.einsum("ij,jk,ik->i", matrix, covariance, matrix))
    freedom = np.inf if answer.clustered is None else answer.clustered.degrees_of_freedom
    reach = t_quantile(freedom, 0.5 * (1 + answer.level)) * spread
    eta = matrix @ fit.estimate + (np.log(EFFORT_SHOWN) if d.response.has_effort else 0.0)
    up = fit.probability_at if isinstance(fit, ShareFit) else np.exp
    return pd.DataFrame(
        {"discharge_m3s": np.exp(x), "expected": up(eta), "low": up(eta - reach), "high": up(eta + reach)}
    )
