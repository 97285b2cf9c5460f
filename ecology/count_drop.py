"""Whether a period's count is what flow, effort and season lead one to expect, by a model that never saw the period."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from ecology.count_design import RECOVERY_TERM, CountDesign
from ecology.count_fit import CountFit
from ecology.count_model import fit_counts
from ecology.cycle_effects import CycleModel, fit_cycles
from ecology.drop_factors import DropFactors
from ecology.drop_periods import PeriodCount, Span, period_count, within
from ecology.drop_split import FEWEST_VISITS, split_periods
from ecology.not_estimable import NotEstimable
from ecology.outlet_levels import with_outlet_levels
from ecology.predicted_total import PredictedTotal, predict_total

Verdict = Literal["as expected", "lower than expected", "higher than expected", "cannot say"]

#: Visits needed outside the period judged, and flow cycles or years among them: fewer do not show how counts vary.
FEWEST_FITTED, FEWEST_GROUPS = 25, 5
#: Where more than this share of the visits judged had a flow that no other visit had, the fit would have to guess.
MOST_OUTSIDE = 0.5


@dataclass(frozen=True, eq=False, kw_only=True)
class DropJudgement:
    """Observed against expected, and the ratio of the periods in factors.

    `predicted` holds the draws of the total; `low` … `high` contain `level` of them, `line_low` and `line_high` are
    the counts beyond which a verdict falls, each with a chance of 1 - level at most. `factors` has a row a part:
    factor, low, high (see `split_periods`), animals. What could not be worked out is None or empty, with `why`
    (the verdict) and `why_no_factors`. `rows` are the visits of both periods with period and expected (NaN where
    nothing was fitted), `fitted_rows` those the model was fitted to.
    """

    judged: PeriodCount
    baseline: PeriodCount
    level: float
    verdict: Verdict
    why: str | None
    expected: float | None
    low: float | None
    high: float | None
    line_low: float | None
    line_high: float | None
    tail_low: float | None
    tail_high: float | None
    predicted: PredictedTotal | None
    factors: pd.DataFrame
    why_no_factors: str | None
    split: DropFactors | None
    baseline_of_fit: float | None
    rows: pd.DataFrame
    fitted_rows: pd.DataFrame
    groups: int
    flow_outside: int
    fit: CountFit | None
    model: CycleModel | None

    @property
    def tail(self) -> float | None:
        """Chance of a count as far out as the one observed or further, on its own side."""
        if self.tail_low is None or self.tail_high is None:
            return None
        return min(self.tail_low, self.tail_high)


def judge_drop(
    design: CountDesign,
    groups: np.ndarray,
    *,
    baseline: Span,
    judged: Span,
    level: float = 0.95,
    draws: int = 10_000,
    seed: int = 1,
) -> DropJudgement:
    """Judge the visits between two days (both inside) by a model of all visits outside them.

    design    rows of the outlets judged together
    groups    flow cycle of each row: counts within one are not independent
    level     of the interval; a verdict other than “as expected” needs a tail below 1 - level
    """
    design, groups = with_outlet_levels(design, groups)
    inside, before = within(design.rows["date"], judged), within(design.rows["date"], baseline)
    counts = [period_count(design, span) for span in (judged, baseline)]
    fitted = ~inside
    known = design.rows.loc[fitted, "log_discharge"]
    flow = design.rows.loc[inside, "log_discharge"]
    outside = int(((flow < known.min()) | (flow > known.max())).sum()) if len(known) else 0
    n_groups = len(np.unique(groups[fitted]))
    fit = model = predicted = split = baseline_of_fit = None
    mean = np.full(len(design.rows), np.nan)
    factors = pd.DataFrame(columns=["part", "factor", "low", "high", "animals"])
    why = _too_little(design, inside, n_groups, counts[0], outside)
    why_no_factors = why
    if why is None:
        try:
            fit, model, mean = _fitted(design, groups, fitted)
        except NotEstimable as error:
            why = why_no_factors = error.reason
    if fit is not None and model is not None:
        used = _used_columns(design, fitted)
        predicted = predict_total(
            model, design.matrix[np.ix_(inside, used)], design.offset[inside], groups[inside], draws=draws, seed=seed
        )
        try:
            split, factors = split_periods(design, groups, model, used, (baseline, judged), counts, level, seed)
            baseline_of_fit = counts[1].count / float(mean[before].sum())
            why_no_factors = None
        except NotEstimable as error:
            why_no_factors = error.reason
    tails = (None, None) if predicted is None else _tails(predicted, counts[0].count)
    range_ = (None, None) if predicted is None else predicted.interval(level)
    lines = (None, None) if predicted is None else predicted.interval(max(2.0 * level - 1.0, 0.0))
    rows = design.rows.assign(expected=mean, period=np.select([inside, before], ["judged", "baseline"], ""))
    return DropJudgement(
        judged=counts[0],
        baseline=counts[1],
        level=level,
        verdict=_verdict(tails, 1.0 - level),
        why=why,
        expected=None if predicted is None else predicted.expected,
        low=range_[0],
        high=range_[1],
        line_low=lines[0],
        line_high=lines[1],
        tail_low=tails[0],
        tail_high=tails[1],
        predicted=predicted,
        factors=factors,
        why_no_factors=why_no_factors,
        split=split,
        baseline_of_fit=baseline_of_fit,
        rows=rows[inside | before].reset_index(drop=True),
        fitted_rows=rows[fitted].drop(columns="period").reset_index(drop=True),
        groups=n_groups,
        flow_outside=outside,
        fit=fit,
        model=model,
    )


def tried_by_chance(tail: float, tries: int) -> float:
    """Chance that at least one of `tries` independent periods, all as expected, shows a tail this small or smaller.

    1 - (1 - tail)^tries: Šidák 1967, JASA 62:626–633.
    """
    if not 0.0 <= tail <= 1.0 or tries < 1:
        raise ValueError("a tail lies between 0 and 1, and at least one period was tried")
    return float(-np.expm1(tries * np.log1p(-tail))) if tail < 1.0 else 1.0


def _too_little(
    design: CountDesign, inside: np.ndarray, n_groups: int, judged: PeriodCount, outside: int
) -> str | None:
    """What is missing before anything can be said, with what would be needed; None where nothing is."""
    fitted = int((~inside).sum())
    if judged.counted == 0 and judged.dry:
        visits = "the only visit" if judged.dry == 1 else f"all {judged.dry} visits"
        return f"the surface was dry on {visits} of the period: nothing could be counted"
    usable = "with a count, an effort and a flow"
    if judged.counted < FEWEST_VISITS:
        return f"the period has {_number(judged.counted, 'visit')} {usable}; at least {FEWEST_VISITS} are needed"
    if fitted < FEWEST_FITTED or n_groups < FEWEST_GROUPS:
        return (
            f"outside the period there {'is' if fitted == 1 else 'are'} {_number(fitted, 'visit')} {usable}, in "
            f"{_number(n_groups, 'flow cycle')} or years; at least {FEWEST_FITTED} visits in {FEWEST_GROUPS} are "
            "needed to know how counts vary"
        )
    rows = design.rows
    strange = sorted(set(rows.loc[inside, "outlet"]) - set(rows.loc[~inside, "outlet"]))
    if strange:
        return f"outside the period there is no counted visit to {', '.join(strange)} to compare with"
    if outside > MOST_OUTSIDE * judged.counted:
        return (
            f"{outside} of the {judged.counted} visits had a flow lower or higher than any visit outside the period: "
            "visits at such a flow in other years are needed"
        )
    return None


def _number(n: int, what: str) -> str:
    return f"{n} {what}{'' if n == 1 else 's'}"


def _used_columns(design: CountDesign, fitted: np.ndarray) -> np.ndarray:
    """Columns that are not 0 in every row fitted."""
    return np.flatnonzero(np.any(design.matrix[fitted] != 0.0, axis=0))


def _fitted(design: CountDesign, groups: np.ndarray, fitted: np.ndarray) -> tuple[CountFit, CycleModel, np.ndarray]:
    """Plain fit, model with cycles, and the expectation of every row by the latter's mean coefficients."""
    used = _used_columns(design, fitted)
    idle = [t for j, t in enumerate(design.terms) if j not in used and np.any(design.matrix[~fitted, j] != 0.0)]
    if idle:
        what = (
            "no visit outside the period came within 180 days after a restart, as some of the period did"
            if idle == [RECOVERY_TERM]
            else f"outside the period nothing is known of {', '.join(idle)}"
        )
        raise NotEstimable(what)
    terms = [design.terms[j] for j in used]
    X, y, offset = design.matrix[:, used], design.rows["count"].to_numpy(np.float64), design.offset
    fit = fit_counts(y[fitted], X[fitted], terms=terms, offset=offset[fitted])
    start_alpha = fit.alpha if fit.alpha > 0.0 else 0.0
    model = fit_cycles(
        y[fitted], X[fitted], offset[fitted], groups[fitted], start=fit.estimate, start_alpha=start_alpha
    )
    return fit, model, np.exp(offset + X @ model.coefficients)


def _tails(predicted: PredictedTotal, count: int) -> tuple[float, float]:
    return predicted.at_most(count), predicted.at_least(count)


def _verdict(tails: tuple[float | None, float | None], most: float) -> Verdict:
    low, high = tails
    if low is None or high is None:
        return "cannot say"
    if low < most:
        return "lower than expected"
    return "higher than expected" if high < most else "as expected"
