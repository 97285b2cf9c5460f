"""What the outlook would have said on earlier days, each year judged by a record that leaves that year out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.analogues import find_donors, states_on
from hydro.outlook_blend import Sources, blend, blend_weight, certainty_limit, steadied
from hydro.outlook_evidence import evidence_outside
from hydro.outlook_record import OutlookRecord
from hydro.season_climatology import Climatology, season_climatology
from hydro.state_regression import dry_chance, fit_dry_chance
from hydro.state_runs import DRY, RUNNING, UNKNOWN, Floats, Ints
from hydro.value_step import level_edges

MEMBERS = 150


@dataclass(frozen=True, eq=False, kw_only=True)
class Hindcast:
    """Chances of being dry, one row an issue date and one column a lead; NaN = no forecast or unknown outcome.

    `row` and `year` place the issue dates in the record. `outcome` is 1 dry, 0 running. `forecast` is the outlook's;
    `analogues`, `regression`, `conditional` (climatology in season and state) and `any_state` (in season alone) are
    its sources; `persistence` says that the state stays as it is.
    """

    leads: Ints
    row: Ints
    year: Ints
    outcome: Floats
    forecast: Floats
    analogues: Floats
    regression: Floats
    conditional: Floats
    any_state: Floats
    persistence: Floats


def hindcast(record: OutlookRecord, leads: Ints, *, every: int = 5, members: int = MEMBERS) -> Hindcast:
    """Forecasts issued every `every` days of the record, at `leads` [days].

    Each is made of the other years alone: what its year leaves out (see `OutlookRecord.left_out`) is left out of
    donors, climatology, regression and weights. Predictors are the values up to the issue date.
    """
    starts = np.arange(0, len(record), every)
    starts = starts[record.usable[starts]]
    horizon = int(leads.max())
    year = record.year[starts]
    slot, state = record.day_of_year[starts] - 1, record.known_state[starts] - 1
    climate, fold = _climatology_without(record, starts, leads)
    at = fold, np.arange(len(leads)), state[:, None], slot[:, None]
    conditional, any_state = climate.conditional[at], climate.any_state[at[0], at[1], at[3]]
    all_seasons = climate.all_seasons[at[:3]]
    first, last = record.left_out(horizon)
    donors = find_donors(record, starts, first[year], last[year], members=members, horizon=horizon)
    stop, restart = level_edges(record, first, last)
    analogues = dry_share(states_on(record, starts, donors, leads, (stop[year], restart[year]))).T
    coefficients = fit_dry_chance(record, leads, *record.left_out(leads))
    regression = dry_chance(coefficients[year], record.features[starts][:, None, :])
    sources = Sources(analogues, regression, all_seasons, any_state)
    ground = evidence_outside(record, first, last)
    weights = Sources(*(weight[year] for weight in blend_weight(leads, ground)))
    base = steadied(conditional, climate.common[at], climate.days[at], leads, ground.rarer_share[year])
    limit = certainty_limit(leads, ground.known_years, members)[year]
    ahead = np.concatenate((record.state, np.full(horizon, UNKNOWN, dtype=np.int8)))
    then = ahead[starts[:, None] + leads]
    return Hindcast(
        leads=leads,
        row=starts,
        year=year,
        outcome=np.where(then == UNKNOWN, np.nan, then == DRY),
        forecast=np.clip(blend(base, sources, weights), limit, 1.0 - limit),
        analogues=analogues,
        regression=regression,
        conditional=conditional,
        any_state=any_state,
        persistence=np.repeat((record.known_state[starts] == DRY)[:, None].astype(np.float64), len(leads), axis=1),
    )


def _climatology_without(record: OutlookRecord, starts: Ints, leads: Ints) -> tuple[Climatology, Ints]:
    """Climatology for forecasts from rows `starts`, and which of its ranges each forecast has, by lead.

    A forecast that ends within its year leaves out that year; one that ends in the next leaves out as many days of that
    too as its lead. What looks at states alone looks back no farther than the rule does.
    """
    back = record.rule.look_back - 1
    within = record.left_out(np.zeros_like(leads), look_back=back)
    beyond = record.left_out(leads, look_back=back)
    climate = season_climatology(record, leads, *(np.concatenate(edges) for edges in zip(within, beyond, strict=True)))
    year = record.year[starts]
    year_end = np.searchsorted(record.year, year, side="right") - 1
    return climate, year[:, None] + record.n_years * (starts[:, None] + leads > year_end[:, None])


def dry_share(states: np.ndarray) -> Floats:
    """Share of dry members, half a member added to either side so that a small ensemble never claims certainty.

    NaN where no member's state is known. The last axis holds the members.
    """
    dry = (states == DRY).sum(axis=-1)
    known = dry + (states == RUNNING).sum(axis=-1)
    return np.where(known > 0, (dry + 0.5) / (known + 1.0), np.nan)
