"""How fast the water goes down without recharge, and when it would reach a level.

Recessions are picked from a daily series by stated rules and described by -dQ/dt = a Q^b: b = 1 is the exponential
recession (Maillet 1905), b = 1.5 Boussinesq's quadratic one (1904). The exact solution is used throughout. Each event
has its own rate a: the spread between events, not the standard error of one pooled fit, says how unsure the next
recession is. The exponential form holds unless a free exponent does better on events that were left out.

Sources: Brutsaert & Nieber 1977, Water Resour. Res. 13:637-643; Vogel & Kroll 1996, Water Resour. Manage. 10:303-320
(regression estimators, declining 3-day means); cited from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.scores import ensemble_crps
from hydro.state_runs import Bools, Floats, Ints

#: Exponents tried where the exponent is free.
_EXPONENTS = np.round(np.arange(0.4, 3.01, 0.05), 2)
#: Fewer events say nothing about the spread between them.
LEAST_EVENTS = 3


@dataclass(frozen=True, kw_only=True)
class RecessionRules:
    """What counts as a recession; `None` switches a rule off.

    min_days       shortest recession, counted before its first part is dropped [days]
    smooth_days    the mean over so many days must decline from day to day; 1 = the daily values themselves
    drop_first     share of the days at the start that is left out, as fed by quick flow (from memory: 0.3)
    least_ratio    discharge never falls below this share of the day before (from memory: 0.7)
    at_most_m3s    days above this discharge are left out [m³/s]
    """

    min_days: int = 10
    smooth_days: int = 3
    drop_first: float = 0.3
    least_ratio: float | None = 0.7
    at_most_m3s: float | None = None

    def __post_init__(self) -> None:
        if self.min_days < 3 or self.smooth_days < 1 or not 0 <= self.drop_first < 1:
            raise ValueError("a recession has at least 3 days, a mean at least 1, and less than all is dropped")


@dataclass(frozen=True, eq=False, kw_only=True)
class Recessions:
    """Recession events: `event[i]` numbers the event of the i-th day, `day` its date, `discharge_m3s` its value."""

    event: Ints
    day: pd.DatetimeIndex
    discharge_m3s: Floats

    @property
    def n(self) -> int:
        return 0 if len(self.event) == 0 else int(self.event[-1]) + 1


def find_recessions(
    discharge_m3s: pd.Series, *, unsure: pd.Series | None = None, rules: RecessionRules | None = None
) -> Recessions:
    """Recession events of a daily series [m³/s] (regular, NaN = not measured).

    `unsure` marks days whose value was estimated or bridged (bool, same index): they end an event. A day belongs to
    one where discharge is above 0, the smoothed discharge is below that of the day before, and the rules hold.
    """
    rules = RecessionRules() if rules is None else rules
    q = discharge_m3s.to_numpy(np.float64).copy()
    if unsure is not None:
        q[unsure.to_numpy(bool)] = np.nan
    smooth = pd.Series(q).rolling(rules.smooth_days).mean().to_numpy()
    falls = np.zeros(len(q), dtype=bool)
    with np.errstate(invalid="ignore", divide="ignore"):
        falls[1:] = (smooth[1:] < smooth[:-1]) & (q[1:] > 0)
        if rules.least_ratio is not None:
            falls[1:] &= q[1:] >= rules.least_ratio * q[:-1]
        if rules.at_most_m3s is not None:
            falls &= q <= rules.at_most_m3s
    edges = np.flatnonzero(np.diff(np.concatenate(([0], falls.astype(np.int8), [0]))))
    start, stop = edges[::2], edges[1::2]
    long = stop - start >= rules.min_days
    start, stop = start[long], stop[long]
    start = start + np.floor(rules.drop_first * (stop - start)).astype(np.int64)
    rows = np.concatenate([np.arange(a, b) for a, b in zip(start, stop, strict=True)] or [np.zeros(0, np.int64)])
    event = np.repeat(np.arange(len(start)), stop - start)
    index = pd.DatetimeIndex(discharge_m3s.index)
    return Recessions(event=event, day=index[rows], discharge_m3s=q[rows])


@dataclass(frozen=True, eq=False, kw_only=True)
class RecessionModel:
    """-dQ/dt = a Q^b with one exponent and a rate for each event [m³/s, days].

    rates      a by event [(m³/s)^(1-b) / day]; for b = 1 it is 1/k with k the days to fall to 1/e
    events     one row an event: first, last, days, highest_m3s, lowest_m3s, rate, k_days (exponential fit of its own),
               exponent (free fit of its own; NaN under 7 days)
    exponent_free, crps_exponential, crps_free, crps_difference_se   the comparison on left-out events: mean CRPS of
               ln discharge, and the standard error of their mean difference; NaN under 4 events
    """

    exponent: float
    rates: Floats
    events: pd.DataFrame
    exponent_free: float
    crps_exponential: float
    crps_free: float
    crps_difference_se: float

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
    rates, misfit = _rates_by_exponent(recessions, np.concatenate(([1.0], _EXPONENTS)))
    # An event whose fitted discharge does not fall has no rate.
    falling = rates[0] > 0
    if falling.sum() < LEAST_EVENTS:
        return None
    rates, misfit = rates[:, falling], misfit[:, falling]
    free = int(np.argmin(misfit[1:].sum(axis=1))) + 1
    crps = np.array(_crps_left_out(recessions, np.flatnonzero(falling), rates, misfit))
    gain = crps[0] - crps[1]
    gain_se = float(gain.std(ddof=1) / math.sqrt(len(gain))) if len(gain) > LEAST_EVENTS else math.nan
    chosen = free if len(gain) > LEAST_EVENTS and gain.mean() > gain_se else 0
    known = len(gain) > LEAST_EVENTS
    return RecessionModel(
        exponent=1.0 if chosen == 0 else float(_EXPONENTS[free - 1]),
        rates=rates[chosen],
        events=_events(recessions, falling, rates, misfit, chosen),
        exponent_free=float(_EXPONENTS[free - 1]),
        crps_exponential=float(crps[0].mean()) if known else math.nan,
        crps_free=float(crps[1].mean()) if known else math.nan,
        crps_difference_se=gain_se,
    )


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
    event, n = recessions.event, recessions.n
    t = np.arange(len(event), dtype=np.float64)
    count = np.bincount(event, minlength=n)
    g = _transformed(recessions.discharge_m3s[None, :], exponents[:, None])

    def total(values: Floats) -> Floats:
        return np.stack([np.bincount(event, weights=row, minlength=n) for row in np.atleast_2d(values)])

    mean_t, mean_g = total(t) / count, total(g) / count
    dt = t - mean_t[0][event]
    slope = total(dt * g) / total(dt * dt)
    fitted = _untransformed(mean_g[:, event] + slope[:, event] * dt, exponents[:, None])
    error = np.clip(fitted - np.log(recessions.discharge_m3s), -10.0, 10.0)
    return -slope, total(error**2)


def _crps_left_out(recessions: Recessions, kept: Ints, rates: Floats, misfit: Floats) -> tuple[Floats, Floats]:
    """Mean CRPS of ln discharge along each event, forecast from its first day by the other events' rates."""
    exponents = np.concatenate(([1.0], _EXPONENTS))
    out = np.zeros((2, len(kept)))
    for j, event in enumerate(kept.tolist()):
        q = recessions.discharge_m3s[recessions.event == event]
        others = np.arange(len(kept)) != j
        best = int(np.argmin(misfit[1:, others].sum(axis=1))) + 1
        days = np.arange(1, len(q))
        for k, form in enumerate((0, best)):
            b = exponents[form]
            g = _transformed(q[:1], b) - rates[form, others][None, :] * days[:, None]
            members = np.maximum(_untransformed(g, b), np.log(q[0]) - 10.0)
            out[k, j] = ensemble_crps(members, np.log(q[1:])).mean()
    return out[0], out[1]


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
