"""The machine answer of `alert-levels`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from dashboard.answers.answer import interval, number
from hydro.alert_choice import AlertNeeds
from hydro.alert_level import AlertTable
from hydro.count_limits import rate_limits, share_limits
from hydro.units import from_m3s

#: Coverage of the limits of a share and of a rate.
LEVEL = 0.95
_COUNTS = ("hits", "late", "misses", "false_alerts", "not_judged", "too_soon", "too_early", "carried",
           "open_alerts", "alerts")  # fmt: skip
_YEARLY = ("alerts_per_year", "false_per_year")
_RATES = ("hit_rate", "false_alarm_ratio", "false_alarm_rate", *_YEARLY)
TOO_SHORT = "the record has less than one year of known days"
NOT_JUDGED = "nothing of the kind could be judged"
NONE_ANNOUNCED = "no stop was announced"


def outlet_as_json(
    id: str,
    title: str,
    needs: AlertNeeds,
    levels: AlertTable | None,
    chances: AlertTable | None,
    origin: Sequence[str],
    within_days: int,
    why: str | None,
    unit: str,
) -> dict[str, object]:
    """One outlet."""
    out: dict[str, object] = {"outlet": id, "title": title, "needs": needs_as_json(needs)}
    if levels is None or chances is None:
        return out | {"candidates": [], "recommended": None, "n_events": 0, "n_years": None, "why": why}
    named: list[dict[str, object]] = [
        {"level": _level(at, unit), "origin": o} for at, o in zip(levels.at, origin, strict=True)
    ]
    chance: list[dict[str, object]] = [{"chance": float(at), "within_days": within_days} for at in chances.at]
    candidates, chance_candidates = _candidates(levels, named), _candidates(chances, chance)
    recommended, why = _recommended(levels, named, candidates)
    chance_recommended, chance_why = _recommended(chances, chance, chance_candidates)
    out |= {
        "candidates": candidates,
        "recommended": recommended,
        "chance_candidates": chance_candidates,
        "chance_recommended": chance_recommended,
        "n_events": levels.n_events,
        "n_years": levels.years,
    }
    if why is not None:
        out["why"] = why
    if chance_why is not None:
        out["chance_why"] = chance_why
    return out


def _level(at: float, unit: str) -> dict[str, object]:
    """A level without the last digits that changing units to and fro leaves: 42, not 42.00000000000001."""
    return {"value": float(f"{from_m3s(float(at), unit):.12g}"), "unit": unit}


def needs_as_json(needs: AlertNeeds) -> dict[str, object]:
    """What was asked for; one of hit rate and miss cost chooses."""
    return {
        "lead_days": needs.lead_days,
        "hit_rate": needs.hit_rate,
        "miss_cost": needs.miss_cost,
        "horizon_days": needs.horizon_days,
        "chosen_by": "hit rate" if needs.miss_cost is None else "cost",
    }


def _candidates(table: AlertTable, named: Sequence[dict[str, object]]) -> list[dict[str, object]]:
    rows = table.table.to_dict("records")
    return [name | _row(row, table.needs) | {"lead_days": _leads(row)} for name, row in zip(named, rows, strict=True)]


def _row(row: Mapping[str, object], needs: AlertNeeds) -> dict[str, object]:
    counts: dict[str, object] = {k: int(row[k]) for k in _COUNTS}  # type: ignore[call-overload]
    rates: dict[str, object] = {k: number(row[k]) for k in _RATES}
    if needs.miss_cost is not None:
        rates["value_at_cost"] = number(row["value_at_cost"])
    missing = [k for k, v in rates.items() if v is None]
    reasons = (
        ([k for k in missing if k in _YEARLY], TOO_SHORT), ([k for k in missing if k not in _YEARLY], NOT_JUDGED),
    )  # fmt: skip
    why = "; ".join(f"{', '.join(names)}: {reason}" for names, reason in reasons if names)
    return counts | rates | ({"why": why} if why else {})


def _leads(row: Mapping[str, object]) -> dict[str, object]:
    found: dict[str, object] = {k: number(row[f"lead_{k}"]) for k in ("p10", "median", "p90")}
    return found if found["median"] is not None else found | {"why": NONE_ANNOUNCED}


def _recommended(
    table: AlertTable, named: Sequence[dict[str, object]], candidates: Sequence[dict[str, object]]
) -> tuple[dict[str, object] | None, str | None]:
    """The candidate recommended with its record on held-out years, or None and why."""
    r = table.recommended
    if r.candidate is None or r.held_out is None:
        return None, r.why_none
    h = r.held_out
    judged = int(h["hits"] + h["late"] + h["misses"])
    rate = interval(h["hit_rate"], *share_limits(int(h["hits"]), judged, LEVEL), LEVEL)
    if judged == 0:
        rate = interval(None, None, None, LEVEL, NOT_JUDGED)
    false = interval(h["false_per_year"], *rate_limits(int(h["false_alerts"]), h["years"], LEVEL), LEVEL)
    held_out = _row(h, table.needs) | {
        "years": h["years"],
        "hit_rate_interval": rate,
        "false_per_year_interval": false,
        "chosen": [name | {"years": r.chosen[at]} for name, at in _chosen(table, named) if at in r.chosen],
    }
    return candidates[r.candidate] | {"reaches_hit_rate": r.reached, "held_out": held_out}, None


def _chosen(table: AlertTable, named: Sequence[dict[str, object]]) -> list[tuple[dict[str, object], float]]:
    return [(name, float(at)) for name, at in zip(named, table.at, strict=True)]
