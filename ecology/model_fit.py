"""What a fit of counts and a fit of shares have in common."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False, kw_only=True)
class ModelFit:
    """A fit by maximum likelihood.

    terms            names of the design's columns
    estimate         coefficients on the scale of the link, one a term
    covariance       of the estimates, from the observed information
    joint_covariance the same with every further parameter (α) as last row and column; equal without one
    n                rows
    log_likelihood   with all constants; `aic` counts every parameter
    mean             fitted means, offset included
    deviance, pearson_chi2   at the fitted dispersion
    level            of the intervals asked for
    notes            sentences about choices made
    iterations       Newton steps
    converged        the last step changed no number beyond rounding
    count, design, offset    what was fitted (copies)
    """

    terms: tuple[str, ...]
    estimate: np.ndarray
    covariance: np.ndarray
    joint_covariance: np.ndarray
    n: int
    log_likelihood: float
    aic: float
    mean: np.ndarray
    deviance: float
    pearson_chi2: float
    level: float
    notes: tuple[str, ...]
    iterations: int
    converged: bool
    count: np.ndarray
    design: np.ndarray
    offset: np.ndarray

    @property
    def standard_error(self) -> np.ndarray:
        """Square roots of the diagonal of `covariance`."""
        return np.sqrt(np.diag(self.covariance))


NOT_CONVERGED = "The fit stopped before its steps became negligible: do not rely on it."
