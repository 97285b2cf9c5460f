"""The discharge at which an outlet stops, and restarts, estimated from what people saw.

What is estimated: the published discharge at which the outlet is as likely running as dry. It lives on the scale of
the record that the sightings were paired with; a constant bias of that record is part of it, and the errors of single
readings show as overlap between dry and running. Where low flows are common, it lies a little to one side of the
physical sill (about the variance of the reading's log error times the slope of the log density of ln discharge).

How one level is learnt from one set of sightings is in `learnt_level`.

In simulations (tests/benchmarks/bench_threshold.py has the table) 95 % intervals held the level on the published scale
in 92 to 98.4 % of the series of each kind, but in all where separated readings hardly erred and in only three quarters
of the few long series that came out separated although readings err by 10 %. They held the physical level less often,
in the worst case in 78 %: where nearly all of the discharge error wanders slowly.
"""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np
import numpy.typing as npt
import pandas as pd

from hydro.firth_logistic import LogisticFit, fit_logistic
from hydro.learnt_level import both_seen, bracket_of, learn_level, no_level
from hydro.level_estimate import LevelEstimate
from hydro.profile_interval import Interval, coefficient_interval
from hydro.response_level import level_of
from hydro.sightings import DRY, RUNNING, Sightings, rising_after_dry, sort_sightings

#: Transitions of each kind that a separate restart level asks for.
LEAST_TRANSITIONS = 5
#: Where fewer than this share of the sightings are dry and none overlaps, the interval holds too seldom (see above).
RARELY_DRY = 0.1
#: A sighting that the fitted curve gives less than this chance contradicts it.
_IMPROBABLE = 0.025
_CURVE_POINTS = 121

Bools = npt.NDArray[np.bool_]


def estimate_level(
    sightings: pd.DataFrame,
    *,
    level: float = 0.95,
    discharge_by_day: pd.Series | None = None,
    set_level_m3s: float | None = None,
    set_restart_m3s: float | None = None,
    draws: int = 200,
    seed: int = 1,
) -> LevelEstimate:
    """Estimate the stop and restart levels of one outlet.

    sightings         columns date, surface, discharge_m3s, row, source (see `sort_sightings`)
    level             confidence of every interval
    discharge_by_day  discharge [m³/s] by civil day; tells rising limbs, without which no restart level is estimated
    set_level_m3s, set_restart_m3s  levels in use [m³/s], against which sightings are held; without them it is the
                      fitted curve. A dry sighting between the two is no contradiction
    draws             bootstrap samples of whole episodes (0 = leave the check out), drawn with `seed`

    Raises ValueError for a malformed table or a `level` outside 0 to 1.
    """
    if not 0 < level < 1:
        raise ValueError("a confidence lies between 0 and 1")
    seen = sort_sightings(sightings)
    running, q = seen.running, seen.discharge
    stops, restarts = seen.transitions()
    why_no_restart = _why_no_restart(stops, restarts, discharge_by_day)
    rising = np.zeros(len(q), np.bool_)
    if discharge_by_day is not None and why_no_restart is None:
        rising = rising_after_dry(seen, discharge_by_day)
        if not (running[rising].any() and (~running[rising]).any() and both_seen(running[~rising])):
            why_no_restart = "the sightings on rising limbs after a dry one saw only one state"
            rising[:] = False
    generator = np.random.default_rng(seed)
    stop, curve_fit = learn_level(seen, ~rising, level, draws, generator)
    if why_no_restart is None:
        restart, _ = learn_level(seen, rising, level, draws, generator)
    else:
        restart = no_level(why_no_restart, level)
    bracket = bracket_of(q, running)
    separated = both_seen(running) and not bracket.overlap
    notes = [
        ("stop-level-without-rising-limb", rising.any()),
        ("separated-width-from-penalty", separated),
        ("separated-and-rarely-dry", separated and (~running).sum() < RARELY_DRY * len(running)),
        ("few-groups", both_seen(running) and seen.n_episodes < 2 * LEAST_TRANSITIONS),
    ]
    pooled = seen.pooled["discharge_m3s"]
    return LevelEstimate(
        stop_level=stop,
        restart_level=restart,
        bracket=bracket,
        n_running=int(running.sum()),
        n_dry=int((~running).sum()),
        n_pooled=len(pooled),
        n_spells=seen.n_episodes,
        separated=separated,
        one_sided=None if both_seen(running) or not len(q) else "below" if running.all() else "above",
        slope=None if curve_fit is None else float(curve_fit.coefficients[1]),
        limb_shift=_limb_shift(q, running, rising, level) if rising.any() else None,
        pooled_low_m3s=float(pooled.min()) if len(pooled) else None,
        pooled_high_m3s=float(pooled.max()) if len(pooled) else None,
        left_out=seen.left_out,
        contradictions=_contradictions(seen, curve_fit, rising, set_level_m3s, set_restart_m3s),
        curve=_curve(q, curve_fit, stop.inflation, level),
        notes=tuple(name for name, holds in notes if holds),
    )


