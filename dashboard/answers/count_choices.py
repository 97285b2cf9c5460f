"""What can be chosen about the count regression, and whether the visits hold what was chosen."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from dashboard.workspace import Workspace
from ecology.count_response import Response, TemperatureBand
from ecology.count_terms import ModelTerms
from ecology.visit_numbers import column_as_numbers, numeric_columns
from hydro.problems import InputError, Problem

#: Windows compared where nothing is said [days before the visit].
COMPARED = (7, 30, 90)
USUAL_WINDOW = 30
_MOST_CELLS = 20  # unreadable cells told one by one


@dataclass(frozen=True, kw_only=True)
class CountChoices:
    """window    days before the visit over which ln discharge is averaged [days]
    windows   declared windows of which cross-validation chooses one; empty = `window` is used as it is [days]
    terms     what stands beside flow, outlet and recovery
    response  what is explained
    band      usual water temperature, to flag visits outside; None = no limit was given
    compare   whether windows are compared at all: a caller that wants only the fit saves most of the time
    """

    window: int = USUAL_WINDOW
    windows: tuple[int, ...] = ()
    terms: ModelTerms = field(default_factory=ModelTerms)
    response: Response = field(default_factory=Response)
    band: TemperatureBand | None = None
    compare: bool = True

    def __post_init__(self) -> None:
        if self.windows and not self.compare:
            raise ValueError("a window cannot be chosen without comparing windows")

    @property
    def compared(self) -> tuple[int, ...]:
        """The windows that cross-validation judges."""
        return self.windows or tuple(sorted({self.window, *COMPARED}))


def check_choices(workspace: Workspace, choices: CountChoices) -> None:
    """InputError where a choice asks for what the visits do not hold."""
    if workspace.visits is None:
        return
    visits, frame = workspace.visits, workspace.visits.frame
    problems: list[Problem] = []
    offered = ", ".join(numeric_columns(frame)) or "none"
    for name in choices.terms.covariates:
        if name not in frame.columns or name in ("row", "kind", "date", "outlet", "count", "effort"):
            expected = f"a column of {visits.file} that holds numbers: {offered}"
            problems.append(Problem(row="--covariate", value=name, expected=expected))
            continue
        values, wrong = column_as_numbers(frame[name])
        if wrong.sum() > values.notna().sum():
            expected = f"a column of numbers; most cells of this one hold words. Such columns are: {offered}"
            problems.append(Problem(row="--covariate", value=name, expected=expected))
            continue
        rows = frame["row"].to_numpy()
        for i in np.flatnonzero(wrong)[:_MOST_CELLS].tolist():
            problems.append(
                Problem(file=visits.file, row=int(rows[i]), column=name, value=str(frame[name].iloc[i]),
                        expected="a number such as 2.5, or blank")
            )  # fmt: skip
        if wrong.sum() > _MOST_CELLS:
            more = int(wrong.sum()) - _MOST_CELLS
            problems.append(Problem(file=visits.file, column=name, expected=f"a number in {more} more rows"))
    taxon = choices.response.taxon
    known = sorted(t for t in frame["taxon"].unique() if t)
    if taxon is not None and taxon not in known:
        expected = f"a taxon of {visits.file}: {', '.join(known) or 'none is written'}"
        problems.append(Problem(row="--taxon", value=taxon, expected=expected))
    if choices.terms.factor == "taxon" and len(known) < 2:
        expected = f"at least two taxa in {visits.file}; it has: {', '.join(known) or 'none'}"
        problems.append(Problem(row="--factor", value="taxon", expected=expected))
    if problems:
        raise InputError(problems)


def temperature_flags(visits: pd.DataFrame, band: TemperatureBand) -> pd.DataFrame:
    """Visits whose water was outside the band: row, date, outlet, water_temp_c, apart_c (signed)."""
    out = visits[band.outside(visits["water_temp_c"])]
    return out[["row", "date", "outlet", "water_temp_c"]].assign(apart_c=out["water_temp_c"] - band.usual_c)
