"""How uncertain a stop level is, in one number and quickly: for weighing a reading against it."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd

from hydro.firth_logistic import fit_logistic
from hydro.response_level import cluster_inflation, level_of
from hydro.sightings import sort_sightings


def level_log_sd(sightings: pd.DataFrame) -> float | None:
    """Standard deviation of ln stop level from sightings, as `estimate_level` has it but by first order (delta method).

    sightings  columns date, surface, discharge_m3s, row, source (see `sort_sightings`)

    None where no level can be learnt: only one state seen, one discharge, or no rise of running with water. The
    variance is widened for sightings that err together. The profile interval of `estimate_level` is the one to report;
    this is good enough to spread a chance with.
    """
    seen = sort_sightings(sightings)
    running, q = seen.running, seen.discharge
    if not len(q) or running.all() or not running.any() or q.min() == q.max():
        return None
    fit = fit_logistic(np.column_stack((np.ones(len(q)), np.log(q))), running.astype(np.float64))
    slope = float(fit.coefficients[1])
    if slope <= 0:
        return None
    at = np.array([1.0, level_of(fit)])
    variance = float(at @ fit.covariance @ at) / slope**2
    _, groups = np.unique(seen.episodes, return_inverse=True)
    years = seen.usable["date"].dt.year.to_numpy(np.int64)
    inflation = max(cluster_inflation(fit, groups), cluster_inflation(fit, years - years.min()))
    return math.sqrt(variance * inflation)
