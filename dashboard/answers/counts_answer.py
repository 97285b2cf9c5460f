"""The answer to `counts` as an object: what was fitted, judged and left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from dashboard.answers.answer import Header, Table
from dashboard.answers.count_choices import CountChoices
from dashboard.answers.flow_effect import FlowEffect
from ecology.cluster_errors import RobustErrors
from ecology.count_cross_validation import CrossValidation
from ecology.count_design import CountDesign
from ecology.cycle_trend import CycleTrend
from ecology.freed_effort import FreedEffort
from ecology.model_checks import Fit, ModelCheck


@dataclass(frozen=True, eq=False, kw_only=True)
class CountsAnswer:
    """The answer to `counts`; `fit` and `clustered` are None where `why` and `why_not_clustered` say so.

    `terms` has a row a term: estimate, se (observed information), low, high, p, and cluster_se, cluster_low,
    cluster_high, cluster_p (NaN where not estimable). `per_doubling` is (value, low, high), a rate ratio (an odds
    ratio for shares), from the cluster-robust error where there is one; `effects` holds it for each outlet where the
    effect of flow may differ, `slopes_p` the p of their being the same. `cross_validation` judges windows of flow,
    `window_chosen` says that it chose the one used. `trend` is what is left over, cycle by cycle, against time.
    `outside_band` lists visits whose water was not at its usual temperature (None where no limit was given). `titles`
    are the outlets' names for people, by id.
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
    trend: CycleTrend | None = None
    why_no_trend: str | None = None
    outside_band: pd.DataFrame | None = None
    n_temperatures: int = 0
    titles: Mapping[str, str] = field(default_factory=dict)

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
        if self.trend is not None:
            frame = self.trend.cycles
            found.append(Table(name="count-cycles", title="Observed and expected by flow cycle", frame=frame))
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
