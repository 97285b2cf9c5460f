"""Do counts follow flow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header
from dashboard.answers.count_choices import CountChoices, check_choices, temperature_flags
from dashboard.answers.count_curves import EFFORT_SHOWN, expected_over_flow, term_table
from dashboard.answers.flow_effect import FlowEffect, flow_effects, slopes_differ
from dashboard.workspace import Workspace
from ecology.cluster_errors import RobustErrors, robust_errors
from ecology.count_checks import all_checks, check_separation
from ecology.count_cross_validation import CrossValidation, compare_windows
from ecology.count_design import CountDesign, count_design
from ecology.count_model import fit_counts
from ecology.flow_history import FlowCycles, log_mean_before
from ecology.freed_effort import FreedEffort, free_effort
from ecology.model_checks import Fit, ModelCheck
from ecology.not_estimable import DependentTermsError, NotEstimable, SeparatedError
from ecology.share_model import fit_shares

__all__ = ["EFFORT_SHOWN", "CountsAnswer", "counts", "expected_over_flow", "groups_of"]

_TERMS = ["term", "estimate", "se", "low", "high", "p", "cluster_se", "cluster_low", "cluster_high", "cluster_p"]


@dataclass(frozen=True, eq=False, kw_only=True)
class CountsAnswer:
    """The answer to `counts`; `fit` and `clustered` are None where `why` and `why_not_clustered` say so.

    `terms` has a row a term: estimate, se (observed information), low, high, p, and cluster_se, cluster_low,
    cluster_high, cluster_p (NaN where not estimable). `per_doubling` is (value, low, high), a rate ratio (an odds
    ratio for shares), from the cluster-robust error where there is one; `effects` holds it for each outlet where the
    effect of flow may differ, `slopes_p` the p of their being the same. `cross_validation` judges windows of flow,
    `window_chosen` says that it chose the one used. `outside_band` lists visits whose water was not at its usual
    temperature (None where no limit was given).
    """

    header: Header
    level: float
    outlets: tuple[str, ...]
    design: CountDesign | None
    fit: Fit | None
    clustered: RobustErrors | None
    terms: pd.DataFrame
    per_doubling: tuple[float, float, float] | None
    checks: tuple[ModelCheck, ...]
    why: str | None = None
    why_not_clustered: str | None = None
    choices: CountChoices = field(default_factory=CountChoices)
    effects: tuple[FlowEffect, ...] = ()
    slopes_p: float | None = None
    effort: FreedEffort | None = None
    why_no_effort: str | None = None
    cross_validation: CrossValidation | None = None
    why_no_cross_validation: str | None = None
    outside_band: pd.DataFrame | None = None
    n_temperatures: int = 0

    @property
    def window_chosen(self) -> bool:
        """Whether the window was chosen by how well it predicts."""
        return bool(self.choices.windows) and self.cross_validation is not None

    @property
    def failed(self) -> tuple[ModelCheck, ...]:
        return tuple(c for c in self.checks if c.passed is False)

    def design_table(self) -> pd.DataFrame:
        """One column a term as named in `terms`, then count (or successes) and offset, and trials for a share."""
        if self.design is None:
            return pd.DataFrame()
        out = pd.DataFrame(self.design.matrix, columns=list(self.design.terms))
        out = out.assign(count=self.design.rows["count"].to_numpy().astype(int), offset=self.design.offset)
        return out.assign(trials=self.design.rows["trials"].to_numpy()) if self.design.response.binomial else out

    def rows(self) -> pd.DataFrame:
        """The visits in the regression, with what it expects of each where something was fitted."""
        if self.design is None:
            return pd.DataFrame()
        return self.design.rows if self.fit is None else self.design.rows.assign(expected=self.fit.mean)

    def tables(self) -> list[Table]:
        found = [Table(name="count-terms", title="Terms of the count regression", frame=self.terms)]
        if self.design is not None:
            found.append(Table(name="count-rows", title="Visits in the count regression", frame=self.rows()))
            left_out = self.design.left_out_rows
            found.append(Table(name="count-left-out", title="Visits left out of the count regression", frame=left_out))
            found.append(Table(name="count-design", title="Design of the count regression", frame=self.design_table()))
        if self.cross_validation is not None:
            cv = self.cross_validation
            found.append(Table(name="count-windows", title="Windows of flow compared", frame=cv.windows))
            found.append(Table(name="count-window-blocks", title="Windows by flow cycle left out", frame=cv.blocks))
        for c in self.checks:
            if c.table is not None:
                name = f"check-{c.name.replace(' ', '-')}"
                found.append(Table(name=name, title=f"Behind the check “{c.name}”", frame=c.table))
        if self.outside_band is not None:
            found.append(
                Table(name="temperature-flags", title="Visits outside the usual temperature", frame=self.outside_band)
            )
        return found

    def as_json(self) -> dict[str, object]:
        from dashboard.answers.count_json import counts_json

        return counts_json(self)


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
    )  # fmt: skip
    if workspace.visits is None:
        return _because(nothing, "the workspace names no visits")
    check_choices(workspace, chosen)
    cv, why_no_cv, window = _compare(workspace, names, chosen)
    design = _design(workspace, names, chosen, window)
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
    clustered, why = None, None
    try:
        clustered = robust_errors(fit, kind="CL1", groups=groups)
    except NotEstimable as error:
        why = error.reason
    effort, why_no_effort = None, None
    try:
        effort = free_effort(fit, design, groups, level)
    except NotEstimable as error:
        why_no_effort = error.reason
    overall, by_outlet = flow_effects(fit, design, clustered, level)
    return replace(
        nothing,
        header=header(workspace, fit.notes),
        fit=fit,
        clustered=clustered,
        terms=term_table(fit, clustered, level),
        per_doubling=(overall.value, overall.low, overall.high),
        effects=by_outlet,
        slopes_p=slopes_differ(fit, design, clustered),
        effort=effort,
        why_no_effort=why_no_effort,
        checks=all_checks(
            fit,
            design,
            groups,
            clustered,
            effort=effort,
            why_no_effort=why_no_effort,
            now=_now(workspace, names, design.window),
            seed=seed,
        ),
        why_not_clustered=why,
    )


def _because(answer: CountsAnswer, why: str) -> CountsAnswer:
    return replace(answer, why=why, why_not_clustered=why)


def _no_rows(choices: CountChoices) -> str:
    if choices.response.kind == "temperature":
        return "no visit has a water temperature and a flow"
    if choices.response.binomial and not choices.response.has_effort:
        return "no visit has animals whose stages were written, and a flow"
    return "no visit has a count, an effort and a flow"


def _cycles(workspace: Workspace, names: Sequence[str]) -> dict[str, FlowCycles]:
    by_flow = {flow: workspace.cycles_of(flow) for flow in {workspace.outlets[o].flow for o in names}}
    return {o: by_flow[workspace.outlets[o].flow] for o in names}


def _design(
    workspace: Workspace, names: Sequence[str], choices: CountChoices, window: int, windows: Sequence[int] = ()
) -> CountDesign:
    if workspace.visits is None:
        raise ValueError("a design was asked for without visits")
    return count_design(
        workspace.visits.frame,
        workspace.water,
        _cycles(workspace, names),
        outlets=names,
        window=window,
        windows=windows,
        terms=choices.terms,
        response=choices.response,
    )


def _compare(
    workspace: Workspace, names: Sequence[str], choices: CountChoices
) -> tuple[CrossValidation | None, str | None, int]:
    """(windows judged, why not, the window to use)."""
    first = choices.windows[0] if choices.windows else choices.window
    if not choices.compare:
        return None, "It was not asked for.", first
    design = _design(workspace, names, choices, first, choices.compared)
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


def groups_of(workspace: Workspace, design: CountDesign) -> np.ndarray:
    """Flow cycle of each row; outlets on different flows do not share a cycle."""
    flow = design.rows["outlet"].map({id: o.flow for id, o in workspace.outlets.items()})
    return (flow.astype(str) + " " + design.rows["cycle"].astype(str)).to_numpy()
