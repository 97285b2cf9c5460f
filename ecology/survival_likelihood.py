"""The Cormack–Jolly–Seber likelihood with its gradient, over counts of releases.

Cormack 1964 (Biometrika 51:429–438), Jolly 1965 (52:225–247), Seber 1965 (52:249–259). Time between occasions may
differ: survival over an interval is the product of yearly rates, each to the power of the years spent under it, and the
chance of being met is that of one unit of looking, compounded over the units of the occasion.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import expit, log_expit

from ecology.release_counts import ReleaseCounts

_TINY = 1e-300


@dataclass(frozen=True, eq=False, kw_only=True)
class SurvivalModel:
    """Which rates hold where.

    years         (rates, outlets, intervals): years spent under each survival rate during an interval
    looks         (outlets, occasions): units of looking, 1 where the chance is one an occasion
    look_class    (outlets, occasions): which recapture rate holds; -1 = the chance is fixed at 0
    survival_names, recapture_names   what each rate is
    """

    name: str
    years: np.ndarray
    looks: np.ndarray
    look_class: np.ndarray
    survival_names: tuple[str, ...]
    recapture_names: tuple[str, ...]

    @property
    def n_survival(self) -> int:
        return len(self.survival_names)

    @property
    def names(self) -> tuple[str, ...]:
        return self.survival_names + self.recapture_names


def log_likelihood(counts: ReleaseCounts, model: SurvivalModel, theta: np.ndarray) -> tuple[float, np.ndarray]:
    """ln L (without the constant of the numbers released) and its gradient.

    `theta` holds the logits of the yearly survival rates, then of the recapture rates.
    """
    c = model.n_survival
    rate = expit(theta[:c])
    log_phi = np.tensordot(log_expit(theta[:c]), model.years, axes=(0, 0))
    phi = np.exp(log_phi)
    fixed = model.look_class < 0
    at = np.where(fixed, 0, model.look_class)
    looks = np.where(fixed, 0.0, model.looks)
    p = expit(theta[c:])[at]
    log_q = looks * log_expit(-theta[c:])[at]
    q = np.exp(log_q)
    seen = -np.expm1(log_q)

    lost_chance, beyond = _never_again(phi, q)
    log_lost = np.log(np.maximum(lost_chance, _TINY))
    log_seen = np.log(np.maximum(seen, _TINY))
    value = float(
        (counts.lived * log_phi).sum()
        + (counts.met * log_seen).sum()
        + (counts.missed * log_q).sum()
        + (counts.lost * log_lost).sum()
    )
    d_phi, d_q = _back(counts.lost, lost_chance, beyond, phi, q)
    # d ln φ = years · (1 - s) dθ  and  d ln q = -looks · p dθ
    by_log_phi = counts.lived + d_phi * phi
    gradient_phi = (1.0 - rate) * np.tensordot(model.years, by_log_phi, axes=([1, 2], [0, 1]))
    by_log_q = counts.missed - counts.met * q / np.maximum(seen, _TINY) + d_q * q
    by_theta = np.where(fixed, 0.0, by_log_q * -looks * p)
    gradient_p = np.bincount(at.ravel(), by_theta.ravel(), minlength=len(theta) - c)
    return value, np.concatenate((gradient_phi, gradient_p))


def _never_again(phi: np.ndarray, q: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """χ: the chance of never being met after each occasion; and q·χ of the next occasion, both (O, T)."""
    add, times = np.ones_like(q), np.zeros_like(q)
    add[:, :-1], times[:, :-1] = 1.0 - phi, phi * q[:, 1:]
    chi = _from_the_next(add, times)
    beyond = np.ones_like(q)
    beyond[:, :-1] = q[:, 1:] * chi[:, 1:]
    return chi, beyond


def _back(
    lost: np.ndarray, chi: np.ndarray, beyond: np.ndarray, phi: np.ndarray, q: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Derivatives of Σ lost · ln χ by φ (O, T - 1) and by q (O, T): the recursion run the other way."""
    own = (lost / np.maximum(chi, _TINY))[:, :-1]
    times = np.zeros_like(own)
    times[:, 1:] = phi[:, :-1] * q[:, 1:-1]
    reach = _from_the_next(own[:, ::-1], times[:, ::-1])[:, ::-1]
    d_q = np.zeros_like(q)
    d_q[:, 1:] = reach * phi * chi[:, 1:]
    return reach * (beyond[:, :-1] - 1.0), d_q


def _from_the_next(add: np.ndarray, times: np.ndarray) -> np.ndarray:
    """y with y[t] = add[t] + times[t] · y[t + 1] along the last axis; `times` of the last is 0.

    Steps are joined two by two, then four by four: few operations on whole rows in place of one step for each t. All
    terms are 0 or more, so that nothing cancels.
    """
    add, times = add.copy(), times.copy()
    reach, n = 1, add.shape[-1]
    while reach < n:
        add[..., :-reach] += times[..., :-reach] * add[..., reach:]
        times[..., :-reach] *= times[..., reach:]
        reach *= 2
    return add
