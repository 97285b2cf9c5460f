"""Shares and yes/no answers as a binomial model with the same covariates as the counts.

A share (of animals with eggs, of juveniles) has a logit link. “Any found” has a complementary log-log link with ln
effort as offset: then the chance of finding none is exp(−expected count), and a coefficient means what it means for
counts.
Animals of one visit are not independent of each other: use the errors by cluster.

Source: McCullagh and Nelder 1989, Generalized Linear Models, chapter 4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import ndtri, xlogy

from ecology.count_separation import independent_columns, names_of
from ecology.model_fit import NOT_CONVERGED, ModelFit
from ecology.newton_ascent import climb
from ecology.not_estimable import SeparatedError
from ecology.share_likelihood import Link, derivatives, log_choose, log_likelihood, probability, share_tails

#: Chances as near 0 or 1 as this leaves them (6 in a million) may be on their way to infinity.
_MODERATE_ETA = 12.0


@dataclass(frozen=True, eq=False, kw_only=True)
class ShareFit(ModelFit):
    """A fitted binomial model.

    mean   expected successes; `probability` is their share of `trials`
    alpha  NaN: a binomial model has no such parameter
    """

    model: Literal["binomial"]
    link: Link
    probability: np.ndarray
    trials: np.ndarray
    alpha: float = float("nan")

    def probability_at(self, eta: np.ndarray) -> np.ndarray:
        """The chance at a linear predictor."""
        return probability(self.link, eta)

    @property
    def eta_score(self) -> np.ndarray:
        """Each row's derivative of the log likelihood by its linear predictor."""
        return derivatives(self.link, self.count, self.trials, self.offset + self.design @ self.estimate)[0]

    @property
    def eta_weight(self) -> np.ndarray:
        """Minus each row's second derivative by its linear predictor."""
        return derivatives(self.link, self.count, self.trials, self.offset + self.design @ self.estimate)[1]

    @property
    def score_rows(self) -> np.ndarray:
        """Each row's derivative of the log likelihood, one column a coefficient."""
        return self.eta_score[:, None] * self.design

    def quantile_residuals_at(self, u: np.ndarray) -> np.ndarray:
        """Randomised quantile residuals, standard normal if the model is right and `u` uniform on (0, 1)."""
        below, at_least = share_tails(self.count, self.trials, self.probability)
        below_next, above = share_tails(self.count + 1.0, self.trials, self.probability)
        tiny = np.finfo(float).tiny
        lower = ndtri(np.maximum(below + u * (below_next - below), tiny))
        upper = -ndtri(np.maximum(above + (1.0 - u) * (at_least - above), tiny))
        return np.where(below < 0.5, lower, upper)


