"""The discharge at which an outlet stops, and restarts, estimated from what people saw.

What is estimated: the published discharge at which the outlet is as likely running as dry. It lives on the scale of
the record that the sightings were paired with; a constant bias of that record is part of it, and the errors of single
readings show as overlap between dry and running. Where low flows are common, it lies a little to one side of the
physical sill (about the variance of the reading's log error times the slope of the log density of ln discharge).

How: Firth's logistic regression on ln discharge and its profile interval, the same whether the sightings overlap or
are separated. Sightings of one episode, and of one year, share a rating error; the likelihood ratio is divided by the
larger of the two group-robust variance ratios. Weighting each sighting by 1 / (size of its episode) was tried and
left: it lets long episodes far from the level swamp the few sightings near it, and moved the level upward.
Where the states are separated the logistic width comes from the penalty: the bracket is then what the data say, the
interval is made to hold it, and a level that the penalty pulled out of it is put back in its middle.

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

from hydro.firth_logistic import Interval, LogisticFit, coefficient_interval, fit_logistic
from hydro.level_estimate import METHOD, Bracket, Level, LevelEstimate
from hydro.response_level import bootstrap_level, cluster_inflation, level_interval, level_of
from hydro.sightings import DRY, RUNNING, Sightings, rising_after_dry, sort_sightings

BRACKET_METHOD = "middle (of the logs) of the bracket; profile interval of the Firth logistic, widened to the bracket"
BRACKET_ALONE_METHOD = "middle (of the logs) of the bracket; the Firth logistic has no slope"
#: Transitions of each kind that a separate restart level asks for.
LEAST_TRANSITIONS = 5
#: A sighting that the fitted curve gives less than this chance contradicts it.
_IMPROBABLE = 0.025
_CURVE_POINTS = 121
_ROUNDING = 1e-6  # of a level that ties with an outermost discharge [ln]
_FAR = math.log(1000.0)  # a limit this far outside the discharges seen is none

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
        if not (running[rising].any() and (~running[rising]).any() and _both(running[~rising])):
            why_no_restart = "the sightings on rising limbs after a dry one saw only one state"
            rising[:] = False
    generator = np.random.default_rng(seed)
    stop, curve_fit = _level(seen, ~rising, level, draws, generator)
    if why_no_restart is None:
        restart, _ = _level(seen, rising, level, draws, generator)
    else:
        restart = _no_level(why_no_restart, level)
    bracket = _bracket(q, running)
    separated = _both(running) and not bracket.overlap
    notes = [
        ("stop-level-without-rising-limb", rising.any()),
        ("separated-width-from-penalty", separated),
        ("few-groups", _both(running) and seen.n_episodes < 2 * LEAST_TRANSITIONS),
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
        one_sided=None if _both(running) or not len(q) else "below" if running.all() else "above",
        slope=None if curve_fit is None else float(curve_fit.coefficients[1]),
        limb_shift=_limb_shift(q, running, rising, level) if rising.any() else None,
        pooled_low_m3s=float(pooled.min()) if len(pooled) else None,
        pooled_high_m3s=float(pooled.max()) if len(pooled) else None,
        left_out=seen.left_out,
        contradictions=_contradictions(seen, curve_fit, rising, set_level_m3s, set_restart_m3s),
        curve=_curve(q, curve_fit, stop.inflation, level),
        notes=tuple(name for name, holds in notes if holds),
    )


def _within(log: float | None, low: float, high: float) -> float | None:
    """A logarithm taken back, None where it lies outside (low, high)."""
    return None if log is None or not low <= log <= high else math.exp(log)


def _both(running: Bools) -> bool:
    return bool(running.any() and not running.all())


def _bracket(q: npt.NDArray[np.float64], running: Bools) -> Bracket:
    dry = float(q[~running].max()) if (~running).any() else None
    wet = float(q[running].min()) if running.any() else None
    return Bracket(
        highest_dry_m3s=dry, lowest_running_m3s=wet, overlap=dry is not None and wet is not None and dry >= wet
    )


_WRONG_WAY = "more water did not go with running in these sightings"


def _no_level(why: str, level: float) -> Level:
    return Level(value_m3s=None, low_m3s=None, high_m3s=None, level=level, why=why)


def _bracket_alone(bracket: Bracket, level: float) -> Level:
    """Sightings that are apart, but so few of one state that the penalised curve is flat: the bracket and no more."""
    floor, ceiling = bracket.log_sides
    return Level(
        value_m3s=math.exp((floor + ceiling) / 2),
        low_m3s=None,
        high_m3s=None,
        level=level,
        method=BRACKET_ALONE_METHOD,
        why="unbounded both sides: with so few sightings of one state, a curve without slope agrees with the data",
    )


def _why_no_restart(stops: int, restarts: int, discharge_by_day: pd.Series | None) -> str | None:
    if discharge_by_day is None:
        return "no daily discharge to tell rising limbs by"
    if min(stops, restarts) < LEAST_TRANSITIONS:
        return (
            f"{stops} stops and {restarts} restarts seen between sightings; at least {LEAST_TRANSITIONS} of each needed"
        )
    return None


def _level(
    seen: Sightings, used: Bools, level: float, draws: int, generator: np.random.Generator
) -> tuple[Level, LogisticFit | None]:
    """The level from the rows `used`, and the curve it comes from (None where it comes from no curve)."""
    running, q = seen.running[used], seen.discharge[used]
    if not _both(running):
        what = (
            "no sighting with a usable discharge" if not len(q) else "no dry one" if running.all() else "no running one"
        )
        return _no_level(f"{what} among the sightings" if len(q) else what, level), None
    if q.min() == q.max():
        return _no_level("every sighting was made at the same discharge", level), None
    design = np.column_stack((np.ones(len(q)), np.log(q)))
    fit = fit_logistic(design, running.astype(np.float64))
    bracket = _bracket(q, running)
    if fit.coefficients[1] <= 0:
        return (_bracket_alone(bracket, level) if bracket.apart else _no_level(_WRONG_WAY, level)), None
    _, groups = np.unique(seen.episodes[used], return_inverse=True)
    years = seen.usable.loc[used, "date"].dt.year.to_numpy(np.int64)
    inflation = max(cluster_inflation(fit, groups), cluster_inflation(fit, years - years.min()))
    found = level_interval(fit, level=level, inflation=inflation)
    value, low, high, method, why = found.value, found.low, found.high, METHOD, found.why
    if bracket.apart:
        # Every level in the bracket fits these sightings without a flaw. Where one state was hardly seen, the penalty
        # can pull the curve out of it: what the data say then goes before what the penalty says.
        floor, ceiling = bracket.log_sides
        if not floor <= value <= ceiling:
            value, method = (floor + ceiling) / 2, BRACKET_METHOD
        low, high = None if low is None else min(low, floor), None if high is None else max(high, ceiling)
    elif not math.log(q.min()) - _ROUNDING <= value <= math.log(q.max()) + _ROUNDING:
        return _no_level(
            "discharge hardly tells running from dry: the level would lie outside all discharges seen", level
        ), None
    seen_low, seen_high = math.log(q.min()) - _FAR, math.log(q.max()) + _FAR
    if (low is not None and low < seen_low) or (high is not None and high > seen_high):
        why = "a limit more than a thousandfold outside the discharges seen counts as unbounded"
    boot_low, boot_high, failed = bootstrap_level(fit, groups, level=level, draws=draws, generator=generator)
    return Level(
        value_m3s=math.exp(value),
        low_m3s=_within(low, seen_low, seen_high),
        high_m3s=_within(high, seen_low, seen_high),
        level=level,
        method=method,
        why=why,
        inflation=inflation,
        boot_low_m3s=_within(boot_low, seen_low, seen_high),
        boot_high_m3s=_within(boot_high, seen_low, seen_high),
        boot_failed=failed,
    ), fit if method == METHOD else None


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