def _why_no_restart(stops: int, restarts: int, discharge_by_day: pd.Series | None) -> str | None:
    if discharge_by_day is None:
        return "no daily discharge to tell rising limbs by"
    if min(stops, restarts) < LEAST_TRANSITIONS:
        seen = (
            f"{stops} {'stop' if stops == 1 else 'stops'} and {restarts} {'restart' if restarts == 1 else 'restarts'}"
        )
        return f"{seen} seen between sightings; at least {LEAST_TRANSITIONS} of each needed"
    return None


def _limb_shift(q: npt.NDArray[np.float64], running: Bools, rising: Bools, level: float) -> Interval:
    design = np.column_stack((np.ones(len(q)), np.log(q), rising.astype(np.float64)))
    return coefficient_interval(fit_logistic(design, running.astype(np.float64)), 2, level=level)


def _contradictions(
    seen: Sightings, fit: LogisticFit | None, rising: Bools, stop: float | None, restart: float | None
) -> pd.DataFrame:
    """Sightings on the wrong side of the set levels or, where none is set, improbable under the fitted curve.

    Sightings that told of restarting were kept from the curve of stopping and are not held against it.
    """
    q, running = seen.discharge, seen.running
    chance = np.full(len(q), np.nan)
    if fit is not None:
        above = 1.0 / (1.0 + np.exp(-(fit.coefficients[0] + fit.coefficients[1] * np.log(q))))
        chance = np.where(running, above, 1.0 - above)
    if stop is not None:
        wrong = np.where(running, q < stop, q >= (stop if restart is None else restart))
    else:
        wrong = (chance < _IMPROBABLE) & ~rising
    table = seen.usable.loc[wrong, ["date", "surface", "discharge_m3s", "row"]].reset_index(drop=True)
    table.insert(3, "expected", np.where(running[wrong], DRY, RUNNING))
    table["probability"] = chance[wrong]
    table["against"] = "fitted curve" if stop is None else "set level"
    return table


def _curve(q: npt.NDArray[np.float64], fit: LogisticFit | None, inflation: float, level: float) -> pd.DataFrame:
    if fit is None:
        return pd.DataFrame({name: np.zeros(0) for name in ("discharge_m3s", "probability_running", "low", "high")})
    reach = max(1.5 * abs(math.log(at) - level_of(fit)) for at in (q.min(), q.max()))
    x = np.linspace(-1.0, 1.0, _CURVE_POINTS) * min(reach, 10.0 / float(fit.coefficients[1])) + level_of(fit)
    design = np.column_stack((np.ones(len(x)), x))
    logit = design @ fit.coefficients
    z = NormalDist().inv_cdf(0.5 + level / 2) * math.sqrt(inflation)
    band = z * np.sqrt(np.einsum("ij,jk,ik->i", design, fit.covariance, design))
    low, middle, high = (1.0 / (1.0 + np.exp(-v)) for v in (logit - band, logit, logit + band))
    return pd.DataFrame({"discharge_m3s": np.exp(x), "probability_running": middle, "low": low, "high": high})
