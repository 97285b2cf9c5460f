"""Chance of being dry some days ahead, by logistic regression on the situation of the day.

Ridge-penalised maximum likelihood by Newton's method (iteratively reweighted least squares), all leads and all
left-out years at once: they share the rows, so that one matrix product serves them all.
"""

from __future__ import annotations

import numpy as np

from hydro.outlook_record import OutlookRecord
from hydro.state_runs import DRY, UNKNOWN, Bools, Floats, Ints

#: Every so many days of the record one row: neighbouring days say nearly the same [days].
ROW_STEP = 5
#: Weight of the penalty on coefficients of standardised features.
RIDGE = 3.0
#: Fewer rows of either outcome say nothing that climatology does not.
LEAST_ROWS_EACH = 3
_MOST_STEPS = 50
_TOLERANCE = 1e-6


def fit_dry_chance(record: OutlookRecord, leads: Ints, first: Ints, last: Ints) -> Floats:
    """Coefficients of `record.features` for the log odds of being dry, shape (ranges, leads, features).

    Each range of rows `first` to `last` (inclusive; one a fit, or one for all leads) is left out of its own fit, with
    the days whose outcome lies in it. NaN where too few rows of either outcome remain.
    """
    rows = np.arange(0, len(record), ROW_STEP)
    rows = rows[record.usable[rows]]
    n_features = record.features.shape[1]
    coefficients = np.full((len(first), len(leads), n_features), np.nan)
    if len(rows) == 0:
        return coefficients
    ahead = np.concatenate((record.state, np.full(int(leads.max()), UNKNOWN, dtype=np.int8)))
    outcome = ahead[rows[:, None] + leads]
    at, until = rows[:, None, None], (rows[:, None] + leads)[:, None, :]
    first, last = (edge.reshape(len(first), -1) for edge in (first, last))
    used = ((until < first) | (at > last)) & (outcome != UNKNOWN)[:, None, :]
    dry = (outcome == DRY)[:, None, :] & used
    n_dry, n_used = dry.sum(axis=0), used.sum(axis=0)
    enough = np.minimum(n_dry, n_used - n_dry) >= LEAST_ROWS_EACH
    if enough.any():
        coefficients[enough] = _newton(record.features[rows], dry[:, enough], used[:, enough])
    return coefficients


def _newton(x: Floats, dry: Bools, used: Bools) -> Floats:
    """One fit for each column of `used`, shape (fits, features)."""
    n_features = x.shape[1]
    upper = np.triu_indices(n_features)
    products = np.ascontiguousarray((x[:, upper[0]] * x[:, upper[1]]).T)
    weight, target = used.astype(np.float64), dry.astype(np.float64)
    n_used = weight.sum(axis=0)
    mean, square = (x.T @ weight) / n_used, ((x * x).T @ weight) / n_used
    # Penalising by the spread of the rows used is standardising; the intercept is left nearly free.
    penalty = RIDGE * np.maximum(square - mean**2, 1e-6)
    penalty[0] = 1e-3
    beta = np.zeros((n_features, weight.shape[1]))
    share = np.clip(target.sum(axis=0) / n_used, 1e-3, 1 - 1e-3)
    beta[0] = np.log(share / (1 - share))
    hessian = np.empty((weight.shape[1], n_features, n_features))
    diagonal = np.arange(n_features)
    active = np.arange(weight.shape[1])
    for _ in range(_MOST_STEPS):
        w, b = weight[:, active], beta[:, active]
        chance = 1.0 / (1.0 + np.exp(-np.clip(x @ b, -30.0, 30.0)))
        gradient = x.T @ (target[:, active] - chance * w) - penalty[:, active] * b
        half = (products @ (chance * (1.0 - chance) * w)).T
        h = hessian[: len(active)]
        h[:, upper[0], upper[1]] = half
        h[:, upper[1], upper[0]] = half
        h[:, diagonal, diagonal] += penalty[:, active].T
        step = np.linalg.solve(h, gradient.T[:, :, None])[:, :, 0].T
        size = np.abs(step).max(axis=0)
        # A long step can overshoot; no coefficient moves by more than 2 at once.
        beta[:, active] = b + step * np.minimum(1.0, 2.0 / np.maximum(size, 1e-12))
        active = active[size > _TOLERANCE]
        if len(active) == 0:
            break
    return beta.T


def dry_chance(coefficients: Floats, features: Floats) -> Floats:
    """Chance of being dry from coefficients and features along the last axis."""
    log_odds = np.einsum("...f,...f->...", coefficients, features)
    return 1.0 / (1.0 + np.exp(-np.clip(log_odds, -30.0, 30.0)))
