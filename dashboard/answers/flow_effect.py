"""What a doubling of flow goes with, over all outlets and at each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.cluster_errors import RobustErrors, t_quantile
from ecology.count_design import CountDesign
from ecology.model_checks import Fit


@dataclass(frozen=True, kw_only=True)
class FlowEffect:
    """Factor per doubling of flow with its interval (by flow cycle where there are several); outlet None = overall."""

    outlet: str | None
    value: float
    low: float
    high: float


def flow_effects(
    fit: Fit, design: CountDesign, clustered: RobustErrors | None, level: float
) -> tuple[FlowEffect, tuple[FlowEffect, ...]]:
    """(over all outlets, at each outlet); without interactions the second is empty.

    The overall effect is the mean of the outlets' slopes, each weighted by its visits.
    """
    covariance = fit.covariance if clustered is None else clustered.covariance
    freedom = np.inf if clustered is None else clustered.degrees_of_freedom
    reach = t_quantile(freedom, 0.5 * (1.0 + level))

    def effect(outlet: str | None, weights: np.ndarray) -> FlowEffect:
        slope = float(weights @ fit.estimate)
        apart = reach * float(np.sqrt(weights @ covariance @ weights))
        value, low, high = (float(np.exp2(v)) for v in (slope, slope - apart, slope + apart))
        return FlowEffect(outlet=outlet, value=value, low=low, high=high)

    at = {t: j for j, t in enumerate(design.terms)}
    overall = np.zeros(len(design.terms))
    overall[at[design.flow_term]] = 1.0
    share = design.rows["outlet"].value_counts(normalize=True)
    each = []
    for outlet in design.rows["outlet"].drop_duplicates() if design.interactions else ():
        term = f"{design.flow_term}:outlet[{outlet}]"
        here = np.zeros(len(design.terms))
        here[at[design.flow_term]] = 1.0
        if term in at:
            here[at[term]] = 1.0
            overall[at[term]] = float(share[outlet])
        each.append(effect(str(outlet), here))
    return effect(None, overall), tuple(each)


def slopes_differ(fit: Fit, design: CountDesign, clustered: RobustErrors | None) -> float | None:
    """p of the outlets sharing one effect of flow (Wald, F with the clusters' freedom); None without interactions.

    None too where the flow cycles are fewer than the slopes to compare.
    """
    from scipy.special import chdtrc, fdtrc

    q = len(design.interactions)
    if q == 0:
        return None
    at = [design.terms.index(t) for t in design.interactions]
    covariance = fit.covariance if clustered is None else clustered.covariance
    part = covariance[np.ix_(at, at)]
    wald = float(fit.estimate[at] @ np.linalg.solve(part, fit.estimate[at]))
    if clustered is None:
        return float(chdtrc(q, wald))
    freedom = clustered.n_clusters - q
    if freedom < 1:
        return None
    # Hotelling's scale: the covariance itself comes from few clusters.
    return float(fdtrc(q, freedom, wald * freedom / (q * (clustered.n_clusters - 1))))
