"""One level from one set of sightings: Firth's curve, its interval, and what the bracket alone says.

How: Firth's logistic regression on ln discharge and its profile interval, the same whether the sightings overlap or
are separated. Sightings of one episode, and of one year, share a rating error; the likelihood ratio is divided by the
larger of the two group-robust variance ratios. Weighting each sighting by 1 / (size of its episode) was tried and
left: it lets long episodes far from the level swamp the few sightings near it, and moved the level upward.
Where the states are separated the logistic width comes from the penalty: the bracket is then what the data say, the
interval is made to hold it, and a level that the penalty pulled out of it is put back in its middle.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from hydro.firth_logistic import LogisticFit, fit_logistic
from hydro.level_estimate import METHOD, Bracket, Level
from hydro.response_level import bootstrap_level, cluster_inflation, level_interval
from hydro.sightings import Sightings

BRACKET_METHOD = "middle (of the logs) of the bracket; profile interval of the Firth logistic, widened to the bracket"
BRACKET_ALONE_METHOD = "middle (of the logs) of the bracket; the Firth logistic has no slope"
_WRONG_WAY = "more water did not go with running in these sightings"
_ROUNDING = 1e-6  # of a level that ties with an outermost discharge [ln]
_FAR = math.log(1000.0)  # a limit this far outside the discharges seen is none

Bools = npt.NDArray[np.bool_]


def learn_level(
    seen: Sightings, used: Bools, level: float, draws: int, generator: np.random.Generator
) -> tuple[Level, LogisticFit | None]:
    """The level from the rows `used`, and the curve it comes from (None where it comes from no curve)."""
    running, q = seen.running[used], seen.discharge[used]
    if not both_seen(running):
        what = (
            "no sighting with a usable discharge" if not len(q) else "no dry one" if running.all() else "no running one"
        )
        return no_level(f"{what} among the sightings" if len(q) else what, level), None
    if q.min() == q.max():
        return no_level("every sighting was made at the same discharge", level), None
    design = np.column_stack((np.ones(len(q)), np.log(q)))
    fit = fit_logistic(design, running.astype(np.float64))
    bracket = bracket_of(q, running)
    if fit.coefficients[1] <= 0:
        return (_bracket_alone(bracket, level) if bracket.apart else no_level(_WRONG_WAY, level)), None
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
        return no_level(
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


def no_level(why: str, level: float) -> Level:
    return Level(value_m3s=None, low_m3s=None, high_m3s=None, level=level, why=why)


def bracket_of(q: npt.NDArray[np.float64], running: Bools) -> Bracket:
    dry = float(q[~running].max()) if (~running).any() else None
    wet = float(q[running].min()) if running.any() else None
    return Bracket(
        highest_dry_m3s=dry, lowest_running_m3s=wet, overlap=dry is not None and wet is not None and dry >= wet
    )


def both_seen(running: Bools) -> bool:
    return bool(running.any() and not running.all())


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


def _within(log: float | None, low: float, high: float) -> float | None:
    """A logarithm taken back, None where it lies outside (low, high)."""
    return None if log is None or not low <= log <= high else math.exp(log)
