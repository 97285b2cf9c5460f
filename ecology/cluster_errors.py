"""Robust (sandwich) standard errors of a count fit, by row or by cluster of rows.

The bread is the inverse of the observed information of all parameters together, (coefficients, α) for a negative
binomial fit; the meat is the sum of outer products of score contributions, summed within clusters first. Other
programs that hold α fixed, or use the expected information, differ in the second or third digit.

Sources: White 1980, Econometrica 48:817–838; Liang and Zeger 1986, Biometrika 73:13–22; Cameron and Miller 2015,
Journal of Human Resources 50:317–372 (small numbers of clusters, t with G − 1 degrees of freedom).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtr, stdtrit

from ecology.count_fit import CountFit
from ecology.not_estimable import NotEstimable
from ecology.share_model import ShareFit

Kind = Literal["HC0", "HC1", "CL0", "CL1"]

FEW_CLUSTERS = 20  # below this cluster-robust errors tend to be too small: Cameron and Miller 2015 speak of 20 to 50


@dataclass(frozen=True, eq=False, kw_only=True)
class RobustErrors:
    """Robust errors of the coefficients of a fit.

    kind                HC0, HC1 (rows) or CL0, CL1 (clusters); the 1 stands for the small-sample factor
    covariance          of the coefficients
    joint_covariance    of (coefficients, α) for a negative binomial fit, else equal to `covariance`
    standard_error      square roots of the diagonal of `covariance`
    n_clusters          clusters, or rows for HC0 and HC1
    degrees_of_freedom  of the t distribution used: clusters − 1; rows − parameters for HC0 and HC1
    notes               sentences, such as that there are few clusters
    """

    kind: Kind
    covariance: np.ndarray
    joint_covariance: np.ndarray
    standard_error: np.ndarray
    n_clusters: int
    degrees_of_freedom: int
    notes: tuple[str, ...]

    def intervals(self, estimate: np.ndarray, level: float = 0.95) -> tuple[np.ndarray, np.ndarray]:
        """(low, high) around the coefficients with the t quantile of `degrees_of_freedom`."""
        reach = t_quantile(self.degrees_of_freedom, 0.5 * (1.0 + level)) * self.standard_error
        return estimate - reach, estimate + reach

    def p_values(self, estimate: np.ndarray) -> np.ndarray:
        """Two-sided p of each coefficient against 0, from the t distribution with `degrees_of_freedom`."""
        return 2.0 * stdtr(self.degrees_of_freedom, -np.abs(estimate) / self.standard_error)


def robust_errors(fit: CountFit | ShareFit, *, kind: Kind, groups: np.ndarray | None = None) -> RobustErrors:
    """Sandwich errors of a fit.

    kind    HC0  rows independent, no factor            HC1  times n/(n − k)
            CL0  clusters independent, no factor        CL1  times G/(G − 1) · (n − 1)/(n − k)
            k counts all parameters in the bread, α included
    groups  the cluster of every row (any labels without missing values), for CL0 and CL1 only

    Raises ValueError where groups and kind do not go together, NotEstimable with fewer than two clusters or no rows
    to spare.
    """
    if (groups is None) != kind.startswith("HC"):
        raise ValueError(f"{kind} {'takes no' if kind.startswith('HC') else 'needs'} groups")
    score = fit.score_rows
    n, k = score.shape
    notes: list[str] = []
    if groups is None:
        clusters, freedom = n, n - k
        if freedom < 1:
            raise NotEstimable(f"{n} rows leave none to judge {k} parameters by.")
        factor = n / freedom if kind == "HC1" else 1.0
    else:
        if np.shape(groups) != (n,):
            raise ValueError(f"{np.size(groups)} groups for {n} rows")
        member = np.unique(np.asarray(groups), return_inverse=True)[1]
        clusters = int(member.max()) + 1
        freedom = clusters - 1
        if freedom < 1:
            raise NotEstimable("All rows belong to one cluster: nothing shows how clusters differ.")
        if clusters < FEW_CLUSTERS:
            notes.append(f"Only {clusters} clusters: robust errors tend to be too small below about {FEW_CLUSTERS}.")
        if clusters <= k:
            notes.append(f"{clusters} clusters for {k} parameters: the joint covariance has not its full rank.")
        score = np.column_stack([np.bincount(member, column, clusters) for column in score.T])
        factor = 1.0
        if kind == "CL1":
            if n <= k:
                raise NotEstimable(f"{n} rows leave none to judge {k} parameters by.")
            factor = clusters / freedom * (n - 1) / (n - k)
    half = score @ fit.joint_covariance
    joint = factor * (half.T @ half)
    terms = len(fit.terms)
    covariance = joint[:terms, :terms].copy()
    return RobustErrors(
        kind=kind,
        covariance=covariance,
        joint_covariance=joint,
        standard_error=np.sqrt(np.diag(covariance)),
        n_clusters=clusters,
        degrees_of_freedom=freedom,
        notes=tuple(notes),
    )


def t_quantile(df: float, p: float) -> float:
    """The value below which a t variable with `df` degrees of freedom lies with probability p."""
    return float(stdtrit(df, p))
