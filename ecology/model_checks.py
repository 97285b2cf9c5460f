"""Named checks of a fit: passed, failed, or not applicable, each with the number and the table that it rests on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from ecology.cluster_errors import FEW_CLUSTERS
from ecology.count_fit import CountFit
from ecology.count_residuals import negative_binomial_log_pmf
from ecology.share_model import ShareFit

Fit = CountFit | ShareFit

#: Pearson chi² per degree of freedom above which counts scatter more than the model lets them: common practice.
MOST_DISPERSION = 1.5
#: A term that shares more than this of its variance with the others cannot be told from them well (a variance
#: inflation of 10: common practice).
MOST_SHARED = 0.9
#: How many standard deviations the number of zeros may lie from the expected one.
ZEROS_WITHIN = 2.0
#: Counts shown one by one beside their expected frequency; larger ones together.
_LARGEST_SHOWN = 20


@dataclass(frozen=True, eq=False, kw_only=True)
class ModelCheck:
    """One check.

    passed  None where it does not apply
    value   the number judged against `limit`
    about   the term, visit or outlet it names
    table   what its picture shows (columns by check: see the function that makes it)
    why     why it does not apply, or what failed, where a number alone does not say it
    """

    name: str
    passed: bool | None
    value: float | None
    limit: float
    about: str | None = None
    table: pd.DataFrame | None = None
    why: str | None = None


def check_counts(fit: CountFit, n_clusters: int) -> tuple[ModelCheck, ...]:
    """Dispersion, zeros, collinearity and number of clusters of a fit."""
    return (check_dispersion(fit), check_zeros(fit), check_collinearity(fit), check_clusters(n_clusters))


def check_dispersion(fit: Fit) -> ModelCheck:
    """Pearson chi² per degree of freedom; 1 where the variance is as the model has it.

    Table: visits in ten groups by fitted mean: mean, variance (mean squared residual), model (the variance allowed).
    """
    freedom = fit.n - len(fit.terms) - (1 if fit.model == "negative-binomial" else 0)
    if freedom < 1:
        return ModelCheck(name="dispersion", passed=None, value=None, limit=MOST_DISPERSION)
    if isinstance(fit, ShareFit):
        if np.all(fit.trials == 1):
            why = "answers of yes or no can only scatter as they do"
            return ModelCheck(name="dispersion", passed=None, value=None, limit=MOST_DISPERSION, why=why)
        allowed = fit.mean * (1.0 - fit.probability)
    else:
        allowed = fit.mean + fit.dispersion * fit.mean**2
    value = fit.pearson_chi2 / freedom
    groups = np.array_split(np.argsort(fit.mean, kind="stable"), min(10, fit.n))
    table = pd.DataFrame(
        [(fit.mean[g].mean(), ((fit.count[g] - fit.mean[g]) ** 2).mean(), allowed[g].mean(), len(g)) for g in groups],
        columns=["mean", "variance", "model", "visits"],
    )
    return ModelCheck(
        name="dispersion", passed=bool(value <= MOST_DISPERSION), value=value, limit=MOST_DISPERSION, table=table
    )


def check_zeros(fit: Fit) -> ModelCheck:
    """Zeros observed against expected, in standard deviations of their number under the fitted model.

    Table: count, observed and expected number of visits with that count; the last row is all larger counts.
    """
    if isinstance(fit, ShareFit):
        why = "a share has no zeros to expect"
        return ModelCheck(name="zeros", passed=None, value=None, limit=ZEROS_WITHIN, why=why)
    alpha = fit.dispersion
    chance = np.exp(negative_binomial_log_pmf(np.zeros(fit.n), fit.mean, alpha))
    spread = float(np.sqrt((chance * (1 - chance)).sum()))
    top = int(min(_LARGEST_SHOWN, fit.count.max()))
    expected = [
        float(np.exp(negative_binomial_log_pmf(np.full(fit.n, float(k)), fit.mean, alpha)).sum())
        for k in range(top + 1)
    ]
    observed = [int((fit.count == k).sum()) for k in range(top + 1)]
    table = pd.DataFrame(
        {
            "count": [*range(top + 1), top + 1],
            "observed": [*observed, fit.n - sum(observed)],
            "expected": [*expected, fit.n - sum(expected)],
        }
    )
    if spread < 1e-9:
        return ModelCheck(name="zeros", passed=None, value=None, limit=ZEROS_WITHIN, table=table)
    value = float(((fit.count == 0).sum() - chance.sum()) / spread)
    return ModelCheck(name="zeros", passed=abs(value) <= ZEROS_WITHIN, value=value, limit=ZEROS_WITHIN, table=table)


def check_collinearity(fit: Fit, *, leave_out: tuple[str, ...] = ()) -> ModelCheck:
    """The largest share of a term's variance that the other terms explain.

    leave_out  terms that are products of others and share with them by construction

    Table: term, shared.
    """
    judged = [j for j, t in enumerate(fit.terms) if t not in leave_out]
    rows = []
    for j in judged:
        column = fit.design[:, j]
        total = float(((column - column.mean()) ** 2).sum())
        if total < 1e-12 or len(judged) < 3:
            continue
        others = fit.design[:, [i for i in judged if i != j]]
        # Normal equations: the design has passed the test of independence, so that they are safe.
        residual = column - others @ np.linalg.solve(others.T @ others, others.T @ column)
        rows.append((fit.terms[j], 1.0 - float(np.einsum("i,i->", residual, residual)) / total))
    if not rows:
        return ModelCheck(name="collinearity", passed=None, value=None, limit=MOST_SHARED)
    about, worst = max(rows, key=lambda r: r[1])
    table = pd.DataFrame(rows, columns=["term", "shared"])
    return ModelCheck(
        name="collinearity", passed=worst <= MOST_SHARED, value=worst, limit=MOST_SHARED, about=about, table=table
    )


def check_clusters(n_clusters: int, groups: np.ndarray | None = None) -> ModelCheck:
    """Cluster-robust errors are too small where clusters are few. Table: cluster, visits."""
    enough = n_clusters >= FEW_CLUSTERS
    table = None
    if groups is not None:
        labels, sizes = np.unique(groups, return_counts=True)
        table = pd.DataFrame({"cluster": labels, "visits": sizes})
    return ModelCheck(name="clusters", passed=enough, value=float(n_clusters), limit=float(FEW_CLUSTERS), table=table)
