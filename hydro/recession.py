"""How fast the water goes down without recharge, and when it would reach a level.

Recessions picked from a daily series (`recession_segments`) are described by -dQ/dt = a Q^b: b = 1 is the exponential
recession (Maillet 1905), b = 1.5 Boussinesq's quadratic one (1904). The exact solution is used throughout. Each event
has its own rate a: the spread between events, not the standard error of one pooled fit, says how unsure the next
recession is. The exponential form holds unless a free exponent does better on events that were left out.

Sources: Brutsaert & Nieber 1977, Water Resour. Res. 13:637-643; Vogel & Kroll 1996, Water Resour. Manage. 10:303-320
(regression estimators of the rate); cited from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import pandas as pd

from hydro.recession_segments import RecessionRules, Recessions, find_recessions
from hydro.state_runs import Bools, Floats, Ints

__all__ = ["RecessionModel", "RecessionRules", "Recessions", "find_recessions", "fit_recessions", "recession_path"]

#: Exponents tried where the exponent is free; either end stands for "this or beyond".
_EXPONENTS = np.round(np.arange(0.4, 3.01, 0.05), 2)
#: Fewer events say nothing about the spread between them.
LEAST_EVENTS = 3
#: ln discharge is followed no farther down than this below its start, so that a path run dry still has a distance.
_FLOOR = 10.0


@dataclass(frozen=True, eq=False, kw_only=True)
class RecessionModel:
    """-dQ/dt = a Q^b with one exponent and a rate for each event [m³/s, days].

    rates      a by event [(m³/s)^(1-b) / day]; for b = 1 it is 1/k with k the days to fall to 1/e
    events     one row an event: first, last, days, highest_m3s, lowest_m3s, rate, k_days (exponential fit of its own),
               exponent (free fit of its own; NaN under 7 days)
    exponent_free, crps_exponential, crps_free, crps_difference_se   the comparison on left-out events: mean CRPS of
               ln discharge, and the standard error of their mean difference; NaN under 4 events
    n_not_falling   events left out because a line fitted to them does not fall: so flat that noise decides
    """

    exponent: float
    rates: Floats
    events: pd.DataFrame
    exponent_free: float
    crps_exponential: float
    crps_free: float
    crps_difference_se: float
    n_not_falling: int

    @property
    def k_days(self) -> float | None:
        """Median days to fall to 1/e; None where the recession is not exponential."""
        return float(1.0 / np.median(self.rates)) if self.exponent == 1.0 else None


def fit_recessions(recessions: Recessions) -> RecessionModel | None:
    """A recession model from events; None where there are fewer than `LEAST_EVENTS`.

    The free exponent is one for all events: a few days of one event tell rate and exponent hardly apart. It replaces
    b = 1 only where, on events left out of the fit, the mean CRPS of ln discharge is better by more than its
    standard error between events.
    """
    if recessions.n < LEAST_EVENTS:
        return None
    # In units of its own typical discharge Q^(1-b) keeps its digits, however large or small the river.
    typical = float(np.exp(np.mean(np.log(recessions.discharge_m3s))))
    scaled = replace(recessions, discharge_m3s=recessions.discharge_m3s / typical)
    exponents = np.concatenate(([1.0], _EXPONENTS))
    rates, misfit = _rates_by_exponent(scaled, exponents)
    # An event whose fitted discharge does not fall has no rate; near flat, the exponent decides whether it falls.
    falling = rates.min(axis=0) > 0
    if falling.sum() < LEAST_EVENTS:
        return None
    rates, misfit = rates[:, falling], misfit[:, falling]
    free = int(np.argmin(misfit[1:].sum(axis=1))) + 1
    crps = _crps_left_out(scaled, np.flatnonzero(falling), rates, misfit)
    gain = crps[0] - crps[1]
    gain_se = float(gain.std(ddof=1) / math.sqrt(len(gain))) if len(gain) > LEAST_EVENTS else math.nan
    chosen = free if len(gain) > LEAST_EVENTS and gain.mean() > gain_se else 0
    known = len(gain) > LEAST_EVENTS
    rates = rates * typical ** (1.0 - exponents[:, None])
    return RecessionModel(
        exponent=1.0 if chosen == 0 else float(_EXPONENTS[free - 1]),
        rates=rates[chosen],
        events=_events(recessions, falling, rates, misfit, chosen),
        exponent_free=float(_EXPONENTS[free - 1]),
        crps_exponential=float(crps[0].mean()) if known else math.nan,
        crps_free=float(crps[1].mean()) if known else math.nan,
        crps_difference_se=gain_se,
        n_not_falling=int((~falling).sum()),
    )


def recession_path(q0_m3s: float, days: npt.ArrayLike, rate: float, exponent: float = 1.0) -> Floats:
    """Discharge [m³/s] `days` after `q0_m3s` by the exact solution of -dQ/dt = `rate` Q^`exponent`.

    Q^(1-b) = Q0^(1-b) + (b-1) a t, for b = 1 Q0 exp(-a t); with b < 1 it runs dry in finite time and stays at 0. Any
    consistent unit of discharge will do. Raises ValueError for a start or a rate that is not above 0.
    """
    if not (q0_m3s > 0 and rate > 0):
        raise ValueError("discharge and rate are above 0")
    return np.exp(_untransformed(_transformed(np.array(q0_m3s), exponent) - rate * np.asarray(days), exponent))


def _transformed(q: Floats, exponent: Floats | float) -> Floats:
    """The function of discharge that falls in a straight line: (1 - Q^(1-b)) / (1-b), ln Q for b = 1."""
    e = 1.0 - np.asarray(exponent, np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(np.abs(e) < 1e-9, np.log(q), np.expm1(e * np.log(q)) / np.where(e == 0, 1.0, e))


def _untransformed(g: Floats, exponent: Floats | float) -> Floats:
    """ln Q from `_transformed`; -inf where the recession has run dry."""
    e = 1.0 - np.asarray(exponent, np.float64)
    with np.errstate(divide="ignore", invalid="ignore"):
        curved = np.log1p(np.maximum(e * g, -1.0)) / np.where(e == 0, 1.0, e)
    return np.where(np.abs(e) < 1e-9, g, curved)


def _rates_by_exponent(recessions: Recessions, exponents: Floats) -> tuple[Floats, Floats]:
    """Rate of every event, and sum of squared misfits of ln discharge; both (exponents, events)."""
    event = recessions.event
    starts = np.flatnonzero(np.diff(event, prepend=-1))
    count = np.diff(np.append(starts, len(event)))
    g = _transformed(recessions.discharge_m3s[None, :], exponents[:, None])

    def total(values: Floats) -> Floats:
        return np.add.reduceat(values, starts, axis=-1)

    dt = np.arange(len(event)) - starts[event] - (count[event] - 1) / 2.0
    slope = total(dt * g) / total(dt * dt)
    fitted = _untransformed((total(g) / count)[:, event] + slope[:, event] * dt, exponents[:, None])
    error = np.clip(fitted - np.log(recessions.discharge_m3s), -_FLOOR, _FLOOR)
    return -slope, total(error**2)


def _crps_left_out(recessions: Recessions, kept: Ints, rates: Floats, misfit: Floats) -> Floats:
    """Mean CRPS of ln discharge along each event, forecast from its first day by the other events' rates.

    Two rows: b = 1, and the exponent that fits the other events best.
    """
    exponents = np.concatenate(([1.0], _EXPONENTS))
    place = np.full(recessions.n, -1)
    place[kept] = np.arange(len(kept))
    own = place[recessions.event]
    start = np.flatnonzero(np.diff(recessions.event, prepend=-1))[recessions.event]
    days = np.arange(len(own)) - start
    ahead = (own >= 0) & (days > 0)
    own, days, q0, q = own[ahead], days[ahead], recessions.discharge_m3s[start[ahead]], recessions.discharge_m3s[ahead]
    best = np.argmin(misfit[1:].sum(axis=1)[:, None] - misfit[1:], axis=0) + 1
    score = np.empty((2, len(own)))
    for k, form in enumerate((np.zeros(len(kept), np.int64), best)):
        for f in np.unique(form).tolist():
            rows = np.flatnonzero(form[own] == f)
            # Blocks that stay within the processor's cache.
            for block in np.array_split(rows, max(1, len(rows) * len(kept) // 50_000)):
                score[k, block] = _path_crps(q0[block], days[block], q[block], own[block], rates[f], exponents[f])
    n = np.bincount(own, minlength=len(kept))
    return np.stack([np.bincount(own, weights=row, minlength=len(kept)) / n for row in score])


def _path_crps(q0: Floats, days: Ints, q: Floats, own: Ints, rates: Floats, exponent: float) -> Floats:
    """CRPS of ln `q`, `days` after `q0`, forecast by all `rates` but the one at `own`; one a row."""
    n = len(rates)
    order = np.argsort(-rates)  # the faster, the lower: every row of x is sorted
    g = _transformed(q0, exponent)[:, None] - days[:, None] * rates[order]
    x = np.maximum(_untransformed(g, exponent), (np.log(q0) - _FLOOR)[:, None])
    of_own = np.take_along_axis(x, np.argsort(order)[own][:, None], axis=1)
    seen = np.log(q)[:, None]
    # Sums over all members less what the left-out one has a part in.
    error = np.abs(x - seen).sum(axis=1) - np.abs(of_own - seen)[:, 0]
    pairs = 2.0 * (x @ np.arange(1.0 - n, n, 2.0) - np.abs(x - of_own).sum(axis=1))
    return error / (n - 1) - pairs / (2.0 * (n - 1) ** 2)


def _events(recessions: Recessions, falling: Bools, rates: Floats, misfit: Floats, chosen: int) -> pd.DataFrame:
    frame = pd.DataFrame({"event": recessions.event, "day": recessions.day, "q": recessions.discharge_m3s})
    by = frame.groupby("event")
    table = pd.DataFrame(
        {
            "first": by["day"].first(),
            "last": by["day"].last(),
            "days": by.size(),
            "highest_m3s": by["q"].max(),
            "lowest_m3s": by["q"].min(),
        }
    )[falling].reset_index(drop=True)
    own = _EXPONENTS[np.argmin(misfit[1:], axis=0)]
    return table.assign(rate=rates[chosen], k_days=1.0 / rates[0], exponent=np.where(table["days"] >= 7, own, np.nan))
