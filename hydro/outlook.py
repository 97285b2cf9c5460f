"""The days ahead of one outlet: chance of running day by day, discharge, and stopping or restarting by a day.

Sources are blended with weights stated beforehand (`outlook_blend`): an ensemble of what followed earlier days like
this one, a regression on the day's situation, and how often it was dry so many days after days in the same season
and state. Only what is dated up to the day of issue is used. The forecast starts from the last reading,
however old, so that an old reading makes it wider by itself.

Whether it stops *by* a day is a first-passage question: it counts every member that was dry at least once on the way
and is never below the chance of being dry on the day itself.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from hydro.analogues import find_donors, paths, run_rule
from hydro.first_passage import passed_by
from hydro.hindcast import MEMBERS, dry_share
from hydro.outlook_band import discharge_band
from hydro.outlook_blend import Sources, blend, blend_weight, certainty_limit, steadied
from hydro.outlook_evidence import evidence_outside
from hydro.outlook_record import OutlookRecord, StateRule, make_record
from hydro.outlook_result import (
    BEYOND_RECORD,
    FEW_ANALOGUES,
    NEVER_DRY,
    NO_READING,
    SHORT_RECORD,
    STALE_READING,
    STATE_UNKNOWN,
    TOO_OLD,
    TOO_SHORT,
    Outlook,
    date_reached,
    no_outlook,
)
from hydro.season_climatology import like_days, season_climatology
from hydro.state_regression import dry_chance, fit_dry_chance
from hydro.state_runs import DRY, RUNNING, STATE_NAMES, UNKNOWN, Floats, Ints
from hydro.value_step import level_edges

#: Regression is fitted at these leads [days]; its log odds are interpolated between them.
_FITTED_LEADS = np.array([1, 3, 7, 14, 30, 60, 90, 120, 180, 270, 365])
#: A forecast reaches no farther than this from the reading that it starts from [days].
MOST_DAYS = 730
#: A record shorter than this is called short [years].
SHORT_RECORD_YEARS = 5.0
__all__ = ["Outlook", "date_reached", "outlook"]

STALE_DAYS = 7
FEW_MEMBERS = 30


def outlook(
    discharge_m3s: pd.Series,
    issued: pd.Timestamp,
    *,
    stop_level_m3s: float,
    restart_level_m3s: float | None = None,
    stop_days: int = 1,
    restart_days: int = 1,
    state_now: str | None = None,
    horizon: int = 180,
    members: int = MEMBERS,
    level: float = 0.95,
    level_log_sd: float = 0.0,
    reading_log_sd: float = 0.0,
    seed: int = 0,
) -> Outlook:
    """Outlook from a daily series [m³/s] (regular, NaN = not measured), issued on the civil day `issued`.

    stop_level_m3s, restart_level_m3s, stop_days, restart_days   the outlet's rule, as in `find_dry_spells`
    state_now        "dry" or "running" where someone knows better than the record; None = by the rule
    level_log_sd     standard deviation of ln level: what is not known about the levels, spread over the members
    reading_log_sd   the same of ln discharge at the start: the error of the published reading, lasting along a path
    seed             of the draws for the two spreads above and for a state that is not known

    Raises ValueError for an argument out of range.
    """
    if state_now not in (None, "dry", "running"):
        raise ValueError('state_now is "dry", "running" or None')
    if horizon < 1 or members < 1 or not 0 < level < 1 or level_log_sd < 0 or reading_log_sd < 0:
        raise ValueError("horizon and members are at least 1, level lies between 0 and 1, spreads are at least 0")
    restart = stop_level_m3s if restart_level_m3s is None else restart_level_m3s
    rule = StateRule(stop_m3s=stop_level_m3s, restart_m3s=restart, stop_days=stop_days, restart_days=restart_days)
    issued = pd.Timestamp(issued).normalize()
    past = discharge_m3s.loc[:issued]
    first, last = past.first_valid_index(), past.last_valid_index()
    if last is None:
        return no_outlook(issued, None, level, NO_READING)
    age = (issued - last).days
    if age + horizon > MOST_DAYS:
        return no_outlook(issued, last, level, TOO_OLD)
    record = make_record(past.loc[first:last], rule)
    start = len(record) - 1
    if state_now is not None and STATE_NAMES[record.known_state[start]] != state_now:
        record = _told(record, DRY if state_now == "dry" else RUNNING)
    now = int(record.known_state[start])
    ahead = np.arange(1, age + horizon + 1)
    rng = np.random.default_rng(seed)
    chance_dry_now = _chance_dry_now(record, now)

    # Where the record is too short for whole paths, donors near its end serve for as long as their paths last.
    whole = len(record) - len(ahead) >= 2 * 365
    nothing = np.array([len(record)]), np.array([len(record) - 1])
    reach = len(ahead) if whole else min(len(ahead), 30)
    donors = find_donors(record, np.array([start]), *nothing, members=members, horizon=reach)
    begin = record.z[start] + rng.normal(0.0, reading_log_sd, members) if reading_log_sd else record.z[[start]]
    z = paths(record, begin[None, :], donors, len(ahead))[:, 0, :]
    shift = rng.normal(0.0, level_log_sd, members) if level_log_sd else 0.0
    initial = np.where(rng.random(members) < chance_dry_now, DRY, RUNNING).astype(np.int8)
    counts = [np.broadcast_to(c[start], (members,)) for c in (record.below, record.above)]
    stop_edge, restart_edge = (edge[0] for edge in level_edges(record, *nothing))
    states = run_rule(rule, z, initial, counts[0], counts[1], shift, edges=(stop_edge, restart_edge))

    ground = evidence_outside(record, *nothing)
    weights = Sources(*(weight[0] for weight in blend_weight(ahead, ground)))
    like = like_days(record, int(record.day_of_year[start]), now, start - 1)
    beyond = np.concatenate((record.state, np.full(len(ahead), UNKNOWN, dtype=np.int8)))
    climate_states = beyond[like + ahead[:, None]]
    climate = season_climatology(record, ahead, *nothing)
    slot = record.day_of_year[start] - 1
    any_state = climate.any_state[0, :, slot]
    base = any_state
    if now != UNKNOWN:
        at = 0, slice(None), now - 1, slot
        base = steadied(climate.conditional[at], climate.common[at], climate.days[at], ahead, ground.rarer_share[0])
    all_seasons = np.full(len(ahead), np.nan) if now == UNKNOWN else climate.all_seasons[0, :, now - 1]
    regression = _regression(record, ahead, start, chance_dry_now, nothing)
    dry = blend(base, Sources(dry_share(states), regression, all_seasons, any_state), weights)
    if np.isnan(dry[age:]).all():
        return no_outlook(issued, last, level, TOO_SHORT)
    n_years = float(ground.known_years[0])
    limit = certainty_limit(ahead, n_years, members)
    dry = np.clip(dry, limit, 1.0 - limit)

    total = weights.analogues + weights.regression
    band = discharge_band(record, z, like, ahead, 1.0 - total, level)
    known = (states != UNKNOWN).sum(axis=1)
    shown = slice(age, None)  # row 0 stands for the reading's own day
    lead = np.arange(horizon + 1)
    days = pd.DataFrame(
        {
            "date": issued + pd.to_timedelta(lead, unit="D"),
            "lead": lead,
            "probability_running": 1.0 - np.concatenate(([chance_dry_now], dry))[shown],
            **{
                f"discharge_{name}_m3s": np.concatenate((rule.discharge(record.z[[start]]), row))[shown]
                for name, row in zip(("low", "median", "high"), band, strict=True)
            },
            "members": np.concatenate(([members], known))[shown],
        }
    )
    passages: dict[str, pd.DataFrame | None] = {"stops_by": None, "restarts_by": None}
    if now != UNKNOWN:
        other, on_day = (DRY, dry) if now == RUNNING else (RUNNING, 1.0 - dry)
        by = total * passed_by(states, other) + (1.0 - total) * passed_by(climate_states, other)
        by = np.maximum.accumulate(np.fmax(np.minimum(by, 1.0 - limit), on_day))
        table = days[["lead", "date"]].assign(probability=np.concatenate(([0.0], by))[shown])
        passages["stops_by" if now == RUNNING else "restarts_by"] = table
    dry_years = len(np.unique(record.year[record.state == DRY]))
    weak = {
        SHORT_RECORD: n_years < SHORT_RECORD_YEARS,
        STALE_READING: age > STALE_DAYS,
        FEW_ANALOGUES: int(known[0]) < FEW_MEMBERS,
        BEYOND_RECORD: int(known[0]) >= FEW_MEMBERS > int(known[-1]),
        STATE_UNKNOWN: now == UNKNOWN,
        NEVER_DRY: dry_years == 0,
    }
    return Outlook(
        issued=issued,
        reading_day=last,
        age_days=age,
        state_now=STATE_NAMES[now],
        days=days,
        reasons=tuple(reason for reason, holds in weak.items() if holds),
        n_members=int((donors.row >= 0).sum()),
        n_years=n_years,
        n_dry_years=dry_years,
        level=level,
        **passages,
    )


def _told(record: OutlookRecord, state: int) -> OutlookRecord:
    """The record with the state of its last day as someone knows it."""
    known, lasted = record.known_state.copy(), record.days_in_state.copy()
    known[-1], lasted[-1] = state, 1
    return replace(record, known_state=known, days_in_state=lasted)


def _chance_dry_now(record: OutlookRecord, now: int) -> float:
    """1 or 0 where the state is known; else how often days between the two levels were dry."""
    if now != UNKNOWN:
        return float(now == DRY)
    between = record.usable & (record.z >= 0) & (record.z < record.rule.log_restart)
    return float(((record.known_state[between] == DRY).sum() + 1) / (between.sum() + 2))


def _regression(
    record: OutlookRecord, ahead: Ints, start: int, chance_dry_now: float, nothing: tuple[Ints, Ints]
) -> Floats:
    """Chance of being dry on each day ahead by regression; NaN where it could not be fitted."""
    fitted = _FITTED_LEADS[ahead[-1] >= _FITTED_LEADS]
    if fitted[-1] < ahead[-1] <= _FITTED_LEADS[-1]:
        fitted = np.append(fitted, ahead[-1])
    coefficients = fit_dry_chance(record, fitted, *nothing)[0]
    situation = np.repeat(record.features[[start]], 2, axis=0)
    if record.known_state[start] == UNKNOWN:
        situation[:, 7] = [0.0, 1.0]  # running and dry, weighed by how likely each is
    chance = dry_chance(coefficients[:, None, :], situation) @ np.array([1.0 - chance_dry_now, chance_dry_now])
    known = ~np.isnan(chance)
    if not known.any():
        return np.full(len(ahead), np.nan)
    log_odds = np.log(chance[known] / (1.0 - chance[known]))
    spread = np.interp(np.log(ahead), np.log(fitted[known]), log_odds)
    return 1.0 / (1.0 + np.exp(-spread))
