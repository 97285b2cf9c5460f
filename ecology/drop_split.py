"""Two periods of a count design split into factors, each with the interval that the fit leaves it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ecology.count_design import CountDesign
from ecology.cycle_effects import CycleModel
from ecology.drop_factors import PARTS, DropFactors, PeriodVisits, part_of, split_drop
from ecology.drop_periods import PeriodCount, Span, dry_visits, within
from ecology.not_estimable import NotEstimable
from ecology.predicted_total import coefficient_draws, predict_totals

#: Counted visits needed in either period: one or two are hostage to a single day (common practice, no source).
FEWEST_VISITS = 3
_FACTOR_DRAWS, _CHANCE_DRAWS = 400, 4_000


def split_periods(
    design: CountDesign,
    groups: np.ndarray,
    model: CycleModel,
    used: np.ndarray,
    spans: tuple[Span, Span],
    counts: list[PeriodCount],
    level: float,
    seed: int,
) -> tuple[DropFactors, pd.DataFrame]:
    """(the split at the mean coefficients, a table of part, factor, low, high, animals).

    spans   of the baseline and of the period judged; `counts` of the period judged and of the baseline
    used    columns of the design that the model has

    The interval of an explained factor comes from the coefficients' uncertainty. That of the unexplained factor also
    holds the chance of both counts and of both periods' flow cycles: it says where a lasting change could lie.
    """
    for period in counts:
        if period.counted < FEWEST_VISITS:
            raise NotEstimable(
                f"the period from {period.first:%Y-%m-%d} to {period.last:%Y-%m-%d} has {period.counted} counted "
                f"visits; at least {FEWEST_VISITS} are needed to compare"
            )
    rng = np.random.default_rng(seed)
    at_mean = _split_with(design, used, model.coefficients[None, :], spans, counts)
    several = _split_with(design, used, coefficient_draws(model, _FACTOR_DRAWS, rng), spans, counts)
    ends = [0.5 * (1.0 - level), 0.5 * (1.0 + level)]
    low, high = np.quantile(several.factors, ends, axis=0)
    before, inside = (within(design.rows["date"], span) for span in spans)
    # As new cycles, even where the model knows them: what they happened to be is part of the chance.
    fresh = np.array([f"as new {g}" for g in groups], dtype=object)
    both = before | inside
    totals = predict_totals(
        model, design.matrix[np.ix_(both, used)], design.offset[both], fresh[both], inside[both].astype(int),
        draws=_CHANCE_DRAWS, seed=rng,
    ).totals  # fmt: skip
    change = counts[0].count / counts[1].count * (totals[:, 0] + 0.5) / (totals[:, 1] + 0.5)
    low[-1], high[-1] = np.quantile(change, ends)
    if counts[0].count == 0:
        high[-1] = np.nan
    table = pd.DataFrame(
        {"part": PARTS, "factor": at_mean.factors[0], "low": low, "high": high, "animals": at_mean.animals[0]}
    )
    return at_mean, table


def _split_with(
    design: CountDesign,
    used: np.ndarray,
    coefficients: np.ndarray,
    spans: tuple[Span, Span],
    counts: list[PeriodCount],
) -> DropFactors:
    """The split for one or more sets of coefficients (draws × terms used)."""
    terms = [design.terms[j] for j in used]
    parts = np.array([part_of(t) or "" for t in terms])
    zero = np.zeros(len(coefficients))
    level = {f"{o}": zero for o in set(design.rows["outlet"]) | set(design.left_out_rows["outlet"])}
    for j in np.flatnonzero(parts == "outlet"):
        level[terms[j].removeprefix("outlet[").removesuffix("]")] = coefficients[:, j]
    periods = []
    for span, count in zip(spans, (counts[1], counts[0]), strict=True):
        inside = within(design.rows["date"], span)
        X = design.matrix[np.ix_(inside, used)]
        by_part = [np.broadcast_to(design.offset[inside], (len(coefficients), int(inside.sum())))]
        for part in PARTS[1:4]:
            which = parts == part
            by_part.append(coefficients[:, which] @ X[:, which].T)
        dry = dry_visits(design, span)
        here = design.rows.loc[inside, "outlet"].astype(str)
        periods.append(
            PeriodVisits(
                outlet=np.concatenate([here.to_numpy(object), dry["outlet"].astype(str).to_numpy(object)]),
                counted=np.concatenate([np.ones(len(here), dtype=bool), np.zeros(len(dry), dtype=bool)]),
                log_parts=np.stack(by_part, axis=2),
                total=float(count.count),
            )
        )
    return split_drop(periods[0], periods[1], level)
