"""The answer to `plan`: one plan for one outlet, its curve, and what fewer visits would tell."""

from __future__ import annotations

from dataclasses import dataclass, replace

import pandas as pd

from dashboard.answers.answer import Header, Table
from dashboard.answers.plan_request import PlanRequest
from ecology.cycle_variation import CycleVariation
from ecology.return_watch import WatchPlan
from ecology.survey_plan import AbsencePlan, fewer_than
from ecology.trend_plan import TrendPlan

Plan = AbsencePlan | WatchPlan | TrendPlan
#: Which points of a curve are told where no number of visits is enough.
_SOME = {"absence": ("visits", (5, 10, 20)), "return": ("every_days", (1, 2, 7)), "trend": ("per_cycle", (12, 26, 52))}


@dataclass(frozen=True, kw_only=True)
class TrendBasis:
    """What the plan for a decline rests on: rows and cycles of the outlet in the count regression."""

    model: str
    alpha: float
    visits: int
    cycles: int
    cycles_by: str
    cycle_days: float
    variation: CycleVariation


@dataclass(frozen=True, eq=False, kw_only=True)
class PlanAnswer:
    """The answer to `plan`.

    plan        None where `why` says so
    assumed     for absence and return: (detection, plan) for assumed detections, to see what depends on it
    effort      of a planned visit in the workspace's unit, NaN where it is not known
    watch_from  where the length of the watch comes from: “said”, “lags” or “usual”
    per_site    visits an outlet that tell best at which of many outlets animals live (absence with a prior)
    """

    header: Header
    request: PlanRequest
    outlet: str
    title: str
    level: float
    seed: int
    effort: float
    effort_unit: str
    plan: Plan | None
    assumed: tuple[tuple[float, AbsencePlan | WatchPlan], ...] = ()
    why: str | None = None
    watch_from: str = ""
    per_site: int | None = None
    basis: TrendBasis | None = None

    @property
    def visits_needed(self) -> int | None:
        return None if self.plan is None else self.plan.visits_needed

    @property
    def curve(self) -> pd.DataFrame:
        """The plan's curve; for assumed detections one below the other where there is no plan."""
        if self.plan is not None:
            return self.plan.curve
        return pd.concat([p.curve.assign(detection=d) for d, p in self.assumed]) if self.assumed else pd.DataFrame()

    def fewer(self) -> pd.DataFrame:
        """Rows of the curve with fewer visits than needed, the most first; where no number is enough, some of it.

        Where detection is not known, those of the middle assumed detection with the range over all of them.
        """
        if self.plan is None:
            return self._fewer_assumed()
        c = self.plan.curve
        if self.plan.visits_needed is None:
            column, some = _SOME[self.request.purpose]
            return c[c[column].isin(some)].sort_values("visits", ascending=False).reset_index(drop=True)
        if isinstance(self.plan, TrendPlan):
            cycles = self.plan.design.cycles_after
            wanted = [n * cycles for n in fewer_than(self.plan.visits_needed // cycles)]
        elif isinstance(self.plan, WatchPlan):
            every = self.plan.every_days or 1
            rows = [c[c["every_days"] == min(s, c["every_days"].max())] for s in (2 * every, 3 * every)]
            found = pd.concat(rows).drop_duplicates("every_days")
            return found[found["visits"] < self.plan.visits_needed].reset_index(drop=True)
        else:
            wanted = fewer_than(self.plan.visits_needed)
        return c.set_index("visits").loc[wanted].reset_index()

    def _fewer_assumed(self) -> pd.DataFrame:
        if not self.assumed:
            return pd.DataFrame()
        first, last = self.assumed[0][1].curve, self.assumed[-1][1].curve
        rows = replace(self, plan=self.assumed[len(self.assumed) // 2][1]).fewer()
        if rows.empty:
            return rows
        key = "visits" if self.request.purpose == "absence" else "every_days"
        at = rows[key].to_list()
        out = rows[["visits", key]].loc[:, ~pd.Index(["visits", key]).duplicated()].copy()
        out["low"] = first.set_index(key).loc[at, "low"].to_numpy()
        out["high"] = last.set_index(key).loc[at, "high"].to_numpy()
        if "present" in rows:
            out["present_low"] = last.set_index(key).loc[at, "present_low"].to_numpy()
            out["present_high"] = first.set_index(key).loc[at, "present_high"].to_numpy()
        return out

    def allowed(self) -> dict[str, float] | None:
        """The row of the curve for the visits that are allowed; None where nothing is said, known, or asked beyond it.

        At most as many visits as allowed: for a return the closest spacing that keeps to them, for a decline the same
        number in every cycle.
        """
        n, p = self.request.allowed, self.plan
        if n is None or p is None:
            return None
        if isinstance(p, WatchPlan):
            rows = p.curve[p.curve["visits"] <= n].sort_values("every_days")
        elif isinstance(p, TrendPlan):
            rows = p.curve[p.curve["per_cycle"] == n // p.design.cycles_after]
        else:
            rows = p.curve[p.curve["visits"] == n]
        return None if rows.empty else {str(k): float(v) for k, v in rows.iloc[0].items()}

    def tables(self) -> list[Table]:
        if self.curve.empty:
            return []
        return [Table(name=f"plan-{self.request.purpose}", title="Visits and what they tell", frame=self.curve)]

    def as_json(self) -> dict[str, object]:
        from dashboard.answers.plan_json import plan_json

        return plan_json(self)
