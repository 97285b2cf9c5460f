"""Do counts follow flow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pandas as pd

from dashboard.answers.answer import by_name, header
from dashboard.answers.count_choices import CountChoices, check_choices, temperature_flags
from dashboard.answers.count_curves import term_table
from dashboard.answers.count_rows import count_rows, groups_of
from dashboard.answers.counts_answer import CountsAnswer
from dashboard.answers.flow_effect import flow_effects, slopes_differ
from dashboard.workspace import Workspace
from ecology.cluster_errors import RobustErrors, robust_errors
from ecology.count_checks import all_checks, check_separation
from ecology.count_cross_validation import CrossValidation, compare_windows
from ecology.count_design import CountDesign
from ecology.count_model import fit_counts
from ecology.cycle_trend import CycleTrend, trend_left_over
from ecology.flow_history import log_mean_before
from ecology.freed_effort import free_effort
from ecology.model_checks import Fit, ModelCheck
from ecology.not_estimable import DependentTermsError, NotEstimable, SeparatedError
from ecology.share_model import fit_shares

#: Fewer flow cycles than this do not show how cycles differ: no error by cluster is given (common practice, no source).
FEWEST_GROUPS = 5
_TERMS = ["term", "estimate", "se", "low", "high", "p", "cluster_se", "cluster_low", "cluster_high", "cluster_p"]


def counts(
    workspace: Workspace,
    *,
    outlets: Sequence[str] = (),
    level: float = 0.95,
    window: int = 30,
    choices: CountChoices | None = None,
    seed: int = 1,
) -> CountsAnswer:
    """Count regression over the outlets asked for, together.

    window   days before the visit over which ln discharge is averaged, where `choices` are not given [days]
    choices  every choice about the model
    seed     of the randomised residuals

    Raises InputError where a covariate, taxon or factor is not in the visits.
    """
    chosen = choices or CountChoices(window=window)
    names = tuple(by_name(workspace.outlets, outlets))
    nothing = CountsAnswer(
        header=header(workspace), level=level, outlets=names, design=None, fit=None, clustered=None,
        terms=pd.DataFrame(columns=_TERMS), per_doubling=None, checks=(), choices=chosen,
        titles={id: o.title for id, o in workspace.outlets.items()},
    )  # fmt: skip
    if workspace.visits is None:
        return _because(nothing, "the workspace names no visits")
    check_choices(workspace, chosen)
    cv, why_no_cv, window = _compare(workspace, names, chosen)
    design = count_rows(workspace, names, window=window, terms=chosen.terms, response=chosen.response)
    outside, measured = _temperatures(workspace, names, chosen)
    nothing = replace(
        nothing,
        design=design,
        cross_validation=cv,
        why_no_cross_validation=why_no_cv,
        outside_band=outside,
        n_temperatures=measured,
    )
    if design.rows.empty:
        return _because(nothing, _no_rows(chosen))
    try:
        fit = _fit(design, level)
    except NotEstimable as error:
        return replace(_because(nothing, error.reason.rstrip(".")), checks=_why_no_fit(design, error))
    groups = groups_of(workspace, design)
    clustered, why = _clustered(fit, groups)
    effort, why_no_effort = None, None
    try:
        effort = free_effort(fit, design, groups, level)
    except NotEstimable as error:
        why_no_effort = error.reason
    trend, why_no_trend = _trend(fit, design, groups, level)
    checks = all_checks(
        fit,
        design,
        groups,
        clustered,
        effort=effort,
        why_no_effort=why_no_effort,
        now=_now(workspace, names, design.window),
        seed=seed,
    )
    overall, by_outlet = flow_effects(fit, design, clustered, level)
    unclear = None if clustered is not None else _cannot_be_told_apart(design, checks)
    return replace(
        nothing,
        header=header(workspace, fit.notes),
        fit=fit,
        clustered=clustered,
        terms=term_table(fit, clustered, level),
        why=unclear,
        per_doubling=None if unclear else (overall.value, overall.low, overall.high),
        effects=() if unclear else by_outlet,
        slopes_p=None if unclear else slopes_differ(fit, design, clustered),
        effort=effort,
        why_no_effort=why_no_effort,
        trend=trend,
        why_no_trend=why_no_trend,
        checks=checks,
        why_not_clustered=why,
    )


def _clustered(fit: Fit, groups: np.ndarray) -> tuple[RobustErrors | None, str | None]:
    """(errors by flow cycle, why there are none)."""
    n = len(np.unique(groups))
    if n < FEWEST_GROUPS:
        few = "1 flow cycle does" if n == 1 else f"{n} flow cycles do"
        return None, f"{few} not show how cycles differ: visits from at least {FEWEST_GROUPS} are needed."
    try:
        return robust_errors(fit, kind="CL1", groups=groups), None
    except NotEstimable as error:
        return None, error.reason


def _cannot_be_told_apart(design: CountDesign, checks: Sequence[ModelCheck]) -> str | None:
    """Why there is no factor where flow goes along with the other terms and too few cycles allow for chance."""
    if not any(c.name == "collinearity" and c.passed is False and c.about == design.flow_term for c in checks):
        return None
    n = design.n_visits
    return (
        f"in {'this 1 visit' if n == 1 else f'these {n} visits'} flow goes along with the other terms; visits from at "
        f"least {FEWEST_GROUPS} flow cycles are needed"
    )


def _trend(fit: Fit, design: CountDesign, groups: np.ndarray, level: float) -> tuple[CycleTrend | None, str | None]:
    """(what is left over against time, why it cannot be judged)."""
    if design.model_terms.year_trend:
        return None, "The model has a trend by year of its own."
    try:
        return trend_left_over(fit, design.rows["date"], groups, level=level), None
    except NotEstimable as error:
        return None, error.reason


def _because(answer: CountsAnswer, why: str) -> CountsAnswer:
    return replace(answer, why=why, why_not_clustered=why)


def _no_rows(choices: CountChoices) -> str:
    if choices.response.kind == "temperature":
        return "no visit has a water temperature and a flow"
    if choices.response.binomial and not choices.response.has_effort:
        return "no visit has animals whose stages were written, and a flow"
    return "no visit has a count, an effort and a flow"


def _compare(
    workspace: Workspace, names: Sequence[str], choices: CountChoices
) -> tuple[CrossValidation | None, str | None, int]:
    """(windows judged, why not, the window to use)."""
    first = choices.windows[0] if choices.windows else choices.window
    if not choices.compare:
        return None, "It was not asked for.", first
    design = count_rows(
        workspace, names, window=first, windows=choices.compared, terms=choices.terms, response=choices.response
    )
    if design.rows.empty:
        return None, "No visit has a flow over all windows compared.", first
    try:
        found = compare_windows(design, groups_of(workspace, design))
    except NotEstimable as error:
        return None, error.reason, first
    return found, None, found.best if choices.windows else first


def _fit(design: CountDesign, level: float) -> Fit:
    y = design.rows["count"].to_numpy()
    if not design.response.binomial:
        return fit_counts(y, design.matrix, terms=design.terms, offset=design.offset, level=level)
    return fit_shares(
        y,
        design.rows["trials"].to_numpy(),
        design.matrix,
        terms=design.terms,
        link="log-log" if design.response.has_effort else "logit",
        offset=design.offset,
        level=level,
    )


def _why_no_fit(design: CountDesign, error: NotEstimable) -> tuple[ModelCheck, ...]:
    """The check that a fit failed by."""
    if isinstance(error, SeparatedError):
        return (check_separation(design, error.reason),)
    if isinstance(error, DependentTermsError):
        return (ModelCheck(name="collinearity", passed=False, value=1.0, limit=1.0, why=error.reason),)
    return ()


def _now(workspace: Workspace, names: Sequence[str], window: int) -> Mapping[str, float]:
    """Mean ln discharge [ln m³/s] over the window that ends on the day asked, by outlet."""
    tomorrow = pd.Series([workspace.as_of + pd.Timedelta(days=1)])
    return {o: float(log_mean_before(workspace.flow_of(o), tomorrow, window).iloc[0]) for o in names}


def _temperatures(workspace: Workspace, names: Sequence[str], choices: CountChoices) -> tuple[pd.DataFrame | None, int]:
    """(visits outside the band, visits with a temperature)."""
    if choices.band is None or workspace.visits is None:
        return None, 0
    frame = workspace.visits.frame
    here = frame[frame["outlet"].isin(list(names))]
    return temperature_flags(here, choices.band), int(here["water_temp_c"].notna().sum())
