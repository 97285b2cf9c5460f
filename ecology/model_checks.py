"""Named checks of a count fit: passed, failed, or not applicable, each with the number it rests on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ecology.cluster_errors import FEW_CLUSTERS
from ecology.count_model import CountFit
from ecology.count_residuals import negative_binomial_log_pmf

#: Pearson chi² per degree of freedom above which counts scatter more than the model lets them.
MOST_DISPERSION = 1.5
#: A term that shares more than this of its variance with the others cannot be told from them well.
MOST_SHARED = 0.9
#: How many standard deviations the number of zeros may lie from the expected one.
ZEROS_WITHIN = 2.0


@dataclass(frozen=True, kw_only=True)
class ModelCheck:
    """One check. `passed` is None where it does not apply; `value` is the number judged; `about` the term it names."""

    name: str
    passed: bool | None
    value: float | None
    limit: float
    about: str | None = None


def check_counts(fit: CountFit, n_clusters: int) -> tuple[ModelCheck, ...]:
    """Dispersion, zeros, collinearity and number of clusters of a fit."""
    return (_dispersion(fit), _zeros(fit), _collinearity(fit), _clusters(n_clusters))


def _dispersion(fit: CountFit) -> ModelCheck:
    """Pearson chi² per degree of freedom; 1 where the variance is as the model has it."""
    freedom = fit.n - len(fit.terms) - (1 if fit.model == "negative-binomial" else 0)
    if freedom < 1:
        return ModelCheck(name="dispersion", passed=None, value=None, limit=MOST_DISPERSION)
    value = fit.pearson_chi2 / freedom
    return ModelCheck(name="dispersion", passed=bool(value <= MOST_DISPERSION), value=value, limit=MOST_DISPERSION)


def _zeros(fit: CountFit) -> ModelCheck:
    """Zeros observed against expected, in standard deviations of their number under the fitted model."""
    alpha = 0.0 if np.isnan(fit.alpha) else fit.alpha
    chance = np.exp(negative_binomial_log_pmf(np.zeros(fit.n), fit.mean, alpha))
    spread = float(np.sqrt((chance * (1 - chance)).sum()))
    if spread < 1e-9:
        return ModelCheck(name="zeros", passed=None, value=None, limit=ZEROS_WITHIN)
    value = float(((fit.count == 0).sum() - chance.sum()) / spread)
    return ModelCheck(name="zeros", passed=abs(value) <= ZEROS_WITHIN, value=value, limit=ZEROS_WITHIN)


def _collinearity(fit: CountFit) -> ModelCheck:
    """The largest share of a term's variance that the other terms explain."""
    worst, about = 0.0, None
    for j, term in enumerate(fit.terms):
        column = fit.design[:, j]
        total = float(((column - column.mean()) ** 2).sum())
        if total < 1e-12 or len(fit.terms) < 3:
            continue
        others = np.delete(fit.design, j, axis=1)
        residual = column - others @ np.linalg.lstsq(others, column, rcond=None)[0]
        shared = 1.0 - float(residual @ residual) / total
        if shared > worst:
            worst, about = shared, term
    if about is None:
        return ModelCheck(name="collinearity", passed=None, value=None, limit=MOST_SHARED)
    return ModelCheck(name="collinearity", passed=worst <= MOST_SHARED, value=worst, limit=MOST_SHARED, about=about)


def _clusters(n_clusters: int) -> ModelCheck:
    """Cluster-robust errors are too small where clusters are few."""
    enough = n_clusters >= FEW_CLUSTERS
    return ModelCheck(name="clusters", passed=enough, value=float(n_clusters), limit=float(FEW_CLUSTERS))
