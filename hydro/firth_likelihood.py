"""The logistic log likelihood with Firth's penalty, and its maximum by damped Newton steps.

The penalty is half the log determinant of the information (Firth 1993, Biometrika 80:27–38), which is Jeffreys' prior.
Kept apart from the fit because profiles maximise the same function with some directions held fixed.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

MOST_STEPS = 200
_SMALLEST_STEP = 1e-15  # Newton decrement (the expected gain in log likelihood) at which to stop
ROUNDING = 1e-13  # losses of log likelihood this small, relative, are rounding and not a step too far
MOST_HALVINGS = 40
#: A fitted logit this large where plain maximum likelihood is asked for means that it has no maximum.
DIVERGED_LOGIT = 30.0


def probability(logit: Floats) -> Floats:
    return 1.0 / (1.0 + np.exp(-np.clip(logit, -700.0, 700.0)))


def variance(logit: Floats) -> Floats:
    """P (1 - P) without cancellation far out."""
    small = np.exp(-np.minimum(np.abs(logit), 700.0))
    return small / (1.0 + small) ** 2


def pull(X: Floats, logit: Floats, w: Floats) -> Floats:
    """What the penalty adds to each row's residual: its leverage, times (1/2 - P)."""
    spread = w * variance(logit)
    leverage = spread * np.einsum("ij,ij->i", X @ np.linalg.inv(X.T @ (spread[:, None] * X)), X)
    return leverage * (0.5 - probability(logit))


def log_likelihood_at(logit: Floats, y: Floats, w: Floats, X: Floats, penalised: bool) -> float:
    value = float(np.dot(w, y * logit - np.logaddexp(0.0, logit)))
    if not penalised:
        return value
    # Through QR rather than X'VX: rounding grows with the condition number and not with its square, so that x far from
    # 0 costs nothing.
    diagonal = np.abs(np.diag(np.linalg.qr(np.sqrt(w * variance(logit))[:, None] * X, mode="r")))
    return value + float(np.log(diagonal).sum()) if diagonal.min() > 0 else -math.inf


def maximise(
    Z: Floats, offset: Floats, y: Floats, w: Floats, X: Floats, start: Floats, penalised: bool
) -> tuple[Floats, float]:
    """Maximise the (penalised) log likelihood of logit = offset + Z gamma over gamma, by damped Newton steps.

    The penalty is that of the full design X, also where Z leaves some of its directions fixed. An undamped step can
    diverge, so a step that does not gain is halved.
    """
    gamma = np.array(start, np.float64)
    logit = offset + Z @ gamma
    value = log_likelihood_at(logit, y, w, X, penalised)
    for _step in range(MOST_STEPS):
        residual = w * (y - probability(logit))
        if penalised:
            residual = residual + pull(X, logit, w)
        score = Z.T @ residual
        try:
            move = _newton_move(Z, logit, w, X, score, penalised)
        except np.linalg.LinAlgError:
            break
        decrement = float(score @ move) / 2.0
        if decrement < _SMALLEST_STEP:
            break
        for _ in range(MOST_HALVINGS):
            trial = offset + Z @ (gamma + move)
            trial_value = log_likelihood_at(trial, y, w, X, penalised)
            if trial_value >= value - ROUNDING * (1.0 + abs(value)):
                break
            move = move / 2.0
        else:
            break
        gamma, logit, value = gamma + move, trial, trial_value
        if not penalised and np.abs(logit)[w > 0].max() > 2 * DIVERGED_LOGIT:
            break
    return gamma, value


def _newton_move(Z: Floats, logit: Floats, w: Floats, X: Floats, score: Floats, penalised: bool) -> Floats:
    """Newton's step with the curvature of the penalty; without it where the two together are not concave.

    Leaving the penalty's curvature out (Fisher scoring) overshoots by turns where the outcomes are separated.
    """
    spread = w * variance(logit)
    expected = Z.T @ (spread[:, None] * Z)
    if not penalised:
        return np.asarray(np.linalg.solve(expected, score), np.float64)
    inverse = np.linalg.inv(X.T @ (spread[:, None] * X))
    # d spread / d logit = spread (1 - 2 P); d2 spread / d logit2 = spread (1 - 6 P (1 - P))
    slope, bend = spread * (1.0 - 2.0 * probability(logit)), spread * (1.0 - 6.0 * variance(logit))
    leverage = np.einsum("ij,ij->i", X @ inverse, X)
    turned = np.array([inverse @ (X.T @ ((slope * column)[:, None] * X)) for column in Z.T])
    penalty = 0.5 * Z.T @ ((leverage * bend)[:, None] * Z) - 0.5 * np.einsum("jab,kba->jk", turned, turned)
    observed = expected - penalty
    if np.linalg.eigvalsh(observed)[0] <= 1e-8 * np.linalg.eigvalsh(expected)[0]:
        observed = expected
    return np.asarray(np.linalg.solve(observed, score), np.float64)
