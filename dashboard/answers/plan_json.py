"""The machine answer to `plan`."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from dashboard.answers.answer import number
from ecology.return_watch import WatchPlan
from ecology.survey_plan import AbsencePlan, DetectionRange
from ecology.trend_plan import TrendPlan

if TYPE_CHECKING:
    from dashboard.answers.plan_answer import PlanAnswer

_COUNTS = ("visits", "every_days", "per_cycle")


def plan_json(a: PlanAnswer) -> dict[str, object]:
    """The contract's shape, with what the purpose adds."""
    from dashboard.wording import cautions
    from dashboard.wording.plan import answer
    from dashboard.wording.plan_assumptions import assumptions

    out: dict[str, object] = a.header.as_json() | {
        "purpose": a.request.purpose,
        "outlet": a.outlet,
        "inputs": _inputs(a),
        "sentence": answer(a),
        "visits_needed": a.visits_needed,
        "why": a.why,
        "curve": _rows(a.plan.curve) if a.plan is not None else [],
        "fewer": _rows(a.fewer()),
        "allowed": None if (row := a.allowed()) is None else _row(row),
        "assumptions": assumptions(a),
        "cautions": [cautions.DISTURBANCE, cautions.PERMIT_VISITS],
    }
    if a.assumed:
        out["by_assumed_detection"] = [{"detection": p, **_core(found)} for p, found in a.assumed]
    if isinstance(a.plan, TrendPlan):
        return out | _trend(a, a.plan)
    if a.plan is None:
        return out
    return out | _core(a.plan) | {"per_site": a.per_site} if a.per_site is not None else out | _core(a.plan)


def _core(plan: AbsencePlan | WatchPlan) -> dict[str, object]:
    if isinstance(plan, AbsencePlan):
        return {"visits_needed": plan.visits_needed, "visits_needed_at_estimate": plan.at_estimate}
    return {
        "visits_needed": plan.visits_needed,
        "every_days": plan.every_days,
        "every_days_at_estimate": plan.every_at_estimate,
        "start_day": plan.start_day,
        "share_before_start": number(plan.share_before_start),
        "visits_from_start": plan.visits_from_start,
    }


def _trend(a: PlanAnswer, plan: TrendPlan) -> dict[str, object]:
    return {
        "visits_per_cycle": plan.per_cycle,
        "power": {"value": plan.power.value, "low": plan.power.low, "high": plan.power.high, "level": 0.95,
                  "simulated_sets": plan.power.sets, "visits_per_cycle": plan.power.visits},
        "false_alarm": {"value": plan.false_alarm.value, "low": plan.false_alarm.low, "high": plan.false_alarm.high,
                        "level": 0.95},
        "power_limit": plan.power_limit,
        "power_if_cycles_differ_more": None if (worse := plan.if_cycles_differ_more) is None else worse.value,
        "with_twice_the_cycles": {"visits_per_cycle": plan.more_cycles.visits, "power": plan.more_cycles.value},
    }  # fmt: skip


def _inputs(a: PlanAnswer) -> dict[str, object]:
    r = a.request
    found: dict[str, object] = {
        "sure": r.sure, "allowed": r.allowed, "level": a.level, "effort": number(a.effort),
        "effort_unit": a.effort_unit,
    }  # fmt: skip
    if isinstance(a.plan, TrendPlan) or r.purpose == "trend":
        found |= {"decline": r.decline, "cycles": r.cycles, "cycles_before": r.cycles_before, "seed": a.seed}
        b = a.basis
        if b is not None and isinstance(a.plan, TrendPlan):
            found |= {
                "expected_per_visit": a.plan.survey.mean, "model": b.model, "alpha": number(b.alpha),
                "alpha_within_cycle": b.variation.visit_alpha, "between_cycles": b.variation.between,
                "between_cycles_high": b.variation.between_high,
                "visits_behind": b.visits, "cycles_behind": b.cycles, "cycle_days": b.cycle_days,
                "cycles_by": b.cycles_by,
            }  # fmt: skip
        return found
    found["detection_per_visit"] = _detection(None if a.plan is None else a.plan.detection, a.level, a.why)
    if r.purpose == "absence":
        return found | {"prior": r.prior}
    watch = a.plan or a.assumed[0][1]
    days = watch.watch_days if isinstance(watch, WatchPlan) else None
    return found | {"within_days": r.within, "watch_days": days, "watch_from": a.watch_from}


def _detection(d: DetectionRange | None, level: float, why: str | None) -> dict[str, object]:
    if d is None:
        return {"value": None, "low": None, "high": None, "level": level, "why": why}
    found: dict[str, object] = {"value": d.value, "low": d.low, "high": d.high}
    if d.searches is None:
        return found | {"level": None, "source": "given"}
    return found | {"level": level, "source": "searches after first finds", "searches": d.searches}


def _rows(frame: pd.DataFrame) -> list[dict[str, object]]:
    return [_row({str(k): v for k, v in row.items()}) for row in frame.to_dict("records")]


def _row(row: dict[str, float]) -> dict[str, object]:
    return {k: (int(v) if k in _COUNTS else number(v)) for k, v in row.items()}
