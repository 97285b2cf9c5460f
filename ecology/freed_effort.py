"""Whether counts grow in proportion to effort: the same fit with the exponent of effort free instead of 1."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.cluster_errors import robust_errors, t_quantile
from ecology.count_design import CountDesign
from ecology.count_model import Family, fit_counts
from ecology.model_checks import Fit
from ecology.not_estimable import NotEstimable
from ecology.share_model import ShareFit, fit_shares

_TERM = "log_effort"


@dataclass(frozen=True, kw_only=True)
class FreedEffort:
    """The exponent of effort with its interval, and p against 1 (by flow cycle where there are several)."""

    exponent: float
    low: float
    high: float
    p: float
    by_cluster: bool


def free_effort(fit: Fit, design: CountDesign, groups: np.ndarray, level: float) -> FreedEffort:
    """Fit again with ln effort as a term. Raises NotEstimable where effort does not vary or plays no part."""
    if not design.response.has_effort:
        raise NotEstimable("A share does not depend on effort.")
    logs = np.log(design.rows["effort"].to_numpy(np.float64))
    if np.ptp(logs) < 1e-9:
        raise NotEstimable("The effort was the same on all visits.")
    matrix, terms = np.column_stack((design.matrix, logs)), (*design.terms, _TERM)
    found: Fit
    if isinstance(fit, ShareFit):
        found = fit_shares(fit.count, fit.trials, matrix, terms=terms, link=fit.link, offset=design.offset, level=level)
    else:
        family: Family = "negative-binomial" if fit.model == "negative-binomial" else "poisson"
        found = fit_counts(fit.count, matrix, terms=terms, offset=design.offset, family=family, level=level)
    above_one = float(found.estimate[-1])
    try:
        robust = robust_errors(found, kind="CL1", groups=groups)
        error, freedom, by_cluster = float(robust.standard_error[-1]), float(robust.degrees_of_freedom), True
        p = float(robust.p_values(found.estimate)[-1])
    except NotEstimable:
        from statistics import NormalDist

        error, freedom, by_cluster = float(found.standard_error[-1]), float("inf"), False
        p = 2.0 * NormalDist().cdf(-abs(above_one / error))
    reach = t_quantile(freedom, 0.5 * (1.0 + level)) * error
    return FreedEffort(
        exponent=1.0 + above_one, low=1.0 + above_one - reach, high=1.0 + above_one + reach, p=p, by_cluster=by_cluster
    )
