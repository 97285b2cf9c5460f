"""How many visits, for a stated purpose."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from dashboard.answers.answer import header
from dashboard.answers.count_choices import CountChoices
from dashboard.answers.counts import counts
from dashboard.answers.plan_answer import PlanAnswer, TrendBasis
from dashboard.answers.plan_request import USUAL_WATCH, PlanRequest
from dashboard.workspace import Workspace
from ecology.cycle_variation import cycle_variation
from ecology.missed_animals import MissedAnimalsFit, fit_missed_animals
from ecology.not_estimable import NotEstimable
from ecology.return_lag import return_lags
from ecology.return_watch import LONGEST_DAYS, LagShape, WatchPlan, plan_watch
from ecology.survey_plan import (
    ASSUMED_DETECTIONS,
    AbsencePlan,
    DetectionRange,
    best_visits_per_site,
    plan_absence,
)
from ecology.survey_power import Comparison, CountSurvey
from ecology.trend_plan import TrendPlan, plan_trend
from hydro.problems import InputError, Problem

#: A watch goes on until this share of the fitted lags is over.
WATCHED_SHARE = 0.9


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
    detection = _detection(request, fit, level)
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
    return replace(
        _answer(workspace, request, outlet, found, why, effort=effort, level=level, seed=seed),
        assumed=tuple(zip(ASSUMED_DETECTIONS, assumed, strict=True)),
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
        if fit.detection is None and fit.after.all_found():
            # No search is known to miss: the lags at face value say how long a watch must be.
            fit = fit_missed_animals(lags.histories(), distribution="lowest-aic", level=level, detection=1.0)
    except NotEstimable as error:
        return None, error.reason.rstrip(".")
    return fit, None if fit.why is None else fit.why.rstrip(".")


def _detection(request: PlanRequest, fit: MissedAnimalsFit | None, level: float) -> DetectionRange | None:
    """The range given, else the fit's; None where neither is there.

    Where every search after a first find found animals, there is no estimate but a lower bound: a plan needs no more.
    """
    if request.detection is not None:
        low, high = request.detection
        return DetectionRange(low=low, high=high, value=low if low == high else None)
    if fit is None or (fit.detection is None and not fit.after.all_found()):
        return None
    if fit.detection is None or fit.detection_assumed:
        low, high, value = fit.after.least_detection(level), 1.0, None
    else:
        low, high, value = fit.detection.low, fit.detection.high, fit.detection.value
    found = DetectionRange(
        low=low,
        high=high,
        value=value,
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
    answer = counts(workspace, level=level, choices=CountChoices(compare=False))
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
    return replace(_answer(workspace, request, outlet, found, why, effort=effort, level=level, seed=seed), basis=basis)


def _answer(
    workspace: Workspace,
    request: PlanRequest,
    outlet: str,
    found: AbsencePlan | WatchPlan | TrendPlan | None,
    why: str | None,
    *,
    effort: float,
    level: float,
    seed: int,
) -> PlanAnswer:
    """What all purposes have in common."""
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
    )
