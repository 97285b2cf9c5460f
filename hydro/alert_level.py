"""Which discharge level warns early enough: candidates judged on the whole record, one chosen, and judged again on
years that had no part in choosing it.

Choosing among many levels on the years that judge them flatters the one chosen. So each year is judged by the level
that the other years choose (leave one year out), and the sum over years is what a recommendation can promise. A level
is chosen either as the one with the fewest false alerts among those that announce the needed share of stops in time,
or by cost: a miss (late counts as missed) may cost so many false alerts.

Sources: Murphy 1977, Mon. Weather Rev. 105:803-816, and Richardson 2000, Q. J. R. Meteorol. Soc. 126:649-667, for the
cost-loss situation (cited from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from hydro.alert_choice import AlertNeeds, ByYear, choose, choose_by_year
from hydro.alert_counts import alert_rates, counts_by_year, lead_quantiles
from hydro.alert_episodes import alert_episodes
from hydro.alert_outcomes import (
    FALSE,
    FOLLOWED,
    OPEN,
    OUTCOMES,
    AlertOutcomes,
    StopRecord,
    judge_alerts,
)
from hydro.state_runs import Floats

#: With fewer stops judged no level is recommended.
LEAST_EVENTS = 5
#: A discharge alert is over when discharge is back at so many times its level.
CLEAR_TIMES = 1.1
#: An alert on a chance is over when the chance is down at this share of what raised it.
CLEAR_SHARE = 0.75
TOO_FEW_EVENTS = "fewer than 5 stops can be judged"


@dataclass(frozen=True, eq=False, kw_only=True)
class AlertTable:
    """Candidates of one kind judged on one record.

    at            what raises the alert, one a candidate: a level [m³/s] or a chance, the rarest alerts first
    table         one row a candidate, NaN where there is nothing to divide by:
                  at, hits, late, misses, not_judged, too_soon (stops); too_early (of the misses); carried (of the
                  stops, with an alert standing since before); false_alerts, open_alerts (not judged), alerts (raised
                  before a stop or without one); hit_rate; false_alarm_ratio (false among stops announced and false
                  alerts); false_alarm_rate (false among quiet periods); alerts_per_year, false_per_year; lead_p10,
                  lead_median, lead_p90 [days]; value_at_cost where a cost is stated
    outcomes      stops and alerts of each candidate
    by_year       counts by candidate and calendar year
    years         length of the record in known days [years]
    """

    record: StopRecord
    needs: AlertNeeds
    at: Floats
    table: pd.DataFrame
    outcomes: tuple[AlertOutcomes, ...]
    by_year: ByYear
    years: float
    quiet_periods: float

    @property
    def n_events(self) -> int:
        return len(self.record.stop)

    @cached_property
    def recommended(self) -> Recommendation:
        """The candidate that the whole record chooses, with its record on held-out years, or why there is none."""
        return recommend(self)

    def stops(self, candidate: int) -> pd.DataFrame:
        """One row a stop: stop, last (dry days), alert (day the lead begins), lead_days, outcome, carried."""
        o, index = self.outcomes[candidate], self.record.index
        kinds = np.array(OUTCOMES, dtype=object)
        return pd.DataFrame(
            {
                "stop": index[self.record.stop],
                "last": index[self.record.last],
                "alert": pd.Series(index[np.maximum(o.alert_row, 0)]).where(o.alert_row >= 0),
                "lead_days": o.lead_days,
                "outcome": kinds[o.stop_outcome],
                "too_early": o.too_early,
                "carried": o.carried,
            }
        )

    def alerts(self, candidate: int) -> pd.DataFrame:
        """One row an alert raised: raised, over (NaT while it stands), outcome."""
        o, index = self.outcomes[candidate], self.record.index
        kept = np.isin(o.alert_outcome, (FOLLOWED, FALSE, OPEN))
        names = {FOLLOWED: "followed by a stop", FALSE: "false", OPEN: "not judged"}
        over = o.over[kept]
        ended = pd.Series(index[np.minimum(over, len(index) - 1)]).where(over < len(index))
        kinds = [names[int(k)] for k in o.alert_outcome[kept]]
        return pd.DataFrame({"raised": index[o.raised[kept]], "over": ended, "outcome": kinds})


@dataclass(frozen=True, eq=False, kw_only=True)
class Recommendation:
    """The candidate chosen, or `why_none`.

    candidate   row of the table
    reached     True where it reaches the hit rate asked for on the years it was chosen on (None when chosen by cost)
    held_out    the counts and rates of `AlertTable.table` (without lead times), each year judged by the candidate that
                the other years choose
    chosen      how often each candidate was chosen by the other years, by `at`
    """

    candidate: int | None
    reached: bool | None
    held_out: dict[str, float] | None
    chosen: dict[float, int]
    why_none: str | None = None


def judge_levels(
    record: StopRecord, discharge_m3s: Floats, levels_m3s: Sequence[float], needs: AlertNeeds
) -> AlertTable:
    """Levels of discharge [m³/s] as alerts for the stops of `record` (same days).

    Raises ValueError where there is no level, or one is not above 0.
    """
    levels = np.unique(np.asarray(levels_m3s, dtype=np.float64))
    if len(levels) == 0 or not levels[0] > 0:
        raise ValueError("alert levels lie above 0")
    return _judge(record, discharge_m3s, levels, levels, CLEAR_TIMES * levels, needs)


def judge_chances(record: StopRecord, chance: Floats, thresholds: Sequence[float], needs: AlertNeeds) -> AlertTable:
    """Thresholds on the chance of stopping (NaN = none stated that day) as alerts, rarest first.

    A dry day counts as a chance of 1. Raises ValueError for thresholds outside (0, 1].
    """
    levels = np.unique(np.asarray(thresholds, dtype=np.float64))[::-1]
    if len(levels) == 0 or not (levels[-1] > 0 and levels[0] <= 1):
        raise ValueError("thresholds of a chance lie between 0 and 1")
    signal = np.where(record.in_spell & ~record.running, 1.0, chance)
    return _judge(record, -signal, levels, -levels, -CLEAR_SHARE * levels, needs)


def _judge(
    record: StopRecord, signal: Floats, at: Floats, alert_at: Floats, clear_at: Floats, needs: AlertNeeds
) -> AlertTable:
    outcomes = tuple(
        judge_alerts(
            record,
            alert_episodes(signal, low, clear, record.in_spell),
            lead_days=needs.lead_days,
            horizon_days=needs.horizon_days,
        )
        for low, clear in zip(alert_at.tolist(), clear_at.tolist(), strict=True)
    )
    known = ~np.isnan(signal)
    years = float(known.sum()) / 365.25
    quiet = record.quiet_periods(needs.horizon_days)
    by_year = counts_by_year(record, outcomes, known)
    rows = [
        {"at": float(a), **alert_rates(by_year.total(k), years, quiet, needs), **lead_quantiles(o)}
        for k, (a, o) in enumerate(zip(at, outcomes, strict=True))
    ]
    return AlertTable(
        record=record,
        needs=needs,
        at=at,
        table=pd.DataFrame(rows),
        outcomes=outcomes,
        by_year=by_year,
        years=years,
        quiet_periods=quiet,
    )


def recommend(table: AlertTable) -> Recommendation:
    """Choose on the whole record; judge each year by what the others choose. Refuses below `LEAST_EVENTS` stops."""
    counts, needs = table.by_year, table.needs
    judged = counts.hits + counts.late + counts.misses
    if table.n_events < LEAST_EVENTS or int(judged.sum(axis=1).max(initial=0)) < LEAST_EVENTS:
        return Recommendation(candidate=None, reached=None, held_out=None, chosen={}, why_none=TOO_FEW_EVENTS)
    candidate = choose(counts.sums(), needs)
    if candidate is None:
        return Recommendation(candidate=None, reached=None, held_out=None, chosen={}, why_none=TOO_FEW_EVENTS)
    by_year = choose_by_year(counts, needs)
    kept = by_year >= 0
    total = counts.picked(by_year[kept], np.flatnonzero(kept))
    years = float(counts.known_years[kept].sum())
    share = years / table.years if table.years > 0 else 0.0
    held_out = alert_rates(total, years, table.quiet_periods * share, needs)
    rate = float(table.table["hit_rate"].iloc[candidate])
    values, times = np.unique(by_year[kept], return_counts=True)
    return Recommendation(
        candidate=candidate,
        reached=None if needs.miss_cost is not None else bool(rate >= needs.hit_rate),
        held_out=held_out | {"years": years},
        chosen={float(table.at[v]): int(t) for v, t in zip(values, times, strict=True)},
    )
