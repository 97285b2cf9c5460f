"""How much weight each source of a forecast gets: analogues, regression, and season and state alone.

The weights are stated beforehand, as a function of the lead and of how many years bear on the question; nothing is
tuned to the river at hand. They were set by hindcasts of open discharge series and of some 290 stretches of 5 to 10
years cut out of them: weights learnt for each river from its own years did no better in long records, and fell below
climatology more often in short ones.
"""

from __future__ import annotations

import numpy as np

from hydro.state_runs import Floats, Ints

_LOG_LEADS = np.log([1, 3, 7, 14, 30, 60, 90, 180, 365])
#: Weight of analogues and regression together, the rest going to climatology: in a record of a few years …
_SHORT = np.array([0.40, 0.65, 0.80, 0.70, 0.50, 0.25, 0.08, 0.04, 0.00])
#: … and in one of many.
_LONG = np.array([0.90, 0.90, 0.90, 0.90, 0.90, 0.80, 0.60, 0.25, 0.00])
#: Regression's part of that weight: far ahead its chances are the steadier ones.
_REGRESSION = np.array([0.50, 0.50, 0.50, 0.50, 0.55, 0.75, 0.80, 0.80, 0.80])
#: Years at which a record stands half way between short and long.
HALF_WAY_YEARS = 15.0
#: With fewer years that had a dry day the weight shrinks in proportion, a month ahead and more by the square of it:
#: what two or three dry years did is thin ground.
FULL_WEIGHT_YEARS = 5.0
_SHRINKING = np.array([1.0, 1.0, 1.0, 1.0, 2.0, 2.0, 2.0, 2.0, 2.0])
#: In a record of fewer years no chance comes near 0 or 1 (see `certainty_limit`).
CERTAIN_YEARS = 3.5


def blend_weight(leads: Ints, years: Floats | float) -> tuple[Floats, Floats]:
    """Weights of analogues and of regression, each of shape (…, leads) for `years` of shape (…).

    `years` counts the years that the forecast rests on, or those of them with a dry day where they are fewer.
    """
    at = np.log(np.maximum(leads, 1))
    short, long = np.interp(at, _LOG_LEADS, _SHORT), np.interp(at, _LOG_LEADS, _LONG)
    n = np.asarray(years, dtype=np.float64)[..., None]
    share = n**3 / (n**3 + HALF_WAY_YEARS**3)
    ground = np.minimum(1.0, n / FULL_WEIGHT_YEARS) ** np.interp(at, _LOG_LEADS, _SHRINKING)
    weight = ((1.0 - share) * short + share * long) * ground
    regression = np.interp(at, _LOG_LEADS, _REGRESSION)
    return weight * (1.0 - regression), weight * regression


def blend(climatology: Floats, analogues: Floats, regression: Floats, weights: tuple[Floats, Floats]) -> Floats:
    """Chance from the three sources; a source that is NaN leaves its weight to climatology.

    Where climatology is missing analogues stand in for it; NaN where both are.
    """
    base = np.where(np.isnan(climatology), analogues, climatology)
    out = base
    for source, weight in zip((analogues, regression), weights, strict=True):
        out = out + np.where(np.isnan(source), 0.0, weight * (source - base))
    return out


def certainty_limit(leads: Ints, years: Floats | float, members: int) -> Floats:
    """How near to 0 or 1 a chance may come, shape (…, leads) for `years` of known days of shape (…).

    Half a member of the ensemble; more in a record of under `CERTAIN_YEARS`, growing over the first month: what
    happened in each of three years may still fail in the fourth (the size is an assumption).
    """
    n = np.asarray(years, dtype=np.float64)[..., None]
    young = np.maximum(0.0, 1.0 - n / CERTAIN_YEARS) * 0.3 * np.minimum(1.0, leads / 30.0)
    return 0.5 / (members + 1) + young
