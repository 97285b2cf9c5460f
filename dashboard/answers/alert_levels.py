"""How far ahead can we warn: candidate alert levels of each outlet, judged on its record, and the one recommended."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.answers.ahead import LEVEL_ZERO, PERENNIAL
from dashboard.answers.alert_levels_json import outlet_as_json
from dashboard.answers.answer import Header, Table, by_name, header
from dashboard.side_by_side import side_by_side
from dashboard.workspace import Workspace
from hydro.alert_choice import HIT_RATE, HORIZON_DAYS, LEAD_DAYS, AlertNeeds
from hydro.alert_level import AlertTable, judge_chances, judge_levels
from hydro.alert_outcomes import StopRecord, stop_record
from hydro.dry_spells import DrySpells
from hydro.outlet import Outlet
from hydro.outlook_record import StateRule, make_record
from hydro.problems import InputError, Problem
from hydro.state_runs import Floats
from hydro.stop_within import WITHIN_DAYS, stop_within
from hydro.units import Quantity, UnitError, from_m3s, parse_quantity, to_m3s

NEVER_KNOWN = "its discharge is never known"
#: Chances of stopping that are tried as alerts.
CHANCES = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)
#: Candidates rise by this factor and are rounded to two figures in the display unit, up to so many times the stop level
#: or the discharge that three days in four stay below.
STEP, FIGURES, MOST_TIMES, MOST_SHARE = 1.05, 2, 5.0, 0.75
#: Where a level comes from: one of the grid, the one that the workspace sets, one that was asked for.
GRID, SET, TRIED = "grid", "set", "tried"


@dataclass(frozen=True, eq=False, kw_only=True)
class OutletAlerts:
    """One outlet's alert levels, or `why` there are none.

    origin        where each candidate level comes from, in the order of the table
    within_days   the horizon of the chance that `chances` are thresholds of [days]
    """

    outlet: Outlet
    levels: AlertTable | None = None
    chances: AlertTable | None = None
    origin: tuple[str, ...] = ()
    within_days: int = WITHIN_DAYS
    why: str | None = None

    def candidate_of(self, origin: str) -> int | None:
        """The first candidate of an origin."""
        return self.origin.index(origin) if origin in self.origin else None


@dataclass(frozen=True, eq=False, kw_only=True)
class AlertLevelsAnswer:
    """The answer to `alert-levels`. `left_out` names outlets that have no stop level, where none was asked for."""

    header: Header
    needs: AlertNeeds
    outlets: tuple[OutletAlerts, ...]
    left_out: tuple[str, ...]

    def tables(self) -> list[Table]:
        found = []
        for o in self.outlets:
            id, title = o.outlet.id, o.outlet.title
            if o.levels is None or o.chances is None:
                continue
            frame = level_frame(o)
            found.append(Table(name=f"alert-levels-{id}", title=f"Alert levels for {title}", frame=frame))
            chances = o.chances.table.rename(columns={"at": "chance"})
            found.append(Table(name=f"alert-chances-{id}", title=f"Alerts on a chance for {title}", frame=chances))
            every = [o.levels.stops(k).assign(level_m3s=at) for k, at in enumerate(o.levels.at)]
            frame = pd.concat(every, ignore_index=True)
            found.append(Table(name=f"alert-stops-{id}", title=f"Each stop of {title} by level", frame=frame))
            raised = [o.levels.alerts(k).assign(level_m3s=at) for k, at in enumerate(o.levels.at)]
            frame = pd.concat(raised, ignore_index=True)
            found.append(Table(name=f"alerts-{id}", title=f"Each alert for {title} by level", frame=frame))
        return found

    def as_json(self) -> dict[str, object]:
        return self.header.as_json() | {
            "outlets": [
                outlet_as_json(
                    o.outlet.id, o.outlet.title, self.needs, o.levels, o.chances, o.origin, o.within_days, o.why,
                    self.header.unit,
                )
                for o in self.outlets
            ]
        }  # fmt: skip


def needs_of(
    *, lead_days: int = LEAD_DAYS, hit_rate: float = HIT_RATE, miss_cost: float | None = None,
    horizon_days: int | None = None,
) -> AlertNeeds:  # fmt: skip
    """Needs as people state them; without a horizon, 90 days or twice the lead. Raises InputError."""
    horizon = max(HORIZON_DAYS, 2 * lead_days) if horizon_days is None else horizon_days
    if horizon < lead_days:
        expected = f"at least the {lead_days} days of warning that are needed"
        raise InputError([Problem(row="--horizon", value=str(horizon), expected=expected)])
    return AlertNeeds(lead_days=lead_days, hit_rate=hit_rate, miss_cost=miss_cost, horizon_days=horizon)


def tries_of(texts: Sequence[str]) -> tuple[Quantity, ...]:
    """Levels to try as people write them. Raises InputError with every one that is no discharge above 0."""
    found, problems = [], []
    for text in texts:
        try:
            level = parse_quantity(text)
        except UnitError as error:
            problems.append(Problem(row="--try", value=error.text, expected=error.expected))
            continue
        if level.m3s > 0:
            found.append(level)
        else:
            problems.append(Problem(row="--try", value=text, expected="a discharge above 0"))
    if problems:
        raise InputError(problems)
    return tuple(found)


def level_frame(o: OutletAlerts) -> pd.DataFrame:
    """The table of levels with their origin."""
    if o.levels is None:
        return pd.DataFrame()
    frame = o.levels.table.rename(columns={"at": "level_m3s"})
    frame.insert(1, "origin", list(o.origin))
    return frame


def alert_levels(
    workspace: Workspace,
    *,
    outlets: Sequence[str] = (),
    needs: AlertNeeds | None = None,
    tries: Sequence[Quantity] = (),
) -> AlertLevelsAnswer:
    """Alert levels of the outlets that can stop; with `outlets`, of those, and why of those that cannot."""
    needs = needs or AlertNeeds()
    asked = by_name(workspace.outlets, outlets)
    told = [id for id in asked if outlets or not workspace.outlets[id].perennial]
    tasks = [
        Task(
            outlet=workspace.outlets[id],
            values=workspace.flow_of(id).values,
            dry=workspace.dry_spells[id],
            unit=workspace.unit,
            needs=needs,
            tries=tuple(tries),
        )
        for id in told
    ]
    found = side_by_side(judge_outlet, tasks)
    return AlertLevelsAnswer(
        header=header(workspace),
        needs=needs,
        outlets=tuple(found),
        left_out=tuple(workspace.outlets[id].title for id in asked if id not in told),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Task:
    """All that judging one outlet needs, small enough to be handed to another process."""

    outlet: Outlet
    values: pd.Series
    dry: DrySpells | None
    unit: str
    needs: AlertNeeds
    tries: tuple[Quantity, ...]


def judge_outlet(task: Task) -> OutletAlerts:
    """One outlet's levels and chances, with what is recommended."""
    outlet, dry, needs, values = task.outlet, task.dry, task.needs, task.values
    if outlet.stop_m3s is None:
        return OutletAlerts(outlet=outlet, why=PERENNIAL)
    if outlet.stop_m3s == 0:
        return OutletAlerts(outlet=outlet, why=LEVEL_ZERO)
    if dry is None:
        return OutletAlerts(outlet=outlet, why=NEVER_KNOWN)
    record = stop_record(dry)
    grid = levels_to_try(values.to_numpy(np.float64), outlet.stop_m3s, task.unit)
    origins = dict.fromkeys(grid, GRID)
    origins |= {t.m3s: TRIED for t in task.tries if t.m3s > 0}
    if outlet.alert_at is not None and outlet.alert_at.m3s > 0:
        origins[outlet.alert_at.m3s] = SET
    levels = judge_levels(record, values.to_numpy(np.float64), list(origins), needs)
    within = max(WITHIN_DAYS, 2 * needs.lead_days)
    chances = judge_chances(record, chance_of_stopping(values, outlet, record, within), CHANCES, needs)
    _ = levels.recommended, chances.recommended  # worked out here, where other outlets are worked out meanwhile
    return OutletAlerts(
        outlet=outlet,
        levels=levels,
        chances=chances,
        origin=tuple(origins[float(at)] for at in levels.at),
        within_days=within,
    )


