"""Names of the checks of the count regression and of its terms, and the words in the pictures of the checks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

#: Checks by name, in words for headings and choices.
NAMES = {
    "separation": "Zeros set apart",
    "collinearity": "Terms told apart",
    "dispersion": "Scatter",
    "residuals": "Residuals as a whole",
    "flow": "Residuals against flow",
    "season": "Residuals against season",
    "time": "Residuals over the years",
    "autocorrelation": "Visits close in time",
    "zeros": "Zeros expected and seen",
    "effort": "Effort",
    "influence": "Single visits",
    "one group": "Single flow cycles",
    "clusters": "Number of flow cycles",
    "flow range": "Today's flow",
}
#: What the pictures of the checks say.
VISITS, WITH_FINDS, VISITS_AND_FOUND = "visits", "with finds", "visits (grey), and those with finds"
SHARED, MODEL, SEEN, CYCLES = "share of variance that other terms explain", "the model", "seen", "flow cycles"
MEAN, VARIANCE, NORMAL = "expected count", "variance of counts", "standard normal"
RESIDUAL, MEAN_RESIDUAL = "residual", "mean residual, bars ± 2 standard errors"
CHANCE, CORRELATION, DAYS_APART = "by chance", "correlation of residuals", "days between two visits to an outlet, up to"
COUNT, MOVED = "animals counted", "the effect of flow without it changes by, standard errors"
FITTED_FLOWS, NOW = "flows of the visits", "now"
KEYS = {
    "separation": "Grey: visits with a count. Green: those that found animals. An outlet without any would set its zeros apart.",
    "collinearity": "Bar: how much of a term the others could replace. Dashed: limit.",
    "dispersion": "◆ mean squared distance from the fit, visits in groups by expected count. Line: what the model allows.",
    "residuals": "Thin lines: nine draws of the sorted residuals. Dashed: where they lie if the model is right.",
    "flow": "◆ visits in groups by flow. Dotted: 0, where they scatter about if the model is right.",
    "season": "◆ visits in groups by day of the year. Dotted: 0, where they scatter about if the model is right.",
    "time": "◆ visits in groups by date. Dotted: 0, where they scatter about if the model is right.",
    "effort": "◆ visits in groups by effort. Dotted: 0, where they scatter about if the model is right.",
    "autocorrelation": "◆ pairs of visits to the same outlet by days between them. Dashed: as far as chance alone goes.",
    "zeros": "Bars: visits with that count. – what the model expects.",
    "influence": "◆ the visits that move the effect of flow most. Dashed: one standard error.",
    "one group": "◆ one flow cycle each. Dashed: one standard error by group.",
    "clusters": "Bar: visits in each flow cycle.",
    "flow range": "Thick line: flows of the visits behind the fit. Upright: the mean flow of the last days.",
}
_OUTLET = re.compile(r"outlet\[(.+?)\]")
_TERMS = {
    "intercept": "level at baseline",
    "season_sin": "season (sine)",
    "season_cos": "season (cosine)",
    "log_days_since_restart": "recovery, ln days since restart",
    "recovery_by_log_dry_days": "recovery by length of the dry spell",
    "year": "change a year",
}


def flow_axis(unit_symbol: str) -> str:
    return f"mean discharge before the visit, {unit_symbol}"


def effort_axis(effort_unit: str) -> str:
    return f"effort, {effort_unit}"


def term_name(term: str, titles: Mapping[str, str] = MappingProxyType({})) -> str:
    """A term in words; outlets by their titles, where `titles` has them by id."""
    term = _OUTLET.sub(lambda found: f"outlet[{titles.get(found[1], found[1])}]", term)
    if term.startswith("log_discharge_"):
        flow, _, outlet = term.partition(":")
        window = flow.removeprefix("log_discharge_").removesuffix("d")
        at = f", more at {outlet[7:-1]}" if outlet else ""
        return f"mean ln discharge, {window} {'day' if window == '1' else 'days'} before{at}"
    if term.startswith("season_spline_"):
        return f"season (spline {term.removeprefix('season_spline_')})"
    for factor in ("outlet", "taxon", "stage"):
        if term.startswith(f"{factor}["):
            return f"{factor} {term[len(factor) + 1 : -1]}"
    return _TERMS.get(term, term)
