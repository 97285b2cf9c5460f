"""How many visits, for a stated purpose."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from dashboard.answers.answer import Header, Table, header
from dashboard.answers.counts import counts
from dashboard.answers.plan_request import USUAL_WATCH, PlanRequest
from dashboard.workspace import Workspace
from ecology.cycle_variation import CycleVariation, cycle_variation
from ecology.missed_animals import MissedAnimalsFit, fit_missed_animals
from ecology.not_estimable import NotEstimable
from ecology.return_lag import return_lags
from ecology.return_watch import LONGEST_DAYS, LagShape, WatchPlan, plan_watch
from ecology.survey_plan import (
    ASSUMED_DETECTIONS,
    AbsencePlan,
    DetectionRange,
    best_visits_per_site,
    fewer_than,
    plan_absence,
)
from ecology.survey_power import Comparison, CountSurvey
from ecology.trend_plan import TrendPlan, plan_trend
from hydro.problems import InputError, Problem

#: A watch goes on until this share of the fitted lags is over.
WATCHED_SHARE = 0.9
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


def plan(
    workspace: Workspace, request: PlanRequest, *, outlets: Sequence[str] = (), level: float = 0.95, seed: int = 1
) -> PlanAnswer:
    """A plan for one outlet: the one named, or the workspace's first.

    level   of the interval of an estimated detection, and of the test of a decline
    seed    of the simulated sets for a decline

    Raises InputError where more than one outlet is named.
    """
    if len(outlets) > 1:
        expected = "one outlet at a time: visits are planned for each by itself"
        raise InputError([Problem(row="--outlet", value=", ".join(outlets), expected=expected)])
    outlet = outlets[0] if outlets else next(iter(workspace.outlets))
    if request.purpose == "trend":
        return _trend(workspace, request, outlet, level, seed)
    fit, why = _lags_of(workspace, outlet, level)
    detection = _detection(request, fit)
    if detection is None and why is None:
        why = "the visits do not tell how often a search misses animals that are there"
    effort = math.nan if detection is None else detection.typical_effort
    lag = None
    if fit is not None and fit.parameters is not None:
        lag = LagShape(distribution=fit.distribution, parameters=fit.parameters)
    watch, watch_from = _watch(request, lag)

    def made(p: DetectionRange, curve_to: int | None = None) -> AbsencePlan | WatchPlan:
        if request.purpose == "absence":
            return plan_absence(p, sure=request.sure, prior=request.prior, curve_to=curve_to)
        return plan_watch(p, sure=request.sure, within_days=request.within, watch_days=watch, lag=lag)

    found = None if detection is None else made(detection)
    assumed = [made(DetectionRange(low=p, high=p, value=p)) for p in ASSUMED_DETECTIONS]
    longest = max(int(plan.curve["visits"].max()) for plan in assumed)
    # Curves drawn beside each other go equally far.
    assumed = [made(DetectionRange(low=p, high=p, value=p), longest) for p in ASSUMED_DETECTIONS]
    if found is not None and found.visits_needed is None:
        why = _never_enough(found)
    per_site = None
    if detection is not None and request.prior is not None and (detection.value or detection.low) > 0.0:
        per_site = best_visits_per_site(request.prior, detection.low if detection.value is None else detection.value)
    return PlanAnswer(
        header=header(workspace),
        request=request,
        outlet=outlet,
        title=workspace.outlets[outlet].title,
        level=level,
        seed=seed,
        effort=effort,
        effort_unit=workspace.settings.surveys.effort_unit,
        plan=found,
        assumed=tuple(zip(ASSUMED_DETECTIONS, assumed, strict=True)),
        why=why if found is None or found.visits_needed is None else None,
        watch_from=watch_from if request.purpose == "return" else "",
        per_site=per_site,
    )


def _lags_of(workspace: Workspace, outlet: str, level: float) -> tuple[MissedAnimalsFit | None, str | None]:
    """The outlet's fit of lags and detection, or why there is none."""
    dry = workspace.dry_spells[outlet]
    if workspace.visits is None:
        return None, "the workspace names no visits"
    if workspace.outlets[outlet].perennial:
        return (
            None,
            "how often a search misses is told from searches after dry spells, and this outlet has none",
        )
    if dry is None:
        return None, "its discharge is never known"
    lags = return_lags(dry, workspace.visits.at(outlet), workspace.as_of)
    try:
        fit = fit_missed_animals(lags.histories(), distribution="lowest-aic", level=level)
    except NotEstimable as error:
        return None, error.reason.rstrip(".")
    return fit, None if fit.why is None else fit.why.rstrip(".")


