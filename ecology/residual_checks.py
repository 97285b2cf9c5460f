"""Checks of what a fit leaves over: its residuals as a whole, against flow, season and time, and between dates.

A check fails at p < 0.01, so that several checks of a right model seldom fail together. Residuals are randomised, and
every check that uses them takes the middle of several seeds: no answer hangs on one draw.

Sources: Dunn and Smyth 1996, J. Comput. Graph. Statist. 5:236–244 (randomised quantile residuals); Boos 1992, The
American Statistician 46:327–333 (score tests with robust errors); Hotelling 1931 (the T² reference for few clusters).
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import fdtrc, kolmogorov, ndtr, ndtri

from ecology.count_terms import YEAR_DAYS
from ecology.model_checks import Fit, ModelCheck

SEEDS = 9
LEAST_P = 0.01
#: Distances between two visits to the same outlet [days], and how often at most each visit is paired.
LAGS = (0, 8, 15, 31, 61, 121, 241, 366)
_MOST_NEIGHBOURS = 60
FEWEST_PAIRS = 30


def residual_draws(fit: Fit, order: np.ndarray, seed: int) -> np.ndarray:
    """Randomised quantile residuals, one row a seed.

    `order` sorts the rows by what they hold, so that the order in which visits are written changes nothing.
    """
    draws = []
    for s in range(SEEDS):
        u = np.empty(fit.n)
        u[order] = np.random.default_rng([seed, s]).uniform(size=fit.n)
        draws.append(fit.quantile_residuals_at(u))
    return np.array(draws)


def check_quantiles(draws: np.ndarray) -> ModelCheck:
    """Whether the residuals are standard normal: Kolmogorov's test, the middle p of several seeds.

    Table: expected (normal quantile), then one column a seed with the sorted residuals.
    """
    n = draws.shape[1]
    rank = np.arange(1, n + 1)
    ordered = np.sort(draws, axis=1)
    p = []
    for row in ordered:
        at = ndtr(row)
        apart = max(float((rank / n - at).max()), float((at - (rank - 1) / n).max()))
        p.append(float(kolmogorov(np.sqrt(n) * apart)))
    value = float(np.median(p))
    shown = np.unique(np.linspace(0, n - 1, min(n, 200)).astype(int))
    table = pd.DataFrame({"expected": ndtri((rank[shown] - 0.5) / n)})
    for s, row in enumerate(ordered):
        table[f"seed_{s + 1}"] = row[shown]
    return ModelCheck(name="residuals", passed=value >= LEAST_P, value=value, limit=LEAST_P, table=table)


def check_pattern(
    fit: Fit, name: str, x: np.ndarray, shapes: np.ndarray, groups: np.ndarray, draws: np.ndarray
) -> ModelCheck:
    """Whether shapes that the model lacks would explain more: a score test, robust to dependence within groups.

    x       what the residuals are held against (for the picture)
    shapes  one column a shape to test, such as the square of ln discharge

    The score of each group is one observation of Hotelling's T², so that few groups do not reject too often.
    Table: visits in up to 12 groups by `x`: x, residual (mean over visits and seeds), error (of that mean), visits.
    """
    table = pattern_table(x, draws.mean(axis=0))
    weight = np.maximum(fit.eta_weight, 0.0)
    X = fit.design
    spread = shapes.std(axis=0)
    usable = shapes[:, spread > 1e-9]
    member = np.unique(groups, return_inverse=True)[1]
    n_groups = int(member.max()) + 1
    q = usable.shape[1]
    if q == 0 or n_groups < q + 3:
        why = "nothing to hold the residuals against" if q == 0 else f"{n_groups} groups are too few"
        return ModelCheck(name=name, passed=None, value=None, limit=LEAST_P, table=table, why=why)
    usable = (usable - usable.mean(axis=0)) / usable.std(axis=0)
    # What of a shape the model's own terms cannot take up.
    weighted = weight[:, None] * X
    rest = usable - X @ np.linalg.solve(X.T @ weighted, weighted.T @ usable)
    if np.any(rest.std(axis=0) < 1e-6):
        why = "the model already has this shape"
        return ModelCheck(name=name, passed=None, value=None, limit=LEAST_P, table=table, why=why)
    score = fit.eta_score[:, None] * rest
    by_group = np.column_stack([np.bincount(member, c, n_groups) for c in score.T])
    centre = by_group.mean(axis=0)
    within = np.atleast_2d(np.cov(by_group, rowvar=False))
    if np.linalg.matrix_rank(within) < q:
        why = "too few groups carry it"
        return ModelCheck(name=name, passed=None, value=None, limit=LEAST_P, table=table, why=why)
    t2 = n_groups * float(centre @ np.linalg.solve(within, centre))
    value = float(fdtrc(q, n_groups - q, t2 * (n_groups - q) / (q * (n_groups - 1))))
    return ModelCheck(name=name, passed=value >= LEAST_P, value=value, limit=LEAST_P, table=table)


def flow_shapes(log_discharge: np.ndarray) -> np.ndarray:
    """Bends that a straight line in ln discharge lacks."""
    z = (log_discharge - log_discharge.mean()) / max(float(log_discharge.std()), 1e-12)
    return np.column_stack((z**2, z**3))


def season_shapes(dates: pd.Series) -> np.ndarray:
    """The second harmonic of the year."""
    angle = 4.0 * np.pi * dates.dt.day_of_year.to_numpy() / YEAR_DAYS
    return np.column_stack((np.sin(angle), np.cos(angle)))


def time_shapes(dates: pd.Series) -> np.ndarray:
    """A trend and a bend over the years."""
    day = ((dates - dates.min()) / pd.Timedelta(days=1)).to_numpy(np.float64)
    z = (day - day.mean()) / max(float(day.std()), 1e-12)
    return np.column_stack((z, z**2))


def check_autocorrelation(draws: np.ndarray, dates: pd.Series, outlets: pd.Series) -> ModelCheck:
    """Whether residuals of visits to one outlet close in time resemble each other.

    `value` is the largest correlation in size, in units of its standard error without dependence; the limit holds
    for the seven distances together at 1 in 100. Table: least_days, most_days, pairs, correlation, error.
    """
    residual = draws.mean(axis=0)
    residual = (residual - residual.mean()) / max(float(residual.std()), 1e-12)
    n_bins = len(LAGS) - 1
    total, pairs = np.zeros(n_bins), np.zeros(n_bins)
    day = dates.to_numpy().astype("M8[D]").astype(np.int64)
    code = pd.factorize(outlets)[0]
    order = np.lexsort((residual, day, code))
    day, code, residual = day[order], code[order], residual[order]
    for step in range(1, min(_MOST_NEIGHBOURS, len(day) - 1) + 1):
        apart = day[step:] - day[:-step]
        at = np.searchsorted(LAGS, apart, side="right") - 1
        use = (code[step:] == code[:-step]) & (at >= 0) & (at < n_bins)
        total += np.bincount(at[use], (residual[step:] * residual[:-step])[use], n_bins)
        pairs += np.bincount(at[use], minlength=n_bins)
    with np.errstate(divide="ignore", invalid="ignore"):
        correlation, error = total / pairs, 1.0 / np.sqrt(pairs)
    table = pd.DataFrame(
        {
            "least_days": LAGS[:-1],
            "most_days": [b - 1 for b in LAGS[1:]],
            "pairs": pairs.astype(int),
            "correlation": correlation,
            "error": error,
        }
    )
    limit = float(-ndtri(0.5 * LEAST_P / n_bins))
    enough = table[table["pairs"] >= FEWEST_PAIRS]
    if enough.empty:
        why = f"no distance has {FEWEST_PAIRS} pairs of visits"
        return ModelCheck(name="autocorrelation", passed=None, value=None, limit=limit, table=table, why=why)
    score = enough["correlation"] / enough["error"]
    worst = score.abs().idxmax()
    value = float(score[worst])
    about = f"{int(table.loc[worst, 'least_days'])}–{int(table.loc[worst, 'most_days'])} days"
    passed = abs(value) <= limit
    return ModelCheck(name="autocorrelation", passed=passed, value=value, limit=limit, about=about, table=table)


def pattern_table(x: np.ndarray, residual: np.ndarray, most: int = 12) -> pd.DataFrame:
    groups = [g for g in np.array_split(np.argsort(x, kind="stable"), max(1, min(most, len(x) // 8))) if len(g)]
    rows = [
        (float(x[g].mean()), float(residual[g].mean()), float(residual[g].std() / np.sqrt(len(g))), len(g))
        for g in groups
    ]
    return pd.DataFrame(rows, columns=["x", "residual", "error", "visits"])
