"""How good the outlook has been: hindcasts in which the year judged is left out of everything that made them.

The reference is climatology conditional on the present state; unconditional climatology and persistence stand beside
it. Days of one year hang together, so the range of a skill comes from resampling whole years, and with fewer than
`LEAST_EVENTS` dry spells no skill is stated.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from hydro.hindcast import MEMBERS, Hindcast, hindcast
from hydro.outlook_record import StateRule, make_record
from hydro.reliability import bin_edges, outcome_correlation, reliability_bins
from hydro.scores import brier, brier_parts
from hydro.state_runs import DRY, Floats

LEADS = (1, 3, 7, 14, 30, 60, 90)
LEAST_EVENTS = 5
LEAST_YEARS = 3
FEW_EVENTS = "fewer than 5 dry spells"
FEW_YEARS = "fewer than 3 years"
NOTHING_TO_JUDGE = "no day to judge"
NEVER_WRONG = "the reference is never wrong"


@dataclass(frozen=True, eq=False, kw_only=True)
class Skill:
    """Out-of-sample scores of the outlook, all of them for the chance of *running*.

    table        one row a lead: lead [days], n (forecasts judged), n_years, n_events (dry spells in the record),
                 base_rate (share of days running), brier, its parts brier_reliability, brier_resolution,
                 brier_uncertainty and brier_within_bins (what binning leaves over), brier_climatology,
                 brier_conditional_climatology, brier_persistence, skill_vs_conditional_climatology, low, high (range
                 by resampling years) and why_no_skill. A score that cannot be had is NaN; then `why_no_skill` says why.
    reliability  one row a bin and lead: lead, forecast, observed, n, bar_low, bar_high
    hindcast     the forecasts themselves, as chances of being dry
    """

    table: pd.DataFrame
    reliability: pd.DataFrame
    hindcast: Hindcast
    n_events: int
    level: float


def outlook_skill(
    discharge_m3s: pd.Series,
    *,
    stop_level_m3s: float,
    restart_level_m3s: float | None = None,
    stop_days: int = 1,
    restart_days: int = 1,
    until: pd.Timestamp | None = None,
    leads: Sequence[int] = LEADS,
    every: int = 5,
    members: int = MEMBERS,
    level: float = 0.95,
    resamples: int = 1000,
    seed: int = 0,
) -> Skill:
    """Hindcast a daily series [m³/s] (regular, NaN = not measured) and score it.

    The rule is given as in `outlook`. `until` is the last civil day that may be used. A forecast is issued every
    `every` days and judged by the state of the day at each lead [days] by the rule; unknown days are not judged.
    `level` is the coverage of the range of skill and of the consistency bars.

    Raises ValueError for an argument out of range.
    """
    days = np.array(sorted(set(leads)), dtype=np.int64)
    if len(days) == 0 or days[0] < 1 or every < 1 or members < 1 or not 0 < level < 1:
        raise ValueError("leads, every and members are at least 1, level lies between 0 and 1")
    restart = stop_level_m3s if restart_level_m3s is None else restart_level_m3s
    rule = StateRule(stop_m3s=stop_level_m3s, restart_m3s=restart, stop_days=stop_days, restart_days=restart_days)
    past = discharge_m3s if until is None else discharge_m3s.loc[:until]
    record = make_record(past.loc[past.first_valid_index() : past.last_valid_index()], rule)
    cast = hindcast(record, days, every=every, members=members)
    n_events = int((record.runs.state == DRY).sum())
    rng = np.random.default_rng(seed)
    rows, bins = [], []
    for k, lead in enumerate(days.tolist()):
        judged = ~np.isnan(cast.outcome[:, k] + cast.forecast[:, k] + cast.conditional[:, k] + cast.any_state[:, k])
        ran = 1.0 - cast.outcome[judged, k]
        sources = (cast.forecast, cast.any_state, cast.conditional, cast.persistence)
        p, *references = (1.0 - source[judged, k] for source in sources)
        rows.append({"lead": lead, **_scores(p, references, ran, cast.year[judged], n_events, level, resamples, rng)})
        found = reliability_bins(p, ran, rng, correlation=outcome_correlation(p, ran), level=level)
        found.insert(0, "lead", lead)
        bins.append(found)
    return Skill(
        table=pd.DataFrame(rows),
        reliability=pd.concat(bins, ignore_index=True),
        hindcast=cast,
        n_events=n_events,
        level=level,
    )


def _scores(
    p: Floats,
    references: list[Floats],
    ran: Floats,
    year: np.ndarray,
    n_events: int,
    level: float,
    resamples: int,
    rng: np.random.Generator,
) -> dict[str, object]:
    """One row of the table, but for the lead."""
    names = ("brier_climatology", "brier_conditional_climatology", "brier_persistence")
    years = np.unique(year)
    row: dict[str, object] = {"n": len(p), "n_years": len(years), "n_events": n_events}
    part_names = ("brier", "reliability", "resolution", "uncertainty", "within_bins")
    columns = ["brier", *(f"brier_{name}" for name in part_names[1:])]
    skill = low = high = np.nan
    why: str | None = None
    if len(p) == 0:
        row |= {"base_rate": np.nan, **dict.fromkeys([*columns, *names], np.nan)}
        why = NOTHING_TO_JUDGE
    else:
        parts = brier_parts(p, ran, bin_edges(len(p)))
        row |= {"base_rate": float(ran.mean())}
        row |= {column: getattr(parts, name) for column, name in zip(columns, part_names, strict=True)}
        row |= {name: brier(reference, ran) for name, reference in zip(names, references, strict=True)}
        if n_events < LEAST_EVENTS:
            why = FEW_EVENTS
        elif len(years) < LEAST_YEARS:
            why = FEW_YEARS
        else:
            skill, low, high = _skill_by_year(p, references[1], ran, year, level, resamples, rng)
            why = NEVER_WRONG if np.isnan(skill) else None
    return {**row, "skill_vs_conditional_climatology": skill, "low": low, "high": high, "why_no_skill": why}


def _skill_by_year(
    p: Floats, reference: Floats, ran: Floats, year: np.ndarray, level: float, resamples: int, rng: np.random.Generator
) -> tuple[float, float, float]:
    """1 - Brier / Brier of the reference, and its range over resampled years."""
    ours, theirs = (np.bincount(year, weights=(chance - ran) ** 2) for chance in (p, reference))
    judged = np.bincount(year) > 0
    ours, theirs = ours[judged], theirs[judged]
    if theirs.sum() <= 0:
        return np.nan, np.nan, np.nan
    drawn = rng.multinomial(len(ours), np.full(len(ours), 1.0 / len(ours)), size=resamples)
    above, below = drawn @ ours, drawn @ theirs
    some = below > 0
    low, high = np.quantile(1.0 - above[some] / below[some], [(1.0 - level) / 2.0, (1.0 + level) / 2.0])
    return float(1.0 - ours.sum() / theirs.sum()), float(low), float(high)
