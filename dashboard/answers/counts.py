"""Do counts follow flow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from dashboard.answers.answer import Header, Table, by_name, header, interval, iso, number
from dashboard.workspace import Workspace
from ecology.cluster_errors import RobustErrors, robust_errors, t_quantile
from ecology.count_design import CountDesign, count_design
from ecology.count_model import CountFit, fit_counts
from ecology.model_checks import ModelCheck, check_counts
from ecology.not_estimable import NotEstimable

#: Counts are drawn per so many units of effort; with minutes of effort that is an hour.
EFFORT_SHOWN = 60.0
NO_CROSS_VALIDATION = "windows are not compared by this version: the window is the one asked for"


@dataclass(frozen=True, eq=False, kw_only=True)
class CountsAnswer:
    """The answer to `counts`; `fit` and `clustered` are None where `why` and `why_not_clustered` say so.

    `terms` has a row a term: estimate, se (observed information), low, high, p, and cluster_se, cluster_low,
    cluster_high, cluster_p (NaN where not estimable). `per_doubling` is (value, low, high), a rate ratio, from the
    cluster-robust error where there is one.
    """

    header: Header
    level: float
    outlets: tuple[str, ...]
    design: CountDesign | None
    fit: CountFit | None
    clustered: RobustErrors | None
    terms: pd.DataFrame
    per_doubling: tuple[float, float, float] | None
    checks: tuple[ModelCheck, ...]
    why: str | None = None
    why_not_clustered: str | None = None

    def design_table(self) -> pd.DataFrame:
        """One column a term as named in `terms`, then count and offset."""
        if self.design is None:
            return pd.DataFrame()
        out = pd.DataFrame(self.design.matrix, columns=list(self.design.terms))
        return out.assign(count=self.design.rows["count"].to_numpy().astype(int), offset=self.design.offset)

    def tables(self) -> list[Table]:
        found = [Table(name="count-terms", title="Terms of the count regression", frame=self.terms)]
        if self.design is not None:
            rows = self.design.rows
            if self.fit is not None:
                rows = rows.assign(expected=self.fit.mean)
            found.append(Table(name="count-rows", title="Visits in the count regression", frame=rows))
            left_out = self.design.left_out_rows
            found.append(Table(name="count-left-out", title="Visits left out of the count regression", frame=left_out))
            found.append(Table(name="count-design", title="Design of the count regression", frame=self.design_table()))
        return found

    def as_json(self) -> dict[str, object]:
        from dashboard.wording.counts import check_sentence

        d, f = self.design, self.fit
        ratio = self.per_doubling or (None, None, None)
        checks = [
            {
                "name": c.name,
                "passed": c.passed,
                "value": number(c.value),
                "limit": c.limit,
                "detail": check_sentence(c),
            }
            for c in self.checks
        ]
        return self.header.as_json() | {
            "model": None if f is None else f.model,
            "formula": None if d is None else d.formula,
            "outlets": list(self.outlets),
            "window_days": None if d is None else d.window,
            "n": 0 if d is None else len(d.rows),
            "n_left_out": {} if d is None else dict(d.left_out),
            "first": None if d is None or d.rows.empty else iso(d.rows["date"].min()),
            "last": None if d is None or d.rows.empty else iso(d.rows["date"].max()),
            "clusters": {
                "by": None if d is None else d.cycles_by,
                "n": None if d is None else int(d.rows["cycle"].nunique()),
                "why": self.why_not_clustered,
            },
            "standard_errors": {
                "se": "observed information, joint with alpha",
                "cluster_se": "sandwich by cluster, observed-information bread, G/(G-1) · (n-1)/(n-k); t with G-1",
            },
            "terms": [
                {k: (v if k == "term" else number(v)) for k, v in row.items()} for row in self.terms.to_dict("records")
            ],
            "alpha": interval(
                None if f is None else f.alpha,
                None if f is None else f.alpha_low,
                None if f is None else f.alpha_high,
                self.level,
                self.why,
            ),
            "log_likelihood": None if f is None else number(f.log_likelihood),
            "aic": None if f is None else number(f.aic),
            "per_doubling_of_flow": interval(ratio[0], ratio[1], ratio[2], self.level, self.why),
            "checks": checks,
            "cross_validation": None,
            "why_no_cross_validation": NO_CROSS_VALIDATION,
            "notes": [] if f is None else list(f.notes),
            "why": self.why,
        }


def counts(workspace: Workspace, *, outlets: Sequence[str] = (), level: float = 0.95, window: int = 30) -> CountsAnswer:
    """Count regression over the outlets asked for, together."""
    names = tuple(by_name(workspace.outlets, outlets))
    if workspace.visits is None:
        return _nothing(workspace, level, names, None, "the workspace names no visits")
    by_flow = {flow: workspace.cycles_of(flow) for flow in {workspace.outlets[o].flow for o in names}}
    design = count_design(
        workspace.visits.frame,
        workspace.water,
        {o: by_flow[workspace.outlets[o].flow] for o in names},
        outlets=names,
        window=window,
    )
    if design.rows.empty:
        return _nothing(workspace, level, names, design, "no visit has a count, an effort and a flow")
    try:
        fit = fit_counts(
            design.rows["count"].to_numpy(), design.matrix, terms=design.terms, offset=design.offset, level=level
        )
    except NotEstimable as error:
        return _nothing(workspace, level, names, design, error.reason)
    clustered, why = None, None
    try:
        clustered = robust_errors(fit, kind="CL1", groups=_groups(workspace, design))
    except NotEstimable as error:
        why = error.reason
    at = design.terms.index(design.flow_term)
    terms = _terms(fit, clustered, level)
    source = terms.loc[at, ["estimate", "cluster_low", "cluster_high"]]
    if clustered is None:
        source = terms.loc[at, ["estimate", "low", "high"]]
    ratio = tuple(float(v) for v in np.exp2(source.to_numpy(np.float64)))
    return CountsAnswer(
        header=header(workspace, fit.notes),
        level=level,
        outlets=names,
        design=design,
        fit=fit,
        clustered=clustered,
        terms=terms,
        per_doubling=(ratio[0], ratio[1], ratio[2]),
        checks=check_counts(fit, len(np.unique(_groups(workspace, design)))),
        why_not_clustered=why,
    )


def _groups(workspace: Workspace, design: CountDesign) -> np.ndarray:
    """Cycle labels; outlets on different flows do not share a cycle."""
    flow = design.rows["outlet"].map({id: o.flow for id, o in workspace.outlets.items()})
    return (flow.astype(str) + " " + design.rows["cycle"].astype(str)).to_numpy()


def _terms(fit: CountFit, clustered: RobustErrors | None, level: float) -> pd.DataFrame:
    from statistics import NormalDist

    z = NormalDist().inv_cdf(0.5 * (1 + level))
    error = fit.standard_error
    p = [2 * NormalDist().cdf(-abs(b / s)) for b, s in zip(fit.estimate, error, strict=True)]
    table = pd.DataFrame(
        {
            "term": fit.terms,
            "estimate": fit.estimate,
            "se": error,
            "low": fit.estimate - z * error,
            "high": fit.estimate + z * error,
            "p": p,
        }
    )
    if clustered is None:
        return table.assign(cluster_se=np.nan, cluster_low=np.nan, cluster_high=np.nan, cluster_p=np.nan)
    low, high = clustered.intervals(fit.estimate, level)
    return table.assign(
        cluster_se=clustered.standard_error,
        cluster_low=low,
        cluster_high=high,
        cluster_p=clustered.p_values(fit.estimate),
    )


def _nothing(
    workspace: Workspace, level: float, outlets: tuple[str, ...], design: CountDesign | None, why: str
) -> CountsAnswer:
    names = ["term", "estimate", "se", "low", "high", "p", "cluster_se", "cluster_low", "cluster_high", "cluster_p"]
    return CountsAnswer(
        header=header(workspace),
        level=level,
        outlets=outlets,
        design=design,
        fit=None,
        clustered=None,
        terms=pd.DataFrame(columns=names),
        per_doubling=None,
        checks=(),
        why=why,
        why_not_clustered=why,
    )


def expected_over_flow(answer: CountsAnswer, outlet: str, points: int = 60) -> pd.DataFrame:
    """The fitted count for `EFFORT_SHOWN` units of effort at mean season over the range of flow seen at an outlet.

    Columns discharge_m3s (the geometric mean over the window) and expected, low, high: the interval is of the mean,
    from the cluster-robust covariance where there is one. Empty where nothing was fitted.
    """
    empty = pd.DataFrame(columns=["discharge_m3s", "expected", "low", "high"])
    d, fit = answer.design, answer.fit
    if d is None or fit is None:
        return empty
    rows = d.rows[d.rows["outlet"] == outlet]
    if rows.empty:
        return empty
    x = np.linspace(rows["log_discharge"].min(), rows["log_discharge"].max(), points)
    matrix = np.zeros((points, len(d.terms)))
    matrix[:, d.terms.index("intercept")] = 1.0
    matrix[:, d.terms.index(d.flow_term)] = x
    if f"outlet[{outlet}]" in d.terms:
        matrix[:, d.terms.index(f"outlet[{outlet}]")] = 1.0
    covariance = fit.covariance if answer.clustered is None else answer.clustered.covariance
    spread = np.sqrt(np.einsum("ij,jk,ik->i", matrix, covariance, matrix))
    freedom = np.inf if answer.clustered is None else answer.clustered.degrees_of_freedom
    reach = t_quantile(freedom, 0.5 * (1 + answer.level)) * spread
    eta = matrix @ fit.estimate + np.log(EFFORT_SHOWN)
    frame = {
        "discharge_m3s": np.exp(x),
        "expected": np.exp(eta),
        "low": np.exp(eta - reach),
        "high": np.exp(eta + reach),
    }
    return pd.DataFrame(frame)