def chance_of_stopping(values: pd.Series, outlet: Outlet, record: StopRecord, within: int) -> Floats:
    """Chance of stopping within so many days [days] on each day of `record`, out of sample; NaN = none given."""
    if outlet.stop_m3s is None or outlet.restart_m3s is None:
        raise ValueError("a chance of stopping needs a stop level")
    rule = StateRule(
        stop_m3s=outlet.stop_m3s,
        restart_m3s=outlet.restart_m3s,
        stop_days=outlet.stop_days,
        restart_days=outlet.restart_days,
    )
    known = make_record(values.loc[values.first_valid_index() : values.last_valid_index()], rule)
    given = stop_within(known, days=within)
    chance = pd.Series(given.by_row(len(known)), index=known.index)
    return chance.reindex(record.index).to_numpy(np.float64)


def levels_to_try(discharge_m3s: Floats, stop_m3s: float, unit: str) -> list[float]:
    """Round levels above the stop level [m³/s], from the record's discharge alone: what came of them plays no part."""
    known = discharge_m3s[~np.isnan(discharge_m3s)]
    most = np.quantile(known, MOST_SHARE) if len(known) else stop_m3s
    top = min(max(float(most), 1.5 * stop_m3s), MOST_TIMES * stop_m3s)
    stop, top = from_m3s(stop_m3s, unit), from_m3s(top, unit)
    steps = int(np.ceil(np.log(top / stop) / np.log(STEP)))
    rounded = [float(f"{stop * STEP**k:.{FIGURES}g}") for k in range(1, steps + 1)]
    return [to_m3s(level, unit) for level in dict.fromkeys(rounded) if level > stop * 1.005]
