"""What stops and alerts add up to: counts by year, the rates that follow from them, and quantiles of the lead."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from hydro.alert_choice import AlertNeeds, ByYear
from hydro.alert_outcomes import (
    FALSE,
    FOLLOWED,
    HIT,
    LATE,
    MISSED,
    NOT_JUDGED,
    OPEN,
    TOO_SOON,
    AlertOutcomes,
    StopRecord,
)
from hydro.scores import Contingency
from hydro.state_runs import Bools, Ints

#: From a shorter record [years of known days] nothing is said of a year: an alert in three days is not 122 a year.
LEAST_YEARS = 1.0
QUANTILES = {"p10": 0.1, "median": 0.5, "p90": 0.9}


def counts_by_year(record: StopRecord, outcomes: Sequence[AlertOutcomes], known: Bools) -> ByYear:
    """Counts by candidate and year; an alert is counted in the year of the stop that it belongs to."""
    first = int(record.year[0]) if len(record) else 0
    n_years = int(record.year[-1]) - first + 1 if len(record) else 0
    shape = len(outcomes), n_years
    row = np.arange(shape[0])[:, None] * n_years
    stop_cell = row + (record.year[record.stop] - first)
    alert_cell = np.concatenate([r + o.alert_year - first for r, o in zip(row, outcomes, strict=True)])
    stop_outcome = np.stack([o.stop_outcome for o in outcomes])
    alert_outcome = np.concatenate([o.alert_outcome for o in outcomes])

    def count(cell: Ints, which: Bools) -> Ints:
        return np.bincount(cell[which], minlength=shape[0] * n_years).astype(np.int64).reshape(shape)

    def stops(wanted: int) -> Ints:
        return count(stop_cell, stop_outcome == wanted)

    def alerts(wanted: int) -> Ints:
        return count(alert_cell, alert_outcome == wanted)

    return ByYear(
        year=first + np.arange(n_years),
        hits=stops(HIT),
        late=stops(LATE),
        misses=stops(MISSED),
        not_judged=stops(NOT_JUDGED),
        too_soon=stops(TOO_SOON),
        too_early=count(stop_cell, np.stack([o.too_early for o in outcomes])),
        carried=count(stop_cell, np.stack([o.carried for o in outcomes])),
        false_alerts=alerts(FALSE),
        open_alerts=alerts(OPEN),
        followed=alerts(FOLLOWED),
        known_years=np.bincount(record.year - first, weights=known, minlength=n_years) / 365.25,
    )


def alert_rates(counts: dict[str, int], years: float, quiet: float, needs: AlertNeeds) -> dict[str, float]:
    """Counts of one candidate with what follows from them; NaN where there is nothing to divide by.

    counts   hits, late, misses, false_alerts, followed, open_alerts (others are passed on)
    years    length of the record [years]; below LEAST_YEARS the rates by the year are NaN
    quiet    number of quiet periods (`StopRecord.quiet_periods`)

    Two tables of yes and no lie behind it. For false alerts any stop within the horizon counts as announced, however
    short the lead; for the hit rate and the value only one that is announced in time.
    """
    hits, late, misses, false = (counts[k] for k in ("hits", "late", "misses", "false_alerts"))
    nothing = max(round(quiet) - false, 0)
    announced = Contingency(hits=hits + late, false_alarms=false, misses=misses, correct_negatives=nothing)
    in_time = Contingency(hits=hits, false_alarms=false, misses=late + misses, correct_negatives=nothing)
    alerts = counts["followed"] + false + counts["open_alerts"]
    out: dict[str, float] = {k: v for k, v in counts.items() if k != "followed"}
    value = None if needs.cost_over_loss is None else in_time.relative_value(needs.cost_over_loss)
    found = {
        "hit_rate": in_time.probability_of_detection,
        "false_alarm_ratio": announced.false_alarm_ratio,
        "false_alarm_rate": announced.probability_of_false_detection,
        "value_at_cost": value,
    }
    out |= {"alerts": alerts} | {k: np.nan if v is None else v for k, v in found.items()}
    out["alerts_per_year"] = alerts / years if years >= LEAST_YEARS else np.nan
    out["false_per_year"] = false / years if years >= LEAST_YEARS else np.nan
    return out


def lead_quantiles(o: AlertOutcomes) -> dict[str, float]:
    """Quantiles of the lead of stops that were announced, in time or late [days], linear between observed leads."""
    lead = np.sort(o.lead_days[(o.stop_outcome == HIT) | (o.stop_outcome == LATE)])
    at = np.array(list(QUANTILES.values())) * (len(lead) - 1)
    values = np.interp(at, np.arange(len(lead)), lead) if len(lead) else np.full(len(QUANTILES), np.nan)
    return {f"lead_{k}": float(v) for k, v in zip(QUANTILES, values, strict=True)}