def fit_shares(
    successes: np.ndarray,
    trials: np.ndarray,
    design: np.ndarray,
    *,
    terms: Sequence[str],
    link: Link = "logit",
    offset: np.ndarray | None = None,
    level: float = 0.95,
) -> ShareFit:
    """Maximum likelihood fit of successes ~ Binomial(trials, link⁻¹(offset + design · coefficients)).

    successes  whole numbers from 0 to `trials`
    trials     whole numbers ≥ 1

    Raises ValueError for arrays that do not fit together, NotEstimable where no finite estimate exists.
    """
    y, n, X = (np.array(v, dtype=float) for v in (successes, trials, design))
    off = np.zeros(y.shape) if offset is None else np.array(offset, dtype=float)
    names = tuple(terms)
    if y.ndim != 1 or n.shape != y.shape or X.shape != (y.size, len(names)) or off.shape != y.shape:
        raise ValueError("successes, trials, design, terms and offset do not fit together")
    if not all(np.all(np.isfinite(v)) for v in (y, n, X, off)):
        raise ValueError("missing or infinite values: leave such rows out first")
    if np.any((y < 0) | (y > n) | (n < 1) | (y != np.floor(y)) | (n != np.floor(n))):
        raise ValueError("successes are whole numbers from 0 to the trials, trials whole numbers from 1")
    if not np.any(y > 0) or not np.any(y < n):
        every = "No" if not np.any(y > 0) else "Every"
        raise SeparatedError(f"{every} answer is yes: there is no finite chance to estimate.")
    basis, back = independent_columns(X, names)
    gamma, steps, converged = _maximum(link, y, n, basis, off)
    # Where the maximum was reached at moderate chances it exists; a runaway one is asked about in earnest.
    moderate = converged and float(np.abs(off + basis @ gamma).max()) < _MODERATE_ETA
    direction = None if moderate else _separating(y, n, basis)
    if direction is not None:
        involved = names_of(X, back @ direction, names)
        several = "s" if "”, “" in involved else ""
        raise SeparatedError(
            f"The term{several} {involved} can part the rows into those that are all yes and those that are all "
            "no: the estimate runs off to infinity. Leave the term out and report these rows as they are."
        )
    eta = off + basis @ gamma
    _, weight = derivatives(link, y, n, eta)
    covariance = back @ np.linalg.inv(basis.T @ (weight[:, None] * basis)) @ back.T
    covariance = 0.5 * (covariance + covariance.T)
    p = probability(link, eta)
    choose = log_choose(n, y)
    value = log_likelihood(link, y, n, eta) + float(choose.sum())
    variance = n * p * (1.0 - p)
    # A chance of 0 or 1 to every digit that came true leaves nothing over.
    apart = np.divide((y - n * p) ** 2, variance, out=np.zeros_like(y), where=(variance > 0.0) | (y != n * p))
    with np.errstate(divide="ignore", invalid="ignore"):
        saturated = float((xlogy(y, y / n) + xlogy(n - y, (n - y) / n) + choose).sum())
    return ShareFit(
        model="binomial",
        link=link,
        terms=names,
        estimate=back @ gamma,
        covariance=covariance,
        joint_covariance=covariance,
        n=y.size,
        log_likelihood=value,
        aic=2.0 * len(names) - 2.0 * value,
        probability=p,
        mean=n * p,
        deviance=2.0 * (saturated - value),
        pearson_chi2=float(apart.sum()),
        level=level,
        notes=() if converged else (NOT_CONVERGED,),
        iterations=steps,
        converged=converged,
        count=y,
        trials=n,
        design=X,
        offset=off,
    )


def _maximum(
    link: Link, y: np.ndarray, n: np.ndarray, X: np.ndarray, offset: np.ndarray
) -> tuple[np.ndarray, int, bool]:
    """Newton's method with step halving; both log likelihoods are concave."""
    share = (y + 0.5) / (n + 1.0)
    first = np.log(share / (1.0 - share)) if link == "logit" else np.log(-np.log1p(-share))

    def look(at: np.ndarray) -> tuple[float, np.ndarray]:
        eta = offset + X @ at
        return log_likelihood(link, y, n, eta), eta

    def step(_: np.ndarray, eta: np.ndarray) -> tuple[np.ndarray, float]:
        by_eta, weight = derivatives(link, y, n, eta)
        score = X.T @ by_eta
        change = np.linalg.solve(X.T @ (weight[:, None] * X), score)
        return change, float(score @ change)

    found, _, steps, converged = climb(np.linalg.lstsq(X, first - offset, rcond=None)[0], look, step)
    return found, steps, converged


def _separating(y: np.ndarray, n: np.ndarray, basis: np.ndarray) -> np.ndarray | None:
    """A direction that raises no all-no row, lowers no all-yes row and moves no mixed one; or None.

    Source: Albert and Anderson 1984, Biometrika 71:1–10.
    """
    from scipy.optimize import linprog

    sign = np.where(y == n, -1.0, 1.0)
    mixed = (y > 0) & (y < n)
    moved = sign[:, None] * basis
    moved[np.abs(moved) < 1e-12] = 0.0
    answer = linprog(
        moved[~mixed].sum(axis=0),
        A_ub=moved[~mixed],
        b_ub=np.zeros(int((~mixed).sum())),
        A_eq=basis[mixed] if mixed.any() else None,
        b_eq=np.zeros(int(mixed.sum())) if mixed.any() else None,
        bounds=(-1.0, 1.0),
    )
    return answer.x if answer.success and answer.fun < -1e-7 else None
