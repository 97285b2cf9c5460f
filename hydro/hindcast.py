"""What the outlook would have said on earlier days, each year judged by a record that leaves that year out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from hydro.analogues import find_donors, states_on
from hydro.outlook_blend import Sources, blend, blend_weight, certainty_limit
from hydro.outlook_evidence import evidence_outside
from hydro.outlook_record import OutlookRecord
from hydro.season_climatology import season_climatology
from hydro.state_regression import dry_chance, fit_dry_chance
from hydro.state_runs import DRY, RUNNING, UNKNOWN, Floats, Ints

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
    first, last = record.left_out(horizon)
    year = record.year[starts]
    climate = season_climatology(record, leads, first, last)
    slot, state = record.day_of_year[starts] - 1, record.known_state[starts] - 1
    conditional, any_state = climate.conditional[year, :, state, slot], climate.any_state[year, :, slot]
    donors = find_donors(record, starts, first[year], last[year], members=members, horizon=horizon)
    analogues = dry_share(states_on(record, starts, donors, leads)).T
    coefficients = fit_dry_chance(record, leads, first, last)
    regression = dry_chance(coefficients[year], record.features[starts][:, None, :])
    sources = Sources(analogues, regression, climate.all_seasons[year, :, state], any_state)
    ground = evidence_outside(record, first, last)
    weights = Sources(*(weight[year] for weight in blend_weight(leads, ground)))
    limit = certainty_limit(leads, ground.known_years, members)[year]
    ahead = np.concatenate((record.state, np.full(horizon, UNKNOWN, dtype=np.int8)))
    then = ahead[starts[:, None] + leads]
    return Hindcast(
        leads=leads,
        row=starts,
        year=year,
        outcome=np.where(then == UNKNOWN, np.nan, then == DRY),
        forecast=np.clip(blend(conditional, sources, weights), limit, 1.0 - limit),
        analogues=analogues,
        regression=regression,
        conditional=conditional,
        any_state=any_state,
        persistence=np.repeat((record.known_state[starts] == DRY)[:, None].astype(np.float64), len(leads), axis=1),
    )


def dry_share(states: np.ndarray) -> Floats:
    """Share of dry members, half a member added to either side so that a small ensemble never claims certainty.

    NaN where no member's state is known. The last axis holds the members.
    """
    dry = (states == DRY).sum(axis=-1)
    known = dry + (states == RUNNING).sum(axis=-1)
    return np.where(known > 0, (dry + 0.5) / (known + 1.0), np.nan)