def _detection(request: PlanRequest, fit: MissedAnimalsFit | None) -> DetectionRange | None:
    """The range given, else the fit's; None where neither is there."""
    if request.detection is not None:
        low, high = request.detection
        return DetectionRange(low=low, high=high, value=low if low == high else None)
    if fit is None or fit.detection is None:
        return None
    found = DetectionRange(
        low=fit.detection.low,
        high=fit.detection.high,
        value=fit.detection.value,
        searches=fit.after.searches,
        typical_effort=fit.typical_effort,
        caveats=fit.caveats,
    )
    if request.effort is None:
        return found
    if math.isnan(fit.typical_effort):
        expected = "no effort: none is written down in the visits, so that it cannot be compared"
        raise InputError([Problem(row="--effort", value=f"{request.effort:g}", expected=expected)])
    return found.for_effort(request.effort)


def _watch(request: PlanRequest, lag: LagShape | None) -> tuple[int, str]:
    """Days of the watch and where they come from."""
    if request.watch is not None:
        return request.watch, "said"
    if lag is None:
        return USUAL_WATCH, "usual"
    return min(math.ceil(lag.quantile(WATCHED_SHARE)) + request.within, LONGEST_DAYS), "lags"


def _never_enough(found: AbsencePlan | WatchPlan) -> str:
    if isinstance(found, WatchPlan):
        return "even a visit every day does not know a return that soon so surely at the low end of detection"
    return "no reasonable number of visits is enough at the low end of detection"


def _trend(workspace: Workspace, request: PlanRequest, outlet: str, level: float, seed: int) -> PlanAnswer:
    answer = counts(workspace, level=level)
    basis, survey, effort, why = None, None, math.nan, answer.why
    if answer.fit is not None and answer.design is not None:
        at = (answer.design.rows["outlet"] == outlet).to_numpy()
        rows, fit = answer.design.rows[at], answer.fit
        try:
            if rows.empty:
                raise NotEstimable("no visit to this outlet has a count, an effort and a flow")
            variation = cycle_variation(fit.count[at], fit.mean[at], fit.alpha, rows["cycle"].to_numpy())
            spent = rows["effort"].to_numpy(np.float64)
            effort = float(np.median(spent)) if request.effort is None else request.effort
            survey = CountSurvey.of(fit.mean[at] * effort / spent, variation)
            cycles = int(rows["cycle"].nunique())
            span = (rows["date"].max() - rows["date"].min()).days
            basis = TrendBasis(
                model=fit.model,
                alpha=fit.alpha,
                visits=len(rows),
                cycles=cycles,
                cycles_by=answer.design.cycles_by,
                cycle_days=span / cycles,
                variation=variation,
            )
        except NotEstimable as error:
            why = error.reason.rstrip(".")
    found = None
    if survey is not None:
        wanted = Comparison(cycles_before=request.cycles_before, cycles_after=request.cycles, decline=request.decline)
        also = None if request.allowed is None else request.allowed // request.cycles
        found = plan_trend(
            survey,
            wanted,
            sure=request.sure,
            level=level,
            seed=seed,
            also=also,
            between_high=None if basis is None else basis.variation.between_high,
        )
        if found.visits_needed is None:
            why = f"{found.curve['per_cycle'].max()} visits in every cycle are not enough"
    return PlanAnswer(
        header=header(workspace),
        request=request,
        outlet=outlet,
        title=workspace.outlets[outlet].title,
        level=level,
        seed=seed,
        effort=effort,
        effort_unit=workspace.settings.surveys.effort_unit,
        plan=found,
        why=why if found is None or found.visits_needed is None else None,
        basis=basis,
    )
