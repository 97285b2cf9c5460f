"""Do longer dry spells, or restarts at some season, go with later returns? Accelerated failure time models of lags.

ln lag = intercept + effects + spread: an effect multiplies the lag. Lags are taken at face value (first finds), in days
elapsed: day d covers (d, d + 1]. Length and season go together in most records (a long spell ends late in the year), so
that each is also judged with the other held fixed where there are finds enough.

Source: Kalbfleisch and Prentice 2002, The Statistical Analysis of Failure Time Data, 2nd ed., chapters 2 and 3.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import fdtrc, stdtr, stdtrit

from ecology.interval_fits import IntervalFit, fit_intervals
from ecology.interval_likelihood import Distribution
from ecology.not_estimable import NotEstimable

#: Finds needed for each number that is estimated (intercept, spread and effects): our choice, below it the intervals
#: of simulated effects held the truth too seldom.
FINDS_PER_NUMBER = 3
YEAR_DAYS = 365.2425
_LENGTH, _SINE, _COSINE = "ln of the dry spell's days", "season sine", "season cosine"


@dataclass(frozen=True, eq=False, kw_only=True)
class LengthEffect:
    """Factor on the lag for a dry spell twice as long, its interval and its two-sided p (Student's t)."""

    factor: float
    low: float
    high: float
    p: float


@dataclass(frozen=True, eq=False, kw_only=True)
class SeasonEffect:
    """A yearly wave in the lag.

    slowest_day      day of the year (1 to 365) of the restarts that are followed by the longest lags
    factor           longest over shortest lag in the year, never below 1; with few spells it is too large even where
                     season has no effect, so that p decides whether to look at it
    low, high        interval of the factor (delta method on its logarithm, Student's t); low is at least 1, and 1
                     where p does not rule out that season has no effect
    p                of both terms of the wave together (likelihood ratio as an F ratio)
    """

    slowest_day: int
    factor: float
    low: float
    high: float
    p: float


@dataclass(frozen=True, eq=False, kw_only=True)
class ReturnEffects:
    """Effects on the lag, each None where its `why` says so.

    length, season            each alone
    length_season_fixed       the length's with season in the model
    distribution, level       of the lag; of the intervals
    n, n_found                spells with a known length; those with a find
    """

    length: LengthEffect | None
    season: SeasonEffect | None
    length_season_fixed: LengthEffect | None
    why_length: str | None
    why_season: str | None
    why_together: str | None
    distribution: Distribution
    n: int
    n_found: int
    level: float


def return_effects(
    low: np.ndarray,
    high: np.ndarray,
    dry_days: np.ndarray,
    restart: pd.Series,
    *,
    distribution: Distribution = "weibull",
    level: float = 0.95,
) -> ReturnEffects:
    """Effects of length and season on lags (low, high] in whole days (low −1 where day 0 is possible).

    dry_days   days of the spell, NaN where its start or end is hidden: such spells are left out
    restart    the first running day of each
    """
    used = np.isfinite(dry_days)
    low, high = np.maximum(low[used], -1.0) + 1.0, high[used] + 1.0
    length = np.log(dry_days[used])
    phase = 2.0 * np.pi * pd.DatetimeIndex(restart[used]).day_of_year.to_numpy() / YEAR_DAYS
    season = np.column_stack((np.sin(phase), np.cos(phase)))
    found = int(np.isfinite(high).sum())
    reasons: dict[str, str | None] = {}

    def fitted(name: str, columns: np.ndarray, terms: Sequence[str]) -> IntervalFit | None:
        numbers = 2 + columns.shape[1]
        if found < FINDS_PER_NUMBER * numbers:
            reasons[name] = (
                f"{found} spells of known length have a find; {numbers} numbers to estimate need at least "
                f"{FINDS_PER_NUMBER * numbers}"
            )
            return None
        try:
            fit = fit_intervals(low, high, distribution, covariates=columns, terms=terms, level=level)
        except NotEstimable as refused:
            reasons[name] = refused.reason.rstrip(".")
            return None
        reasons[name] = None
        return fit

    alone = fitted("length", length[:, None], [_LENGTH])
    wave = fitted("season", season, [_SINE, _COSINE])
    both = fitted("together", np.column_stack((length, season)), [_LENGTH, _SINE, _COSINE])
    seasonal = None
    if wave is not None:
        try:
            flat = fit_intervals(low, high, distribution, level=level)
            seasonal = _season(wave, flat, found, level)
        except NotEstimable as refused:
            reasons["season"] = refused.reason.rstrip(".")
    return ReturnEffects(
        length=None if alone is None else _length(alone, found, level),
        season=seasonal,
        length_season_fixed=None if both is None else _length(both, found, level),
        why_length=reasons["length"],
        why_season=reasons["season"],
        why_together=reasons["together"],
        distribution=distribution,
        n=int(used.sum()),
        n_found=found,
        level=level,
    )


def _length(fit: IntervalFit, found: int, level: float) -> LengthEffect:
    freedom = found - fit.coefficients.size - 1
    error = float(np.sqrt(fit.covariance[1, 1]))
    effect, reach = float(fit.coefficients[1]), float(stdtrit(freedom, 0.5 * (1.0 + level))) * error
    by = np.log(2.0)
    return LengthEffect(
        factor=float(np.exp(by * effect)),
        low=float(np.exp(by * (effect - reach))),
        high=float(np.exp(by * (effect + reach))),
        p=float(2.0 * stdtr(freedom, -abs(effect) / error)),
    )


def _season(wave: IntervalFit, flat: IntervalFit, found: int, level: float) -> SeasonEffect:
    freedom = found - 4
    sine, cosine = float(wave.coefficients[1]), float(wave.coefficients[2])
    height = float(np.hypot(sine, cosine))
    toward = np.array([sine, cosine]) / max(height, 1e-300)
    error = float(np.sqrt(toward @ wave.covariance[1:3, 1:3] @ toward))
    reach = float(stdtrit(freedom, 0.5 * (1.0 + level))) * error
    ratio = max(2.0 * (wave.log_likelihood - flat.log_likelihood), 0.0)
    p = float(fdtrc(2.0, freedom, 0.5 * ratio))
    peak = float(np.arctan2(sine, cosine)) % (2.0 * np.pi)
    return SeasonEffect(
        slowest_day=int(np.clip(round(peak * YEAR_DAYS / (2.0 * np.pi)), 1, 365)),
        factor=float(np.exp(2.0 * height)),
        # The height of a wave is never estimated as 0: alone, its interval would exclude “no wave” too often.
        low=1.0 if p > 1.0 - level else float(np.exp(2.0 * max(height - reach, 0.0))),
        high=float(np.exp(2.0 * (height + reach))),
        p=p,
    )
