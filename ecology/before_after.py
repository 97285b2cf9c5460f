"""Before and after, at the outlets in question and at a comparison outlet: a contrast of ratios.

The model has a level of its own for each of the four cells, beside flow, season, recovery and effort; every outlet's
flow cycles deviate on their own. The contrast is (after ÷ before in question) ÷ (after ÷ before at the comparison), on
the log scale an interaction. What moves all outlets alike falls out of it; what moves one outlet for a whole cycle does
not, and is why its interval is wide with few cycles.

Sources: Stewart-Oaten, Murdoch and Parker 1986, Ecology 67:929–940; Underwood 1994, Ecological Applications 4:3–15
(several times before and after; both from memory).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ecology.count_design import CountDesign
from ecology.count_model import fit_counts
from ecology.cycle_effects import fit_cycles
from ecology.not_estimable import NotEstimable
from ecology.outlet_levels import with_outlet_levels
from ecology.predicted_total import coefficient_draws

#: Counted visits needed in each of the four cells (common practice, no source).
FEWEST_IN_A_CELL = 3
_DRAWS = 4_000
_CELLS = ("question before", "question after", "comparison before", "comparison after")


@dataclass(frozen=True, eq=False, kw_only=True)
class BeforeAfter:
    """`ratio` (with low, high at `level`) of the changes; `change` at the outlets in question and `comparison` at the
    other, each after ÷ before at equal effort, flow and season. `visits` are the counted visits of the four cells,
    `cycles_before` and `cycles_after` the flow cycles or years that they fall in.
    """

    ratio: float
    low: float
    high: float
    level: float
    change: tuple[float, float, float]
    comparison: tuple[float, float, float]
    visits: dict[str, int]
    cycles_before: int
    cycles_after: int


def before_after(
    design: CountDesign,
    groups: np.ndarray,
    *,
    comparison: str,
    before: np.ndarray,
    after: np.ndarray,
    level: float = 0.95,
    seed: int = 1,
) -> BeforeAfter:
    """The contrast over the rows of `design`, which holds the outlets in question and the `comparison` outlet.

    groups          flow cycle of each row
    before, after   which rows count as before and after; the others only inform flow, season and spread

    Raises NotEstimable where a cell has too few visits or the cells cannot be told from the other terms.
    """
    # Rows are put in another order: the marks of before and after go along.
    marks = design.rows.assign(before=before, after=after)
    design, groups = with_outlet_levels(replace(design, rows=marks), groups)
    before, after = design.rows["before"].to_numpy(bool), design.rows["after"].to_numpy(bool)
    there = (design.rows["outlet"] == comparison).to_numpy()
    cells = dict(zip(_CELLS, (before & ~there, after & ~there, before & there, after & there), strict=True))
    visits = {name: int(at.sum()) for name, at in cells.items()}
    few = [f"{name} {n}" for name, n in visits.items() if n < FEWEST_IN_A_CELL]
    if few:
        raise NotEstimable(
            f"a comparison needs at least {FEWEST_IN_A_CELL} counted visits in each of its four cells; too few: "
            f"{', '.join(few)}"
        )
    rest = ~(before | after)
    # The outlet terms give the level before; every further stretch has a column for all and one for those in question.
    columns = [design.matrix, (after * 1.0)[:, None], (after & ~there)[:, None] * 1.0]
    terms = [*design.terms, "after", "after in question"]
    if rest.any():
        columns.append(rest[:, None] * 1.0)
        terms.append("elsewhen")
    if (rest & there).any() and (rest & ~there).any():
        columns.append((rest & ~there)[:, None] * 1.0)
        terms.append("elsewhen in question")
    X = np.column_stack(columns)
    used = np.flatnonzero(np.any(X != 0.0, axis=0))
    X, terms = X[:, used], [terms[j] for j in used]
    y = design.rows["count"].to_numpy(np.float64)
    fit = fit_counts(y, X, terms=terms, offset=design.offset)
    by_outlet = np.array([f"{g} {o}" for g, o in zip(groups, design.rows["outlet"], strict=True)])
    model = fit_cycles(
        y, X, design.offset, by_outlet, start=fit.estimate, start_alpha=fit.alpha if fit.alpha > 0.0 else 0.0
    )
    draws = coefficient_draws(model, _DRAWS, seed)
    both, more = terms.index("after"), terms.index("after in question")
    ratio = _of(draws[:, more], model.coefficients[more], level)
    return BeforeAfter(
        ratio=ratio[0],
        low=ratio[1],
        high=ratio[2],
        level=level,
        change=_of(draws[:, both] + draws[:, more], model.coefficients[both] + model.coefficients[more], level),
        comparison=_of(draws[:, both], model.coefficients[both], level),
        visits=visits,
        cycles_before=len(np.unique(groups[before])),
        cycles_after=len(np.unique(groups[after])),
    )


def _of(draws: np.ndarray, value: float, level: float) -> tuple[float, float, float]:
    """(ratio, low, high) of a log ratio."""
    low, high = np.quantile(draws, [0.5 * (1.0 - level), 0.5 * (1.0 + level)])
    return float(np.exp(value)), float(np.exp(low)), float(np.exp(high))
