"""How much weight each source of a forecast gets: analogues, regression, and what is usual in season and state.

The weights are stated beforehand, as a function of the lead and of the ground that the record gives
(`outlook_evidence`); nothing is tuned to the river at hand. Those of short records were fitted to some 320 stretches
of four open discharge series, with a floor under the worst of them, taken down to about two thirds, and held against
560 stretches of nine other series; tests/benchmarks/bench_outlook_floor.py tries stretches and levels that had no part
in this. Weights learnt for each river from its own years did no better in long records, and fell below climatology
more often in short ones; so did a factor on all of them by how much the other years had gained, with or without a
margin for chance (one number a year decides it, and the year judged is the one that it knows nothing of).

In a short record climatology itself is drawn from three or four years that hang together. Three broader shares steady
it (shrinkage, as in James & Stein 1961): the same season with what the state adds in all seasons alike, by how few days
are alike; and a little of the same state in all seasons and of the same season in either state, which fades as the
record grows.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hydro.outlook_evidence import Evidence
from hydro.season_climatology import LEAST_DAYS
from hydro.state_runs import Floats, Ints

_LOG_LEADS = np.log([1, 3, 7, 14, 30, 60, 90, 180, 365])
#: Weights of the sources, the rest going to climatology in season and state: in a record of a few years …
_SHORT = {
    "analogues": np.array([0.36, 0.43, 0.40, 0.37, 0.20, 0.05, 0.00, 0.00, 0.00]),
    "regression": np.array([0.11, 0.15, 0.26, 0.28, 0.19, 0.10, 0.04, 0.02, 0.00]),
    "all_seasons": np.array([0.06, 0.08, 0.08, 0.12, 0.08, 0.06, 0.03, 0.03, 0.03]),
    "any_state": np.array([0.00, 0.00, 0.00, 0.00, 0.00, 0.08, 0.10, 0.12, 0.12]),
}
#: … and in one of many.
_LONG = {
    "analogues": np.array([0.45, 0.45, 0.45, 0.45, 0.405, 0.20, 0.12, 0.05, 0.00]),
    "regression": np.array([0.45, 0.45, 0.45, 0.45, 0.495, 0.60, 0.48, 0.20, 0.00]),
    "all_seasons": np.zeros(9),
    "any_state": np.zeros(9),
}
#: Years at which a record stands half way between short and long.
HALF_WAY_YEARS = 15.0
#: Analogues and regression shrink in proportion with fewer years than this that had both states, a month ahead and
#: more by the square of it: what two or three dry years did is thin ground.
FULL_WEIGHT_YEARS = 5.0
_SHRINKING = np.array([1.0, 1.0, 1.0, 1.0, 2.0, 2.0, 2.0, 2.0, 2.0])
#: All shrink in proportion with fewer days than this in the rarer state: against a reference that says “never dry” and
#: is nearly always right, a few chances too many cost more than a dry spell foreseen can win [days].
FULL_WEIGHT_DAYS = 120.0
#: Analogues and regression come in between these correlations of a day's state with the next day's. Where the state of
#: a day tells nothing of the next there is nothing to foresee; rivers stand above 0.6.
_MEMORY = (0.15, 0.45)
#: Weight of analogues, the rest going to climatology, where only one state was ever seen. From records whose dry days
#: lie all in the year that is judged: far ahead an ensemble that starts low calls too many stops.
_ONE_STATE = np.array([0.80, 0.70, 0.60, 0.30, 0.12, 0.08, 0.08, 0.05, 0.00])
#: Climatology in season and state is steadied by the one with a common correlation, which counts as much as so many
#: like days [days] …
_STEADY_DAYS = np.array([0.0, 0.0, 0.0, 0.0, 5.0, 15.0, 20.0, 20.0, 20.0])
#: … where the rarer state has at least this share of the days; less in proportion where it has less.
_STEADY_SHARE = 0.15
#: Weight of the common correlation where fewer than `LEAST_DAYS` days are alike and only the season is left.
_FEW_DAYS_WEIGHT = 0.2
#: In a record of fewer years no chance comes near 0 or 1 (see `certainty_limit`).
CERTAIN_YEARS = 3.5


class Sources(NamedTuple):
    """Chances of being dry, or the weights of them, by source; the last axis of each is the lead.

    analogues    share of members of the ensemble
    regression   on the day's situation
    all_seasons  climatology of the state, whatever the season
    any_state    climatology of the season, whatever the state
    """

    analogues: Floats
    regression: Floats
    all_seasons: Floats
    any_state: Floats


def blend_weight(leads: Ints, evidence: Evidence) -> Sources:
    """Weight of each source, shape (…, leads) for an `evidence` with fields of shape (…).

    Where only one state was ever seen, climatology and regression can say nothing but that state. The ensemble runs the
    flow itself down past a level that was never reached, and is heard for the first weeks.
    """
    at = np.log(np.maximum(leads, 1))
    n = evidence.years[..., None]
    share = n**3 / (n**3 + HALF_WAY_YEARS**3)
    low, high = _MEMORY
    ground = np.minimum(1.0, n / FULL_WEIGHT_YEARS) ** np.interp(at, _LOG_LEADS, _SHRINKING)
    rare = np.minimum(1.0, evidence.rarer_days / FULL_WEIGHT_DAYS)[..., None]
    ground = ground * np.clip((evidence.memory - low) / (high - low), 0.0, 1.0)[..., None]
    weights = []
    for name in Sources._fields:
        short, long = (np.interp(at, _LOG_LEADS, table[name]) for table in (_SHORT, _LONG))
        weight = rare * ((1.0 - share) * short + share * long)
        weights.append(weight * ground if name in ("analogues", "regression") else weight)
    alone = Sources(np.interp(at, _LOG_LEADS, _ONE_STATE), *np.zeros((3, len(at))))
    one_state = (evidence.rarer_days == 0)[..., None]
    return Sources(*(np.where(one_state, a, weight) for a, weight in zip(alone, weights, strict=True)))


def steadied(conditional: Floats, common: Floats, days: Floats, leads: Ints, rarer_share: Floats) -> Floats:
    """Climatology in season and state, drawn towards the one that rests on more days where few are alike.

    conditional, common, days   as in `Climatology`, shape (…, leads)
    rarer_share                 of the days in the rarer state, shape (…)
    """
    strength = np.minimum(1.0, rarer_share / _STEADY_SHARE)[..., None]
    counts = strength * np.interp(np.log(np.maximum(leads, 1)), _LOG_LEADS, _STEADY_DAYS)
    weight = np.where(days < LEAST_DAYS, _FEW_DAYS_WEIGHT, counts / np.maximum(days + counts, 1.0))
    return conditional + weight * (common - conditional)


def blend(climatology: Floats, sources: Sources, weights: Sources) -> Floats:
    """Chance from climatology in season and state and the other sources; one that is NaN leaves its weight to it.

    Where climatology is missing analogues stand in for it; NaN where both are.
    """
    base = np.where(np.isnan(climatology), sources.analogues, climatology)
    out = base
    for source, weight in zip(sources, weights, strict=True):
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
